package sync

import (
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
)

const site = "quarry-shell"

var noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

func keyOf(name event.Device) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte("a key for tests of " + name))
	return ed25519.NewKeyFromSeed(seed[:])
}

func publicOf(name event.Device) ed25519.PublicKey { return keyOf(name).Public().(ed25519.PublicKey) }

func deviceNamed(name event.Device) journal.Device {
	return journal.Device{
		Site: site, Name: name, Crew: "north", Role: event.CrewRole, Key: keyOf(name), Root: "site",
		RootKey: publicOf("site"),
	}
}

// tester is what *testing.T and *rapid.T have in common.
type tester interface {
	Helper()
	Fatalf(string, ...any)
}

// must is for what cannot fail in a simulation unless the program is wrong.
func must[V any](v V, err error) V {
	if err != nil {
		panic(err)
	}
	return v
}

func (w *world) inMemory(d journal.Device) *journal.Journal {
	j := must(journal.InMemory(d))
	w.open = append(w.open, j)
	return j
}

// world is a site: devices, the stream, and a server that archives what comes through it. One goroutine, no clock. It
// is small, and what makes it fail is made smaller still; the program's own server, and whole weeks, are in
// internal/sim.
type world struct {
	t       tester
	now     time.Time
	stream  []Message
	server  *journal.Journal // the archive, kept by the rules of a journal: first come, first held
	ring    *chain.KeyRing
	cursor  journal.Position
	waiting []chain.Segment
	lagging bool // the server answers without having read on
	refill  bool // the stream has lost something
	devices []*device
	written int
	owed    map[string]bool // texts that are acknowledged and not lost with a disk
	fuse    fuse
	log     []string
	open    []*journal.Journal // all that were made
}

type device struct {
	name   string // of the phone; a copied one writes under another's name
	record *journal.Journal
	ring   *chain.KeyRing
	backup *journal.Journal
	off    time.Duration // its clock, from the site's
	out    Outcome
}

func (d *device) as() event.Device { return d.record.Device().Name }

// fuse burns down by one at each step of a contact and then cuts it: before the step's effect or, where the answer is
// what gets lost, after it.
type fuse struct {
	left  int // below 0: never
	after bool
}

var errCut = errors.New("cut by the simulation")

func (f *fuse) burn() bool {
	if f.left < 0 {
		return false
	}
	f.left--
	return f.left < 0
}

// step runs one step of a contact.
func step[V any](f *fuse, do func() (V, error)) (V, error) {
	var none V
	cut := f.burn()
	if cut && !f.after {
		f.left = 0 // and everything after it
		return none, errCut
	}
	v, err := do()
	if cut {
		f.left = 0
		return none, errCut
	}
	return v, err
}

// cutJournal is a journal whose process may die between any two of its steps.
type cutJournal struct {
	*journal.Journal
	fuse *fuse
}

func (r cutJournal) IngestAt(ctx context.Context, at journal.Position, segs ...chain.Segment) (journal.Kept, error) {
	return step(r.fuse, func() (journal.Kept, error) { return r.Journal.IngestAt(ctx, at, segs...) })
}

func (r cutJournal) Rewrite(ctx context.Context, now time.Time, h chain.Head, segs ...chain.Segment) (journal.Rewritten,
	error,
) {
	return step(r.fuse, func() (journal.Rewritten, error) { return r.Journal.Rewrite(ctx, now, h, segs...) })
}

func (r cutJournal) Follow(ctx context.Context, now time.Time, h chain.Head, segs ...chain.Segment) (journal.Rewritten,
	error,
) {
	return step(r.fuse, func() (journal.Rewritten, error) { return r.Journal.Follow(ctx, now, h, segs...) })
}

func (r cutJournal) Again(ctx context.Context) ([]event.Event, error) {
	return step(r.fuse, func() ([]event.Event, error) { return r.Journal.Again(ctx) })
}

func (r cutJournal) SetContact(ctx context.Context, c journal.Contact) error {
	_, err := step(r.fuse, func() (struct{}, error) { return struct{}{}, r.Journal.SetContact(ctx, c) })
	return err
}

func (w *world) Heads(ctx context.Context) (Heads, error) {
	return step(&w.fuse, func() (Heads, error) {
		if !w.lagging {
			w.serve()
		}
		heads, err := w.server.Heads(ctx)
		return Heads{Heads: heads, Now: w.now, RoundTrip: 40 * time.Millisecond}, err
	})
}

