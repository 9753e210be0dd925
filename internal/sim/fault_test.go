package sim_test

import (
	"context"
	"fmt"
	"slices"
	"time"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/unit"
)

// action is one thing that happens at the site, or to it.
type action struct {
	at time.Time
	do func()
}

// schedule draws the whole job: who writes when, who is in touch when, and what goes wrong.
func (w *world) schedule() []action {
	var all []action
	r := w.r
	for day := range days {
		midnight := first.AddDate(0, 0, day)
		at := func(from, to int) time.Time {
			return midnight.Add(time.Duration(from)*time.Hour +
				time.Duration(r.Int64N(int64(time.Duration(to-from)*time.Hour))))
		}
		do := func(from, to int, what func()) { all = append(all, action{at(from, to), what}) }
		for _, d := range w.devices {
			for range r.IntN(3) {
				do(7, 17, func() { w.work(d) })
			}
			if r.IntN(100) < 34 {
				do(6, 21, func() { w.touch(d) })
			}
			w.tally.DeviceDays++
		}
		for _, f := range w.faults() {
			if r.IntN(1000) < f.perDay {
				do(6, 22, f.do)
			}
		}
		all = append(all, action{midnight.Add(23 * time.Hour), w.nightly})
	}
	joins := 1 + r.IntN(5)
	all = append(all, action{first.AddDate(0, 0, joins).Add(6 * time.Hour), w.lateJoin})
	slices.SortStableFunc(all, func(a, b action) int { return a.at.Compare(b.at) })
	return all
}

// fault is what goes wrong, and how often in a thousand days.
type fault struct {
	perDay int
	do     func()
}

func (w *world) faults() []fault {
	return []fault{
		{500, w.partition},
		{300, w.clockJumps},
		{500, w.backUp},
		{140, w.restoreDevice},
		{50, w.copyDevice},
		{55, w.streamLosesTail},
		{50, w.streamLosesMessage},
		{30, w.streamIsMadeAnew},
		{60, w.restoreServer},
		{20, w.serverLosesAll},
		{30, w.lightning},
		{150, func() { w.killServer(false) }},
		{100, func() { w.killServer(true) }},
		{120, func() { w.diskFails(power) }},
		{80, func() { w.diskFails(full) }},
		{100, w.serverDown},
		{50, func() { w.revoke(w.anyCrew().writes) }},
		{120, w.forge},
		{150, w.serverWrites},
		{200, w.stick},
	}
}

func (w *world) any() *device { return w.devices[w.r.IntN(len(w.devices))] }

func (w *world) anyCrew() *device {
	for {
		if d := w.any(); d.role == event.CrewRole && d.joined {
			return d
		}
	}
}

// touch is a device that comes into reach: a contact, whole or cut somewhere.
func (w *world) touch(d *device) {
	if !d.joined || d.away.After(w.now) {
		return
	}
	at := cut{in: -1}
	switch n := w.r.IntN(100); {
	case n < 20:
		at = cut{in: w.r.IntN(12), after: w.r.IntN(2) == 0}
	case n < 40:
		at = cut{in: w.r.IntN(40), after: w.r.IntN(2) == 0}
	case n < 46:
		at = cut{in: w.r.IntN(20), disk: true}
	case n < 48 && d.role == event.CrewRole && w.r.IntN(2) == 0:
		at = cut{in: w.r.IntN(15), revoke: true}
	}
	w.meet(d, at)
	if at.in >= 0 && w.r.IntN(3) == 0 { // the next process tries at once
		w.meet(d, cut{in: -1})
	}
}

// stick carries what a device wrote to another by hand: an export, then an import. That is how a revoked one's events
// still get about.
func (w *world) stick() {
	from, to := w.any(), w.any()
	for _, d := range w.devices {
		if w.revoked[d.writes] && w.r.IntN(2) == 0 {
			from = d
		}
	}
	if from.writes == to.writes {
		return
	}
	ctx, n := context.Background(), 0
	for _, s := range must(from.record.Offer(ctx, from.writes, chain.Head{Device: from.writes})) {
		if to.ring.Admit(s) == nil {
			n += must(to.record.Keep(ctx, s)).New
		}
	}
	w.tally.Sticks++
	w.say("%s hands %s a stick, with %d events that are new", from.name, to.name, n)
	w.refresh(to)
}

