package daily

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
	"hod/internal/view/advice"
	"hod/internal/view/ahead"
)

// Board is what a foreman looks at: what is about to go wrong, and how far the shell is.
type Board struct {
	Site     string          `json:"site"`
	AsOf     time.Time       `json:"as_of"`
	Units    string          `json:"units"` // metric or us
	Zones    []view.CoatLine `json:"zones"`
	NextCold *view.NextCold  `json:"next_cold,omitempty"`
	// open ones: what is closing, what turned cold today untreated, what is live; the soonest first
	LiveEdges []view.Joint `json:"live_edges"`
	// that turned cold before today, and wait for treatment before anybody places there
	OldEdges    int32              `json:"old_edges"`
	Flags       []Flag             `json:"flags"`                  // open, gravest first
	BatchesLeft *ahead.BatchesLeft `json:"batches_left,omitempty"` // nil: not known
	Weather     *view.Conditions   `json:"weather,omitempty"`
	Crews       []CrewLine         `json:"crews"`
	// the plan that was made the day's order, and what has come of it
	Order *advice.DayOrder `json:"order,omitempty"`
	// NextOrder is the same of the next day with work.
	NextOrder *advice.DayOrder `json:"next_order,omitempty"`
	// Taken are the proposals that were taken and hold.
	Taken    []advice.NextTaken `json:"taken,omitempty"`
	SetTests *view.SetTests     `json:"set_tests_today,omitempty"`

	// ServerNotice is what people should know of the server, in sentences; only the server itself says it.
	ServerNotice string `json:"server_notice,omitempty"`
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
	v := Board{Site: view.SiteName(s), AsOf: now, Units: p.System.String(), Zones: view.CoatLines(s)}
	open := view.OpenJoints(s, now, in)
	v.LiveEdges, v.OldEdges = view.Pressing(open)
	v.NextCold = view.NextColdOf(open)
	o := ahead.OutlookOf(s, now, in)
	v.Flags = FlagsWith(s, now, in, false, o).Flags
	v.BatchesLeft = o.Left()
	if c, ok := view.WeatherOf(s, now, in); ok && c.ReadAt != nil {
		v.Weather = &c
	}
	v.Crews = crewLines(s, now, in)
	v.SetTests = view.SetTestsOf(s, now, in)
	v.Order = advice.OrderOf(s, now.In(in).Format(time.DateOnly), now, in)
	v.NextOrder = advice.NextOrderOf(s, now, in)
	v.Taken = advice.TakenOf(s, now)
	return v
}

func crewLines(s *fold.Site, now time.Time, in *time.Location) []CrewLine {
	today := now.In(in).Format(time.DateOnly)
	var all []CrewLine
	heard := s.Heard(now)
	for _, c := range CrewDays(s, today, in) {
		l := CrewLine{Crew: c.Crew, Batches: c.Batches, MixedM3: c.MixedM3, PlacedM3: c.PlacedM3}
		l.LastEventAt = view.Instant(heard[event.Crew(c.Crew)])
		all = append(all, l)
	}
	slices.SortFunc(all, func(a, b CrewLine) int { return cmp.Compare(a.Crew, b.Crew) })
	return all
}