func (w *world) Publish(_ context.Context, segment []byte) error {
	_, err := step(&w.fuse, func() (struct{}, error) { w.store(segment); return struct{}{}, nil })
	return err
}

func (w *world) Read(_ context.Context, from uint64, most int) ([]Message, error) {
	return step(&w.fuse, func() ([]Message, error) {
		i, _ := slices.BinarySearchFunc(w.stream, from, func(m Message, seq uint64) int {
			return int(m.Seq) - int(seq)
		})
		// few at a time, for more places to cut
		return slices.Clone(w.stream[i:min(i+min(most, 3), len(w.stream))]), nil
	})
}

func (w *world) store(data []byte) {
	seq := uint64(1)
	if n := len(w.stream); n > 0 {
		seq = w.stream[n-1].Seq + 1
	}
	w.stream = append(w.stream, Message{seq, data})
}

// serve is the host: it reads the stream and archives what it can check.
func (w *world) serve() {
	w.t.Helper()
	from := 0
	if at := w.cursor; at.Seq > 0 {
		for i, m := range w.stream {
			if m.Seq == at.Seq && event.Hash(sha256.Sum256(m.Data)) == at.Hash {
				from = i + 1
			}
		}
	}
	if from == len(w.stream) {
		return
	}
	msgs := w.stream[from:]
	s := verify(w.ring, nil, msgs)
	last := msgs[len(msgs)-1]
	w.cursor = journal.Position{Seq: last.Seq, Hash: sha256.Sum256(last.Data)}
	kept := must(w.server.Keep(context.Background(), slices.Concat(w.waiting, s.verified)...))
	w.waiting = kept.Waiting
	if len(s.unenrolled) > 0 { // the host looks at them again when it knows more
		w.cursor = journal.Position{}
	}
}

// newServer puts a server in place that holds what record holds.
func (w *world) newServer(record *journal.Journal) {
	w.server, w.cursor, w.waiting = record, journal.Position{}, nil
	w.ring = record.Device().KeyRing(must(record.Events(context.Background())))
	w.refill = true
}

// carry copies a record as a backup or a copied phone would have it.
func (w *world) carry(from *journal.Journal) *journal.Journal {
	ctx := context.Background()
	to := w.inMemory(from.Device())
	for _, h := range must(from.Heads(ctx)) {
		publish(from, h.Device, func(s chain.Segment) { must(to.Keep(ctx, s)) })
	}
	if err := to.SetContact(ctx, must(from.Contact(ctx))); err != nil {
		panic(err)
	}
	return to
}

func publish(from *journal.Journal, d event.Device, take func(chain.Segment)) {
	for after := (chain.Head{Device: d}); ; {
		segs := must(from.Offer(context.Background(), d, after))
		if len(segs) == 0 {
			return
		}
		for _, s := range segs {
			take(s)
			after = s.After
		}
	}
}

func newWorld(t tester) *world {
	w := &world{t: t, now: noon, owed: map[string]bool{}, fuse: fuse{left: -1}}
	w.server = w.inMemory(deviceNamed("site"))
	w.ring = chain.NewKeyRing(site, "site", publicOf("site"))
	for i, name := range []event.Device{"n2", "n3", "n4"} {
		must(w.server.Append(context.Background(), noon, event.Event{Crew: "site", Body: event.DeviceEnrolled{
			Device: name, PublicKey: publicOf(name), Role: event.CrewRole, Crew: "north", Label: "phone",
		}}))
		w.join(string(name), w.inMemory(deviceNamed(name)), time.Duration(i)*time.Hour)
	}
	publish(w.server, "site", func(s chain.Segment) { w.store(s.Bytes()) })
	return w
}

func (w *world) join(name string, record *journal.Journal, off time.Duration) {
	w.devices = append(w.devices, &device{
		name: name, record: record, off: off, backup: w.carry(record),
		ring: record.Device().KeyRing(must(record.Events(context.Background()))),
	})
}

func (w *world) write(d *device, n int) {
	w.t.Helper()
	var drafts []event.Event
	var texts []string
	for range n {
		w.written++
		texts = append(texts, fmt.Sprintf("%s-%d", d.name, w.written))
		drafts = append(drafts, event.Event{Body: event.Noted{Text: texts[len(texts)-1]}})
	}
	must(d.record.Append(context.Background(), w.now.Add(d.off), drafts...))
	for _, s := range texts {
		w.owed[s] = true
	}
	w.say("%s writes %v", d.name, texts)
}

