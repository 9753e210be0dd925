package history_test

import (
	"fmt"
	"slices"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

// hostile are shapes of a record that an enrolled device, or several, can write to make it dear to fold; each gives
// about n events beside a small plan. The first is the plain one that the others are measured against.
func hostile() []struct {
	name  string
	write func(d *foldtest.Desk, n int)
} {
	noted := func(i int) event.Noted { return event.Noted{Text: fmt.Sprintf("note %d", i)} }
	amended := func(of event.Event, i int) event.Amended {
		return event.Amended{Target: of.Hash(), Body: noted(i), Why: "again"}
	}
	return []struct {
		name  string
		write func(d *foldtest.Desk, n int)
	}{
		{"plain notes", func(d *foldtest.Desk, n int) {
			for i := range n {
				d.By("n1", i%600, noted(i))
			}
		}},
		{"breadth: amendments of one note by one device", func(d *foldtest.Desk, n int) {
			of := d.By("n1", 0, noted(0))
			for i := range n {
				d.By("n1", i%600, amended(of, i))
			}
		}},
		{"breadth: amendments of one note by 200 devices", func(d *foldtest.Desk, n int) {
			for k := range 200 {
				d.Enrolled(event.Device(fmt.Sprintf("n%d", 100+k)))
			}
			of := d.By("n1", 0, noted(0))
			for i := range n {
				d.By(event.Device(fmt.Sprintf("n%d", 100+i%200)), i%600, amended(of, i))
			}
		}},
		{"depth: each amends the one before", func(d *foldtest.Desk, n int) {
			last := d.By("n1", 0, noted(0))
			for i := range n {
				last = d.By("n1", i%600, amended(last, i))
			}
		}},
		{"voids of voids", func(d *foldtest.Desk, n int) {
			last := d.By("n1", 0, noted(0))
			for i := range n {
				last = d.By("n1", i%600, event.Voided{Target: last.Hash(), Why: "again"})
			}
		}},
		{"conflicts: notes amended in two ways", func(d *foldtest.Desk, n int) {
			for i := range n / 3 {
				of := d.By("n1", i%600, noted(0))
				d.By("n1", i%600, amended(of, 1))
				d.By("n2", i%600, amended(of, 2))
			}
		}},
		{"one conflict settled again and again", func(d *foldtest.Desk, n int) {
			of := d.By("n1", 0, noted(0))
			one, other := d.By("n1", 1, amended(of, 1)), d.By("n2", 2, amended(of, 2))
			for i := range n {
				d.By("f1", i%600, event.Settled{Holds: one.Hash(), Over: []event.Hash{other.Hash()}, Why: "asked"})
				one, other = other, one
			}
		}},
		{"forks: two events under each name", func(d *foldtest.Desk, n int) {
			for i := range n / 2 {
				e := d.By("n1", i%600, noted(i))
				e.Body = noted(-i - 1)
				second, err := event.Write(e)
				if err != nil {
					d.TB.Fatal(err)
				}
				d.Events = append(d.Events, second)
			}
		}},
		{"one note written again and again after forks, each writing amended", func(d *foldtest.Desk, n int) {
			of := d.By("n1", 0, noted(0))
			for i := range n / 2 {
				again := d.Again(of)
				d.By("n2", i%600, amended(again, i))
			}
		}},
		{"breadth, and what is corrected arrives last", func(d *foldtest.Desk, n int) {
			at := len(d.Events)
			last := d.By("n1", 0, noted(0))
			for i := range n {
				of := last
				if i%2 == 0 {
					of = d.Events[at]
				}
				last = d.By("n1", i%600, amended(of, i))
			}
			slices.Reverse(d.Events[at:])
		}},
		{"a device heard before it is enrolled, and revoked in the end", func(d *foldtest.Desk, n int) {
			for i := range n {
				d.By("n9", i%600, noted(i))
			}
			d.Enrolled("n9")
			d.By("site", 0, event.DeviceRevoked{Device: "n9", LastSeq: uint64(n / 2), Why: "lost"})
		}},
		{"weather readings, each amended", func(d *foldtest.Desk, n int) {
			for i := range n / 2 {
				w := event.WeatherObserved{
					Station: "yard",
					Samples: []event.Weather{{At: foldtest.Clock(i), Air: new(unit.Celsius(20))}},
				}
				of := d.By("n1", i, w)
				w.Samples = []event.Weather{{At: foldtest.Clock(i), Air: new(unit.Celsius(21))}}
				d.By("n1", i, event.Amended{Target: of.Hash(), Body: w, Why: "misread"})
			}
		}},
	}
}

// Who asks after many events came has each event read about once, whatever the shape of the record.
func TestEachEventIsReadAboutOnceWhateverTheShapeOfTheRecord(t *testing.T) {
	// times that an event is looked at: marked by itself, by its first writing, and where rights changed again
	const most = 3.5
	for _, shape := range hostile() {
		t.Run(shape.name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			shape.write(d, 1500)
			s := d.Site()
			s.Records()
			if n := s.Cost.Readings; float64(n) > most*float64(len(d.Events)) {
				t.Errorf("%d events were looked at %d times, over %g times each", len(d.Events), n, most)
			}
			before := s.Cost.Readings
			s.Add(d.By("s1", 700, event.Noted{Text: "of nobody's concern"}))
			s.Records()
			if n := s.Cost.Readings - before; n != 1 {
				t.Errorf("a note that concerns nothing else had %d events looked at, not itself alone", n)
			}
		})
	}
}

