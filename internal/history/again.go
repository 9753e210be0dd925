package history

import (
	"bytes"
	"cmp"
	"fmt"

	"hod/internal/event"
)

// A forked device writes what was not accepted again on top of its accepted record, and each such event names the one
// that it stands for. Here the writings of one event are one: what names any of them means the one that stands, and of
// several that are there only one counts.

// writing is an event of a device by the hash under which it was first written.
type writing struct {
	device event.Device
	origin event.Hash
}

// enter keeps in mind that a record stands for one first written elsewhere.
func (s *Log) enter(r *Record) {
	delete(s.writings.best, writing{r.Device, r.Hash()})
	if r.StandsFor.IsZero() {
		return
	}
	delete(s.writings.best, writing{r.Device, r.StandsFor})
	key := writing{r.Device, r.StandsFor}
	if len(s.writings.again[key]) == 0 {
		s.writings.claims[r.StandsFor] = append(s.writings.claims[r.StandsFor], r.Device)
	}
	s.writings.again[key] = append(s.writings.again[key], r)
	s.markMoved(r.StandsFor)
}

// writings are all that are known of the event that r is one of, r among them.
func (s *Log) writingsOf(r *Record) []*Record {
	again := s.writings.again[writing{r.Device, r.Origin()}]
	if len(again) == 0 {
		return []*Record{r}
	}
	first, known := s.by.hash[r.Origin()]
	if !known || first.Device != r.Device { // nobody stands for what another device wrote
		return again
	}
	return append([]*Record{first}, again...)
}

// counts is the writing, of all that are known of r's event, that is read: the earliest by seq.
//
// Invariant: it hangs on the set of writings alone, seq and hash deciding, so that every device reads the same one.
// best keeps the answer until a writing of that event comes or one is found to be forked; enter and fork forget it
// then.
func (s *Log) counts(r *Record) *Record {
	if r.StandsFor.IsZero() && len(s.writings.again[writing{r.Device, r.Hash()}]) == 0 {
		return r
	}
	key := writing{r.Device, r.Origin()}
	best := s.writings.best[key]
	if best != nil {
		return best
	}
	best = r
	for _, w := range s.writingsOf(r) {
		if isForked(w) != isForked(best) {
			if isForked(best) {
				best = w
			}
			continue
		}
		a, b := w.Hash(), best.Hash()
		if cmp.Or(cmp.Compare(w.Seq, best.Seq), bytes.Compare(a[:], b[:])) < 0 {
			best = w
		}
	}
	s.writings.best[key] = best
	return best
}

func isForked(r *Record) bool { return r.Aside != nil && r.Aside.Code == Forked }

// Named is the record that a hash means: that of the event, or the one that stands for it. Nil where neither is known,
// or where several devices say that they stand for it.
func (s *Log) Named(h event.Hash) *Record {
	if r := s.by.hash[h]; r != nil {
		return s.counts(r)
	}
	if by := s.writings.claims[h]; len(by) == 1 {
		return s.counts(s.writings.again[writing{by[0], h}][0])
	}
	return nil
}

// GoesBy are the hashes by which others may name a record: its own, and those of the event's other writings if it is
// the one that counts.
//
// Invariant: no hash is among those of two records, so that a correction is of one event. That is why named is asked
// for each of them: a hash for which several devices claim to stand means none of theirs.
func (s *Log) GoesBy(r *Record) []event.Hash {
	own := []event.Hash{r.Hash()}
	if r.StandsFor.IsZero() && len(s.writings.again[writing{r.Device, r.Hash()}]) == 0 || s.counts(r) != r {
		return own
	}
	known := map[event.Hash]bool{own[0]: true}
	for _, w := range s.writingsOf(r) {
		for _, h := range []event.Hash{w.Hash(), w.Origin()} {
			if !known[h] && s.Named(h) == r {
				known[h] = true
				own = append(own, h)
			}
		}
	}
	return own
}

// fixesOf are the corrections that name a record. None is of a writing that does not count: what names that means the
// one that does.
func (s *Log) fixesOf(r *Record) []*Record {
	if s.counts(r) != r {
		return nil
	}
	names := s.GoesBy(r)
	if len(names) == 1 {
		return s.fixing.fixes[names[0]]
	}
	var all []*Record
	for _, h := range names {
		all = append(all, s.fixing.fixes[h]...)
	}
	return all
}

// repeats says that a record writes an event again that stands already.
func (s *Log) repeats(r *Record) *Aside {
	if best := s.counts(r); best != r { // the others stand again by themselves if best is found to be forked
		return &Aside{
			WrittenTwice,
			fmt.Sprintf("it is the same event as %s, written again after a fork; that one counts", best.Name),
		}
	}
	return nil
}
