package host

import (
	"errors"
	"slices"

	"hod/internal/event"
)

// record is what is known of every device's chain, and whose signatures count.
type record struct {
	site   string
	root   event.Device
	ring   *event.Ring
	own    map[event.Hash]bool            // what the root wrote, by the hash of its first writing
	chains map[event.Device][]event.Chain // the head after each event, from seq 1 on
}

func newRecord(id identity) *record {
	return &record{
		site:   id.site,
		root:   id.root,
		own:    map[event.Hash]bool{},
		ring:   event.NewRing(id.site, id.root, publicKey(id.key)),
		chains: map[event.Device][]event.Chain{},
	}
}

// verdict on a segment that is offered.
type verdict int

const (
	fresh    verdict = iota // it goes on where the record ends
	repeated                // all of it is held
	early                   // it leaves a gap
	stranger                // no enrolment of its device is known
	forked                  // it contradicts what is held
	forged                  // its signature is not its device's
	foreign                 // it is another site's
)

// head says how far the record of a device reaches.
func (r *record) head(d event.Device) event.Head {
	h := event.Head{Device: d, Seq: uint64(len(r.chains[d]))}
	h.Chain, _ = r.at(d, h.Seq)
	return h
}

func (r *record) at(d event.Device, seq uint64) (event.Chain, bool) {
	switch held := r.chains[d]; {
	case seq == 0:
		return event.Root(r.site, d), true
	case seq > uint64(len(held)):
		return event.Chain{}, false
	default:
		return held[seq-1], true
	}
}

// heads by device.
func (r *record) heads() []event.Head {
	all := make([]event.Head, 0, len(r.chains))
	for d := range r.chains {
		all = append(all, r.head(d))
	}
	slices.SortFunc(all, func(a, b event.Head) int {
		return event.CompareNames(event.Name{Device: a.Device}, event.Name{Device: b.Device})
	})
	return all
}

// take a segment in, if it goes on where the record ends, and give the events of it that are new. The signature of one
// that trust vouches for is not checked again. Nothing is learned of a segment that is not taken in: an enrolment in a
// contradicting one must not count.
func (r *record) take(s event.Segment, trust func(event.Head) bool) (verdict, []event.Event) {
	d := s.Before.Device
	if s.Site != r.site {
		return foreign, nil
	}
	if held, ok := r.at(d, s.After.Seq); ok && held == s.After.Chain {
		return repeated, nil // a chain's head stands for all before it
	}
	key := r.ring.Key(d)
	if key == nil {
		return stranger, nil
	}
	if trust == nil || !trust(s.After) {
		if err := s.Verify(key); errors.Is(err, event.ErrForged) {
			return forged, nil
		}
	}
	end := uint64(len(r.chains[d]))
	if s.Before.Seq > end {
		return early, nil
	}
	chain := s.Before.Chain
	if held, _ := r.at(d, s.Before.Seq); held != chain {
		return forked, nil
	}
	for i, e := range s.Events {
		chain = chain.Next(e.Bytes())
		held, ok := r.at(d, e.Seq)
		if ok && held != chain {
			return forked, nil
		}
		if !ok {
			return fresh, r.extend(s.Events[i:])
		}
	}
	return repeated, nil
}

func (r *record) extend(tail []event.Event) []event.Event {
	d := tail[0].Device
	chain := r.head(d).Chain
	for _, e := range tail {
		chain = chain.Next(e.Bytes())
		r.chains[d] = append(r.chains[d], chain)
		r.ring.Learn(e)
		if d == r.root {
			r.own[e.Origin()] = true
		}
	}
	return tail
}
