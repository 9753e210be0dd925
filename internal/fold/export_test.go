package fold

// Readings is how many times an event was looked at to learn how it is read.
func (s *Site) Readings() int { return s.work.readings }

// Samples is how many samples of probes were put in order.
func (s *Site) Samples() int { return s.work.samples }

// Work is what was worked out since it was asked last.
func (s *Site) Work() (batches, zones, judged, doubted int) {
	w := s.work
	s.work = work{}
	return w.batches, w.zones, w.judged, w.doubted
}
