package fold

// Readings is how many times an event was looked at to learn how it is read.
func (s *Site) Readings() int { return s.work.readings }

// Samples is how many samples of probes were put in order.
func (s *Site) Samples() int { return s.work.samples }
