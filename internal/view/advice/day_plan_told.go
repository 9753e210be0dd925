package advice

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/next"
	"hod/internal/unit"
	"hod/internal/view"
)

// DayOrder is the plan that the foreman made a day's order, and what has come of it by the instant of the view.
type DayOrder struct {
	Event      string    `json:"event"`
	Date       string    `json:"date"`
	Start      time.Time `json:"start"`
	Crews      []string  `json:"crews"`
	Mixes      []string  `json:"mixes,omitempty"`
	Bays       []DayBay  `json:"bays"`
	Batches    int32     `json:"batches"`
	Trials     int32     `json:"trials"`
	Cold       int32     `json:"cold"`
	Done       int32     `json:"done"`
	OnPurposeM float64   `json:"on_purpose_m"`
	Came       *DayCame  `json:"came,omitempty"`
}

// DayCame is what came of a day's order.
type DayCame struct {
	Batches   int32    `json:"batches"` // placed in zones of the order, this day
	Elsewhere int32    `json:"elsewhere"`
	Untouched []string `json:"untouched"`   // zones of the order in which nothing was placed this day
	Cold      int32    `json:"cold_joints"` // made this day
	Ended     int32    `json:"ended"`       // fronts ended on purpose this day
}

func orderOf(o *fold.Ordered) *DayOrder {
	v := &DayOrder{
		Event: o.Record.Name.String(), Date: o.Day, Start: o.Start.UTC(), Mixes: o.Mixes, Batches: int32(o.Batches),
		Trials: int32(o.Trials),
		Cold:   int32(o.Cold), Done: int32(o.Done), OnPurposeM: o.OnPurpose,
	}
	for _, c := range o.Crews {
		v.Crews = append(v.Crews, string(c))
	}
	for _, b := range o.Bays {
		one := DayBay{BeginBy: b.BeginBy.UTC()}
		for _, z := range b.Zones {
			one.Zones = append(one.Zones, string(z))
		}
		v.Bays = append(v.Bays, one)
	}
	return v
}

// OrderOf a day with what has come of it by an instant; nil where none was made.
func OrderOf(s *fold.Site, day string, now time.Time, in *time.Location) *DayOrder {
	o := s.OrderOf(day, now)
	if o == nil {
		return nil
	}
	v := orderOf(o)
	came := &DayCame{}
	touched, batches := map[event.Zone]bool{}, map[event.Batch]bool{}
	ours := func(z event.Zone) bool {
		return slices.ContainsFunc(o.Bays, func(b event.DayBay) bool { return slices.Contains(b.Zones, z) })
	}
	for _, b := range s.Batches() {
		for _, p := range b.Parts {
			if p.From.In(in).Format(time.DateOnly) != day || p.From.After(now) {
				continue
			}
			touched[p.Coat.Zone] = true
			if !batches[b.ID] {
				batches[b.ID] = true
				if ours(p.Coat.Zone) {
					came.Batches++
				} else {
					came.Elsewhere++
				}
			}
		}
	}
	for _, b := range o.Bays {
		for _, z := range b.Zones {
			if !touched[z] {
				came.Untouched = append(came.Untouched, string(z))
			}
		}
	}
	for _, k := range s.Contacts() {
		if k.IsCold() && k.At.In(in).Format(time.DateOnly) == day && !k.At.After(now) && k.Kind != fold.Below {
			came.Cold++
		}
	}
	for _, r := range s.FrontsEnded(now) {
		if r.When.In(in).Format(time.DateOnly) == day {
			came.Ended++
		}
	}
	v.Came = came
	return v
}

// Body is what the foreman writes down who makes a plan of a day its order.
func (v DayPlans) Body(p DayPlan) event.DayOrdered {
	b := event.DayOrdered{
		Day: v.Date, Start: p.Start, Batches: int(p.Batches), Trials: int(p.Trials), Cold: int(p.Cold),
		Done: int(p.Done), OnPurpose: math.Round(p.OnPurposeM*100) / 100, Mixes: p.Mixes,
	}
	for _, c := range p.Crews {
		b.Crews = append(b.Crews, event.Crew(c))
	}
	for _, k := range p.Bays {
		bay := event.DayBay{BeginBy: k.BeginBy}
		for _, z := range k.Zones {
			bay.Zones = append(bay.Zones, event.Zone(z))
		}
		b.Bays = append(b.Bays, bay)
	}
	return b
}

// closedOf are the hours of the forecast in which nobody is to place, each with its limit and where that is from.
func closedOf(s *fold.Site, from, to time.Time, in *time.Location) []DayClosed {
	p := s.Plan()
	_, told := s.Weather()
	var all []DayClosed
	for _, k := range told {
		if !k.At.Before(to) || !k.At.Add(time.Hour).After(from) {
			continue
		}
		why, source := forbids(p, k, told, in)
		if why == "" {
			continue
		}
		ends := k.At.Add(time.Hour)
		if n := len(all); n > 0 && all[n-1].Why == why && all[n-1].To.Equal(k.At) {
			all[n-1].To = ends.UTC()
			continue
		}
		all = append(all, DayClosed{k.At.UTC(), ends.UTC(), why, source})
	}
	return all
}

// What forbids an hour beside the weather that workable judges. The hottest air is the limit that ACI 305.1 sets for
// the concrete itself (from memory), since a thin shell follows the air.
const (
	hottest     = unit.Celsius(35)
	frostWithin = 12 * time.Hour
)

