package history

import (
	"fmt"
	"reflect"
	"slices"
	"time"

	"hod/internal/event"
)

// reading is how an event is read after some of its corrections.
type reading struct {
	body    event.Body
	when    time.Time
	clock   *event.Event
	present bool
	via     []*Record
	split   bool // some of the corrections are in conflict, and nobody has settled it
}

// read works out how a first writing is read now, with all its corrections, and indexes it so. It is out of every
// index.
func (s *Log) read(r *Record) {
	r.Round = s.round
	if r.Aside = s.standing(r); r.Aside != nil {
		r.State, r.Now, r.When, r.Via = SetAside, nil, r.At(), nil
		s.fixAside(r, r, &Aside{NoTarget, fmt.Sprintf("it corrects %s, which is set aside", r.Name)})
		return
	}
	got := s.walk(r, r, reading{body: r.Body, when: r.At(), clock: &r.Event, present: true})
	r.When, r.Via, r.clock = got.when, got.via, got.clock
	switch {
	case !got.present:
		r.Now, r.State = nil, TakenBack
	case len(got.via) > 0:
		r.Now, r.State = got.body, Amended
	default:
		r.Now, r.State = got.body, Holds
	}
	if r.split = got.split; r.split {
		r.State = Disputed
	}
	if r.Now != nil {
		s.file(r)
	}
}

// readDevice reads who may write, which nothing corrects. Whose rights it changes is read anew, but only when they did
// change: what they wrote may come back to it.
func (s *Log) readDevice(r *Record) (changed bool) {
	r.Round = s.round
	stood := r.Now != nil
	s.unfile(r)
	r.State, r.Now, r.When, r.Aside = Holds, r.Body, r.At(), s.standing(r)
	if r.Aside != nil {
		r.State, r.Now = SetAside, nil
	} else {
		s.file(r)
	}
	if changed = stood != (r.Now != nil); changed {
		s.markDevice(r)
	}
	s.fixAside(r, r, &Aside{
		NoRight,
		fmt.Sprintf("%s says who may write, which nothing corrects: the server revokes and enrols anew", r.Name),
	})
	return changed
}

// fixAside sets the corrections of an event and all that corrects them aside, for their own reasons or else for the one
// given.
func (s *Log) fixAside(root, node *Record, why *Aside) {
	for next := []*Record{node}; len(next) > 0; {
		node, next = next[len(next)-1], next[:len(next)-1]
		for _, fix := range s.fixesOf(node) {
			fix.Round = s.round
			s.Cost.Readings++
			fix.State, fix.Now, fix.When, fix.Root = SetAside, nil, fix.At(), root
			if fix.Aside = s.standing(fix); fix.Aside == nil {
				fix.Aside = why
			}
			next = append(next, fix)
		}
	}
}

// How many corrections count: more are no honest work, and cost all who read them.
const (
	// MaxCorrections is how many may stand one upon the other.
	MaxCorrections = 64
	// MaxOfOne is how many of one event a device may write beside each other, each naming that event itself. Those
	// count that stand first in the device's own record, which no clock and no order of arrival changes; no other
	// device's are touched.
	MaxOfOne = 64
)

// walk follows the corrections of node to the tip; now is the reading with node. What was taken back comes again by an
// amendment of the taking back.
//
// Invariant: each correction that names root or one on the way from it is given a state here, once a round: it is on
// the way, or it stands beside one that is, or it is set aside. So no state is left over from an earlier reading.
func (s *Log) walk(root, node *Record, now reading) reading {
	if len(now.via) == MaxCorrections {
		s.fixAside(root, node, &Aside{
			CannotBe,
			fmt.Sprintf(
				"%s was corrected %d times one upon the other, and that is the most; take it back and write anew",
				root.Name, MaxCorrections),
		})
		return now
	}
	fixes := s.standingFixes(root, node)
	if len(fixes) == 0 {
		return now
	}
	chosen, settled := s.Choose(fixes)
	split := !settled && !alike(fixes)
	next := now
	if b, amends := chosen.Body.(event.Amended); amends {
		next.body, next.clock, next.present = b.Body, &chosen.Event, true
		if !b.HappenedAt.IsZero() {
			next.when = chosen.OnSite(b.HappenedAt)
		}
	} else { // taken back
		next.body, next.present = nil, false
	}
	next.via = append(slices.Clone(now.via), chosen)
	next.split = now.split || split
	for _, fix := range fixes {
		fix.State = Holds
		switch {
		case fix != chosen && settled:
			fix.State = Replaced
		case split:
			fix.State = Disputed
		}
		if fix != chosen { // what corrects a reading that is not used waits with it
			s.replaceBelow(root, fix)
		}
	}
	return s.walk(root, chosen, next)
}

// replaceBelow marks all that corrects a correction which is not used.
func (s *Log) replaceBelow(root, node *Record) {
	for next := []*Record{node}; len(next) > 0; {
		node, next = next[len(next)-1], next[:len(next)-1]
		for _, fix := range s.standingFixes(root, node) {
			fix.State = Replaced
			next = append(next, fix)
		}
	}
}

