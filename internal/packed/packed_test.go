package packed_test

import (
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/packed"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view/advice"
	"hod/internal/view/daily"
)

// packedOf a record: the site that holds what is packed of it in place of its events, the others added in drawn order.
func packedOf(t testing.TB, r *rand.Rand, events []event.Event, fetched *int) (*fold.Site, *fold.Packed) {
	t.Helper()
	p := foldtest.Folded(events...).Pack()
	if p == nil {
		return foldtest.Folded(events...), nil
	}
	return holding(t, r, p, events, fetched), p
}

func holding(t testing.TB, r *rand.Rand, p *fold.Packed, events []event.Event, fetched *int) *fold.Site {
	t.Helper()
	p, err := packed.Read(p.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	var packed, rest []event.Event
	for _, e := range events {
		if slices.ContainsFunc(p.Spans(), func(s fold.Span) bool {
			return s.Device == e.Device && s.From <= e.Seq &&
				e.Seq <= s.To
		}) {
			packed = append(packed, e)
		} else {
			rest = append(rest, e)
		}
	}
	if len(packed) != p.Len() {
		t.Fatalf("%d events lie in the spans of %d packed ones", len(packed), p.Len())
	}
	s := fold.New("tarn", simtest.Root)
	s.Hold(p, func() ([]event.Event, error) { *fetched++; return packed, nil })
	rest = append(rest, rest[:len(rest)/4]...)
	r.Shuffle(len(rest), func(i, j int) { rest[i], rest[j] = rest[j], rest[i] })
	for _, e := range rest {
		s.Add(e)
	}
	return s
}

func TestPackedReadingsAnswerAsTheirEventsDo(t *testing.T) {
	now := foldtest.Midnight.Add(40 * time.Hour)
	rounds, kept := 12, 0
	if testing.Short() {
		rounds = 3
	}
	for seed := range rounds {
		r := rand.New(rand.NewPCG(uint64(seed), 3))
		events := foldtest.Probed(t, r)
		cut := len(events) - r.IntN(len(events)/3)
		// Packed of the first part; the rest comes later, and names, corrects, revises or revokes what is in the first.
		fetched := 0
		_, p := packedOf(t, r, events[:cut], &fetched)
		if p == nil || p.Len() < 10 {
			t.Fatalf("seed %d: hardly anything is packed", seed)
		}
		s := holding(t, r, p, events[:cut], &fetched)
		if got, want := foldtest.WithoutDays(t, s, now), foldtest.WithoutDays(t, foldtest.Folded(events[:cut]...),
			now); got != want {
			t.Fatalf("seed %d: packed readings changed an answer:\n%s", seed, cmp.Diff(want, got))
		}
		if fetched > 0 {
			t.Errorf("seed %d: the events of packed readings were fetched, which no answer asked for", seed)
		}
		for _, e := range events[cut:] {
			s.Add(e)
		}
		want := foldtest.Folded(events...)
		if got, want := foldtest.WithoutDays(t, s, now), foldtest.WithoutDays(t, want, now); got != want {
			t.Fatalf("seed %d: what came after readings were packed was answered otherwise:\n%s", seed,
				cmp.Diff(want, got))
		}
		if fetched == 0 {
			kept++
		}
		if got, want := foldtest.Everything(t, s, now), foldtest.Everything(t, want, now); got != want {
			t.Fatalf("seed %d: what lists events one by one differs:\n%s", seed, cmp.Diff(want, got))
		}
		// Packed again on top of what was packed.
		fetched = 0
		again := holding(t, r, p, events[:cut], &fetched)
		if more := again.Pack(); more == nil || more.Len() < p.Len() || fetched > 0 {
			t.Fatalf("seed %d: packing again fetched %d times", seed, fetched)
		} else if got, want := foldtest.WithoutDays(t, holding(t, r, more, events[:cut], &fetched), now),
			foldtest.WithoutDays(t, foldtest.Folded(events[:cut]...), now); got != want {
			t.Fatalf("seed %d: readings packed twice changed an answer:\n%s", seed, cmp.Diff(want, got))
		}
	}
	t.Logf("%d of %d times nothing that came asked for the events", kept, rounds)
}

// What comes after readings were packed and sets some of them apart has their events fetched.
func TestWhatSetsPackedReadingsApartFetchesTheirEvents(t *testing.T) {
	now := foldtest.Midnight.Add(40 * time.Hour)
	r := rand.New(rand.NewPCG(5, 5))
	events := foldtest.Probed(t, r)
	fetched := 0
	_, p := packedOf(t, r, events, &fetched)
	var reading, plan, last event.Event
	for _, e := range events {
		switch b := e.Body.(type) {
		case event.CureReadings:
			if slices.ContainsFunc(p.Spans(), func(s fold.Span) bool {
				return s.Device == e.Device && s.From <= e.Seq &&
					e.Seq <= s.To
			}) {
				reading = e
			}
		case event.ZonePlanned:
			if b.Zone == "A1" {
				plan = e
			}
		}
		if e.Device == reading.Device {
			last = e
		}
	}
	zone := plan.Body.(event.ZonePlanned)
	zone.Area.SI++
	zone.Replaces = []event.Hash{plan.Hash()}
	offset := 3 * time.Minute
	for _, late := range []struct {
		what  string
		on    event.Device
		fetch bool
		e     event.Event
	}{
		{"a note", "f1", false, event.Event{Body: event.Noted{Text: "a hose burst"}}},
		{"a reading of the same instant", "f1", false, event.Event{Body: reading.Body}},
		{
			"a correction of a packed reading", "f1", true,
			event.Event{Body: event.Voided{Target: reading.Hash(), Why: "in the sun"}},
		},
		{"a revised plan", "f1", true, event.Event{Body: zone}},
		{
			"a revocation", simtest.Root, true,
			event.Event{Body: event.DeviceRevoked{Device: reading.Device, LastSeq: 1, Why: "lost"}},
		},
		{
			"an exclusion", simtest.Root, true,
			event.Event{Body: event.DeviceExcluded{Device: reading.Device, FromSeq: 2, Why: "flood"}},
		},
		{
			"an exclusion of what is not packed", simtest.Root, false,
			event.Event{Body: event.DeviceExcluded{Device: reading.Device, FromSeq: last.Seq, Why: "flood"}},
		},
		{
			"a clock that was wrong", last.Device, true,
			event.Event{
				Offset: &offset,
				Body: event.CureReadings{
					Probe: "a", Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1},
					Samples: []event.Reading{{At: now, Temperature: 20}},
				},
			},
		},
		{
			"the event written again after a fork", reading.Device, true,
			event.Event{StandsFor: reading.Hash(), Body: reading.Body},
		},
		{
			"a correction of what is not there", "f1", true,
			event.Event{Body: event.Voided{Target: event.Hash{1}, Why: "slip"}},
		},
	} {
		fetched = 0
		s := holding(t, r, p, events, &fetched)
		_ = foldtest.WithoutDays(t, s, now)
		seq := uint64(0)
		for _, e := range events {
			if e.Device == late.on {
				seq = max(seq, e.Seq)
			}
		}
		late.e.Name, late.e.HappenedAt, late.e.LoggedAt = event.Name{Device: late.on, Seq: seq + 1}, now, now
		e, err := event.Write(late.e)
		if err != nil {
			t.Fatal(err)
		}
		s.Add(e)
		if got, want := foldtest.WithoutDays(t, s, now),
			foldtest.WithoutDays(t, foldtest.Folded(append(slices.Clone(events), e)...),
				now); got != want {
			t.Errorf("%s changed an answer:\n%s", late.what, cmp.Diff(want, got))
		}
		if (fetched > 0) != late.fetch {
			t.Errorf("%s: the events of packed readings were fetched %d times", late.what, fetched)
		}
	}
	s := holding(t, r, p, events, &fetched)
	fetched = 0
	for _, n := range []event.Name{{}, {Device: "nobody", Seq: 1}, {Device: reading.Device, Seq: 1 << 40}, last.Name} {
		s.Record(n)
	}
	if fetched > 0 {
		t.Error("a name that no packed event has had them fetched")
	}
	for _, ask := range []func(*fold.Site){
		func(s *fold.Site) { s.Record(reading.Name) }, func(s *fold.Site) {
			s.ByHash(reading.Hash())
		}, func(s *fold.Site) { s.Add(reading) },
		func(s *fold.Site) { s.Records() }, func(s *fold.Site) { s.Until(now) }, func(s *fold.Site) {
			s.Heard(foldtest.Midnight)
		},
	} {
		fetched = 0
		s := holding(t, r, p, events, &fetched)
		ask(s)
		if fetched != 1 {
			t.Errorf("the events of packed readings were fetched %d times, not once", fetched)
		}
		if got, want := foldtest.WithoutDays(t, s, now), foldtest.WithoutDays(t, foldtest.Folded(events...),
			now); got != want {
			t.Errorf("fetching changed an answer:\n%s", cmp.Diff(want, got))
		}
	}
}

