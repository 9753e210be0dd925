package sim_test

import (
	"context"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"time"

	"hod/internal/auth"
	"hod/internal/chain"
	"hod/internal/event"
)

// One in eight seeds has one device among the twelve whose people mean harm, and a server whose clock goes wrong.
// What they do is drawn from a source of its own, so that the other seeds stay what they were.
var hostileFlag = flag.Bool("hostile", false,
	"every seed has a hostile device and a server whose clock goes wrong, not one in eight")

// foe is what a hostile site has more than another.
type foe struct {
	r      *rand.Rand
	device *device
	// The server's clock: off by so much, or each hour by another time.
	off   time.Duration
	jumps bool
	read  int // messages of the stream that devices read
}

func newFoe(seed uint64) *foe {
	if !*hostileFlag && seed%8 != 3 {
		return nil
	}
	return &foe{r: rand.New(rand.NewPCG(seed, 0x666f65))} //nolint:gosec // drawn anew from the same seed
}

// clock is the server's.
func (w *world) clock() time.Time {
	switch f := w.foe; {
	case f == nil:
		return w.now
	case f.jumps:
		hour := rand.New(rand.NewPCG(w.seed, uint64(w.now.Unix()/3600))) //nolint:gosec // the same for one hour
		return w.now.Add(time.Duration(hour.Int64N(int64(20*365*24*time.Hour))) - 10*365*24*time.Hour)
	default:
		return w.now.Add(f.off)
	}
}

// harm draws what the hostile device does and when the server's clock goes wrong.
func (w *world) harm() []action {
	f := w.foe
	if f == nil {
		return nil
	}
	crew := slices.DeleteFunc(slices.Clone(w.devices), func(d *device) bool { return d.role != event.CrewRole })
	f.device = crew[f.r.IntN(len(crew))]
	deeds := []func(context.Context){w.flood, w.junk, w.breadth, w.secondHistory}
	var all []action
	for day := range days {
		at := func() time.Time {
			return first.AddDate(0, 0, day).Add(7*time.Hour + time.Duration(f.r.Int64N(int64(13*time.Hour))))
		}
		if f.r.IntN(10) < 4 {
			deed := deeds[f.r.IntN(len(deeds))]
			all = append(all, action{at(), func() {
				if f.device.joined && !w.revoked[f.device.writes] {
					deed(context.Background())
				}
			}})
		}
		if f.r.IntN(10) < 3 {
			all = append(all, action{at(), w.serverClock})
		}
	}
	return all
}

// serverClock sets the server's clock: right, back to 1970, eleven years ahead, or from now on to another time each
// hour.
func (w *world) serverClock() {
	f := w.foe
	f.off, f.jumps = 0, false
	switch f.r.IntN(4) {
	case 0:
		f.off = time.Unix(0, 0).Add(time.Minute).Sub(w.now)
	case 1:
		f.off = 11 * 365 * 24 * time.Hour
	case 2:
		f.jumps = true
	}
	w.tally.ServerClocks++
	w.say("the server's clock says %v, and jumps: %v", w.clock().UTC().Format(time.DateTime), f.jumps)
}

// flood has the hostile device write without end, and send all that it ever wrote again.
func (w *world) flood(ctx context.Context) {
	d := w.foe.device
	notes := make([]event.Event, 20+w.foe.r.IntN(30))
	for i := range notes {
		notes[i].Body = event.Noted{Text: fmt.Sprintf("flood %d", i)}
	}
	w.append(d, notes...)
	for _, s := range must(d.record.Offer(ctx, d.writes, chain.Head{Device: d.writes})) {
		w.stream.store(d.writes, s.Bytes())
	}
	w.tally.Floods++
}

