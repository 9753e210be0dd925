package history

import (
	"fmt"

	"hod/internal/event"
)

// What arrives is not read at once. It is marked, with all whose reading it may change, and whoever asks has what is
// marked read first: each event once, with all its corrections, however many of these came since. So N corrections of
// one event cost N and not N², in whatever order and shape they come.
//
// Invariant: after settle each record is read as the set of events has it, whatever was read before. That rests on two
// rules: a reading is made of that set alone, never of other readings but who may write (which is read before all
// else); and whatever adds to the set marks every first writing to whose corrections it may belong or have belonged.

// pending is what is to be read before anybody is answered.
type pending struct {
	records []*Record           // each has due set
	devices []*Record           // those that say who may write
	moved   map[event.Hash]bool // hashes that may mean another event than before, or one where they meant none
	rounds  int                 // changes of who may write since events were added
	named   []event.Hash        // by events that came since
	apart   bool                // one of them sets apart what is packed
}

// Cost counts what answers cost, for tests, which time cannot tell.
type Cost struct {
	Readings int // events looked at
	Samples  int // of probes put in order
	Doubted  int // events whose values were held against what the trade knows
	Batches  int // brought up to date
	Zones    int // brought up to date
	Judged   int // zones of which joints and findings were worked out
	Fetched  int // events that were left out until an answer asked for them
}

// mark a record to be read.
func (s *Log) mark(r *Record) {
	if r.due {
		return
	}
	r.due = true
	if IsDevice(r.Body) {
		s.pending.devices = append(s.pending.devices, r)
		return
	}
	s.pending.records = append(s.pending.records, r)
}

// markMoved marks that a hash may mean another event than before.
func (s *Log) markMoved(h event.Hash) {
	if s.pending.moved == nil {
		s.pending.moved = map[event.Hash]bool{}
	}
	s.pending.moved[h] = true
}

// markDevice marks all that the device wrote whose rights a record changes.
func (s *Log) markDevice(r *Record) {
	name, _ := event.MemberOf(r.Body)
	if name == r.Device {
		return
	}
	for _, of := range s.by.Member[name] {
		s.mark(of)
	}
}

// markNamed marks the writings of which a hash may mean one, and what corrects any of them.
func (s *Log) markNamed(h event.Hash) {
	if r := s.by.hash[h]; r != nil {
		s.mark(r)
	}
	s.markFixes(h)
	for _, d := range s.writings.claims[h] {
		for _, w := range s.writings.again[writing{d, h}] {
			s.mark(w)
			s.markFixes(w.Hash())
		}
	}
}

func (s *Log) markFixes(h event.Hash) {
	for _, fix := range s.fixing.fixes[h] {
		s.mark(fix)
	}
}

// settleDevices reads who may write, and marks what that changes.
func (s *Log) settleDevices() {
	s.settleExclusions()
	s.heed()
	for h := range s.pending.moved { // in any order: it only marks
		s.markNamed(h)
	}
	clear(s.pending.moved)
	// Servers that enrol and revoke each other could go round without end: nobody's rights change more often than there
	// are events. An event may be read more often than that, once for each change.
	for len(s.pending.devices) > 0 && s.pending.rounds <= 2*len(s.arrival) {
		last := len(s.pending.devices) - 1
		r := s.pending.devices[last]
		s.pending.devices = s.pending.devices[:last]
		r.due = false
		s.Cost.Readings++
		if s.readDevice(r) {
			s.pending.rounds++
		}
	}
}

// Settle reads all that is marked.
func (s *Log) Settle() {
	s.settleDevices()
	if len(s.pending.records) == 0 {
		return
	}
	s.round++
	var roots, waiting []*Record
	root := func(r *Record) {
		if r != nil && r.Round != s.round {
			r.Round = s.round
			roots = append(roots, r)
		}
	}
	due := s.pending.records
	s.pending.records = nil
	for _, r := range due {
		r.due = false
	}
	for _, r := range due {
		if b, settles := r.Body.(event.Settled); settles {
			s.Cost.Readings++
			s.readSettled(r)
			for _, h := range append([]event.Hash{b.Holds}, b.Over...) {
				if named := s.Named(h); named != nil {
					root(s.First(named))
				}
			}
			continue
		}
		if first := s.First(r); first != nil { // of what corrects nothing, itself
			root(first)
		} else {
			waiting = append(waiting, r)
		}
	}
	s.unfileAll(roots)
	for _, r := range roots {
		s.Cost.Readings++
		if IsDevice(r.Body) { // a correction of one: nobody's rights change by it
			s.readDevice(r)
		} else {
			s.read(r)
		}
	}
	s.wait(waiting)
	for _, r := range due { // what corrects a writing of which another counts
		if target, fixes := event.TargetOf(r.Body); fixes && r.Round != s.round {
			r.State, r.Now, r.When, r.Root, r.Aside = SetAside, nil, r.At(), nil, s.standing(r)
			if r.Aside == nil {
				r.Aside = &Aside{NoTarget, fmt.Sprintf("it corrects %s, which is set aside", s.Named(target).Name)}
			}
		}
	}
}

func (s *Log) readSettled(r *Record) {
	r.State, r.Aside, r.Now, r.When = Holds, s.standing(r), r.Body, r.At()
	if r.Aside != nil {
		r.State, r.Now = SetAside, nil
	}
}

// wait sets corrections aside, and what corrects them, for their own reasons or else for want of what they correct.
func (s *Log) wait(fixes []*Record) {
	for next := fixes; len(next) > 0; {
		fix := next[len(next)-1]
		next = next[:len(next)-1]
		if fix.Round == s.round {
			continue
		}
		fix.Round = s.round
		s.Cost.Readings++
		fix.State, fix.Now, fix.When, fix.Root, fix.Aside = SetAside, nil, fix.At(), nil, s.standing(fix)
		if fix.Aside == nil {
			fix.Aside = &Aside{NoTarget, s.lackedBy(fix)}
		}
		next = append(next, s.fixesOf(fix)...)
	}
}

// lackedBy says what a correction waits for.
func (s *Log) lackedBy(fix *Record) string {
	target, _ := event.TargetOf(fix.Body)
	switch on := s.Named(target); {
	case on == nil:
		return "the event that it corrects has not arrived yet"
	case isSettled(on.Body):
		return "a settlement is not corrected; the foreman settles anew"
	default:
		return fmt.Sprintf("it corrects %s, and what that corrects has not arrived yet", on.Name)
	}
}

// FirstWriting is the event that a correction, or a correction of a correction, goes back to; any other is its own.
// False for a settlement, which may be of several, and where something on the way has not arrived.
func (s *Log) FirstWriting(r *Record) (*Record, bool) {
	s.settleDevices() // a hash may mean another event by now
	first := s.First(r)
	return first, first != nil
}

// First is FirstWriting; nil for false. It keeps what it found for all on the way, so that a long chain costs its
// length.
func (s *Log) First(r *Record) *Record {
	var on []*Record
	var found *Record
	for r != nil {
		target, fixes := event.TargetOf(r.Body)
		if !fixes {
			if !isSettled(r.Body) {
				found = r
			}
			break
		}
		// Hashes cannot form a ring, but what claims to stand for another event can: then the one met again has nil.
		if known, met := s.firsts[r]; met {
			found = known
			break
		}
		s.firsts[r] = nil
		on = append(on, r)
		r = s.Named(target)
	}
	for _, r := range on {
		s.firsts[r] = found
	}
	return found
}
