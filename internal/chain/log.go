package chain

import (
	"errors"
	"slices"
	"strings"

	"hod/internal/event"
)

// Log is what is held of every device's chain, in memory, with the keys that it is verified by.
type Log struct {
	site   string
	keys   *KeyRing
	hashes map[event.Device][]Hash // after each event, from seq 1 on
}

// NewLog returns an empty one.
func NewLog(site string, keys *KeyRing) *Log {
	return &Log{site: site, keys: keys, hashes: map[event.Device][]Hash{}}
}

// Keys of those who are enrolled by what is held.
func (l *Log) Keys() *KeyRing { return l.keys }

// Head is as Held has it. The error is nil.
func (l *Log) Head(d event.Device) (Head, error) { return l.Reach(d), nil }

// HeadAt is as Held has it. The error is nil.
func (l *Log) HeadAt(d event.Device, seq uint64) (Head, bool, error) {
	hash, ok := l.At(d, seq)
	return Head{d, seq, hash}, ok, nil
}

// Reach is the head after the last event held of a device.
func (l *Log) Reach(d event.Device) Head {
	h := Head{Device: d, Seq: uint64(len(l.hashes[d]))}
	h.Chain, _ = l.At(d, h.Seq)
	return h
}

// At is the chain's hash after an event, which may be 0; false if that is not held.
func (l *Log) At(d event.Device, seq uint64) (Hash, bool) {
	switch held := l.hashes[d]; {
	case seq == 0:
		return Root(l.site, d), true
	case seq > uint64(len(held)):
		return Hash{}, false
	default:
		return held[seq-1], true
	}
}

// Has reports whether a segment is part of what is held.
func (l *Log) Has(s Segment) bool {
	hash, ok := l.At(s.Before.Device, s.After.Seq)
	return ok && hash == s.After.Chain
}

// Heads of all devices of which something is held, by name.
func (l *Log) Heads() []Head {
	all := make([]Head, 0, len(l.hashes))
	for d := range l.hashes {
		all = append(all, l.Reach(d))
	}
	slices.SortFunc(all, func(a, b Head) int { return strings.Compare(string(a.Device), string(b.Device)) })
	return all
}

// Judge says what becomes of a segment, and changes nothing. The signature of one that trust vouches for is not checked
// again; trust may be nil.
func (l *Log) Judge(s Segment, trust func(Head) bool) Judgement {
	if s.Site != l.site {
		return Judgement{Verdict: WrongSite}
	}
	j, err := Judge(s, l)
	if err != nil { // it cannot be: a log in memory has no holes
		return Judgement{Verdict: Gap}
	}
	if j.Verdict == Duplicate {
		return j
	}
	if trust != nil && trust(s.After) && l.keys.Key(s.Before.Device) != nil {
		return j
	}
	switch err := l.keys.Verify(s); {
	case errors.Is(err, ErrNotEnrolled):
		return Judgement{Verdict: NotEnrolled}
	case err != nil:
		return Judgement{Verdict: BadSignature}
	}
	return j
}

// Take takes a segment in if it is accepted, and gives the events of it that are new. Nothing is learned of a segment
// that is not taken in: an enrolment in a contradicting one must not count.
func (l *Log) Take(s Segment, trust func(Head) bool) (Verdict, []event.Event) {
	j := l.Judge(s, trust)
	if j.Verdict != Accepted {
		return j.Verdict, nil
	}
	at := j.After
	for _, e := range j.New {
		at = at.next(e)
		l.hashes[at.Device] = append(l.hashes[at.Device], at.Chain)
		l.keys.Learn(e)
	}
	return Accepted, j.New
}
