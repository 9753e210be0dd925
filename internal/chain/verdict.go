package chain

import (
	"fmt"

	"hod/internal/event"
)

// Verdict on a segment.
type Verdict int

// The verdicts. Gap and NotEnrolled are for now: what is missing may come.
const (
	Accepted     Verdict = iota // it goes on where what is held ends
	Duplicate                   // all of it is held
	Gap                         // events before it are missing
	Fork                        // it contradicts what is held
	BadSignature                // it is not signed with its device's key
	WrongSite                   // it is another site's
	NotEnrolled                 // no enrolment of its device is known
)

var verdicts = [...]string{"accepted", "duplicate", "gap", "fork", "bad signature", "wrong site", "not enrolled"}

func (v Verdict) String() string {
	if v < 0 || int(v) >= len(verdicts) {
		return fmt.Sprintf("verdict %d", int(v))
	}
	return verdicts[v]
}

// Held is what a reader holds of a device's chain.
type Held interface {
	// Head is the head after the last event held; seq 0 and the chain's root if there is none.
	Head(event.Device) (Head, error)
	// HeadAt is the head after an event, which may be 0; false if that is not held.
	HeadAt(event.Device, uint64) (Head, bool, error)
}

// Judgement says how a segment stands to what is held.
type Judgement struct {
	Verdict Verdict       // Accepted, Duplicate, Gap or Fork
	Held    int           // how many of its events, from the first, are held already
	New     []event.Event // where it is accepted: the others
	After   Head          // of what is held, where New goes on
	Fork    uint64        // where it forks: the first event known to differ, or 0 for the chain's root
}

// Judge says how a segment stands to what is held of its device. It looks at no signature: KeyRing.Verify does.
func Judge(s Segment, held Held) (Judgement, error) {
	d := s.Before.Device
	end, err := held.Head(d)
	if err != nil {
		return Judgement{}, err
	}
	if s.Before.Seq > end.Seq {
		return Judgement{Verdict: Gap}, nil
	}
	switch here, err := mustHold(held, d, s.Before.Seq); {
	case err != nil:
		return Judgement{}, err
	case here != s.Before:
		return Judgement{Verdict: Fork, Fork: s.Before.Seq}, nil
	}
	n := int(min(end.Seq, s.After.Seq) - s.Before.Seq)
	at := s.Before
	for _, e := range s.Events[:n] {
		at = at.next(e)
	}
	// Invariant: a chain's head stands for all before it, so one comparison does for the whole overlap.
	switch here, err := mustHold(held, d, at.Seq); {
	case err != nil:
		return Judgement{}, err
	case here != at:
		return firstDifference(s, n, held)
	}
	j := Judgement{Verdict: Accepted, Held: n, New: s.Events[n:], After: at}
	if len(j.New) == 0 {
		j.Verdict = Duplicate
	}
	return j, nil
}

// firstDifference finds the first among the first n events that is not the one held.
func firstDifference(s Segment, n int, held Held) (Judgement, error) {
	at := s.Before
	for i, e := range s.Events[:n] {
		at = at.next(e)
		here, err := mustHold(held, s.Before.Device, e.Seq)
		if err != nil {
			return Judgement{}, err
		}
		if here != at {
			return Judgement{Verdict: Fork, Held: i, Fork: e.Seq}, nil
		}
	}
	return Judgement{Verdict: Fork, Held: n, Fork: at.Seq}, nil
}

func mustHold(held Held, d event.Device, seq uint64) (Head, error) {
	h, ok, err := held.HeadAt(d, seq)
	if err == nil && !ok {
		err = fmt.Errorf("event %s/%d is missing among those that are held", d, seq)
	}
	return h, err
}
