package fold_test

import (
	"testing"

	"hod/internal/event"
	"hod/internal/unit"
)

func TestSamplesOfAProbeArePutInOrderAgainOnlyWhereAReadingChanged(t *testing.T) {
	d := newDesk(t)
	coat := event.Coat{Zone: "A1", Face: event.Outer, Number: 1}
	run := func(minute int, c unit.Celsius) event.CureReadings {
		r := event.CureReadings{Coat: coat, Probe: "p"}
		for i := range 10 {
			r.Samples = append(r.Samples, event.Reading{At: clock(minute + i), Temperature: c})
		}
		return r
	}
	d.by("n1", 0, mixed(1, 0))
	first := d.by("p1", 30, run(20, 21))
	d.by("p1", 50, run(40, 22))
	s := d.site()
	highest := func() (n int, c unit.Celsius) {
		z, _ := s.Zone("A1")
		for _, k := range z.Coats[0].Probes[0].Samples {
			n, c = n+1, max(c, k.Temp)
		}
		return n, c
	}
	if n, c := highest(); n != 20 || c != 22 || s.Samples() != 20 {
		t.Fatalf("%d samples up to %v, %d put in order", n, c, s.Samples())
	}
	s.Add(d.by("n1", 60, share(put(1, "A1", 5, 9), 0.5)))
	if n, _ := highest(); n != 20 || s.Samples() != 20 {
		t.Errorf("a placement had samples put in order: %d of %d", s.Samples(), n)
	}
	if z, _ := s.Zone("A1"); len(z.Coats[0].Placed) != 1 {
		t.Error("the placement is not in the coat")
	}
	s.Add(d.by("p1", 70, event.Amended{Target: first.Hash(), Body: run(20, 31), Why: "the wrong probe"}))
	if n, c := highest(); n != 20 || c != 31 || s.Samples() != 40 {
		t.Errorf("after an amendment %d samples up to %v, %d put in order, not 40", n, c, s.Samples())
	}
}
