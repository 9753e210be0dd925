package fold

import (
	"slices"

	"hod/internal/event"
	"hod/internal/history"
)

// invalidate marks all stale that is computed from how a record is read now.
func (s *Site) invalidate(r *history.Record) {
	is := s.kindOf(r.Now)
	// who may write decides how those are read
	if is.plan || (s.Packed != nil || s.Deferred != nil) && history.IsDevice(r.Body) {
		s.Current = nil
	}
	if is.batch != (event.Batch{}) {
		s.StaleBatch(is.batch)
	}
	for _, z := range is.zones {
		s.StaleZone(z)
	}
	if len(is.air) > 0 {
		s.StaleAir(r, is.air)
	}
	s.stock.stale = s.stock.stale || is.ledgers
	s.Broken.Stale = s.Broken.Stale || is.strength
}

// lists are those in which a record belongs that is read as a body.
func (s *Site) lists(b event.Body) []*[]*history.Record {
	is := s.kindOf(b)
	var all []*[]*history.Record
	for _, list := range is.in {
		if list != nil {
			all = append(all, list)
		}
	}
	for i, flag := range is.answers {
		if !slices.Contains(is.answers[:i], flag) {
			all = append(all, listOf(s.answers, flag))
		}
	}
	return all
}

// index has the log tell a site how records are read.
type index struct{ *Site }

func (x index) Lists(b event.Body) []*[]*history.Record  { return x.lists(b) }
func (x index) Invalidate(r *history.Record)             { x.invalidate(r) }
func (x index) Recount(excluded map[event.Device]uint64) { x.recount(excluded) }

// compute brings all that is stale up to date: plan, then batches, then zones. What is judged of a zone waits until it
// is asked for, see judged; so do the joints between zones. Whoever asks for less brings less up to date: computePlan,
// computeBatches and computeZones each rest on the one before.
func (s *Site) compute() {
	s.LoadAll()
	s.ComputeBatches()
	s.settleStock()
	s.ComputeZones()
}
