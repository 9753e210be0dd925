package fold

import (
	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/mixed"
)

// Readings is how many times an event was looked at to learn how it is read.
func (s *Site) Readings() int { return s.Cost.Readings }

// Samples is how many samples of probes were put in order.
func (s *Site) Samples() int { return s.Cost.Samples }

// Yield of a mix as it holds now, learned from its weighed batches with the design as prior. Batches of another size
// than designed count by their ratio.
func (s *Site) Yield(name event.Mix) mixed.Yield {
	s.ComputeBatches()
	m := s.Current.Mixes[name]
	if m == nil {
		return mixed.Yield{Ratio: 1, Wrong: "no mix of that name has figures"}
	}
	return s.YieldFor(m)
}

// Work is what was worked out since it was asked last.
func (s *Site) Work() (batches, zones, judged, doubted int) {
	w := s.Cost
	s.Cost = history.Cost{}
	return w.Batches, w.Zones, w.Judged, w.Doubted
}
