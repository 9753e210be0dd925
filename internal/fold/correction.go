package fold

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
	dispute []*Record // corrections of one event that nobody has settled
}

// refresh reads a record anew, and whatever hangs on it.
func (s *Site) refresh(r *Record) {
	switch b := r.Body.(type) {
	case event.Amended:
		s.refreshFix(r, b.Target)
	case event.Voided:
		s.refreshFix(r, b.Target)
	case event.Settled:
		r.State, r.Aside, r.Now, r.When = Holds, s.standing(r), r.Body, r.At()
		if r.Aside != nil {
			r.State, r.Now = SetAside, nil
		}
		for _, h := range append([]event.Hash{b.Holds}, b.Over...) {
			if named := s.named(h); named != nil {
				s.refreshRootOf(named)
			}
		}
	default:
		s.read(r)
		s.refreshFixesOf(r)
	}
}

// refreshFix reads anew what a correction corrects, as far as that is known.
func (s *Site) refreshFix(fix *Record, target event.Hash) {
	if s.busy[fix] { // what claims to stand for another event can make a ring of corrections
		return
	}
	s.busy[fix] = true
	defer delete(s.busy, fix)
	fix.When = fix.At()
	var first *Record
	on := s.named(target)
	if on != nil {
		first, _ = s.FirstWriting(on)
	}
	switch {
	case first != nil:
		s.read(first)
	case on != nil && isSettled(on.Body):
		s.waits(fix, "a settlement is not corrected; the foreman settles anew")
	case on != nil:
		s.waits(fix, fmt.Sprintf("it corrects %s, and what that corrects has not arrived yet", on.Name))
	default:
		s.waits(fix, "the event that it corrects has not arrived yet")
	}
	s.refreshFixesOf(fix)
}

// waits sets a correction aside, for its own reasons or else for want of what it corrects.
func (s *Site) waits(fix *Record, why string) {
	fix.State, fix.Now, fix.root, fix.Aside = SetAside, nil, nil, s.standing(fix)
	if fix.Aside == nil {
		fix.Aside = &Aside{NoTarget, why}
	}
}

// refreshFixesOf reads corrections anew that waited for this record.
func (s *Site) refreshFixesOf(r *Record) {
	for _, fix := range s.fixesOf(r) {
		if fix.Aside != nil && fix.Aside.Code == NoTarget {
			s.refresh(fix)
		}
	}
}

// refreshRootOf reads the event anew that a correction, or a correction of a correction, goes back to.
func (s *Site) refreshRootOf(r *Record) {
	if first, ok := s.FirstWriting(r); ok {
		s.read(first)
	}
}

// FirstWriting is the event that a correction, or a correction of a correction, goes back to; any other is its own. False
// for a settlement, which may be of several, and where something on the way has not arrived.
func (s *Site) FirstWriting(r *Record) (*Record, bool) {
	behind, steps := r, 0
	for r != nil {
		target, fixes := targetOf(r.Body)
		if !fixes {
			return r, !isSettled(r.Body)
		}
		r = s.named(target)
		// Hashes cannot form a ring, but what claims to stand for another event can.
		if steps++; steps%2 == 0 {
			target, _ := targetOf(behind.Body)
			behind = s.named(target)
			if behind == r {
				return nil, false
			}
		}
	}
	return nil, false
}

// targetOf is what a correction names.
func targetOf(b event.Body) (event.Hash, bool) {
	switch b := b.(type) {
	case event.Amended:
		return b.Target, true
	case event.Voided:
		return b.Target, true
	}
	return event.Hash{}, false
}

// read works out how a first writing is read now and indexes it so.
func (s *Site) read(r *Record) {
	if isDevice(r.Body) {
		s.readDevice(r)
		return
	}
	s.withdraw(r)
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
	if r.split = len(got.dispute) > 0; r.split {
		r.State = Disputed
	}
	if r.Now != nil {
		s.index(r)
	}
}

// readDevice reads who may write, which nothing corrects. Whose rights it changes is read anew, but only when they did
// change: what they wrote may come back to it.
func (s *Site) readDevice(r *Record) {
	stood := r.Now != nil
	s.withdraw(r)
	r.State, r.Now, r.When, r.Aside = Holds, r.Body, r.At(), s.standing(r)
	if r.Aside != nil {
		r.State, r.Now = SetAside, nil
	} else {
		s.index(r)
	}
	if stood != (r.Now != nil) {
		s.refreshDevice(r)
	}
	s.fixAside(r, r, &Aside{NoRight, fmt.Sprintf("%s says who may write, which nothing corrects: the server revokes and enrols anew", r.Name)})
}

// fixAside sets the corrections of an event aside, for their own reasons or else for the one given.
func (s *Site) fixAside(root, node *Record, why *Aside) {
	for _, fix := range s.fixesOf(node) {
		fix.State, fix.Now, fix.root = SetAside, nil, root
		if fix.Aside = s.standing(fix); fix.Aside == nil {
			fix.Aside = why
		}
		s.fixAside(root, fix, why)
	}
}

