package fold_test

import (
	"bytes"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/packed"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
)

// rowOf are so many zones of 4 m by 3 m side by side, each with a coat that two batches fill. Where the plan says on
// which sides the edges lie, what lies along an edge hangs on the zones beyond.
func rowOf(d *foldtest.Desk, zones int, sides bool) []event.Zone {
	var names []event.Zone
	for i := range zones {
		x := 4 * float64(i)
		z := event.ZonePlanned{
			Zone: event.Zone(fmt.Sprintf("V%02d", i)), Area: foldtest.As(unit.Area(12)),
			Order: 10 + i,
		}
		if sides {
			z.Form = &event.Form{
				Outline: []event.Corner{{X: x, Y: 0}, {X: x + 4, Y: 0}, {X: x + 4, Y: 3}, {X: x, Y: 3}},
				Sides:   []event.Side{{Name: "south"}, {Name: "east"}, {Name: "north"}, {Name: "west"}},
			}
		}
		d.By("f1", 0, z)
		d.By("f1", 0, event.CoatPlanned{
			Coat: event.Coat{Zone: z.Zone, Face: event.Outer, Number: 1}, Thickness: foldtest.As(unit.Length(0.01)),
			Mix: "face",
		})
		if names = append(names, z.Zone); i == 0 {
			continue
		}
		e := event.EdgePlanned{A: names[i-1], B: z.Zone, Length: foldtest.As(unit.Length(3))}
		if sides {
			e.PartA, e.PartB = &event.EdgePart{Side: "east"}, &event.EdgePart{Side: "west"}
		}
		d.By("f1", 0, e)
	}
	return names
}

// rowWorked is a row on which two crews worked for two days, as drawn.
func rowWorked(t *testing.T, r *rand.Rand, sides bool) (*foldtest.Desk, []event.Zone) {
	t.Helper()
	d := foldtest.NewDesk(t)
	zones := rowOf(d, 9, sides)
	at := map[string]int{"n1": 0, "s1": len(zones) - 1} // where each crew is
	for day := range 2 {
		for hour := -2; hour < 12 && r.IntN(5) > 0; hour++ {
			minute := 24*60*day + 60*hour
			d.By("f1", minute, event.WeatherObserved{Station: "mast", Samples: []event.Weather{{
				At: foldtest.Clock(minute), Air: new(unit.Celsius(14 + r.IntN(14))),
			}}})
		}
		for _, crew := range []string{"n1", "s1"} {
			number, minute := 0, 24*60*day+r.IntN(60)
			for range 4 + r.IntN(5) {
				if minute += 15 + r.IntN(50); r.IntN(6) == 0 {
					minute += 200
				}
				if number++; r.IntN(12) == 0 {
					number++ // one that nobody wrote down
				}
				if r.IntN(2) == 0 {
					at[crew] = min(len(zones)-1, max(0, at[crew]-1+r.IntN(3)))
				}
				rowBatch(d, r, event.Device(crew), day, number, minute, zones, at[crew])
			}
		}
	}
	return d, zones
}