func (w *world) partition() {
	d := w.any()
	d.away = w.now.Add(time.Duration(4+w.r.IntN(92)) * time.Hour)
	w.tally.Partitions++
	w.say("%s is out of touch until %s", d.name, d.away.Format(time.DateTime))
}

func (w *world) clockJumps() {
	d := w.any()
	switch w.r.IntN(5) {
	case 0:
		d.off = 365 * 24 * time.Hour
	case 1:
		d.off = -time.Duration(w.r.Int64N(int64(72 * time.Hour)))
	case 2:
		d.off += time.Duration(w.r.Int64N(int64(96*time.Hour))) - 48*time.Hour
	case 3:
		d.off = -20 * 365 * 24 * time.Hour // its battery was flat
	case 4:
		d.off = 0
	}
	w.tally.ClockJumps++
	w.say("the clock of %s is now off by %v", d.name, d.off)
}

func (w *world) backUp() {
	d := w.any()
	if d.backup != nil {
		must(0, d.backup.Close())
	}
	d.backup = must(d.record.Copy())
	w.say("%s is backed up", d.name)
}

// restoreDevice puts an old backup of a journal in the place of the journal.
func (w *world) restoreDevice() {
	if d := w.any(); d.backup != nil {
		w.restore(d)
	}
}

func (w *world) restore(d *device) {
	must(0, d.record.Close())
	d.record = must(d.backup.Copy())
	w.tally.Restores++
	w.forked[d.writes] = true
	w.say("%s is restored from its backup", d.name)
	w.reborn(d)
}

// reborn is a device whose record is another one now.
func (w *world) reborn(d *device) {
	d.restart()
	d.own, d.sane = nil, saneClock{}
	w.reread(d)
	w.forgive()
}

// copyDevice sets up a second phone from the journal and the key of a first.
func (w *world) copyDevice() {
	d := w.any()
	if !d.joined || w.revoked[d.writes] || len(w.devices) > 13 || w.forked[d.writes] && w.r.IntN(2) == 0 {
		return
	}
	from := d.record
	if d.backup != nil && w.r.IntN(2) == 0 {
		from = d.backup
	}
	c := &device{
		name: fmt.Sprintf("copy of %s", d.name), writes: d.writes, crew: d.crew, role: d.role, newer: d.newer,
		joined: true,
		record: must(from.Copy()), off: time.Duration(w.r.Int64N(int64(time.Hour))),
	}
	w.devices = append(w.devices, c)
	w.forked[d.writes] = true
	w.tally.Copies++
	w.say("%s is made", c.name)
	w.reborn(c)
	// Both are at work for a day or two.
	for range 1 + w.r.IntN(2) {
		w.work(c)
	}
	w.touch(c)
}

// forgive takes off what is owed what no disk holds any more: it cannot return.
func (w *world) forgive() {
	for f := range w.owed {
		if w.held[f] == 0 {
			delete(w.owed, f)
			w.tally.Forgiven++
		}
	}
}

func (w *world) streamLosesTail() {
	n := len(w.stream.stored)
	if n == 0 {
		return
	}
	left := n - 1 - w.r.IntN(min(n, 30))
	w.stream.lose(left, n)
	w.stream.last = 0
	if left > 0 {
		w.stream.last = w.stream.stored[left-1].Seq
	}
	w.tally.StreamLosses++
	w.say("the stream loses its last %d messages, and gives their numbers out again", n-left)
	w.forgive()
}

func (w *world) streamLosesMessage() {
	n := len(w.stream.stored)
	if n == 0 {
		return
	}
	from := w.r.IntN(n)
	to := min(n, from+1+w.r.IntN(6))
	w.stream.lose(from, to)
	w.tally.StreamLosses++
	w.say("the stream loses %d messages in its middle", to-from)
	w.forgive()
}

func (w *world) streamIsMadeAnew() {
	w.stream.lose(0, len(w.stream.stored))
	w.stream.last = 0
	w.tally.StreamLosses++
	w.say("the stream is deleted and made anew")
	w.forgive()
}

// messageRots draws from a source of its own, so that the other faults of a seed stay what they are.
func (w *world) messageRots() {
	n := len(w.stream.stored)
	if n == 0 || w.rotting.IntN(12) > 0 {
		return
	}
	i := w.rotting.IntN(n)
	if w.stream.stored[i].rotten {
		return
	}
	w.stream.rot(i)
	w.tally.Rotten++
	w.say("message %d of the stream can no longer be read", w.stream.stored[i].Seq)
	w.forgive()
}

