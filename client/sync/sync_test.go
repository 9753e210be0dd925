package sync

import (
	"context"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"go.uber.org/goleak"

	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
)

// What a test started has ended when all are done.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func same[T any](t testing.TB, what string, got, want T) {
	t.Helper()
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s: got %v, want %v (-want +got):\n%s", what, got, want, d)
	}
}

func (w *world) device(name string) *device {
	i := slices.IndexFunc(w.devices, func(d *device) bool { return d.name == name })
	return w.devices[i]
}

// contacts lets devices meet the server in turn, uncut.
func (w *world) contacts(names ...string) (last Outcome) {
	w.t.Helper()
	for _, name := range names {
		if err := w.contact(w.device(name), fuse{left: -1}); err != nil {
			w.fail("%s in contact: %v", name, err)
		}
		last = w.device(name).out
	}
	return last
}

func (w *world) loseServer() {
	w.newServer(w.inMemory(deviceNamed("site")))
	w.stream = nil
	w.say("the server lost everything")
	w.forgive()
}

func testWorld(t *testing.T) *world {
	w := newWorld(t)
	t.Cleanup(w.close)
	return w
}

func TestContactTellsWhatItDid(t *testing.T) {
	w := testWorld(t)
	w.write(w.device("n2"), 3)
	w.write(w.device("n3"), 2)
	out := w.contacts("n2")
	// the answer took 40 ms
	same(t, "n2's first contact", out, Outcome{Pulled: 3, Pushed: 3, Offset: 20 * time.Millisecond})
	// its clock is an hour fast
	out = w.contacts("n3")
	same(t, "n3's first contact", out, Outcome{Pulled: 6, Pushed: 2, Offset: -time.Hour + 20*time.Millisecond})
	w.write(w.device("n3"), 1)
	status := must(w.device("n3").record.Status(t.Context()))
	same(t, "kept and at the server", []uint64{status.Kept, status.AtServer}, []uint64{3, 2})
	events := must(w.device("n3").record.Events(t.Context()))
	last := events[len(events)-1]
	same(t, "by the site's clock, the event happened", last.At(), w.now.Add(20*time.Millisecond))

	w.lagging = true
	out = w.contacts("n3")
	same(t, "sent while the server does not read on", []int{out.Pushed, out.Unconfirmed}, []int{1, 1})
	w.lagging = false
	out = w.contacts("n3")
	same(t, "the next contact", out, Outcome{Offset: -time.Hour + 20*time.Millisecond})
	w.contacts("n2")
	w.heal()
}