func (w *world) contact(d *device, f fuse) error {
	w.fuse = f
	out, err := Contact{
		Journal: cutJournal{d.record, &w.fuse}, Line: w, Ring: d.ring,
		Clock: Clock{Now: func() time.Time { return w.now.Add(d.off) }},
		Pause: func(context.Context, time.Duration) error { return nil },
	}.Once(context.Background())
	w.fuse = fuse{left: -1}
	d.out = out
	w.say("%s in contact (cut %+v): %+v, %v", d.name, f, out, err)
	if err != nil { // the process is gone, and with it what the ring had learned but the record has not
		d.ring = d.record.Device().KeyRing(must(d.record.Events(context.Background())))
	}
	return err
}

func (w *world) restore(d *device) {
	d.record = w.carry(d.backup)
	d.ring = d.record.Device().KeyRing(must(d.record.Events(context.Background())))
	w.say("%s is restored from its backup", d.name)
	w.forgive()
}

func (w *world) say(format string, args ...any) { w.log = append(w.log, fmt.Sprintf(format, args...)) }

// forgive takes off what is owed what no living disk holds any more.
func (w *world) forgive() {
	held := map[string]bool{}
	for _, texts := range w.stores() {
		for s := range texts {
			held[s] = true
		}
	}
	maps.DeleteFunc(w.owed, func(s string, _ bool) bool { return !held[s] })
}

// stores counts how often each text is in force at each device and in the archive.
func (w *world) stores() map[string]map[string]int {
	stores := map[string]map[string]int{"server": texts(must(w.server.Events(context.Background())))}
	for _, d := range w.devices {
		stores[d.name] = texts(must(d.record.Events(context.Background())))
	}
	return stores
}

func texts(events []event.Event) map[string]int {
	n := map[string]int{}
	for _, e := range events {
		if b, ok := e.Body.(event.Noted); ok {
			n[b.Text]++
		}
	}
	return n
}

// check: nothing acknowledged is lost, nothing counts twice.
func (w *world) check() {
	w.t.Helper()
	held := map[string]bool{}
	for store, texts := range w.stores() {
		for s, n := range texts {
			held[s] = true
			if n > 1 {
				w.fail("%q counts %d times at %s", s, n, store)
			}
		}
	}
	for _, m := range w.stream { // a reader may have put it out of force for its author to find there
		if seg, err := chain.ReadSegment(m.Data); err == nil {
			for s := range texts(seg.Events) {
				held[s] = true
			}
		}
	}
	for s := range w.owed {
		if !held[s] {
			w.fail("%q was acknowledged and is nowhere any more", s)
		}
	}
}

// heal lets everything work until nothing changes, and sees that all are equal.
func (w *world) heal() {
	w.t.Helper()
	w.lagging = false
	const rounds = 15
	for round := range rounds {
		w.now = w.now.Add(2 * time.Hour)
		w.serve()
		if w.refill { // what the stream has lost, the archive gives back
			for _, h := range must(w.server.Heads(context.Background())) {
				publish(w.server, h.Device, func(s chain.Segment) { w.store(s.Bytes()) })
			}
			w.refill = false
		}
		quiet := true
		for _, d := range w.devices {
			if err := w.contact(d, fuse{left: -1}); err != nil {
				w.fail("%s in contact after healing: %v", d.name, err)
			}
			quiet = quiet && d.out.Pulled == 0 && d.out.Pushed == 0 && len(d.out.Forks) == 0
		}
		w.check()
		if quiet {
			break
		}
		if round == rounds-1 {
			w.fail("still not quiet after %d rounds", rounds)
		}
	}
	want := must(w.server.Heads(context.Background()))
	stores := w.stores()
	for _, d := range w.devices {
		if got := must(d.record.Heads(context.Background())); !slices.Equal(got, want) {
			w.fail("%s has the heads %v, the server %v", d.name, brief(got), brief(want))
		}
		if v := must(d.record.Verify(context.Background())); len(v.Faults) > 0 {
			w.fail("the record of %s: %v", d.name, v.Faults)
		}
	}
	for s := range w.owed {
		for store, texts := range stores {
			if texts[s] != 1 {
				w.fail("%q counts %d times at %s after healing", s, texts[s], store)
			}
		}
	}
}

func brief(heads []chain.Head) (s []string) {
	for _, h := range heads {
		s = append(s, fmt.Sprintf("%s/%d:%x", h.Device, h.Seq, h.Chain[:2]))
	}
	return s
}

