package sim_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/client/journal"
	portable "hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/view/daily"
)

// refresh reads what came to a device's record since, and holds it against what may never be.
func (w *world) refresh(d *device) {
	if d.facts == nil {
		d.forget()
	}
	events, mark, err := d.record.Since(context.Background(), d.mark)
	if errors.Is(err, journal.ErrRewritten) {
		w.reread(d)
		return
	}
	if err != nil {
		w.fail("%s cannot read its record: %v", d.name, err)
	}
	d.mark = mark
	for _, e := range events {
		w.learn(d, e)
	}
	for f := range d.own {
		if d.facts[f] != 1 {
			w.fail("%s said that %s was kept, and its record has it %d times", d.name, w.owed[f].name, d.facts[f])
		}
	}
	w.barred(d.name, d.site, d.bad)
}

// reread a record whose events may have changed places.
func (w *world) reread(d *device) {
	for f := range d.facts {
		w.held[f]--
	}
	d.forget()
	w.refresh(d)
}

func (d *device) forget() {
	d.mark, d.site, d.facts = journal.Mark{}, fold.New(site, root), map[event.Hash]int{}
	d.known, d.plans, d.bad = nil, map[event.Crew]event.Hash{}, nil
}

func (w *world) learn(d *device, e event.Event) {
	f := e.Origin()
	if d.facts[f]++; d.facts[f] > 1 {
		w.fail("%s stands twice in the record of %s: once more as %s", w.owed[f].name, d.name, e.Name)
	}
	w.held[f]++
	d.site.Add(e)
	if why := w.banned[f]; why == forgery {
		w.fail("%s took in %s, though %s", d.name, e.Name, why)
	} else if why != "" {
		d.bad = append(d.bad, e.Hash())
		return
	}
	switch b := e.Body.(type) {
	case event.CrewPlanned:
		d.plans[b.Crew] = e.Hash()
	case event.Noted, event.BatchMixed, event.Placement, event.Amended:
		if d.role == event.Foreman || e.Crew == d.crew {
			d.known = append(d.known, e)
		}
	}
}

// barred sees that nothing stands in a fold that must not.
func (w *world) barred(where string, s *fold.Site, bad []event.Hash) {
	for _, h := range bad {
		if r, ok := s.ByHash(h); ok && r.State != fold.SetAside {
			w.fail("%s counts %s, though %s", where, r.Name, w.banned[r.Origin()])
		}
	}
}

// check that nothing acknowledged is lost: some living disk holds it.
func (w *world) check() {
	var lost []string
	for f, c := range w.owed {
		if w.held[f] <= 0 {
			lost = append(lost, c.name.String())
		}
	}
	if len(lost) > 0 {
		slices.Sort(lost)
		w.fail("acknowledged and nowhere any more: %s", strings.Join(lost, ", "))
	}
}

// atServer holds what a device says of its events against what the server's disk holds.
func (w *world) atServer(d *device) {
	s := must(d.record.Status(context.Background()))
	h, ok, err := d.record.HeadAt(context.Background(), d.writes, s.AtServer)
	if err != nil || !ok {
		w.fail("%s does not hold its own event %d: %v", d.name, s.AtServer, err)
	}
	if s.AtServer > 0 && !w.server.chains[h] {
		w.fail("%s says that its events up to %d are at the server, and they are not on its disk", d.name, s.AtServer)
	}
}

// heal lets all work that can, until all are equal; then what revoked devices hold is brought by hand. Now and then the
// server then loses what it has while nobody has anything to send, and all must be equal once more.
func (w *world) heal() {
	w.calm = true
	w.server.disk = sound
	w.up()
	w.deliver(true)
	w.settle()
	w.bring()
	if w.r.IntN(3) > 0 {
		return
	}
	var files map[string][]byte
	if n := len(w.server.backups); w.r.IntN(3) > 0 && n > 0 {
		files = w.server.backups[n-1]
	}
	w.tally.IdleLosses++
	w.replaceServer(files, "the server loses what came since its last backup, or all, while the devices are idle")
	w.settle()
}

// bring what only revoked devices hold to the server, on a stick: they are let in no more, but what others wrote, and
// what they wrote themselves before, is the site's.
func (w *world) bring() {
	ctx, brought := context.Background(), 0
	for _, d := range w.devices {
		if !w.revoked[d.writes] {
			continue
		}
		var file bytes.Buffer
		out := must(portable.NewWriter(&file, portable.Header{
			Site: site, Whole: true, Root: root,
			RootKey: publicOf(root),
		}))
		for _, h := range must(d.record.Heads(ctx)) {
			for after := (chain.Head{Device: h.Device}); ; {
				segs := must(d.record.Offer(ctx, h.Device, after))
				if len(segs) == 0 {
					break
				}
				for _, s := range segs {
					must(0, out.Add(s))
				}
				after = segs[len(segs)-1].After
			}
		}
		must(out.Close())
		for f := range d.facts {
			if c, ok := w.owed[f]; ok && w.forked[c.by] && !w.inTouch(f) {
				w.out[f] = true // set aside at the server: its author, who would write it again, reads the stream only
			}
		}
		did := must(w.server.host.Import(&file))
		w.say("the record of %s is brought to the server by hand: %d events are new", d.name, did.New)
		brought += did.New
		w.server.look()
	}
	if brought > 0 {
		w.tally.Brought += brought
		w.settle()
	}
}