func TestOffsetIsOfTheQuickestAnswer(t *testing.T) {
	w := testWorld(t)
	l := &slowLine{world: w, trips: []time.Duration{3 * time.Second, 10 * time.Millisecond, time.Second}}
	d := w.device("n2")
	out, err := Contact{
		Journal: d.record, Line: l, Ring: d.ring,
		Clock: Clock{Now: func() time.Time { return w.now }},
	}.Once(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	same(t, "offset", out.Offset, 5*time.Millisecond)
}

// slowLine answers each question with the next of the round trips, and the last for good.
type slowLine struct {
	*world
	trips []time.Duration
}

func (l *slowLine) Heads(ctx context.Context) (Heads, error) {
	h, err := l.world.Heads(ctx)
	h.RoundTrip = l.trips[0]
	if len(l.trips) > 1 {
		l.trips = l.trips[1:]
	}
	return h, err
}

func TestServerThatLostEverythingIsWholeAgain(t *testing.T) {
	w := testWorld(t)
	w.write(w.device("n2"), 3)
	w.write(w.device("n3"), 3)
	w.contacts("n2", "n3", "n2")
	w.loseServer()
	out := w.contacts("n2") // others' events too, and the site's own
	same(t, "carried", out.Pushed, 9)
	same(t, "owed", len(w.owed), 6)
	w.heal()
}

func TestOthersCarryWhatTheAuthorLost(t *testing.T) {
	w := testWorld(t)
	w.write(w.device("n2"), 3)
	w.contacts("n2", "n3")
	w.loseServer()
	w.restore(w.device("n2")) // to the day on which it joined
	same(t, "owed, held by n3 alone", len(w.owed), 3)
	w.contacts("n3", "n2")
	same(t, "back at n2", len(texts(must(w.device("n2").record.Events(t.Context())))), 3)
	w.heal()
}

func TestOnlyAThirdDeviceStillHoldsIt(t *testing.T) {
	w := testWorld(t)
	n2, yesterday := w.device("n2"), w.carry(w.server)
	w.write(n2, 1)
	w.contacts("n2", "n3")
	w.newServer(yesterday) // which has the enrolments, and nothing of n2
	w.stream = nil
	w.restore(n2)
	w.write(n2, 1) // another first event
	w.contacts("n2")
	out := w.contacts("n3") // holds the older first event; the server has the younger
	if len(out.Forks) != 1 || !strings.Contains(out.Forks[0], `"n2" had two histories after event 0`) {
		t.Errorf("told %q", out.Forks)
	}
	out = w.contacts("n2")
	if len(out.Forks) != 1 || !strings.Contains(out.Forks[0], "1 event under the name of \"n2\"") {
		t.Errorf("told %q", out.Forks)
	}
	same(t, "owed", len(w.owed), 2)
	w.heal()
}

func TestRestoredPhoneWritesOnTop(t *testing.T) {
	w := testWorld(t)
	n2 := w.device("n2")
	w.write(n2, 2)
	w.contacts("n2")
	n2.backup = w.carry(n2.record)
	w.write(n2, 2)
	w.contacts("n2")
	w.restore(n2)
	w.write(n2, 1)
	out := w.contacts("n2")
	if len(out.Forks) != 1 || !strings.Contains(out.Forks[0], "after event 2 of \"n2\"") ||
		!strings.Contains(out.Forks[0], "(2 events)") || !strings.Contains(out.Forks[0], "n2/5") {
		t.Errorf("told %q", out.Forks)
	}
	same(t, "pushed", out.Pushed, 1)
	w.heal()
}

func TestWhatComesTooEarlyWaits(t *testing.T) {
	for name, order := range map[string][]int{
		"before its enrolment": {1, 2, 0},
		"before what precedes": {0, 2, 1},
		"both":                 {2, 1, 0},
	} {
		t.Run(name, func(t *testing.T) {
			w := testWorld(t)
			n2, reader := w.device("n2"), w.device("n3")
			w.write(n2, 1)
			first := must(n2.record.Offer(t.Context(), "n2", chain.Head{Device: "n2"}))
			w.write(n2, 1)
			second := must(n2.record.Offer(t.Context(), "n2", first[0].After))
			messages := [][]byte{w.stream[0].Data, first[0].Bytes(), second[0].Bytes()}
			w.stream = nil
			for _, i := range order {
				w.store(messages[i])
			}
			out := contactVia(t, oneByOne{w}, reader.record, reader.ring, w.now)
			same(t, "events pulled", out.Pulled, 5)
			same(t, "segments still waiting", out.Waiting, 0)
			same(t, "read from the start", out.Reread, false)
		})
	}
}

// contactVia is one contact that waits for nothing.
func contactVia(t *testing.T, l line, r *journal.Journal, ring *chain.KeyRing, now time.Time) Outcome {
	t.Helper()
	return must(Contact{
		Journal: r, Line: l, Ring: ring, Clock: Clock{Now: func() time.Time { return now }},
		Pause: func(context.Context, time.Duration) error { return nil },
	}.Once(t.Context()))
}

// oneByOne reads a message at a time, and its server answers with what it has, which is nothing.
type oneByOne struct{ *world }

func (l oneByOne) Heads(context.Context) (Heads, error) { return Heads{Now: l.now}, nil }

func (l oneByOne) Read(ctx context.Context, from uint64, _ int) ([]Message, error) {
	return l.world.Read(ctx, from, 1)
}

func (l oneByOne) Publish(context.Context, []byte) error { return nil }

func TestNumbersUsedAgainAreNoticed(t *testing.T) {
	w := testWorld(t)
	w.write(w.device("n2"), 1)
	w.contacts("n2", "n3")
	at := must(w.device("n3").record.Contact(t.Context())).Position
	if at.Seq != uint64(len(w.stream)) {
		t.Fatalf("position %d of %d", at.Seq, len(w.stream))
	}
	for name, tc := range map[string]struct {
		spoil func()
		want  bool
	}{
		"nothing happened":      {func() {}, false},
		"the stream is gone":    {func() { w.stream = nil }, true},
		"its tail is gone":      {func() { w.stream = w.stream[:len(w.stream)-1] }, true},
		"another message there": {func() { w.stream[len(w.stream)-1].Data = w.stream[0].Data }, true},
	} {
		before := slices.Clone(w.stream)
		tc.spoil()
		out := contactVia(t, oneByOne{w}, w.carry(w.device("n3").record), w.device("n3").ring, w.now)
		same(t, name+": read from the start", out.Reread, tc.want)
		w.stream = before
	}
}

func TestALineThatGivesNonsenseEndsTheContact(t *testing.T) {
	w := testWorld(t)
	d := w.device("n2")
	for name, msgs := range map[string][]Message{
		"an old message": {{Seq: 0}},
		"the same twice": {{Seq: 1}, {Seq: 1}},
		"backwards":      {{Seq: 5}, {Seq: 4}},
	} {
		_, err := Contact{
			Journal: d.record, Line: nonsense{w, msgs}, Ring: d.ring,
			Clock: Clock{Now: func() time.Time { return w.now }},
		}.Once(t.Context())
		if err == nil || !strings.Contains(err.Error(), "in order") {
			t.Errorf("%s: %v", name, err)
		}
	}
	if _, err := (Contact{
		Journal: d.record, Line: nonsense{w, nil}, Ring: d.ring,
		Clock: Clock{Now: func() time.Time { return w.now }},
	}).Once(t.Context()); err != nil {
		t.Errorf("an empty stream: %v", err)
	}
}

type nonsense struct {
	*world
	msgs []Message
}

func (l nonsense) Read(context.Context, uint64, int) ([]Message, error) { return l.msgs, nil }

func TestPauseEndsWithItsContext(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := pause(ctx, time.Hour); !errors.Is(err, context.Canceled) {
		t.Errorf("%v", err)
	}
}

func TestDecide(t *testing.T) {
	head := func(d event.Device, seq uint64, sum byte) chain.Head {
		return chain.Head{Device: d, Seq: seq, Chain: chain.Hash{sum}}
	}
	root := func(d event.Device) chain.Head { return chain.Head{Device: d, Chain: chain.Root(site, d)} }
	for name, tc := range map[string]struct {
		held, at, server []chain.Head
		want             plan
	}{
		"a bare server is offered all, the root first": {
			held: []chain.Head{head("a", 2, 2), head("site", 4, 4)},
			want: plan{offer: []chain.Head{root("site"), root("a")}},
		},
		"from the head that the server has": {
			held: []chain.Head{head("a", 5, 5)}, at: []chain.Head{head("a", 3, 3)},
			server: []chain.Head{head("a", 3, 3)},
			want:   plan{offer: []chain.Head{head("a", 3, 3)}},
		},
		"nothing when equal": {
			held: []chain.Head{head("a", 3, 3)}, at: []chain.Head{head("a", 3, 3)},
			server: []chain.Head{head("a", 3, 3)},
		},
		"lacking": {
			held: []chain.Head{head("a", 3, 3)}, server: []chain.Head{head("a", 4, 4), head("b", 1, 1)},
			want: plan{lacking: []chain.Head{head("a", 4, 4), head("b", 1, 1)}},
		},
		"another history at the same seq": {
			held: []chain.Head{head("a", 3, 3)}, at: []chain.Head{head("a", 3, 3)},
			server: []chain.Head{head("a", 3, 9)},
			want:   plan{forked: []chain.Head{head("a", 3, 9)}},
		},
		"another history, shorter": {
			held: []chain.Head{head("a", 3, 3)}, at: []chain.Head{head("a", 2, 2)},
			server: []chain.Head{head("a", 2, 9)},
			want:   plan{forked: []chain.Head{head("a", 2, 9)}},
		},
	} {
		t.Run(name, func(t *testing.T) {
			at := map[event.Device]chain.Head{}
			for _, h := range tc.at {
				at[h.Device] = h
			}
			got := decide(site, "site", tc.held, at, tc.server)
			if d := cmp.Diff(tc.want, got, cmp.AllowUnexported(plan{})); d != "" {
				t.Errorf("(-want +got):\n%s", d)
			}
		})
	}
}

func TestWholeStreamIsReadOnlyWhenWorthIt(t *testing.T) {
	a, own := chain.Head{Device: "a", Seq: 4}, chain.Head{Device: "n2", Seq: 4}
	tried := journal.Contact{Whole: noon, Missing: []chain.Head{{Device: "a", Seq: 2}, {Device: "n2", Seq: 2}}}
	soon := noon.Add(time.Minute)
	for name, tc := range map[string]struct {
		p      plan
		forked map[event.Device]bool
		known  journal.Contact
		just   bool
		now    time.Time
		want   bool
	}{
		"nothing lacks":               {now: soon, known: tried},
		"lacking, never tried":        {p: plan{lacking: []chain.Head{a}}, now: soon, want: true},
		"lacking, just read":          {p: plan{lacking: []chain.Head{a}}, just: true, now: soon},
		"lacking, tried a minute ago": {p: plan{lacking: []chain.Head{a}}, known: tried, now: soon},
		"lacking, tried an hour ago": {
			p: plan{lacking: []chain.Head{a}}, known: tried,
			now: noon.Add(time.Hour), want: true,
		},
		"lacking, and the clock was set back": {
			p: plan{lacking: []chain.Head{a}}, known: tried,
			now: noon.Add(-time.Hour), want: true,
		},
		"another lacks": {
			p: plan{lacking: []chain.Head{{Device: "b"}}}, known: tried, now: soon,
			want: true,
		},
		"a fork, just read":          {p: plan{forked: []chain.Head{a}}, just: true, now: soon, want: true},
		"a fork, tried a minute ago": {p: plan{forked: []chain.Head{a}}, known: tried, now: soon},
		"the own fork, tried a minute ago": {
			p: plan{forked: []chain.Head{own}}, known: tried, now: soon,
			want: true,
		},
		"the own fork, longer at the server": {
			p:      plan{lacking: []chain.Head{own}},
			forked: map[event.Device]bool{"n2": true}, known: tried, now: soon, want: true,
		},
	} {
		if got := needsFullRescan("n2", tc.p, tc.forked, tc.known, tc.just, tc.now); got != tc.want {
			t.Errorf("%s: %v, want %v", name, got, tc.want)
		}
	}
}

func TestRingLearnsWhateverTheOrder(t *testing.T) {
	enrol := func(by, device event.Device, seq uint64, role event.Role) event.Event {
		return must(event.Write(event.Event{
			Name: event.Name{Device: by, Seq: seq}, HappenedAt: noon, LoggedAt: noon,
			Body: event.DeviceEnrolled{
				Device: device, PublicKey: publicOf(device), Role: role, Crew: "north",
				Label: "x",
			},
		}))
	}
	ring := deviceNamed("n2").KeyRing([]event.Event{
		enrol("second", "n2", 1, event.CrewRole), enrol("n2", "n7", 1, event.CrewRole),
		enrol("site", "second", 1, event.SiteRole),
	})
	for device, want := range map[event.Device]bool{"site": true, "second": true, "n2": true, "n7": false} {
		if got := ring.Key(device) != nil; got != want {
			t.Errorf("%s trusted: %v, want %v", device, got, want)
		}
	}
}
