package placed_test

import (
	"testing"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

func TestSamplesOfAProbeArePutInOrderAgainOnlyWhereAReadingChanged(t *testing.T) {
	d := foldtest.NewDesk(t)
	coat := event.Coat{Zone: "A1", Face: event.Outer, Number: 1}
	run := func(minute int, c unit.Celsius) event.CureReadings {
		r := event.CureReadings{Coat: coat, Probe: "p"}
		for i := range 10 {
			r.Samples = append(r.Samples, event.Reading{At: foldtest.Clock(minute + i), Temperature: c})
		}
		return r
	}
	d.By("n1", 0, foldtest.Mixed(1, 0))
	first := d.By("p1", 30, run(20, 21))
	d.By("p1", 50, run(40, 22))
	s := d.Site()
	highest := func() (n int, c unit.Celsius) {
		z, _ := s.Zone("A1")
		for _, k := range z.Coats[0].Probes[0].Samples {
			n, c = n+1, max(c, k.Temp)
		}
		return n, c
	}
	if n, c := highest(); n != 20 || c != 22 || s.Cost.Samples != 20 {
		t.Fatalf("%d samples up to %v, %d put in order", n, c, s.Cost.Samples)
	}
	s.Add(d.By("n1", 60, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.5)))
	if n, _ := highest(); n != 20 || s.Cost.Samples != 20 {
		t.Errorf("a placement had samples put in order: %d of %d", s.Cost.Samples, n)
	}
	if z, _ := s.Zone("A1"); len(z.Coats[0].Placed) != 1 {
		t.Error("the placement is not in the coat")
	}
	s.Add(d.By("p1", 70, event.Amended{Target: first.Hash(), Body: run(20, 31), Why: "the wrong probe"}))
	if n, c := highest(); n != 20 || c != 31 || s.Cost.Samples != 40 {
		t.Errorf("after an amendment %d samples up to %v, %d put in order, not 40", n, c, s.Cost.Samples)
	}
}
