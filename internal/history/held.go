package history

import (
	"errors"
	"time"

	"hod/internal/event"
	"hod/internal/packed"
)

// OffsetLimit is the difference between a device's clock and the site's from which it is flagged.
const OffsetLimit = 30 * time.Second

// packsWithin is how far a device's clock may be off for its readings to be packed: far below what a flag tells of.
const packsWithin = OffsetLimit / 2

// Hold has the site, which has no events yet, answer with packed readings, whose events are not added. fetch gives
// those events where an answer needs them; where it fails the answers since are worth nothing, see Lost.
func (s *Log) Hold(p *packed.Readings, fetch func() ([]event.Event, error)) {
	s.Packed, s.source.fetch = p, fetch
}

// Packs says whether packed readings are held in place of their events, which no answer has asked for yet.
func (s *Log) Packs() bool { return s.Packed != nil }

// Lost says why events that an answer needed could not be fetched; nil if they were.
func (s *Log) Lost() error { return s.source.lost }

// Unpack adds the events of what is packed.
func (s *Log) Unpack() {
	if s.Packed == nil {
		return
	}
	s.Packed = nil
	events, err := s.source.fetch()
	s.source.lost = errors.Join(s.source.lost, err)
	for _, e := range events {
		s.Add(e)
	}
}

// heed unpacks where an event that came names one that is not there, which may be a packed one, or tells that the clock
// of a device was wrong whose readings are packed. Where it may be one that is left out, all of these are fetched; so
// they are where it is one that was fetched, since more was told by that than was fetched with it.
func (s *Log) heed() {
	named, apart := s.pending.named, s.pending.apart
	s.pending.named, s.pending.apart = nil, false
	for _, h := range named {
		if s.Deferred == nil {
			break
		}
		if r := s.by.hash[h]; r == nil && !s.Deferred.Absent[h] || r != nil && s.Deferred.Holds(r.Name) {
			s.LoadAll()
		}
	}
	if s.Packed == nil {
		return
	}
	if apart {
		s.Unpack()
		return
	}
	for _, h := range named {
		if s.by.hash[h] == nil && !s.Packed.Absent[h] {
			s.Unpack()
			return
		}
	}
}

// namedBy are the events that one names by hash.
func namedBy(e event.Event) []event.Hash {
	var all []event.Hash
	if h, is := event.TargetOf(e.Body); is {
		all = append(all, h)
	}
	if b, is := e.Body.(event.Settled); is {
		all = append(append(all, b.Holds), b.Over...)
	}
	if !e.StandsFor.IsZero() {
		all = append(all, e.StandsFor)
	}
	return all
}

// AbsentNames are the hashes that events name and that are not in the log.
func (s *Log) AbsentNames() map[event.Hash]bool {
	absent := map[event.Hash]bool{}
	for _, r := range s.arrival {
		for _, h := range namedBy(r.Event) {
			if s.by.hash[h] == nil {
				absent[h] = true
			}
		}
	}
	return absent
}

// WrittenBy are the events of a device that are not packed, in the order in which they came. The caller must not change
// the slice.
func (s *Log) WrittenBy(d event.Device) []*Record { return s.by.Member[d] }

// Arrived are all events that are known, in the order in which they came. The caller must not change the slice.
func (s *Log) Arrived() []*Record { return s.arrival }

// Lose notes that events which an answer needs cannot be had.
func (s *Log) Lose(err error) { s.source.lost = errors.Join(s.source.lost, err) }

// OffRight reports whether the clock of a device was known to be off when it wrote an event.
func OffRight(e event.Event) bool { return e.Offset != nil && e.Offset.Abs() > packsWithin }
