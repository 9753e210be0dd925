package drawing

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
)

// Overview is what a foreman opens: what presses first, then how far all is.
type Overview struct {
	Site     string           `json:"site"`
	Place    string           `json:"place,omitempty"`
	AsOf     time.Time        `json:"as_of"`
	Units    string           `json:"units"`
	Crews    []CrewNow        `json:"crews"`
	Worst    *EdgeGroup       `json:"worst,omitempty"` // the edge to look at first; nil: none is open that presses
	Map      Map              `json:"map"`
	Edges    []EdgeGroup      `json:"edges"`     // open ones that press, the soonest first
	OldEdges int32            `json:"old_edges"` // cold since before today, to be treated before anybody places there
	Weather  *view.Conditions `json:"weather,omitempty"`
	Drying   view.Drying      `json:"drying"`
	Left     ahead.Forecast   `json:"left"`
	Fan      []ahead.FanPoint `json:"fan,omitempty"`
	Stock    view.Stock       `json:"stock"`
	Settle   ToSettle         `json:"to_settle"`
	Excluded []view.Exclusion `json:"excluded,omitempty"` // of whom what does not count in anything here
}

// CrewNow is a crew, when it was heard and what it did last.
type CrewNow struct {
	Crew      string     `json:"crew"`
	Name      string     `json:"name,omitempty"`
	HeardAt   *time.Time `json:"heard_at,omitempty"` // its last event was written then, by the site's clock; nil: never
	LastAt    *time.Time `json:"last_at,omitempty"`  // when what it did last happened
	LastEvent string     `json:"last_event,omitempty"`
	Last      string     `json:"last,omitempty"` // in words
	Batches   int32      `json:"batches_today"`
	PlacedM3  float64    `json:"placed_today_m3"`
	OnShift   bool       `json:"on_shift"`
}

// EdgeGroup is open joints that are one thing to look at: from one coat and at the same instants, or, as Worst, where
// one zone is to be placed.
type EdgeGroup struct {
	Zone        string     `json:"zone"` // of the earlier side; of Worst, where to place
	Face        string     `json:"face,omitempty"`
	Coat        int32      `json:"coat"`
	Others      []string   `json:"others,omitempty"` // across the edges; none: inside the coat
	State       string     `json:"state"`            // live, closing, may be cold, cold
	TurnsAt     *time.Time `json:"turns_at,omitempty"`
	TurnsLatest *time.Time `json:"turns_latest,omitempty"`
	LengthM     float64    `json:"length_m"`
	Joints      []string   `json:"joints"` // their ids
	Inside      bool       `json:"inside,omitempty"`
}

// ToSettle are the open flags, the grave ones apart, of one kind together.
type ToSettle struct {
	Grave  int32         `json:"grave"`
	Other  int32         `json:"other"`
	Groups []SettleGroup `json:"groups"`
}

// SettleGroup is the open flags of one code and weight.
type SettleGroup struct {
	Code  string       `json:"code"`
	Grave bool         `json:"grave"`
	Flags []daily.Flag `json:"flags"`
}

// OverviewOf the site at an instant, in the site's place, with the map of a coat, of that placed last, or of all.
func OverviewOf(s *fold.Site, now time.Time, in *time.Location, coat *MapCoat, all bool) Overview {
	p := s.Plan()
	v := Overview{Site: view.SiteName(s), Place: p.Place, AsOf: now, Units: p.System.String()}
	open := view.OpenJoints(s, now, in)
	var press []view.Joint
	press, v.OldEdges = view.Pressing(open)
	v.Edges = edgeGroups(press, now)
	v.Worst = worstEdge(press, now)
	v.Map = mapOf(s, view.CoatLines(s), open, now, coat, all)
	v.Crews = crewsNow(s, now, in)
	if c, ok := view.WeatherOf(s, now, in); ok {
		v.Weather = &c
	}
	v.Drying = view.DryingOf(s, now, in)
	o := ahead.OutlookOf(s, now, in)
	v.Left = ahead.ForecastWith(o)
	v.Fan = o.Fan()
	v.Stock = view.StockOf(s, now, in)
	v.Excluded = view.ExclusionsOf(s)
	v.Settle = toSettle(daily.FlagsWith(s, now, in, false, o).Flags)
	return v
}

// byPress puts first what may be cold, then what closes, what is cold since today and what is live; of each the
// soonest.
func byPress(all []view.Joint, now time.Time) []view.Joint {
	rank := map[string]int{view.MayBeCold: 0, "closing": 1, "cold": 2, "live": 3}
	all = slices.Clone(all)
	slices.SortStableFunc(all, func(a, b view.Joint) int {
		return cmp.Or(cmp.Compare(rank[a.StateNow(now)], rank[b.StateNow(now)]), view.Sooner(a.TurnsAt, b.TurnsAt))
	})
	return all
}