// standingFixes are the corrections of node that stand, in order of logged time. Whether one stands hangs on its
// author's rights and on root alone, never on when it came: so the order of arrival changes nothing.
//
// Invariant: what is returned has State to be set by the caller, and no Aside; all others of node, and what corrects
// those, are set aside when it returns. The others are set aside, and what
// corrects those with them.
func (s *Log) standingFixes(root, node *Record) []*Record {
	all := s.fixesOf(node)
	if len(all) == 0 {
		return nil
	}
	var fixes []*Record
	for _, fix := range all {
		fix.Round = s.round
		s.Cost.Readings++
		fix.Root, fix.Now, fix.When = root, fix.Body, fix.At()
		fix.Aside = s.standing(fix)
		if fix.Aside == nil {
			fix.Aside = s.rightToCorrect(fix, root)
		}
		if b, ok := fix.Body.(event.Amended); ok && fix.Aside == nil &&
			reflect.TypeOf(b.Body) != reflect.TypeOf(root.Body) {
			fix.Aside = &Aside{
				CannotBe,
				fmt.Sprintf("%s is a %s; an amendment keeps the kind, so take it back and write anew", root.Name,
					event.KindOf(root.Body)),
			}
		}
		if fix.Aside == nil {
			fixes = append(fixes, fix)
			continue
		}
		s.asideWithBelow(root, fix)
	}
	fixes = s.firstOfEach(root, node, fixes)
	slices.SortFunc(fixes, ByLogged)
	return fixes
}

// firstOfEach keeps of each device's corrections of node the first MaxOfOne, by the device's own order, and sets the
// others aside.
func (s *Log) firstOfEach(root, node *Record, fixes []*Record) []*Record {
	if len(fixes) <= MaxOfOne {
		return fixes
	}
	slices.SortFunc(fixes, func(a, b *Record) int { return event.CompareNames(a.Name, b.Name) })
	of := map[event.Device]int{}
	return slices.DeleteFunc(fixes, func(fix *Record) bool {
		if of[fix.Device]++; of[fix.Device] <= MaxOfOne {
			return false
		}
		fix.Aside = &Aside{
			CannotBe,
			fmt.Sprintf(
				"device %s corrected %s %d times before, and that is the most; correct the last of those that stand, or take it back",
				fix.Device, node.Name, MaxOfOne),
		}
		s.asideWithBelow(root, fix)
		return true
	})
}

// asideWithBelow sets a correction aside for the reason that it has, and what corrects it with it.
func (s *Log) asideWithBelow(root, fix *Record) {
	fix.State, fix.Now = SetAside, nil
	s.fixAside(root, fix, &Aside{NoTarget, fmt.Sprintf("it corrects %s, which is set aside", fix.Name)})
}

// Choose is the one of several that holds: the only one, the one that a foreman settled on, or until then the one later
// by logged time, device and seq. Of what one device settled its last word counts, whatever its clock said.
func (s *Log) Choose(of []*Record) (*Record, bool) {
	last := of[len(of)-1]
	if len(of) == 1 {
		return last, true
	}
	type word struct{ settled, holds *Record }
	words := map[event.Device]word{}
	for _, r := range of {
		names := s.GoesBy(r)
		for _, h := range names {
			for _, settled := range s.fixing.settled[h] {
				b := settled.Body.(event.Settled)
				if !slices.Contains(names, b.Holds) || !s.coversAll(b, of) || s.standing(settled) != nil {
					continue
				}
				if before, ok := words[settled.Device]; !ok || before.settled.Seq < settled.Seq {
					words[settled.Device] = word{settled, r}
				}
			}
		}
	}
	var final word
	for _, w := range words { // in any order: byLogged leaves no two equal
		if final.settled == nil || ByLogged(final.settled, w.settled) < 0 {
			final = w
		}
	}
	if final.settled == nil {
		return last, false
	}
	return final.holds, true
}

// coversAll says that a settlement names all of some records. No two of them go by one hash, so that one that names
// fewer cannot.
func (s *Log) coversAll(b event.Settled, of []*Record) bool {
	if len(of) > 1+len(b.Over) {
		return false
	}
	named := map[event.Hash]bool{b.Holds: true}
	for _, h := range b.Over {
		named[h] = true
	}
	for _, r := range of {
		if !slices.ContainsFunc(s.GoesBy(r), func(h event.Hash) bool { return named[h] }) {
			return false
		}
	}
	return true
}

// alike says that several corrections or plans say the same, so that there is nothing to settle.
func alike(of []*Record) bool {
	for _, r := range of[1:] {
		if !reflect.DeepEqual(bare(of[0].Body), bare(r.Body)) {
			return false
		}
	}
	return true
}

// bare is a body without the links to what it replaces.
func bare(b event.Body) any {
	if a, amends := b.(event.Amended); amends {
		return []any{event.WithReplaces(a.Body, nil), a.HappenedAt}
	}
	if _, fixes := event.TargetOf(b); fixes {
		return "taken back"
	}
	return event.WithReplaces(b, nil)
}

func isSettled(b event.Body) bool {
	_, is := b.(event.Settled)
	return is
}

// IsDevice reports whether a body says who may write.
func IsDevice(b event.Body) bool { return event.SortOf(b) == event.Membership }

// SameBody says that two bodies say the same, whatever they replace.
func SameBody(a, b event.Body) bool { return reflect.DeepEqual(bare(a), bare(b)) }