// rowBatch is a batch, where it went, and what was done about it.
func rowBatch(d *foldtest.Desk, r *rand.Rand, on event.Device, day, number, minute int, zones []event.Zone, at int) {
	zone := zones[at]
	b := foldtest.Mixed(number, minute)
	b.Batch.Day = foldtest.Midnight.AddDate(0, 0, day).Format(time.DateOnly)
	if on == "s1" {
		b.Batch.Crew = "south"
	}
	if r.IntN(3) == 0 {
		b.Temperature = nil
	}
	if r.IntN(3) == 0 {
		d.By(on, minute-9, event.BatchBegun{Batch: b.Batch, Ready: foldtest.Clock(minute)})
	}
	if r.IntN(3) == 0 {
		d.By(on, minute-9, event.ProposalTaken{
			Crew: b.Batch.Crew, Nth: 1 + r.IntN(2), Until: foldtest.Clock(minute + 90),
			Coat: event.Coat{Zone: zones[r.IntN(len(zones))], Face: event.Outer, Number: 1},
		})
	}
	if r.IntN(4) == 0 {
		d.By(on, minute-9, event.ShiftStarted{People: 4})
	}
	if r.IntN(9) == 0 { // begun and forgotten
		return
	}
	d.By(on, minute, b)
	p := foldtest.Put(number, zone, minute+5, minute+12)
	p.Batch, p.Part.Share = b.Batch, foldtest.Ref(unit.Share(1))
	if r.IntN(2) == 0 {
		p.Gauges = []unit.As[unit.Length]{{SI: 0.01}}
	}
	if r.IntN(4) == 0 {
		p.Start = []string{"west", "east"}[r.IntN(2)]
	}
	if r.IntN(5) == 0 {
		p.Along = append(p.Along, zones[min(len(zones)-1, at+1)])
		p.Along = slices.DeleteFunc(p.Along, func(z event.Zone) bool { return z == zone })
	}
	d.By(on, minute+12, p)
	switch r.IntN(8) {
	case 0:
		d.By(on, minute+20, event.SurfaceTended{Zone: zone, Face: event.Outer, Tending: event.Covered, With: "burlap"})
	case 1:
		d.By(on, minute+20, event.BatchTested{
			Batch:      b.Batch,
			UnitWeight: foldtest.Ref(unit.Density(2150 + 10*r.IntN(9))),
		})
	case 2:
		d.By(on, minute+20, event.JointTreated{Coat: p.Coat, OtherZone: zones[(at+1)%len(zones)], Method: "wetted"})
	case 3:
		d.By(on, minute+20, event.FrontEnded{
			Coat: p.Coat, OtherZone: zones[(at+1)%len(zones)],
			Treatment: "cut square",
		})
	case 4:
		d.By(on, minute+20, event.ProgressStated{Coat: p.Coat, Complete: foldtest.As(unit.Share(r.IntN(3)) / 2)})
	}
}

