package planning

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/journal"
	"hod/client/parse"
	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/plan"
	"hod/internal/unit"
	"hod/internal/view"
)

// planFile is a whole plan in one YAML file.
type planFile struct {
	path    string
	check   bool
	because string
}

// NewPlan makes hod plan.
func NewPlan(env *session.Env) *cobra.Command {
	var p planFile
	c := env.NewCommand("plan FILE", "Read the whole plan of a site from one YAML file (foreman)",
		"hod plan vault.yaml --check", "hod plan vault.yaml")
	c.Long = "Every mistake in the file is told at once, by line, and then nothing is written. What is planned already and does not\n" +
		"differ is left alone; what differs is planned anew in its place. What the file leaves out goes on holding."
	c.Args = terminal.ExactArgs(1, "the file with the plan")
	c.Flags().BoolVar(&p.check, "check", false, "only say what is wrong, or what would change")
	c.Flags().StringVar(&p.because, "because", "", "why a mix changes under a revision that batches were mixed with")
	env.SureFlag(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		p.path = args[0]
		return p.run(c.Context(), env)
	}
	return c
}

// planDoc is what a file plans and what of it is new to the record.
type planDoc struct {
	File    string       `json:"file"`
	Site    string       `json:"site"`
	Zones   int          `json:"zones"`
	Coats   int          `json:"coats"`
	Edges   int          `json:"edges"`
	Mixes   int          `json:"mixes"`
	Crews   int          `json:"crews"`
	Area    float64      `json:"area_m2"`
	Matched bool         `json:"compared"` // with what this device's record holds
	Written bool         `json:"written"`
	Changes []planChange `json:"changes"`
	Same    int          `json:"same"`
	Gone    []string     `json:"not_in_file"` // planned, and holding on
	Doubts  []string     `json:"doubts,omitempty"`
	State   string       `json:"state,omitempty"`

	units unit.System // in which the file's site reads
}

type planChange struct {
	What string   `json:"what"`
	Was  []string `json:"was,omitempty"` // several: a conflict that this ends
	Is   string   `json:"is"`
	// Differs says key by key what does, once for each that was planned.
	Differs []string `json:"differs,omitempty"`
	Event   string   `json:"event,omitempty"`
	Moved   string   `json:"moved,omitempty"` // of a revision that corrects another: what that moved in the record
}

func (p planFile) run(ctx context.Context, env *session.Env) error {
	raw, err := env.ReadFile(p.path)
	if err != nil {
		return err
	}
	read, err := plan.Read(p.path, raw, isTimeZone)
	if err != nil {
		return parse.Mistakes(env.Streams, p.path, err)
	}
	doc := planDoc{
		File: p.path, Site: read.Site.Name, Zones: len(read.Zones), Coats: len(read.Coats), Edges: len(read.Edges),
		Mixes: len(read.Mixes), Crews: len(read.Crews), Changes: []planChange{}, Gone: []string{},
	}
	if read.Site.Units == event.US {
		doc.units = unit.US
	}
	for _, z := range read.Zones {
		doc.Area += float64(z.Area.SI)
	}
	s, err := session.Open(ctx, env)
	var none *journal.Error
	if p.check && errors.As(err, &none) && none.Kind == journal.Missing {
		return env.Print("plan", doc, func(w io.Writer) {
			doc.holds(w)
			fmt.Fprintln(w, "Nothing is wrong with it. This device has no record of a site to compare it with.")
		})
	}
	if err != nil {
		return err
	}
	defer s.Close()
	if err := p.compare(ctx, s, read, doc); err != nil {
		return err
	}
	if s.Wrote {
		s.Send(ctx)
	}
	return nil
}

// isTimeZone says whether this program knows a zone of that name; Local is a name of its own that means nothing to
// others.
func isTimeZone(name string) bool {
	_, err := time.LoadLocation(name)
	return err == nil && name != "Local"
}