func forbids(p *fold.Plan, k fold.Sky, told []fold.Sky, in *time.Location) (why, source string) {
	if ok, says := view.Workable(p, k); !ok {
		switch {
		case strings.HasPrefix(says, "rain"):
			return says, "a choice of this program, no source"
		case strings.HasPrefix(says, "cold"):
			return says, "ACI 306R"
		}
		return says, "ACI 305R for the limit; twice of it is a choice of this program"
	}
	if k.Air != nil && *k.Air > hottest {
		return fmt.Sprintf("hot: air %s, over %s", p.System.Temperature(*k.Air), p.System.Temperature(hottest)),
			"ACI 305.1 for the concrete itself (from memory), which in a thin shell follows the air"
	}
	for _, o := range told {
		if o.At.After(k.At) && !o.At.After(k.At.Add(frostWithin)) && o.Air != nil && *o.Air <= 0 {
			return fmt.Sprintf("frost at %s, within %s", view.ClockOn(o.At, k.At, in), unit.Duration(frostWithin)),
				"ACI 306R: no frost before 500 psi (3.5 MPa); the hours are a choice of this program"
		}
	}
	return "", ""
}

// planOf the day as it is shown.
func (a *dayAsk) planOf(number int, start time.Time, q next.DayQuestion, p next.DayPlan, mixes []string) DayPlan {
	v := DayPlan{
		Number: int32(number), Start: start.UTC(), Mixes: mixes, Batches: int32(len(p.Takes)), Trials: int32(p.Cold.Of),
		Cold: int32(p.Cold.Happened), Done: int32(p.Done.Happened),
		LastTo: a.instant(p.LastEnd),
	}
	for k, c := range q.Crews {
		v.Crews = append(v.Crews, c.Name)
		rest := a.restOf(start, k)
		if !rest.Before(a.instant(p.LastEnd)) {
			continue // all is placed by then
		}
		v.Breaks = append(v.Breaks, DayBreak{c.Name, rest.UTC(), rest.Add(breakFor).UTC()})
	}
	for _, b := range p.Bays {
		bay := DayBay{Batches: int32(len(b.Cells)), Begins: a.instant(b.Begins), BeginBy: a.instant(b.BeginBy)}
		for _, c := range b.Cells {
			if z := string(a.cells.All[c].Coat.Zone); !slices.Contains(bay.Zones, z) {
				bay.Zones = append(bay.Zones, z)
			}
		}
		v.Bays = append(v.Bays, bay)
	}
	a.rim(&v, q, p)
	a.cure(&v, q, p)
	for _, t := range p.Takes {
		c := a.cells.All[t.Cell].Coat
		v.Takes = append(v.Takes, NextTake{
			q.Crews[t.Crew].Name, string(c.Zone), view.FaceName(c.Face), int32(c.Number),
			a.instant(t.From), a.instant(t.To),
		})
	}
	slices.SortStableFunc(v.Takes, func(x, y NextTake) int { return x.From.Compare(y.From) })
	v.Needs = a.needs(p, mixes)
	v.Begun = a.begunBy(p)
	v.Key = keyOf(a.from, v)
	return v
}

// rim says where work is to end on purpose: along what is left for another day, and within where an edge would go cold.
func (a *dayAsk) rim(v *DayPlan, q next.DayQuestion, p next.DayPlan) {
	for _, e := range slices.Concat(p.Rim, p.Within) {
		b := a.edges[e]
		cell := b.A
		inside := slices.ContainsFunc(p.Takes, func(t next.Take) bool { return t.Cell == b.A })
		if !inside {
			cell = b.B
		}
		c := a.cells.All[cell].Coat
		one := NextEdge{
			Zone: string(c.Zone), Face: view.FaceName(c.Face), Coat: int32(c.Number),
			LengthM: float64(q.Edges[e].Length) / 100,
		}
		if b.Edge != nil {
			one.Other = string(b.Edge.Other(c.Zone))
			if b.Edge.Joint != event.JointUnsaid {
				one.Joint = b.Edge.Joint.String()
			}
		}
		v.OnPurposeM += one.LengthM
		if one.Joint != event.JointYes.String() {
			v.ForbiddenM += one.LengthM
		}
		if i := slices.IndexFunc(v.Rim, func(o NextEdge) bool {
			return o.Zone == one.Zone && o.Other == one.Other && o.Face == one.Face && o.Coat == one.Coat
		}); i >= 0 {
			v.Rim[i].LengthM += one.LengthM
			continue
		}
		v.Rim = append(v.Rim, one)
	}
}

// cure says of each coat from when what is placed is covered or wetted, at the latest when it has set, and until when
// it is kept moist.
func (a *dayAsk) cure(v *DayPlan, q next.DayQuestion, p next.DayPlan) {
	for i, t := range p.Takes {
		c := q.Cells[t.Cell]
		curve := next.Curve{}
		if c.Curve < len(q.Curves) {
			curve = q.Curves[c.Curve]
		}
		water := t.From - q.Lead
		set := a.instant(curve.Reaches(curve.At(water)+c.Set, water))
		if i == 0 || set.Before(v.CoverFrom) {
			v.CoverFrom = set
		}
		if i == 0 || set.After(v.CoverLast) {
			v.CoverLast = set
		}
		v.cover(a.cells.All[t.Cell].Coat, set)
	}
	slices.SortStableFunc(v.Covers, func(x, y DayCover) int { return x.By.Compare(y.By) })
	v.CureUntil = v.CoverLast.Add(moistCure)
}