// indexOf is a record's index as the next command reads it.
func indexOf(t *testing.T, events []event.Event) *packed.Subjects {
	t.Helper()
	x := foldtest.Folded(events...).Subjects(nil)
	if x == nil {
		t.Fatal("nothing was indexed")
	}
	x, err := packed.ReadSubjects(x.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	return x
}

// warned is what a command says on the side of an event that it wrote, and of edges of a crew's own.
func warned(s *fold.Site, name event.Name, crew event.Crew, now time.Time) any {
	var all []any
	if r, ok := s.Record(name); ok {
		all = append(all, r.State.String())
	}
	for _, f := range s.FindingsAbout(name) {
		if slices.Contains(strings.Fields(f.Key), name.String()) || f.Concerns(name) {
			all = append(all, f.Code, f.Key, f.Text, f.Because, f.Settled, f.Do)
		}
	}
	return append(all, view.EdgesOf(s, now, foldtest.Place, crew), s.AsideOf(name.Device), s.Bare(now))
}

// inHand is what a crew has in hand.
func inHand(s *fold.Site, crew event.Crew, now time.Time) any {
	var all []any
	for _, k := range s.Begun(now) {
		all = append(all, k.Batch, k.Ready.UnixNano(), k.Record.Name.String())
	}
	for _, k := range s.Taken(now) {
		all = append(all, k.Crew, k.Coat, k.Nth, k.Record.Name.String(), k.Before != nil)
	}
	if r := s.OpenShift(crew, now); r != nil {
		all = append(all, r.Name.String())
	}
	if b, ok := s.LastBatch(crew); ok {
		all = append(all, b.ID.String())
	}
	face, ok := s.LastFace(crew)
	return append(all, face, ok, len(s.BatchesOn(crew, now.In(foldtest.Place).Format(time.DateOnly))))
}

// written is what a crew may write next at that minute, which is judged without the rest of the record.
func written(r *rand.Rand, zones []event.Zone, batches []event.Batch, minute int) event.Body {
	switch batch := batches[r.IntN(len(batches))]; r.IntN(5) {
	case 0:
		return event.Noted{Text: "wind"}
	case 1:
		if r.IntN(2) == 0 {
			batch.Number += 40
		}
		b := foldtest.Mixed(1, minute)
		b.Batch = batch
		return b
	case 2:
		return event.BatchTested{
			Batch: batch, UnitWeight: foldtest.Ref(unit.Density(1900 + 20*r.IntN(30))),
			Temperature: foldtest.Ref(unit.Celsius(20 + r.IntN(15))),
		}
	default:
		return event.SurfaceTended{
			Zone: zones[r.IntN(len(zones))], Face: event.Face(r.IntN(3)),
			Tending: event.Covered, With: "burlap",
		}
	}
}

// On a row of zones each question is the first that its site is asked: nothing was fetched for another.
func TestWhatLiesAlongAnEdgeIsToldWithTheZonesBesideAndBeyond(t *testing.T) {
	rounds, asked, partial, edges := 6, 0, 0, 0
	for seed := range rounds {
		r := rand.New(rand.NewPCG(uint64(seed), 11))
		d, zones := rowWorked(t, r, seed%3 > 0)
		var events, late []event.Event // of the work some came only after the rest was indexed
		var batches []event.Batch
		for _, e := range d.Events {
			b, mixed := e.Body.(event.BatchMixed)
			if mixed {
				batches = append(batches, b.Batch)
			}
			if event.ThingOf(e.Body) == "" && event.SortOf(e.Body) != event.Membership && seed%2 > 0 &&
				r.IntN(25) == 0 {
				late = append(late, e)
			} else {
				events = append(events, e)
			}
		}
		x, fetched := indexOf(t, events), 0
		ask := func(what string, more []event.Event, question func(*fold.Site) any) {
			t.Helper()
			s, more := holding(t, r, x, events, &fetched), slices.Concat(late, more)
			for _, e := range more {
				s.Add(e)
			}
			want := shown(t, question(foldtest.Folded(slices.Concat(events, more)...)))
			if got := shown(t, question(s)); got != want {
				t.Fatalf("seed %d, %s: what was fetched gave another answer:\n%s", seed, what, cmp.Diff(want, got))
			}
			if asked++; s.Defers() {
				partial++
			}
			edges += strings.Count(want, `"turns_at"`)
		}
		for minute := 60; minute < 40*60; minute += 125 {
			now := foldtest.Clock(minute)
			for _, crew := range []event.Crew{"north", "south"} {
				ask(fmt.Sprintf("edges of %s at %s", crew, now), nil, func(s *fold.Site) any {
					return view.EdgesOf(s, now, foldtest.Place, crew)
				})
			}
			ask(fmt.Sprintf("in hand at %s", now), nil, func(s *fold.Site) any { return inHand(s, "north", now) })
			ask(fmt.Sprintf("fronts at %s", now), nil,
				func(s *fold.Site) any { return edgeWords(s, now.Add(-3*time.Hour), now) })
			on := []event.Device{"n1", "s1"}[r.IntN(2)]
			next := foldtest.Desk{TB: t, Devices: *simtest.Continue(d.Events)}
			e := next.By(on, minute, written(r, zones, batches, minute))
			ask(fmt.Sprintf("a %s at %s", event.KindOf(e.Body), now), []event.Event{e}, func(s *fold.Site) any {
				return warned(s, e.Name, e.Crew, now)
			})
		}
	}
	t.Logf("%d of %d questions were answered while events were left out; %d edges", partial, asked, edges)
	if partial < asked/2 || edges < 100 {
		t.Error("the test has lost its subject")
	}
}

// The crew of V02 began at the side where V01 was live, and that is all that says where its batch lies. The day after,
// what was placed in V03 waits for V02: both are fetched for that, and V01 with them.
func TestWhereAZoneWasBegunIsToldByTheZoneBeyondIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	zones := rowOf(d, 6, true)
	put := func(on event.Device, day, number, minute int, zone event.Zone, start string) {
		minute += 24 * 60 * day
		b := foldtest.Mixed(number, minute)
		b.Batch.Day = foldtest.Midnight.AddDate(0, 0, day).Format(time.DateOnly)
		d.By(on, minute, b)
		p := foldtest.Volume(foldtest.Put(number, zone, minute+5, minute+9), 60)
		p.Batch, p.Start = b.Batch, start
		d.By(on, minute+9, p)
	}
	for minute := -60; minute <= 25*60; minute += 120 { // so that it is known of V01 that nothing makes it live again
		d.By("f1", minute, event.WeatherObserved{Station: "mast", Samples: []event.Weather{{
			At: foldtest.Clock(minute), Air: new(unit.Celsius(20)),
		}}})
	}
	put("n1", 0, 1, 0, zones[1], "west")
	put("n1", 0, 2, 30, zones[1], "")
	put("n1", 0, 3, 60, zones[2], "")
	put("n1", 1, 1, 0, zones[3], "west")
	now := foldtest.Clock(24*60 + 40)
	ask := func(s *fold.Site) any { return edgeWords(s, now.Add(-3*time.Hour), now) }
	fetched, want := 0, shown(t, ask(foldtest.Folded(d.Events...)))
	if !strings.Contains(want, `"V02"`) || strings.Contains(want, "nobody said") {
		t.Errorf("the test has lost its subject: %s", want)
	}
	s := holding(t, rand.New(rand.NewPCG(1, 1)), indexOf(t, d.Events), d.Events, &fetched)
	if got := shown(t, ask(s)); got != want || !s.Defers() {
		t.Errorf("what was fetched gave another answer, or all was (%t):\n%s", !s.Defers(), cmp.Diff(want, got))
	}
}