// compare says what would change, and unless that is all that was asked for, writes it.
func (p planFile) compare(ctx context.Context, s *session.Session, read plan.Plan, doc planDoc) error {
	for _, m := range read.Mixes {
		if m.Corrects != 0 && !s.Plan.HasRevision(m.Mix, m.Corrects) {
			return terminal.Refusedf("mix %s has no revision %d to correct; it has %s", m.Mix, m.Corrects,
				s.Plan.RevisionsOf(m.Mix))
		}
	}
	changes := plan.Compare(holdings(s), read.Events())
	doc.Matched, doc.Same, doc.Doubts = true, changes.Same, changes.Doubt
	for _, c := range changes.Write {
		change := planChange{What: c.What, Is: planWords(c.Body)}
		for _, was := range c.Was {
			words := planWords(was.Body)
			if differs := view.Differs(was.Body, c.Body); differs != "" {
				change.Differs = append(change.Differs, differs)
			}
			change.Was = append(change.Was, words)
		}
		doc.Changes = append(doc.Changes, change)
	}
	for _, g := range changes.Gone {
		doc.Gone = append(doc.Gone, plan.What(g.Body))
	}
	if !p.check {
		if err := p.write(ctx, s, changes, &doc); err != nil {
			return err
		}
	}
	return s.Env.Print("plan", doc, func(w io.Writer) {
		doc.holds(w)
		doc.changed(w, p.check)
	})
}

func (p planFile) write(ctx context.Context, s *session.Session, changes plan.Changes, doc *planDoc) error {
	if !s.IsForeman() {
		return terminal.Refusedf(
			"only a foreman plans, and this device, %s, is not one; `hod plan %s --check` shows what would change",
			s.Device.Name, terminal.Safe(p.path))
	}
	if len(changes.Doubt) > 0 && p.because == "" {
		return terminal.Refusedf("%s; if it is to be so all the same, say why with --because",
			strings.Join(changes.Doubt, "; "))
	}
	if len(changes.Write) == 0 {
		return nil
	}
	drafts := make([]session.Draft, len(changes.Write))
	for i, c := range changes.Write {
		drafts[i] = session.Draft{Body: c.Body}
	}
	if len(changes.Doubt) > 0 {
		drafts = append(drafts, session.Draft{Body: event.Noted{Text: "plan changed: " +
			strings.Join(changes.Doubt[:min(len(changes.Doubt), 10)], "; ") + "; because: " + p.because}})
	}
	all, err := s.KeepAll(ctx, drafts)
	if err != nil {
		return err
	}
	for i := range doc.Changes {
		doc.Changes[i].Event = all[i].Event
		doc.Changes[i].Moved = s.MovedBy(all[i].Name)
	}
	doc.Written, doc.State = true, all[0].State
	return nil
}

// holdings are the plans that hold, that wait for something, or that are in conflict.
func holdings(s *session.Session) []plan.Holding {
	s.Fold.Plan() // brings the states of all plans up to date
	var all []plan.Holding
	for _, r := range s.Fold.Records() {
		switch r.State {
		case fold.Holds, fold.Amended, fold.Disputed, fold.SetAside:
			if r.Now != nil && plan.What(r.Now) != "" {
				all = append(all, plan.Holding{Hash: r.Hash(), Body: r.Now})
			}
		}
	}
	return all
}

// holds says what the file plans.
func (d planDoc) holds(w io.Writer) {
	fmt.Fprintf(w, "%s plans %s: %s of %s, %s, %s, %s, %s.\n", d.File, d.Site,
		terminal.Plural(d.Zones, "zone", "zones"),
		unit.Both(d.units, unit.Computed(unit.Area(d.Area)), unit.System.Area),
		terminal.Plural(d.Coats, "coat", "coats"), terminal.Plural(d.Edges, "edge", "edges"),
		terminal.Plural(d.Mixes, "mix", "mixes"), terminal.Plural(d.Crews, "crew", "crews"))
}