// MaxCorrections is how many corrections may stand one upon the other: more are no honest work, and cost all who read them.
const MaxCorrections = 64

// walk follows the corrections of node to the tip; now is the reading with node. What was taken back comes again by an
// amendment of the taking back.
func (s *Site) walk(root, node *Record, now reading) reading {
	if len(now.via) == MaxCorrections {
		s.fixAside(root, node, &Aside{CannotBe, fmt.Sprintf("%s was corrected %d times one upon the other, and that is the most; take it back and write anew", root.Name, MaxCorrections)})
		return now
	}
	fixes := s.standingFixes(root, node)
	if len(fixes) == 0 {
		return now
	}
	chosen, settled := s.choose(fixes)
	next := now
	switch b := chosen.Body.(type) {
	case event.Amended:
		next.body, next.clock, next.present = b.Body, &chosen.Event, true
		if !b.HappenedAt.IsZero() {
			next.when = chosen.OnSite(b.HappenedAt)
		}
	case event.Voided:
		next.body, next.present = nil, false
	}
	next.via = append(slices.Clone(now.via), chosen)
	if !settled && !alike(fixes) {
		next.dispute = append(slices.Clone(now.dispute), fixes...)
	}
	for _, fix := range fixes {
		fix.State = Holds
		switch {
		case fix != chosen && settled:
			fix.State = Replaced
		case !settled && !alike(fixes):
			fix.State = Disputed
		}
		if fix != chosen { // what corrects a reading that is not used waits with it
			s.mark(root, fix)
		}
	}
	return s.walk(root, chosen, next)
}

// mark sets the state of corrections below one that is not used.
func (s *Site) mark(root, node *Record) {
	for _, fix := range s.standingFixes(root, node) {
		fix.State = Replaced
		s.mark(root, fix)
	}
}

func (s *Site) standingFixes(root, node *Record) []*Record {
	var fixes []*Record
	for _, fix := range s.fixesOf(node) {
		fix.root, fix.Now, fix.When = root, fix.Body, fix.At()
		fix.Aside = s.standing(fix)
		if fix.Aside == nil {
			fix.Aside = s.rightToCorrect(fix, root)
		}
		if b, ok := fix.Body.(event.Amended); ok && fix.Aside == nil && reflect.TypeOf(b.Body) != reflect.TypeOf(root.Body) {
			fix.Aside = &Aside{CannotBe, fmt.Sprintf("%s is a %s; an amendment keeps the kind, so take it back and write anew", root.Name, event.KindOf(root.Body))}
		}
		if fix.Aside != nil {
			fix.State, fix.Now = SetAside, nil
			s.fixAside(root, fix, &Aside{NoTarget, fmt.Sprintf("it corrects %s, which is set aside", fix.Name)})
			continue
		}
		fixes = append(fixes, fix)
	}
	slices.SortFunc(fixes, byLogged)
	return fixes
}

// choose is the one of several that holds: the only one, the one that a foreman settled on, or until then the one later
// by logged time, device and seq. Of what one device settled its last word counts, whatever its clock said.
func (s *Site) choose(of []*Record) (*Record, bool) {
	last := of[len(of)-1]
	if len(of) == 1 {
		return last, true
	}
	type word struct{ settled, holds *Record }
	words := map[event.Device]word{}
	for _, r := range of {
		names := s.goesBy(r)
		for _, h := range names {
			for _, settled := range s.settled[h] {
				b := settled.Body.(event.Settled)
				if !slices.Contains(names, b.Holds) || s.standing(settled) != nil || !s.coversAll(b, of) {
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
		if final.settled == nil || byLogged(final.settled, w.settled) < 0 {
			final = w
		}
	}
	if final.settled == nil {
		return last, false
	}
	return final.holds, true
}

func (s *Site) coversAll(b event.Settled, of []*Record) bool {
	for _, r := range of {
		if !slices.ContainsFunc(s.goesBy(r), func(h event.Hash) bool { return h == b.Holds || slices.Contains(b.Over, h) }) {
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
	switch b := b.(type) {
	case event.Amended:
		return []any{event.WithReplaces(b.Body, nil), b.HappenedAt}
	case event.Voided:
		return "voided"
	}
	return event.WithReplaces(b, nil)
}

func isSettled(b event.Body) bool {
	_, is := b.(event.Settled)
	return is
}

func isDevice(b event.Body) bool {
	switch b.(type) {
	case event.DeviceEnrolled, event.DeviceRevoked:
		return true
	}
	return false
}

// refreshDevice reads all anew that the devices wrote whose rights this record changes.
func (s *Site) refreshDevice(r *Record) {
	var name event.Device
	switch b := r.Body.(type) {
	case event.DeviceEnrolled:
		name = b.Device
	case event.DeviceRevoked:
		name = b.Device
	}
	if name == r.Device {
		return
	}
	for _, of := range slices.Clone(s.byDevice[name]) {
		s.refresh(of)
	}
}

// sameBody says that two bodies say the same, whatever they replace.
func sameBody(a, b event.Body) bool { return reflect.DeepEqual(bare(a), bare(b)) }
