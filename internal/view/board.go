package view

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// Board is what a foreman looks at: what is about to go wrong, and how far the shell is.
type Board struct {
	Site        string       `json:"site"`
	AsOf        time.Time    `json:"as_of"`
	Units       string       `json:"units"` // metric or us
	Zones       []CoatLine   `json:"zones"`
	NextCold    *NextCold    `json:"next_cold,omitempty"`
	LiveEdges   []Joint      `json:"live_edges"`             // open ones: what is closing, what turned cold today untreated, what is live; the soonest first
	OldEdges    int32        `json:"old_edges"`              // that turned cold before today, and wait for treatment before anybody places there
	Flags       []Flag       `json:"flags"`                  // open, gravest first
	BatchesLeft *BatchesLeft `json:"batches_left,omitempty"` // nil: not known
	Weather     *Conditions  `json:"weather,omitempty"`
	Crews       []CrewLine   `json:"crews"`
	Order       *DayOrder    `json:"order,omitempty"` // the plan that was made the day's order, and what has come of it
	SetTests    *SetTests    `json:"set_tests_today,omitempty"`
}

// CoatLine is the progress of one coat of a zone.
type CoatLine struct {
	Zone           string     `json:"zone"`
	Face           string     `json:"face,omitempty"`
	Coat           int32      `json:"coat"`
	Mix            string     `json:"mix"`
	State          string     `json:"state"` // waiting, under way, done
	AreaM2         float64    `json:"area_m2"`
	DesignM        float64    `json:"design_m"`
	MeanThicknessM float64    `json:"mean_thickness_m"`
	NeededM3       float64    `json:"needed_m3"`
	PlacedM3       float64    `json:"placed_m3"`
	LeftM3         float64    `json:"left_m3"`
	Batches        float64    `json:"batches"` // whole batches and parts of them
	LastPlacedAt   *time.Time `json:"last_placed_at,omitempty"`
	FinishedAt     *time.Time `json:"finished_at,omitempty"`
	FinishedBy     string     `json:"finished_by,omitempty"`     // what finished it, in words
	Complete       *float64   `json:"complete,omitempty"`        // share of it that was said to be complete; nil: nobody said
	CompleteAt     *time.Time `json:"complete_at,omitempty"`     // when that was said
	OpenedAgainAt  *time.Time `json:"opened_again_at,omitempty"` // when mortar came into it after it was finished
	FinishedEvent  string     `json:"finished_event,omitempty"`  // that says or shows it
	FinishedSaid   bool       `json:"finished_said,omitempty"`   // somebody said that it is finished; else it shows by what was done
}

// BatchesLeft is how many batches the plan still takes: as likely as not at most P50, nine times in ten at most P90.
type BatchesLeft struct {
	P50 int32 `json:"p50"`
	P90 int32 `json:"p90"`
	P05 int32 `json:"p05"`
	P10 int32 `json:"p10"`
	P25 int32 `json:"p25"`
	P75 int32 `json:"p75"`
	P95 int32 `json:"p95"`
}

// CrewLine says what a crew did today and when it was last heard.
type CrewLine struct {
	Crew        string     `json:"crew"`
	Batches     int32      `json:"batches"`
	MixedM3     float64    `json:"mixed_m3"`
	PlacedM3    float64    `json:"placed_m3"`
	LastEventAt *time.Time `json:"last_event_at,omitempty"`
}

// BoardOf the site at an instant, in the site's place.
func BoardOf(s *fold.Site, now time.Time, in *time.Location) Board {
	p := s.Plan()
	v := Board{Site: siteName(s), AsOf: now, Units: p.System.String(), Zones: coatLines(s)}
	open := openJoints(s, now, in)
	v.LiveEdges, v.OldEdges = pressing(open)
	v.NextCold = nextCold(open)
	o := outlookOf(s, now, in)
	v.Flags = flagsOf(s, now, in, false, o).Flags
	v.BatchesLeft = o.left()
	if c, ok := WeatherOf(s, now, in); ok && c.ReadAt != nil {
		v.Weather = &c
	}
	v.Crews = crewLines(s, now, in)
	v.SetTests = setTestsOf(s, now, in)
	v.Order = OrderOf(s, now.In(in).Format(time.DateOnly), now, in)
	return v
}

func siteName(s *fold.Site) string {
	if n := s.Plan().Name; n != "" {
		return n
	}
	return s.ID
}

func coatLines(s *fold.Site) []CoatLine {
	var all []CoatLine
	for _, name := range s.Plan().ZoneNames() {
		z, ok := s.Zone(name)
		if !ok {
			continue
		}
		for _, c := range z.Coats {
			all = append(all, coatLine(s, z.Zone, c))
		}
	}
	return all
}

func coatLine(s *fold.Site, z *fold.Zone, c fold.CoatIs) CoatLine {
	id := c.CoatPlanned.Coat
	v := CoatLine{
		Zone: string(id.Zone), Face: face(id.Face), Coat: int32(id.Number), Mix: string(c.Mix), State: c.State.String(),
		AreaM2: float64(z.Area.SI), DesignM: float64(c.Thickness.SI), MeanThicknessM: float64(c.MeanThickness(z, s.Plan().Loss)),
		NeededM3: float64(c.Needed), PlacedM3: float64(c.Volume), LeftM3: float64(c.Left()), Batches: c.Batches, LastPlacedAt: at(c.Last),
	}
	if c.Done() {
		v.FinishedAt, v.FinishedBy = at(c.Finish.At), c.Finish.How
		v.FinishedSaid = c.Finish.Stated
		if r := c.Finish.Record; r != nil {
			v.FinishedEvent = r.Name.String()
		}
	}
	if k := c.Complete; k != nil {
		v.Complete, v.CompleteAt = float(k.Share), at(k.At)
	}
	if c.Again != nil {
		v.OpenedAgainAt = at(c.Again.From)
	}
	return v
}

func crewLines(s *fold.Site, now time.Time, in *time.Location) []CrewLine {
	today := now.In(in).Format(time.DateOnly)
	var all []CrewLine
	heard := s.Heard(now)
	for _, c := range crewDays(s, today, in) {
		l := CrewLine{Crew: c.Crew, Batches: c.Batches, MixedM3: c.MixedM3, PlacedM3: c.PlacedM3}
		l.LastEventAt = at(heard[event.Crew(c.Crew)])
		all = append(all, l)
	}
	slices.SortFunc(all, func(a, b CrewLine) int { return cmp.Compare(a.Crew, b.Crew) })
	return all
}
