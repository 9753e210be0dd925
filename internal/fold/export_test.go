package fold

// Readings is how many times an event was looked at to learn how it is read.
func (s *Site) Readings() int { return s.work.readings }