func (w *world) fail(format string, args ...any) {
	w.t.Helper()
	w.t.Fatalf("%s\nafter:\n  %s", fmt.Sprintf(format, args...), strings.Join(w.log, "\n  "))
}

func (w *world) close() {
	for _, j := range w.open {
		_ = j.Close()
	}
}

func TestSimulation(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		w := newWorld(rt)
		defer w.close()
		archives := []*journal.Journal{w.carry(w.server)}
		anyone := func(rt *rapid.T) *device { return rapid.SampledFrom(w.devices).Draw(rt, "device") }
		actions := map[string]func(*rapid.T){
			"write": func(rt *rapid.T) { w.write(anyone(rt), rapid.IntRange(1, 3).Draw(rt, "n")) },
			"contact": func(rt *rapid.T) {
				if err := w.contact(anyone(rt), fuse{left: -1}); err != nil {
					w.fail("a contact that nothing cut: %v", err)
				}
			},
			"contact that is cut": func(rt *rapid.T) {
				f := fuse{rapid.IntRange(0, 25).Draw(rt, "steps"), rapid.Bool().Draw(rt, "after its effect")}
				if err := w.contact(anyone(rt), f); err != nil && !errors.Is(err, errCut) {
					w.fail("a contact that was cut: %v", err)
				}
			},
			"server reads on": func(*rapid.T) { w.serve() },
			"server lags":     func(*rapid.T) { w.lagging = !w.lagging },
			"time goes on": func(rt *rapid.T) {
				w.now = w.now.Add(time.Duration(rapid.IntRange(1, 90).Draw(rt, "min")) * time.Minute)
			},
			"message repeated": func(rt *rapid.T) {
				if len(w.stream) > 0 {
					w.store(rapid.SampledFrom(w.stream).Draw(rt, "message").Data)
				}
			},
			"junk in the stream": func(rt *rapid.T) { w.store(rapid.SliceOfN(rapid.Byte(), 0, 40).Draw(rt, "junk")) },
			"forged segment": func(*rapid.T) {
				e := must(event.Write(event.Event{
					Name: event.Name{Device: "n2", Seq: 1}, Crew: "north", HappenedAt: w.now, LoggedAt: w.now,
					Body: event.Noted{Text: "forged"},
				}))
				s := must(chain.Sign(keyOf("n9"), site, chain.Head{Device: "n2", Chain: chain.Root(site, "n2")},
					[]event.Event{e}))
				w.store(s.Bytes())
			},
			"backup of a phone": func(rt *rapid.T) {
				d := anyone(rt)
				_ = d.backup.Close() // long runs make many
				d.backup = w.carry(d.record)
			},
			"phone restored": func(rt *rapid.T) { w.restore(anyone(rt)) },
			"phone copied": func(rt *rapid.T) {
				if len(w.devices) == 3 {
					w.join("copy", w.carry(anyone(rt).record), -time.Hour)
					w.say("copy is made of %s", w.devices[3].as())
				}
			},
			"stream loses its tail": func(rt *rapid.T) {
				w.stream = w.stream[:rapid.IntRange(0, len(w.stream)).Draw(rt, "left")]
				w.refill = true
				w.say("the stream loses all but %d", len(w.stream))
				w.forgive()
			},
			"stream loses a message": func(rt *rapid.T) {
				if n := len(w.stream); n > 0 {
					i := rapid.IntRange(0, n-1).Draw(rt, "which")
					w.stream = slices.Delete(slices.Clone(w.stream), i, i+1)
					w.refill = true
					w.say("the stream loses its %dth message", i)
					w.forgive()
				}
			},
			"backup of the archive": func(*rapid.T) { archives = append(archives, w.carry(w.server)) },
			"archive restored": func(rt *rapid.T) {
				w.newServer(w.carry(rapid.SampledFrom(archives).Draw(rt, "archive")))
				if rapid.Bool().Draw(rt, "and the stream is gone") {
					w.stream = nil
				}
				w.say("the archive is restored; %d messages in the stream", len(w.stream))
				w.forgive()
			},
			"": func(*rapid.T) { w.check() },
		}
		rt.Repeat(actions)
		w.heal()
		if !w.owedNothingForged() {
			w.fail("a forged event is in force")
		}
	})
}

func (w *world) owedNothingForged() bool {
	for _, texts := range w.stores() {
		if texts["forged"] > 0 {
			return false
		}
	}
	return true
}