// settle is rounds of contacts until all are equal.
func (w *world) settle() {
	for round := 1; ; round++ {
		w.now = w.now.Add(2 * time.Hour)
		w.serve()
		w.reenrol(round)
		w.quiet = true
		for _, d := range w.devices {
			if !w.revoked[d.writes] && d.joined {
				w.meet(d, cut{in: -1})
			}
		}
		w.serve()
		w.check()
		if w.equal() == "" && (w.quiet || round > 1) {
			w.tally.Rounds += round
			return
		}
		if round == healing {
			w.fail("not equal %d rounds after the last fault: %s", round, w.equal())
		}
	}
}

// reenrol those whose enrolment nobody who is in touch holds any more, as the person at the server does who is asked
// why they cannot send.
func (w *world) reenrol(round int) {
	if round < 2 {
		return
	}
	held := map[event.Device]bool{}
	for f, c := range w.owed {
		if b, ok := c.body.(event.DeviceEnrolled); ok && c.by == root && w.inTouch(f) {
			held[b.Device] = true
		}
	}
	for _, d := range w.devices {
		if d.joined && !w.revoked[d.writes] && !held[d.writes] {
			w.enrol(d)
			held[d.writes] = true
		}
	}
}

// living are the devices that are in touch in the end.
func (w *world) living() []*device {
	return slices.DeleteFunc(slices.Clone(w.devices), func(d *device) bool { return w.revoked[d.writes] || !d.joined })
}

// equal says who has other heads than the server; empty when nobody has.
func (w *world) equal() string {
	want := w.server.host.Heads()
	for _, d := range w.living() {
		if got := must(d.record.Heads(context.Background())); !slices.Equal(got, want) {
			return fmt.Sprintf("%s has %v, the server %v", d.name, brief(got), brief(want))
		}
	}
	return ""
}

// judge the healed site: all that any living device held is everywhere, once, and all boards are the same.
func (w *world) judge() {
	for f, c := range w.owed {
		if w.forked[c.by] && (w.revoked[c.by] || w.out[f]) {
			continue // nobody who may can write it again
		}
		if _, known := w.server.host.Member(c.by); w.revoked[c.by] && !known {
			continue // with its enrolment went what its signatures are checked by, and nobody lets it in again
		}
		for _, d := range w.living() {
			if d.facts[f] != 1 {
				w.fail("%s is %d times in the record of %s after healing; it is held by %v", c.name, d.facts[f], d.name,
					w.holders(f))
			}
		}
		if w.server.facts[f] != 1 {
			w.fail("%s is %d times in the server's archive after healing", c.name, w.server.facts[f])
		}
	}
	one := w.living()[w.r.IntN(len(w.living()))]
	if v := must(one.record.Verify(context.Background())); len(v.Faults) > 0 {
		w.fail("the record of %s: %v", one.name, v.Faults)
	}
	var want, states string
	w.server.host.View(func(s *fold.Site) {
		want, states = w.board(s), w.states("the server", s)
	})
	for _, d := range w.living() {
		if got := w.states(d.name, d.site); got != states {
			w.fail("%s reads the events otherwise than the server:\n%s", d.name, difference(got, states))
		}
		if got := w.board(d.site); got != want {
			w.fail("%s shows another board than the server:\n%s", d.name, difference(got, want))
		}
	}
	w.say("all show the same board, of %d events:\n%s", w.server.events, want)
}

// holders of a fact, for whoever reads why a seed failed.
func (w *world) holders(f event.Hash) (all []string) {
	if w.server.facts[f] > 0 {
		all = append(all, "the server")
	}
	for _, m := range w.stream.stored {
		if slices.Contains(m.facts, f) {
			all = append(all, fmt.Sprintf("message %d", m.Seq))
		}
	}
	for _, d := range w.devices {
		if d.facts[f] > 0 {
			all = append(all, d.name)
		}
	}
	return all
}

// inTouch says that a fact lies where the rest of the site can get it from: not only on revoked devices.
func (w *world) inTouch(f event.Hash) bool {
	return w.server.facts[f] > 0 ||
		slices.ContainsFunc(w.living(), func(d *device) bool { return d.facts[f] > 0 }) ||
		slices.ContainsFunc(w.stream.stored, func(m message) bool { return slices.Contains(m.facts, f) })
}