// The weather of the morning was fetched for V05. What was read then turns out otherwise, and V01, which was not asked
// about, was so cold that it is live yet.
func TestWhatSetsFetchedEventsApartHasAllFetched(t *testing.T) {
	read := func(air unit.Celsius) event.WeatherObserved {
		b := event.WeatherObserved{Station: "mast"}
		for minute := -60; minute <= 10*60; minute += 60 {
			b.Samples = append(b.Samples, event.Weather{At: foldtest.Clock(minute), Air: new(air)})
		}
		return b
	}
	for what, apart := range map[string]func(*foldtest.Desk, event.Event) event.Event{
		"a correction": func(d *foldtest.Desk, wrong event.Event) event.Event {
			return d.By("f1", 10*60+1, event.Amended{Target: wrong.Hash(), Body: read(4), Why: "misread"})
		},
		"another event of that name, which stands": func(_ *foldtest.Desk, wrong event.Event) event.Event {
			first, e := wrong.Hash(), wrong
			for air := unit.Celsius(4); ; air += 0.01 {
				e.Body = read(air)
				other, err := event.Write(e)
				if err != nil {
					t.Fatal(err)
				}
				if h := other.Hash(); bytes.Compare(h[:], first[:]) < 0 {
					return other
				}
			}
		},
	} {
		d := foldtest.NewDesk(t)
		zones := rowOf(d, 6, false)
		for i, zone := range []event.Zone{zones[1], zones[5]} {
			d.By("n1", 200*i, foldtest.Mixed(i+1, 200*i))
			d.By("n1", 200*i+9, foldtest.Volume(foldtest.Put(i+1, zone, 200*i+5, 200*i+9), 60))
		}
		wrong := d.By("f1", 10*60, read(30))
		events := slices.Clone(d.Events)
		now, fetched := foldtest.Clock(210), 0
		ask := func(s *fold.Site) string { return shown(t, edgeWords(s, now.Add(-30*time.Minute), now)) }
		s := holding(t, rand.New(rand.NewPCG(1, 1)), indexOf(t, events), events, &fetched)
		if text := ask(s); !s.Defers() || strings.Contains(text, `"V01 outer 1"`) {
			t.Fatalf("%s: the test has lost its subject: %s", what, text)
		}
		more := apart(d, wrong)
		s.Add(more)
		want := ask(foldtest.Folded(append(events, more)...))
		if !strings.Contains(want, `"V01 outer 1"`) {
			t.Fatalf("%s: the test has lost its subject: %s", what, want)
		}
		if got := ask(s); got != want {
			t.Errorf("%s: what was fetched gave another answer:\n%s", what, cmp.Diff(want, got))
		}
	}
}
