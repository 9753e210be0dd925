package mixed

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/packed"
	"hod/internal/planned"
)

// Invariant: a batch is worked out only after EnsureBatches fetched all that concerns it. What is known of batches that
// were not fetched, by the subjects that the log holds, is dropped once they are.

// followDeferred takes up what is known of batches that are not fetched, or drops it once all are.
func (s *Mixing) followDeferred() {
	if s.keptOf == s.Deferred {
		return
	}
	if d := s.keptOf; d != nil {
		for i := range d.Batches {
			if !d.BatchIn[i] {
				s.dropKept(d, i)
			}
		}
	}
	if s.keptOf = s.Deferred; s.Deferred == nil {
		return
	}
	for _, m := range s.Deferred.Yields {
		s.yieldStateOf(planned.YieldKey(m))
	}
	for _, b := range s.Deferred.Batches {
		if b.Yield >= 0 {
			s.yieldStateOf(planned.YieldKey(s.Deferred.Yields[b.Yield])).ratios[b.ID] = b.Ratio
		}
	}
	s.taught = nil
}

// dropKept forgets what was known of a batch that is not fetched.
func (s *Mixing) dropKept(d *history.Deferred, i int) {
	b := d.Batches[i]
	if b.Yield >= 0 {
		delete(s.yieldStateOf(planned.YieldKey(d.Yields[b.Yield])).ratios, b.ID)
		s.taught = nil
	}
}

// EnsureBatches fetches all that concerns some batches. They are worked out by ComputeFetched.
func (s *Mixing) EnsureBatches(ids ...event.Batch) {
	d := s.Deferred
	if d == nil {
		return
	}
	s.followDeferred()
	var want []packed.Place
	for _, id := range ids {
		if i, filed := d.Batch(id); filed && !d.BatchIn[i] {
			want = s.WantBatch(i, want)
		}
	}
	s.Load(want)
}

// WantBatch adds the events of a batch, by its number, to those that are to be fetched.
func (s *Mixing) WantBatch(i int, want []packed.Place) []packed.Place {
	d := s.Deferred
	d.BatchIn[i] = true
	s.dropKept(d, i)
	return append(want, d.Batches[i].Events...)
}

// ComputeFetched brings the plan and those batches up to date of which something was added; all, where none is left
// out.
func (s *Mixing) ComputeFetched() {
	s.followPlan()
	for s.Deferred != nil && len(s.stale) > 0 {
		due := s.stale
		s.stale = nil
		ids := make([]event.Batch, len(due))
		for i, b := range due {
			ids[i] = b.id
		}
		s.EnsureBatches(ids...)
		for _, b := range due {
			if b.stale {
				s.computeOne(b)
			}
		}
	}
	if s.Deferred == nil {
		s.ComputeBatches()
	}
}

// EachKept calls for each batch that is filed and not fetched.
func (s *Mixing) EachKept(each func(packed.BatchSubject)) {
	if s.Deferred == nil {
		return
	}
	for i, b := range s.Deferred.Batches {
		if !s.Deferred.BatchIn[i] {
			each(b)
		}
	}
}

// Kept is what is known of a batch that is not fetched; false where it is, or nothing of it is filed.
func (s *Mixing) Kept(id event.Batch) (packed.BatchSubject, bool) {
	if s.Deferred == nil {
		return packed.BatchSubject{}, false
	}
	i, filed := s.Deferred.Batch(id)
	if !filed || s.Deferred.BatchIn[i] {
		return packed.BatchSubject{}, false
	}
	return s.Deferred.Batches[i], true
}

// RatioOf a batch: what it yielded over its design, and what that teaches; false where it was not weighed.
func (s *Mixing) RatioOf(b *Batch) (ratio float64, of planned.YieldKey, weighed bool) {
	of = b.Mix.Yields
	if st := s.yields[of]; st != nil {
		ratio, weighed = st.ratios[b.ID]
	}
	return ratio, of, weighed
}

// MortarKeys are the mortars of which anything was mixed or asked, in order.
func (s *Mixing) MortarKeys() []planned.YieldKey { return s.learned().keys }

// LastBatch is the batch of a crew that was ready last; false if it has none.
func (s *Mixing) LastBatch(crew event.Crew) (*Batch, bool) {
	s.ComputeFetched()
	var last event.Batch
	var ready time.Time
	take := func(id event.Batch, at time.Time) {
		if id.Crew == crew && (last == event.Batch{} || cmp.Or(at.Compare(ready), compareBatches(id, last)) > 0) {
			last, ready = id, at
		}
	}
	for id, st := range s.ByBatch { // in any order: no two are equal
		if st.Is != nil && st.Is.Mixed != nil {
			take(id, st.Is.Ready)
		}
	}
	s.EachKept(func(b packed.BatchSubject) {
		if b.Stands {
			take(b.ID, b.Ready)
		}
	})
	if last == (event.Batch{}) {
		return nil, false
	}
	return s.Batch(last)
}

// BatchesOn are a crew's batches of a day that stand, by number.
func (s *Mixing) BatchesOn(crew event.Crew, day string) []*Batch {
	var ids []event.Batch
	s.ComputeFetched()
	s.EachKept(func(b packed.BatchSubject) {
		if b.ID.Crew == crew && b.ID.Day == day {
			ids = append(ids, b.ID)
		}
	})
	s.EnsureBatches(ids...)
	s.ComputeFetched()
	var all []*Batch
	for id, st := range s.ByBatch { // in any order: they are sorted below
		if id.Crew == crew && id.Day == day && st.Is != nil && st.Is.Mixed != nil {
			all = append(all, st.Is)
		}
	}
	slices.SortFunc(all, func(a, b *Batch) int { return compareBatches(a.ID, b.ID) })
	return all
}
