package fold

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"

	"hod/internal/event"
)

// A forked device writes what was not accepted again on top of its accepted record, and each such event names the one that
// it stands for. Here the writings of one event are one: what names any of them means the one that stands, and of several
// that are there only one counts.

// writing is an event of a device by the hash under which it was first written.
type writing struct {
	device event.Device
	origin event.Hash
}

// enter keeps in mind that a record stands for one first written elsewhere.
func (s *Site) enter(r *Record) {
	if r.StandsFor.IsZero() {
		return
	}
	key := writing{r.Device, r.StandsFor}
	if len(s.again[key]) == 0 {
		s.claims[r.StandsFor] = append(s.claims[r.StandsFor], r.Device)
	}
	s.again[key] = append(s.again[key], r)
}

// writings are all that are known of the event that r is one of, r among them.
func (s *Site) writings(r *Record) []*Record {
	again := s.again[writing{r.Device, r.Origin()}]
	if len(again) == 0 {
		return []*Record{r}
	}
	first, known := s.byHash[r.Origin()]
	if !known || first.Device != r.Device { // nobody stands for what another device wrote
		return again
	}
	return append([]*Record{first}, again...)
}

// counts is the writing, of all that are known of r's event, that is read: the earliest by seq.
func (s *Site) counts(r *Record) *Record {
	if r.StandsFor.IsZero() && len(s.again[writing{r.Device, r.Hash()}]) == 0 {
		return r
	}
	best := r
	for _, w := range s.writings(r) {
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
	return best
}

func isForked(r *Record) bool { return r.Aside != nil && r.Aside.Code == Forked }

// named is the record that a hash means: that of the event, or the one that stands for it. Nil where neither is known, or
// where several devices say that they stand for it.
func (s *Site) named(h event.Hash) *Record {
	if r := s.byHash[h]; r != nil {
		return s.counts(r)
	}
	if by := s.claims[h]; len(by) == 1 {
		return s.counts(s.again[writing{by[0], h}][0])
	}
	return nil
}

// goesBy are the hashes by which others may name a record: its own, and those of the event's other writings.
func (s *Site) goesBy(r *Record) []event.Hash {
	own := []event.Hash{r.Hash()}
	if r.StandsFor.IsZero() && len(s.again[writing{r.Device, r.Hash()}]) == 0 {
		return own
	}
	for _, w := range s.writings(r) {
		for _, h := range []event.Hash{w.Hash(), w.Origin()} {
			if !slices.Contains(own, h) && s.named(h) == r {
				own = append(own, h)
			}
		}
	}
	return own
}

// fixesOf are the corrections that name a record.
func (s *Site) fixesOf(r *Record) []*Record {
	names := s.goesBy(r)
	if len(names) == 1 {
		return s.fixes[names[0]]
	}
	var all []*Record
	for _, h := range names {
		all = append(all, s.fixes[h]...)
	}
	return all
}

// refreshWritings reads anew the other writings of an event that came or lost its place, and what waits for any of them.
func (s *Site) refreshWritings(r *Record) {
	others := slices.Clone(s.again[writing{r.Device, r.Hash()}])
	if !r.StandsFor.IsZero() {
		others = append(others, s.writings(r)...)
		// a second device that says that it stands for the same leaves it open which is meant
		if by := s.claims[r.StandsFor]; len(by) > 1 && len(s.again[writing{r.Device, r.StandsFor}]) == 1 {
			for _, d := range by {
				others = append(others, s.again[writing{d, r.StandsFor}]...)
			}
		}
	}
	for _, w := range others {
		if w != r {
			s.refresh(w)
		}
	}
	for _, w := range append(others, r) {
		for _, h := range []event.Hash{w.Hash(), w.Origin()} {
			for _, fix := range slices.Clone(s.fixes[h]) {
				s.refresh(fix)
			}
		}
	}
}

// repeats says that a record writes an event again that stands already.
func (s *Site) repeats(r *Record) *Aside {
	if best := s.counts(r); best != r {
		return &Aside{WrittenTwice, fmt.Sprintf("it is the same event as %s, written again after a fork; that one counts", best.Name)}
	}
	return nil
}
