package daily

import (
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
)

// Of is the day as one crew's: what it mixed, placed, tested and wrote, and the flags and joints that rest on its
// events. The weather, the stock, what is left and the next day stay the whole site's. s and in are those that v was
// made of.
func (v Day) Of(s *fold.Site, in *time.Location, crew event.Crew) Day {
	from, err := time.ParseInLocation(time.DateOnly, v.Date, in)
	if err != nil || crew == "" {
		return v
	}
	until := from.AddDate(0, 0, 1)
	if v.EndedAt != nil {
		s = endOf(s, until)
	}
	on := func(t time.Time) bool { return !t.Before(from) && t.Before(until) }
	ofCrew := func(names ...string) bool {
		return slices.ContainsFunc(names, func(n string) bool {
			name, err := event.ParseName(n)
			r, ok := s.Record(name)
			return err == nil && ok && r.Crew == crew
		})
	}
	v.Crew = string(crew)
	v.Crews = only(v.Crews, func(c CrewDay) bool { return c.Crew == v.Crew })
	v.Zones = coatDays(s, on, crew)
	v.Tests = only(v.Tests, func(t Test) bool { return strings.HasPrefix(t.Batch, v.Crew+"/") })
	v.Breaks = only(v.Breaks, func(b BreakLine) bool { return ofCrew(b.Event) })
	v.Flags = only(v.Flags, func(f Flag) bool { return ofCrew(f.Events...) })
	touches := func(j view.Joint) bool { return ofCrew(j.Earlier...) || ofCrew(j.Later...) }
	v.Joints = only(v.Joints, touches)
	v.JointsMade, v.JointsLive = 0, 0
	for _, j := range view.MadeJoints(s) {
		if !on(*j.MadeAt) || !touches(j) {
			continue
		}
		v.JointsMade++
		if j.State == "live" {
			v.JointsLive++
		}
	}
	wrote := func(e view.Entry) bool { return e.Crew == v.Crew }
	v.Changes, v.SetAside, v.Notes = only(v.Changes, wrote), only(v.SetAside, wrote), only(v.Notes, wrote)
	v.Late, v.LateBefore, v.OpenBefore = only(v.Late, wrote), 0, 0
	v.Record = only(v.Record, func(d DeviceEnd) bool { return d.Crew == v.Crew })
	return v
}

// only are those of a list that are wanted; the list itself stays as it is.
func only[E any](all []E, want func(E) bool) []E {
	var some []E
	for _, e := range all {
		if want(e) {
			some = append(some, e)
		}
	}
	return some
}