func TestADeviceCorrectsOneEventSoOftenAndWhatIsBeyondIsSetAsideWithItsReason(t *testing.T) {
	d := foldtest.NewDesk(t)
	of := d.By("n1", 0, event.Noted{Text: "first"})
	for i := range fold.MaxOfOne + 2 { // the later its seq, the earlier its clock
		d.By("n2", 500-i, event.Amended{Target: of.Hash(), Body: event.Noted{Text: fmt.Sprint(i)}, Why: "again"})
	}
	beyond := d.Events[len(d.Events)-1]
	d.By("n2", 501, event.Voided{Target: beyond.Hash(), Why: "of one beyond"})
	foremans := d.By("f1", 600, event.Amended{
		Target: of.Hash(), Body: event.Noted{Text: "the foreman's"},
		Why: "read the slip",
	})
	for range 2 {
		s := d.Site()
		if got, want := foldtest.Aside(s), "n2/65:cannot-be n2/66:cannot-be n2/67:no-target"; got != want {
			t.Errorf("set aside are %q, want %q", got, want)
		}
		r, _ := s.Record(beyond.Name)
		if want := "device n2 corrected n1/1 64 times before, and that is the most; correct the last of those that stand, or take it back"; r.Aside == nil || r.Aside.Why != want {
			t.Errorf("%s is set aside for %+v, want %q", r.Name, r.Aside, want)
		}
		if r, _ := s.Record(of.Name); len(r.Via) != 1 || r.Via[0].Name != foremans.Name {
			t.Errorf("%s is read by %v, not by the foreman's correction, which another device's many do not crowd out",
				of.Name, r.Via)
		}
		slices.Reverse(d.Events)
	}
}

// How much dearer an event of a hostile shape is to fold than a plain note, at three sizes, and at one with all that
// the record shows.
func BenchmarkHostileShapes(b *testing.B) {
	plain := map[string]float64{}
	run := func(b *testing.B, shape string, n int, what string, events []event.Event, ask func(*fold.Site)) {
		b.Run(fmt.Sprintf("%s/%d/%s", shape, n, what), func(b *testing.B) {
			for b.Loop() {
				ask(foldtest.Folded(events...))
			}
			each := float64(b.Elapsed()) / float64(b.N) / float64(len(events))
			key := fmt.Sprint(n, what)
			if plain[key] == 0 {
				plain[key] = each // of the first shape
			}
			b.ReportMetric(each, "ns/event")
			b.ReportMetric(each/plain[key], "×plain")
			b.ReportMetric(0, "ns/op")
		})
	}
	for _, shape := range hostile() {
		for _, n := range []int{1_000, 10_000, 100_000} {
			d := foldtest.NewDesk(b)
			shape.write(d, n)
			run(b, shape.name, n, "fold", d.Events, func(s *fold.Site) { s.Plan() })
			if n == 10_000 {
				run(b, shape.name, n, "findings", d.Events, func(s *fold.Site) { s.Findings() })
			}
		}
	}
}