func TestBytesThatAreNoPackedReadingsAreRefusedOrReadWithoutHarm(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 7))
	good := foldtest.Folded(foldtest.Probed(t, r)...).Pack().Bytes()
	for range 2000 {
		bad := slices.Clone(good)
		switch r.IntN(3) {
		case 0:
			bad = bad[:r.IntN(len(bad))]
		case 1:
			bad[r.IntN(len(bad))] ^= byte(1 << r.IntN(8))
		default:
			bad = append(bad, byte(r.IntN(256)))
		}
		if p, err := packed.Read(bad); err == nil {
			p.Bytes()
		}
	}
	if _, err := packed.Read(nil); err == nil {
		t.Error("no bytes are taken for packed readings")
	}
}

// Probes that were heard in no order of their names: each packed event is found by its name, and packing again finds
// them too.
func TestEachPackedEventIsFoundByItsName(t *testing.T) {
	d := foldtest.NewDesk(t)
	probes := []event.Device{"s9", "s2", "s5", "s1"}
	for _, name := range probes {
		d.By(simtest.Root, 0, event.DeviceEnrolled{Device: name, PublicKey: make([]byte, 32), Role: event.Probe})
	}
	for i := range 40 {
		for k, name := range probes {
			if i%7 == k { // a gap: several spans a device
				d.By(name, 5*i, event.Noted{Text: "new cell"})
			}
			d.By(name, 5*i, event.CureReadings{
				Probe: string(name), Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1},
				Samples: []event.Reading{{At: foldtest.Clock(5 * i), Temperature: unit.Celsius(20 + i%5)}},
			})
		}
	}
	r := rand.New(rand.NewPCG(9, 9))
	fetched := 0
	half, p := packedOf(t, r, d.Events[:len(d.Events)-20], &fetched)
	again := half.Pack()
	if fetched > 0 || again == nil || again.Len() < p.Len() {
		t.Fatalf("packing again fetched %d times", fetched)
	}
	for _, p := range []*fold.Packed{p, again, foldtest.Folded(d.Events...).Pack()} {
		if len(p.Spans()) < 2*len(probes) {
			t.Fatalf("only %d spans are packed", len(p.Spans()))
		}
		for _, span := range p.Spans() {
			for seq := span.From; seq <= span.To; seq++ {
				s := holding(t, r, p, d.Events[:len(d.Events)-20], &fetched)
				n := event.Name{Device: span.Device, Seq: seq}
				if got, ok := s.Record(n); !ok || got.Name != n {
					t.Fatalf("%s is packed and not found", n)
				}
			}
		}
	}
}

