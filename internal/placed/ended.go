package placed

import (
	"fmt"
	"slices"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/planned"
)

// notTheirs says why a front is not its author's to end; nil if it is. A front is ended by a crew that placed on one of
// its sides, at whatever time, or by the foreman: whoever else ends it takes it from those who may be on their way to
// meet it.
func (s *Zones) notTheirs(r *history.Record) *history.Aside {
	b, ended := r.Now.(event.FrontEnded)
	if !ended || s.CorrectsAll(r.Device) {
		return nil
	}
	own := s.CrewOf(r.Device)
	for _, zone := range s.sidesOf(b) {
		if st := s.ByZone[zone]; st != nil && slices.ContainsFunc(st.Placements, func(p *history.Record) bool {
			k, is := p.Now.(event.Placement)
			return is && p.State != history.SetAside && k.Batch.Crew == own
		}) {
			return nil
		}
	}
	where := "in " + string(b.Coat.Zone)
	if b.OtherZone != "" {
		where += " or across its edge with " + string(b.OtherZone)
	}
	return &history.Aside{Code: history.NoRight, Why: fmt.Sprintf("crew %s has placed nothing %s: "+
		"the crew that placed there ends its front, or the foreman", own, where)}
}

// sidesOf a front: its zone, and the other where the plan has an edge between them.
func (s *Zones) sidesOf(b event.FrontEnded) []event.Zone {
	sides := []event.Zone{b.Coat.Zone}
	if plan := s.Current.Zones[b.Coat.Zone]; plan != nil && slices.ContainsFunc(plan.Edges,
		func(e planned.Edge) bool { return e.Other(b.Coat.Zone) == b.OtherZone }) {
		sides = append(sides, b.OtherZone)
	}
	return sides
}

// staleEnded marks the zones stale whose fronts with a zone were ended: whose they are to end hangs on who placed in
// it.
func (s *Zones) staleEnded(zone event.Zone) {
	if s.Current == nil || s.Current.Zones[zone] == nil {
		return
	}
	for _, e := range s.Current.Zones[zone].Edges {
		other := s.ByZone[e.Other(zone)]
		if other != nil && !other.stale && slices.ContainsFunc(other.Treated, func(r *history.Record) bool {
			b, ended := r.Now.(event.FrontEnded)
			return ended && b.OtherZone == zone
		}) {
			s.StaleZone(other.name)
		}
	}
}
