package forms

import (
	"fmt"
	"slices"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// Blank is the forms of a day without a phone.
type Blank struct {
	Site  string `json:"site"`
	Crew  string `json:"crew,omitempty"`
	Units string `json:"units"`
	Forms []Form `json:"forms"`
}

// Form is one sheet: its columns stand in the order of the command that takes its lines later.
type Form struct {
	Title   string   `json:"title"`
	Command string   `json:"command"` // how a line is typed in
	Columns []string `json:"columns"`
	First   int32    `json:"first,omitempty"` // the number in the first column of the first line; 0: it has none
	Rows    int32    `json:"rows"`
	// Steps are what to do for each line, such as the mix's charging order.
	Notes []string `json:"notes,omitempty"`
}

// rows of a form on a sheet.
const rows = 20

// BlankOf the site, for a crew, its batches numbered from first on.
func BlankOf(s *fold.Site, crew event.Crew, first int) Blank {
	v := Blank{Site: view.SiteName(s), Crew: string(crew), Units: s.Plan().System.String()}
	for _, name := range s.Plan().MixNames() {
		v.Forms = append(v.Forms, batches(s.Plan().Mixes[name], first))
	}
	if len(v.Forms) == 0 {
		v.Forms = append(v.Forms, Form{
			Title: "Batches", Command: "hod batch MIX NAME=AMOUNT… --moisture … --from … --water-at … --to … --temp …",
			Columns: []string{
				"no.", "mix", "amounts, each with its unit", "moisture", "from", "water at", "to",
				"temp",
			}, First: int32(first), Rows: rows,
		})
	}
	zones := ""
	if names := s.Plan().ZoneNames(); len(names) > 0 && len(names) <= 40 {
		zones = fmt.Sprintf("Zones: %v.", joined(names))
	}
	v.Forms = append(v.Forms,
		Form{
			Title: "Placements", Command: "hod place BATCH ZONE [PART] --from … --to … --thickness … --along …",
			Rows: rows, Notes: lines(zones),
			Columns: []string{"batch", "zone, face, coat", "part: all, 1/2, 20 L", "from", "to", "thickness", "along"},
		},
		Form{
			Title: "Fresh tests", Command: "hod test BATCH --gross … --tare … --measure … --temp … --flow … --air …",
			Rows:    rows,
			Columns: []string{"batch", "at", "gross", "tare", "measure", "temp", "flow", "air"},
		},
		Form{
			Title: "Weather", Command: "hod weather --air … --humidity … --wind … --wind-height … --rain … --at …",
			Rows:    rows,
			Columns: []string{"at", "air", "humidity", "wind", "wind height", "rain in the hour before"},
		},
		Form{
			Title: "Treated, covered, wetted, thrown away, read, noted", Rows: rows,
			Command: "hod treat ZONE METHOD --along …; hod cover ZONE WITH; hod wet ZONE; hod discard BATCH --why …; hod cure ZONE TEMPERATURE; hod note WORDS",
			Columns: []string{"at", "what", "zone or batch", "with what, why, how warm", "who"},
		})
	return v
}

func batches(m *fold.Mix, first int) Form {
	f := Form{
		Title: "Batches of " + string(m.MixPlanned.Mix), First: int32(first), Rows: rows,
		Command: "hod batch " + string(m.MixPlanned.Mix), Columns: []string{"no."},
	}
	for _, c := range m.Constituents {
		f.Columns = append(f.Columns, string(c.Name))
		f.Command += " " + string(c.Name) + "=…"
	}
	f.Columns = append(f.Columns, "moisture", "from", "water at", "to", "temp")
	f.Command += " --moisture … --from … --water-at … --to … --temp … --number …"
	f.Notes = []string{"An amount is written with its unit, as weighed; one as the mix has it may be left out."}
	return f
}

func joined(names []event.Zone) string {
	all := ""
	for i, n := range names {
		if i > 0 {
			all += ", "
		}
		all += string(n)
	}
	return all
}

func lines(all ...string) []string {
	return slices.DeleteFunc(all, func(s string) bool { return s == "" })
}