// breadth is one note that is corrected more often than counts.
func (w *world) breadth(context.Context) {
	d := w.foe.device
	i := slices.IndexFunc(d.known, func(e event.Event) bool {
		_, is := e.Body.(event.Noted)
		return is &&
			e.Device == d.writes
	})
	if i < 0 {
		w.append(d, event.Event{Body: event.Noted{Text: "to be corrected"}})
		return
	}
	fixes := make([]event.Event, 70)
	for n := range fixes {
		fixes[n].Body = event.Amended{
			Target: d.known[i].Hash(), Body: event.Noted{Text: fmt.Sprintf("better %d", n)}, Why: "to cost the others",
		}
	}
	w.append(d, fixes...)
	w.tally.Breadths++
}

// junk is what no hod writes: bytes of chance, a segment cut short, one of another site, one far beyond a gap.
func (w *world) junk(ctx context.Context) {
	d, r := w.foe.device, w.foe.r
	head := must(d.record.Head(ctx, d.writes))
	for range 10 + r.IntN(20) {
		switch r.IntN(4) {
		case 0:
			data := make([]byte, 1+r.IntN(200))
			for i := range data {
				data[i] = byte(r.Uint32())
			}
			w.stream.store(d.writes, data)
		case 1:
			s := w.signed(head, site, "cut short").Bytes()
			w.stream.store(d.writes, s[:r.IntN(len(s))])
		case 2:
			other := chain.Head{Device: d.writes, Chain: chain.Root("another-site", d.writes)}
			w.stream.store(d.writes, w.signed(other, "another-site", "elsewhere").Bytes())
		case 3:
			far := chain.Head{Device: d.writes, Seq: head.Seq + 1_000_000 + uint64(r.IntN(1000)), Chain: head.Chain}
			w.stream.store(d.writes, w.signed(far, site, "beyond a gap").Bytes())
		}
	}
	w.tally.Junk++
}

// secondHistory is another event under a name that the device has used or is about to use.
func (w *world) secondHistory(ctx context.Context) {
	d := w.foe.device
	at := must(d.record.Head(ctx, d.writes))
	if at.Seq > 0 && w.foe.r.IntN(2) == 0 {
		before, ok, err := d.record.HeadAt(ctx, d.writes, uint64(w.foe.r.IntN(int(at.Seq))))
		if err == nil && ok {
			at = before
		}
	}
	w.forked[d.writes] = true
	s := w.signed(at, site, "another history")
	w.stream.store(d.writes, s.Bytes())
	w.tally.Histories++
	w.say("%s tells another history from its event %d on", d.name, s.First())
}

// signed is a segment of one note by the hostile device.
func (w *world) signed(before chain.Head, of, text string) chain.Segment {
	e := must(event.Write(event.Event{
		Name: event.Name{Device: before.Device, Seq: before.Seq + 1}, Crew: w.foe.device.crew,
		HappenedAt: w.now, LoggedAt: w.now, Body: event.Noted{Text: fmt.Sprintf("%s %d", text, w.foe.r.Uint64())},
	}))
	return must(chain.Sign(keyOf(before.Device), of, before, []event.Event{e}))
}

// bounded sees that what the hostile device left costs the others no more than reading the stream: as it goes on, from
// its start, and once more where something is missing.
func (w *world) bounded(d *device, before int) {
	if w.foe == nil {
		return
	}
	if n := w.foe.read - before; n > 3*(len(w.stream.stored)+1) {
		w.fail("%s read %d messages in one contact, of a stream of %d", d.name, n, len(w.stream.stored))
	}
}

// saneClock is what a device knows of its clock since a contact in which the server's was right. A contact with a
// server that says a time before this program was built takes nothing of that away.
type saneClock struct {
	known bool
	off   time.Duration // the device's clock, as it was then
}

// tells notes that a device has stored what a contact told it of the time.
func (w *world) tells(d *device) {
	switch says := w.clock(); {
	case says.Equal(w.now):
		d.sane = saneClock{true, d.off}
	case !says.Before(auth.FirstBuilt):
		d.sane.known = false
	}
}