// changed says what differs, the longest lists cut short.
func (d planDoc) changed(w io.Writer, check bool) {
	const most = 15
	fresh, anew := 0, 0
	for _, c := range d.Changes {
		if len(c.Was) == 0 {
			fresh++
			continue
		}
		if anew++; anew <= most {
			if len(c.Differs) == len(c.Was) {
				fmt.Fprintf(w, "  %s: %s\n", c.What, strings.Join(c.Differs, "; and from another: "))
			} else {
				fmt.Fprintf(w, "  %s: %s, was %s\n", c.What, c.Is, strings.Join(c.Was, " and "))
			}
			if c.Moved != "" {
				fmt.Fprintf(w, "    it moved: %s\n", c.Moved)
			}
		}
	}
	if anew > most {
		fmt.Fprintf(w, "  … and %d more, in --json\n", anew-most)
	}
	switch {
	case len(d.Changes) == 0:
		fmt.Fprintln(w, "Nothing differs from what is planned; nothing was written.")
	case check:
		fmt.Fprintf(w, "%d would be new, %d changed, %d stay as they are. Nothing was written.\n", fresh, anew, d.Same)
	default:
		events := d.Changes[0].Event
		if n := len(d.Changes); n > 1 {
			events += " to " + d.Changes[n-1].Event
		}
		fmt.Fprintf(w, "%s  %d new, %d changed, %d stay as they are; %s\n", events, fresh, anew, d.Same,
			session.NotSentYet)
	}
	if len(d.Gone) > 0 {
		fmt.Fprintf(w, "Planned, not in the file, and holding on: %s. `hod undo EVENT` takes one back.\n",
			strings.Join(d.Gone[:min(len(d.Gone), most)], ", ")+more(len(d.Gone)-most))
	}
	if !check { // they were answered with --because
		return
	}
	for _, doubt := range d.Doubts {
		fmt.Fprintf(w, "Think of this first: %s.\n", doubt)
	}
}

func more(n int) string {
	if n <= 0 {
		return ""
	}
	return fmt.Sprintf(" and %d more", n)
}

// planWords is a plan body in a few words, in the units in which it was given.
func planWords(body event.Body) string {
	plan, _ := body.(event.Plan)
	switch b := plan.(type) {
	case event.SitePlanned:
		return fmt.Sprintf("%s, %s to %s", b.Name, hourOfDay(b.WorkFrom), hourOfDay(b.WorkTo))
	case event.CrewPlanned:
		if b.People == 0 {
			return "crew " + string(b.Crew)
		}
		return terminal.Plural(b.People, "person", "people")
	case event.MaterialPlanned:
		var all []string
		if b.Bulk != nil {
			all = append(all, "loose "+asSaid(*b.Bulk, unit.System.Density))
		}
		if b.Bag != nil {
			all = append(all, "a bag of "+asSaid(*b.Bag, unit.System.Mass))
		}
		return strings.Join(all, ", ")
	case event.MixPlanned:
		return fmt.Sprintf("revision %d, %s", b.Revision,
			terminal.Plural(len(b.Constituents), "constituent", "constituents"))
	case event.ZonePlanned:
		words := fmt.Sprintf("%s, order %d", asSaid(b.Area, unit.System.Area), b.Order)
		if b.At != nil {
			words += fmt.Sprintf(", at %d,%d on the map", b.At.Row, b.At.Column)
		}
		return words
	case event.CoatPlanned:
		return fmt.Sprintf("%s of %s", asSaid(b.Thickness, unit.System.Thickness), b.Mix)
	case event.EdgePlanned:
		return asSaid(b.Length, unit.System.Length)
	}
	return event.KindOf(body)
}

// asSaid is a quantity in the words in which it was given; one that was computed, in both systems.
func asSaid[Q ~float64](q unit.As[Q], show func(unit.System, Q) string) string {
	if q.Entered != "" {
		return unit.Spaced(q.Entered)
	}
	return unit.Both(unit.Metric, unit.Computed(q.SI), show)
}

func hourOfDay(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}