func (w *world) nightly() {
	w.messageRots()
	if w.server.host == nil {
		return
	}
	w.serve()
	w.server.backups = append(w.server.backups, w.server.copyOut())
	if n := len(w.server.backups); n > 3 {
		w.server.backups = w.server.backups[n-3:]
	}
}

// replaceServer puts other files in the place of the server's, and perhaps loses the stream with them.
func (w *world) replaceServer(files map[string][]byte, what string) {
	w.server.kill(true)
	w.server.restore(files)
	if w.r.IntN(2) == 0 {
		w.stream.lose(0, len(w.stream.stored))
		w.stream.last = 0
		w.tally.StreamLosses++
		what += ", and the stream is gone with it"
	}
	w.say("%s", what)
	clear(w.told)
	w.server.open()
	w.forgive()
}

func (w *world) restoreServer() {
	if n := len(w.server.backups); n > 0 {
		w.tally.ServerRestores++
		w.replaceServer(w.server.backups[w.r.IntN(n)], "a backup of the server is put in its place")
	}
}

func (w *world) serverLosesAll() {
	w.tally.ServerLost++
	w.replaceServer(nil, "the server has lost everything but its root key")
}

// lightning strikes the office: the server and the phones that lay there are all restored from what backups there are.
func (w *world) lightning() {
	w.restoreServer()
	for _, d := range w.devices {
		if d.backup != nil && w.r.IntN(3) == 0 {
			w.restore(d)
			if d.joined && !w.revoked[d.writes] { // its people write on before anybody else is in touch
				w.work(d)
				w.meet(d, cut{in: -1})
			}
		}
	}
}

func (w *world) killServer(lost bool) {
	if w.server.host == nil {
		return
	}
	w.tally.ServerKills++
	w.say("the server is killed, the power gone: %v", lost)
	w.server.kill(lost)
	w.server.open()
	w.promised()
}

func (w *world) diskFails(how diskFault) {
	w.server.disk = how
	w.say("the next flush of the server's disk fails: %d", how)
}

func (w *world) serverDown() {
	if w.server.host == nil {
		w.up()
		return
	}
	w.say("the server is down")
	w.tally.ServerKills++
	w.server.kill(w.r.IntN(2) == 0)
	w.upAt = w.now.Add(time.Duration(1+w.r.IntN(30)) * time.Hour)
}

func (w *world) up() {
	if w.server.host == nil {
		w.server.open()
		w.promised()
		w.say("the server is up again")
	}
}

func (w *world) lateJoin() {
	i := slices.IndexFunc(w.devices, func(d *device) bool { return !d.joined })
	w.up()
	w.serve()
	w.enrol(w.devices[i])
}

// serverWrites is the server itself, which records the weather.
func (w *world) serverWrites() {
	if w.server.host == nil {
		return
	}
	w.serve()
	t := unit.Celsius(10 + w.r.IntN(15))
	w.record(event.WeatherObserved{Station: "gate", Samples: []event.Weather{{At: w.now, Air: &t}}})
}

const forgery = "it is not by the device that it names"

// forge puts on the stream what no device of the site signed.
func (w *world) forge() {
	victim, key, of := w.anyCrew().writes, keyOf("x9"), site
	switch w.r.IntN(4) {
	case 0:
		victim = "x9" // whom nobody enrolled
	case 1:
		key, of = keyOf(victim), "another-site"
	case 2:
		w.stream.store("x9", []byte{0xff, byte(w.r.Uint32()), 7})
		w.tally.Forgeries++
		return
	}
	before := chain.Head{Device: victim, Chain: chain.Root(of, victim)}
	for _, d := range w.devices { // it goes on where the victim's record ends
		if d.writes == victim && of == site {
			before = must(d.record.Head(context.Background(), victim))
		}
	}
	e := must(event.Write(event.Event{
		Name: event.Name{Device: victim, Seq: before.Seq + 1}, Crew: "north", HappenedAt: w.now, LoggedAt: w.now,
		Body: event.Noted{Text: fmt.Sprintf("forged %d", w.r.Uint64())},
	}))
	w.banned[e.Hash()] = forgery
	w.stream.store("x9", must(chain.Sign(key, of, before, []event.Event{e})).Bytes())
	w.tally.Forgeries++
	w.say("somebody forges %s of site %s", e.Name, of)
}