func edgeGroups(press []view.Joint, now time.Time) []EdgeGroup {
	var all []EdgeGroup
	for _, j := range byPress(press, now) {
		i := slices.IndexFunc(all, func(g EdgeGroup) bool {
			return j.Other != "" && !g.Inside && g.Zone == j.Zone && g.Face == j.Face && g.Coat == j.Coat &&
				g.State == j.StateNow(now) && same(g.TurnsAt, j.TurnsAt) && same(g.TurnsLatest, j.TurnsLatest)
		})
		if i < 0 {
			i = len(all)
			all = append(all, EdgeGroup{
				Zone: j.Zone, Face: j.Face, Coat: j.Coat, State: j.StateNow(now),
				TurnsAt: j.TurnsAt, TurnsLatest: j.TurnsLatest, Inside: j.Other == "",
			})
		}
		all[i].take(j, j.Other)
	}
	return all
}

func (g *EdgeGroup) take(j view.Joint, other string) {
	if other != "" {
		g.Others = append(g.Others, other)
	}
	g.LengthM += j.Length
	g.Joints = append(g.Joints, j.ID)
}

func same(a, b *time.Time) bool { return a == nil && b == nil || a != nil && b != nil && a.Equal(*b) }

// worstEdge is the open edge that presses most, with all to which the same zone is to be joined in the same state.
func worstEdge(press []view.Joint, now time.Time) *EdgeGroup {
	order := byPress(press, now)
	if len(order) == 0 {
		return nil
	}
	first := order[0]
	g := &EdgeGroup{
		Zone: first.Zone, Face: first.Face, Coat: first.Coat, State: first.StateNow(now),
		TurnsAt: first.TurnsAt, TurnsLatest: first.TurnsLatest, Inside: first.Other == "",
	}
	if g.Inside {
		g.take(first, "")
		return g
	}
	g.Zone = first.Other
	for _, j := range order {
		if j.Other == first.Other && j.Face == first.Face && j.Coat == first.Coat && j.StateNow(now) == g.State {
			g.take(j, j.Zone)
		}
	}
	return g
}

func crewsNow(s *fold.Site, now time.Time, in *time.Location) []CrewNow {
	heard := s.Heard(now)
	last, placed := map[event.Crew]*fold.Record{}, map[event.Crew]*fold.Record{}
	later := func(of map[event.Crew]*fold.Record, r *fold.Record) {
		if was := of[r.Crew]; was == nil || r.When.After(was.When) || r.When.Equal(was.When) &&
			event.CompareNames(r.Name, was.Name) > 0 {
			of[r.Crew] = r
		}
	}
	for _, r := range s.Records() {
		if !daily.OfWork(r) || r.When.After(now) {
			continue
		}
		switch r.Now.(type) {
		case event.FlagAnswered, event.WeatherObserved, event.WeatherForecast, event.CureReadings:
			continue // what a crew does is told by what it mixes, places and tends
		default:
		}
		later(last, r)
		if _, is := r.Now.(event.Placement); is {
			later(placed, r)
		}
	}
	var all []CrewNow
	for _, c := range daily.CrewDays(s, now.In(in).Format(time.DateOnly), in) {
		name := event.Crew(c.Crew)
		v := CrewNow{
			Crew: c.Crew, Name: c.Name, HeardAt: view.Instant(heard[name]), Batches: c.Batches,
			PlacedM3: c.PlacedM3, OnShift: s.OpenShift(name, now) != nil,
		}
		if r := last[name]; r != nil {
			v.LastAt, v.LastEvent, v.Last = view.Instant(r.When), r.Name.String(), briefly(s, r, in)
			if _, ended := r.Now.(event.ShiftEnded); ended && placed[name] != nil {
				v.Last = briefly(s, placed[name], in) + "; shift ended"
			}
		}
		all = append(all, v)
	}
	slices.SortFunc(all, func(a, b CrewNow) int { return cmp.Compare(a.Crew, b.Crew) })
	return all
}

// briefly is what a crew did in a few words.
func briefly(s *fold.Site, r *fold.Record, in *time.Location) string {
	switch b := r.Now.(type) {
	case event.Placement:
		return fmt.Sprintf("batch %d into %s", b.Batch.Number, b.Coat)
	case event.BatchMixed:
		return fmt.Sprintf("batch %d of %s mixed", b.Batch.Number, b.Mix)
	case event.BatchTested:
		return fmt.Sprintf("batch %d tested", b.Batch.Number)
	default:
		return view.Describe(s, r, in)
	}
}

func toSettle(open []daily.Flag) ToSettle {
	var v ToSettle
	for _, f := range open {
		if f.Grave {
			v.Grave++
		} else {
			v.Other++
		}
		i := slices.IndexFunc(v.Groups, func(g SettleGroup) bool { return g.Code == f.Code && g.Grave == f.Grave })
		if i < 0 {
			i = len(v.Groups)
			v.Groups = append(v.Groups, SettleGroup{Code: f.Code, Grave: f.Grave})
		}
		v.Groups[i].Flags = append(v.Groups[i].Flags, f)
	}
	return v
}
