package joint

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/planned"
)

// ComputeAbout brings zones up to date, and with them those around them whose work says where theirs lies.
func (s *Joints) ComputeAbout(names []event.Zone) {
	about := slices.Clone(names)
	for range 2 {
		for _, z := range slices.Clone(about) {
			of := s.Current.Zones[z]
			if of == nil {
				continue
			}
			for _, e := range of.Edges {
				if other := e.Other(z); !slices.Contains(about, other) {
					about = append(about, other)
				}
			}
		}
		if !slices.ContainsFunc(s.Current.Edges, func(e planned.Edge) bool { return e.Parts != nil }) {
			break // nothing is known of where work lies along an edge
		}
	}
	s.ComputeOf(about)
}

// FrontsSince are the Fronts but some of zones in which all had turned cold before an instant.
func (s *Joints) FrontsSince(since time.Time) []Front {
	s.ComputeFetched()
	if s.Deferred == nil {
		return s.Fronts()
	}
	fresh := s.FreshZones(since)
	s.ComputeAbout(fresh)
	return s.frontsOf(func(z event.Zone) bool { return slices.Contains(fresh, z) })
}
