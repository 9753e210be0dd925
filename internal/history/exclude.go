package history

import (
	"maps"

	"hod/internal/event"
)

// Exclusion is that what a device wrote does not count, from one of its events on.
type Exclusion struct {
	From uint64 // the first that does not
	By   *Record
}

// Exclusions says of whom what does not count, by device. What does not count is not part of the site: it is no record
// of it and no figure rests on it, so a reader that knows an exclusion need not read what it excludes at all.
func (s *Log) Exclusions() map[event.Device]Exclusion {
	s.Settle()
	all := map[event.Device]Exclusion{}
	for d, r := range s.lastWords() {
		if b := r.Body.(event.DeviceExcluded); b.FromSeq > 0 {
			all[d] = Exclusion{b.FromSeq, r}
		}
	}
	return all
}

// Excluded reports whether an event does not count, by what the site holds.
func (s *Log) Excluded(n event.Name) bool {
	s.Settle()
	return s.isExcluded(n)
}

func (s *Log) isExcluded(n event.Name) bool {
	from, ok := s.excluded.from[n.Device]
	return ok && n.Seq >= from
}

// lastWords are the exclusions that hold. Only the site's own device excludes, never itself, and its last word of a
// device holds: its order is its own, which no clock and no order of arrival changes. Nothing corrects it.
func (s *Log) lastWords() map[event.Device]*Record {
	last := map[event.Device]*Record{}
	for _, r := range s.excluded.orders {
		b := r.Body.(event.DeviceExcluded)
		stands := s.by.name[r.Name] == r && b.Device != s.root && r.Check() == nil
		if before := last[b.Device]; stands && (before == nil || before.Seq < r.Seq) {
			last[b.Device] = r
		}
	}
	return last
}

// settleExclusions brings the site to the events that count. Where others count than before, it is folded anew: that is
// as rare as an operator's order, and no state of any entity can then rest on what does not count.
func (s *Log) settleExclusions() {
	if !s.excluded.due {
		return
	}
	s.excluded.due = false
	now := map[event.Device]uint64{}
	for d, r := range s.lastWords() {
		if from := r.Body.(event.DeviceExcluded).FromSeq; from > 0 {
			now[d] = from
		}
	}
	if maps.Equal(now, s.excluded.from) {
		return
	}
	s.index.Recount(now)
}
