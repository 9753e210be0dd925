package history_test

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
)

// tangled draws corrections of few events in all shapes: beside each other, one upon the other, in conflict, taken back
// and brought back, settled, written again after forks, twice under one name, by those who may and those who may not,
// of what never comes, and of what says who may write.
func tangled(t testing.TB, r *rand.Rand, n int) []event.Event {
	t.Helper()
	d := foldtest.NewDesk(t)
	authors := []event.Device{"f1", "f2", "n1", "n2", "s1", "i1", "p1", "q9", "n9"}
	zones := []event.Zone{"A1", "A2", "A3", "B9"}
	d.By("n1", 0, foldtest.Mixed(1, 0))
	var named []event.Event // what others may name
	note := func(i int) event.Noted { return event.Noted{Text: fmt.Sprintf("note %d", i%3)} }
	body := func(of event.Body, i int) event.Body {
		switch b := of.(type) {
		case event.Placement:
			return foldtest.Share(foldtest.Put(1, zones[r.IntN(len(zones))], 5, 9),
				unit.Share(0.1+0.1*float64(r.IntN(4))))
		case event.ZonePlanned:
			b.Area.SI = unit.Area(9 + r.IntN(3))
			return b
		}
		return note(i)
	}
	for i := range n {
		by := authors[r.IntN(len(authors))]
		minute := 10 + r.IntN(60)
		var to event.Event
		if len(named) > 0 {
			to = named[max(0, len(named)-1-r.IntN(12))]
		}
		first := to.Body
		if a, is := first.(event.Amended); is {
			first = a.Body
		}
		switch k := r.IntN(20); {
		case len(named) == 0 || k < 2:
			named = append(named, d.By(by, minute, note(i)))
		case k == 2:
			named = append(named, d.By(by, minute, foldtest.Share(foldtest.Put(1, zones[r.IntN(3)], 5, 9), 0.2)))
		case k == 3:
			z := event.ZonePlanned{Zone: "B9", Area: foldtest.As(unit.Area(9 + r.IntN(3)))}
			if r.IntN(2) == 0 {
				z.Replaces = []event.Hash{to.Hash()}
			}
			named = append(named, d.By(by, minute, z))
		case k == 4:
			named = append(named, d.By(simtest.Root, minute,
				event.DeviceEnrolled{Device: "n9", PublicKey: make([]byte, 32), Role: event.CrewRole, Crew: "north"}))
		case k == 5 && r.IntN(3) == 0:
			named = append(named, d.By(simtest.Root, minute,
				event.DeviceRevoked{Device: by, LastSeq: uint64(1 + r.IntN(20)), Why: "lost"}))
		case k < 8:
			other := named[r.IntN(len(named))]
			if other.Hash() != to.Hash() {
				named = append(named, d.By(by, minute, event.Settled{
					Holds: to.Hash(), Over: []event.Hash{other.Hash()},
					Why: "asked",
				}))
			}
		case k < 11:
			if err := d.Devices.Again(to); err != nil {
				t.Fatal(err)
			}
			named = append(named, d.Events[len(d.Events)-1])
		case k == 11: // another event under the same name
			e, err := event.Write(event.Event{
				Name: to.Name, Crew: to.Crew, HappenedAt: foldtest.Clock(minute),
				LoggedAt: foldtest.Clock(minute), Typed: true, StandsFor: to.StandsFor, Body: body(first, i),
			})
			if err != nil {
				t.Fatal(err)
			}
			d.Events = append(d.Events, e)
			named = append(named, e)
		case k < 14:
			named = append(named, d.By(by, minute, event.Voided{Target: to.Hash(), Why: "slip"}))
		default:
			named = append(named, d.By(by, minute, event.Amended{Target: to.Hash(), Body: body(first, i), Why: "slip"}))
		}
	}
	for _, e := range named { // some are lost
		if r.IntN(12) == 0 {
			d.Lose(e)
		}
	}
	return d.Events
}

// readings are how all records of a site are read, as text.
func readings(s *fold.Site) string {
	var all strings.Builder
	for _, r := range s.Records() {
		now, _ := json.Marshal(r.Now)
		fmt.Fprintf(&all, "%s %x %s %s %s", r.Name, r.Hash(), r.State, r.When.UTC(), now)
		for _, via := range r.Via {
			fmt.Fprintf(&all, " via %s", via.Name)
		}
		if r.State == fold.SetAside {
			fmt.Fprintf(&all, " %s: %s", r.Aside.Code, r.Aside.Why)
		}
		if first, known := s.FirstWriting(r); known && first != r {
			fmt.Fprintf(&all, " of %s", first.Name)
		}
		all.WriteByte('\n')
	}
	for _, f := range s.Findings() {
		fmt.Fprintf(&all, "%s %s %s %v %v\n", f.Code, f.Key, f.Text, f.Events, f.Do)
	}
	return all.String()
}

func TestCorrectionsOfAnyShapeReadTheSameInAnyOrderWhoeverAsksMeanwhile(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		r := rand.New(rand.NewPCG(rapid.Uint64().Draw(rt, "seed"), 7))
		events := tangled(t, r, rapid.IntRange(1, 90).Draw(rt, "events"))
		want := readings(foldtest.Folded(events...))
		looks := rapid.SampledFrom([]int{0, 1, 2, 7, 40}).Draw(rt, "a look each so many")
		events = append(events, events[:len(events)/2]...)
		r.Shuffle(len(events), func(i, j int) { events[i], events[j] = events[j], events[i] })
		s := fold.New("tarn", simtest.Root)
		for i, e := range events {
			s.Add(e)
			if looks > 0 && i%looks == 0 {
				_ = readings(s)
			}
		}
		if got := readings(s); got != want {
			rt.Fatalf("order, repetition or a look changed how events are read:\n%s",
				cmp.Diff(strings.Split(want, "\n"), strings.Split(got, "\n")))
		}
	})
}

// A revocation that counted until another event came under its name counts no more, and what its device wrote is read
// again.
func TestARevocationThatGaveWayToAnotherEventOfItsNameEndsNothing(t *testing.T) {
	d := foldtest.NewDesk(t)
	wrote := d.By("n2", 10, event.Noted{Text: "rain"})
	revoked := d.By(simtest.Root, 20, event.DeviceRevoked{Device: "n2", LastSeq: 0, Why: "lost"})
	var other event.Event
	for i := 0; ; i++ { // of two events under one name the lesser hash stands
		e, err := event.Write(event.Event{
			Name: revoked.Name, Crew: revoked.Crew, HappenedAt: foldtest.Clock(30),
			LoggedAt: foldtest.Clock(30), Typed: true, Body: event.Noted{Text: fmt.Sprint(i)},
		})
		if err != nil {
			t.Fatal(err)
		}
		a, b := e.Hash(), revoked.Hash()
		if bytes.Compare(a[:], b[:]) < 0 {
			other = e
			break
		}
	}
	s := d.Site()
	if r, _ := s.Record(wrote.Name); r.State != fold.SetAside {
		t.Fatalf("before: %s", r.State)
	}
	s.Add(other)
	if r, _ := s.Record(wrote.Name); r.State != fold.Holds {
		t.Errorf("after: %s, %+v", r.State, r.Aside)
	}
}