// A board is asked for often, and what is packed stays packed where a day's order is on it.
func TestADaysOrderOnTheBoardFetchesNoPackedReadings(t *testing.T) {
	r := rand.New(rand.NewPCG(11, 11))
	d := simtest.Continue(foldtest.Probed(t, r))
	now := foldtest.Midnight.Add(40 * time.Hour)
	day := now.In(foldtest.Place).Format(time.DateOnly)
	coat := event.Coat{Zone: "A1", Face: event.Outer, Number: 1}
	write := func(on event.Device, crew event.Crew, at time.Time, b event.Body) event.Event {
		t.Helper()
		if err := d.Write(on, crew, at, true, b); err != nil {
			t.Fatal(err)
		}
		return d.Events[len(d.Events)-1]
	}
	write("f1", "office", foldtest.Midnight.Add(20*time.Hour), event.DayOrdered{
		Day: day, Start: now.Add(-8 * time.Hour),
		Crews: []event.Crew{"north"}, Bays: []event.DayBay{{Zones: []event.Zone{"A1"}}},
	})
	write("n1", "north", now.Add(-3*time.Hour), event.FrontEnded{Coat: coat, OtherZone: "A2", Treatment: "cut square"})
	slip := write("n1", "north", now.Add(-2*time.Hour), event.FrontEnded{Coat: coat, Treatment: "cut square"})
	write("n1", "north", now.Add(-time.Hour), event.Voided{Target: slip.Hash(), Why: "slip"})
	write("n1", "north", now.Add(-26*time.Hour), event.FrontEnded{Coat: coat, Treatment: "cut square"})
	write("n1", "north", now.Add(time.Minute), event.FrontEnded{Coat: coat, Treatment: "cut square"})
	fetched := 0
	s, p := packedOf(t, r, d.Events, &fetched)
	if p == nil {
		t.Fatal("nothing is packed")
	}
	o := advice.OrderOf(s, day, now, foldtest.Place)
	if o == nil || o.Came.Ended != 1 {
		t.Fatalf("the order is %+v, not one with one front ended that day", o)
	}
	_ = daily.BoardOf(s, now, foldtest.Place)
	if fetched > 0 {
		t.Errorf("the events of packed readings were fetched %d times", fetched)
	}
}