func (w *world) board(s *fold.Site) string {
	now := first.AddDate(0, 0, days).Add(18 * time.Hour)
	return report.Board(daily.BoardOf(s, now, lisbon), report.Page{In: lisbon, Now: now})
}

// states is how each event is read, after holding it against what the judge knows of its author.
func (w *world) states(where string, s *fold.Site) string {
	last := map[event.Device]uint64{}
	for _, r := range s.Records() {
		if b, ok := r.Body.(event.DeviceRevoked); ok && r.Device == root {
			if n, known := last[b.Device]; !known || b.LastSeq < n {
				last[b.Device] = b.LastSeq
			}
		}
	}
	w.noClockDecides(where, s)
	var all strings.Builder
	counted := map[event.Hash]event.Name{}
	for _, r := range s.Records() {
		code := fold.Code("")
		if r.Aside != nil {
			code = r.Aside.Code
		}
		fmt.Fprintf(&all, "%s %v %s\n", r.Name, r.State, code)
		f := r.Origin()
		if r.State != fold.SetAside {
			if other, ok := counted[f]; ok {
				w.fail("%s counts %s and %s, which are the same", where, other, r.Name)
			}
			counted[f] = r.Name
		}
		end, revoked := last[r.Device]
		if revoked && r.Seq > end {
			if r.State != fold.SetAside {
				w.fail("%s counts %s, whose device was revoked after %d", where, r.Name, end)
			}
			continue
		}
		if w.banned[f] != "" {
			if r.State != fold.SetAside {
				w.fail("%s counts %s, though %s", where, r.Name, w.banned[f])
			}
			continue
		}
		switch code {
		case fold.NotEnrolled, fold.Revoked, fold.NoRight, fold.Forked:
			w.fail("%s sets %s aside, which may stand: %s", where, r.Name, r.Aside.Why)
		case fold.UnknownBody:
			if r.Body != nil {
				w.fail("%s cannot read %s", where, r.Name)
			}
		case fold.NoTarget:
			if target, ok := targetOf(r.Body); ok && w.stands(s, target, last) {
				w.fail("%s sets %s aside, though what it corrects is there: %s", where, r.Name, r.Aside.Why)
			}
		}
	}
	return all.String()
}

// noClockDecides looks whether what replaces and what corrects is what holds, whatever the clocks of its writers said,
// and whether what was written by a clock known to be off happened when it did.
func (w *world) noClockDecides(where string, s *fold.Site) {
	replacing, fixing := map[event.Hash]event.Name{}, map[event.Hash]event.Name{}
	for _, r := range s.Records() {
		if r.State == fold.SetAside {
			continue
		}
		if target, ok := targetOf(r.Body); ok {
			fixing[target] = r.Name
		}
		for _, h := range event.Replaces(r.Now) {
			replacing[h] = r.Name
		}
	}
	for _, r := range s.Records() {
		if _, fix := targetOf(r.Body); fix || r.State == fold.SetAside {
			continue
		}
		tip := r
		if n := len(r.Via); n > 0 {
			tip = r.Via[n-1]
		}
		for _, h := range []event.Hash{r.Hash(), r.Origin()} {
			if by, ok := replacing[h]; ok && r.Now != nil && r.State != fold.Replaced {
				w.fail("%s has %s hold, which %s replaces", where, r.Name, by)
			}
		}
		for _, h := range []event.Hash{tip.Hash(), tip.Origin()} {
			if by, ok := fixing[h]; ok {
				w.fail("%s reads %s as %s has it, which %s corrects", where, r.Name, tip.Name, by)
			}
		}
		if at, ok := w.truth[r.Origin()]; ok && len(r.Via) == 0 && r.When.Sub(at).Abs() > time.Second+time.Millisecond {
			w.fail("%s has it that %s happened at %v; it was at %v, and its device knew by how much its clock was off",
				where, r.Name, r.When, at)
		}
	}
}

func targetOf(b event.Body) (event.Hash, bool) {
	switch b := b.(type) {
	case event.Amended:
		return b.Target, true
	case event.Voided:
		return b.Target, true
	}
	return event.Hash{}, false
}

// stands says that an event, first written under this hash or written again under it, is in force in the fold.
func (w *world) stands(s *fold.Site, h event.Hash, last map[event.Device]uint64) bool {
	for _, r := range s.Records() {
		if r.Hash() == h || r.Origin() == h {
			return r.State != fold.SetAside
		}
	}
	return false
}

// difference is the first lines that differ.
func difference(got, want string) string {
	a, b := strings.Split(got, "\n"), strings.Split(want, "\n")
	var out bytes.Buffer
	for i := range max(len(a), len(b)) {
		var x, y string
		if i < len(a) {
			x = a[i]
		}
		if i < len(b) {
			y = b[i]
		}
		if x != y {
			fmt.Fprintf(&out, "- %s\n+ %s\n", y, x)
			if out.Len() > 1500 {
				break
			}
		}
	}
	return out.String()
}
