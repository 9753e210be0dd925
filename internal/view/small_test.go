package view_test

import (
	"fmt"
	"math"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
)

// The site of the tests of values. All its numbers can be worked out on paper:
//
//	zones A1 and A2, 9 m² each, one edge of 3 m, one coat of 12 mm: 9 × 0.012 = 0.108 m³, with 8 % loss 0.11664 m³
//	a batch: 42 kg cement, 85 kg sand saturated and surface dry, 16 kg water: 143 kg, w/cm 16/42
//	weighed at 2200 kg/m³ it made 143/2200 = 0.065 m³
//	as designed: (42/3.15 + 85/2.65 + 16/1) / 999.55 m³ (water weighs 62.4 lb/ft³) over 1 less 6 % air = 65.36 litres
const (
	batchKg    = 143.0
	weighed    = 2200.0
	batchM3    = batchKg / weighed
	neededM3   = 9 * 0.012 * 1.08
	ratio      = 16.0 / 42
	designedM3 = (42/3.15 + 85/2.65 + 16.0) / (62.4 * 0.45359237 / 0.028316846592) / 0.94
)

// day is the date on which it plays.
const day = "2031-05-12"

// clock is an instant of that day.
func clock(hour, minute int) time.Time { return time.Date(2031, 5, 12, hour, minute, 0, 0, time.UTC) }

func batch(n int) event.Batch { return event.Batch{Crew: "north", Day: day, Number: n} }

func batchOf(crew event.Crew, n int) event.Batch { return event.Batch{Crew: crew, Day: day, Number: n} }

var coatA1, coatA2 = event.Coat{Zone: "A1", Face: event.Outer, Number: 1}, event.Coat{
	Zone: "A2", Face: event.Outer,
	Number: 1,
}

func charges(cement, sand, water unit.Mass) []event.Charge {
	return []event.Charge{
		{Constituent: "cement", Amount: event.Amount{Mass: cement}},
		{Constituent: "sand", Amount: event.Amount{Mass: sand}},
		{Constituent: "water", Amount: event.Amount{Mass: water}},
	}
}

// mixed is a batch as designed; water met cement, mixing began and it was ready at one instant.
func mixed(id event.Batch, at time.Time) sim.Work {
	w := wrote(at, event.BatchMixed{
		Batch: id, Mix: "face", Revision: 1, Charges: charges(42, 85, 16), MixedFrom: at, MixedTo: at, WaterAt: at,
	})
	w.Crew = id.Crew
	return w
}

func tested(id event.Batch, at time.Time, density unit.Density) sim.Work {
	w := wrote(at, event.BatchTested{Batch: id, UnitWeight: ref(density)})
	w.Crew = id.Crew
	return w
}

// placed is a share of a batch in a coat; nothing of the rest is said.
func placed(id event.Batch, coat event.Coat, from, to time.Time, share unit.Share) sim.Work {
	p := event.Placement{Batch: id, Coat: coat, From: from, To: to}
	if share < 1 {
		p.Part.Share = ref(share)
	}
	w := wrote(to, p)
	w.Crew = id.Crew
	return w
}

// whole is a batch mixed, weighed and placed within ten minutes.
func whole(id event.Batch, coat event.Coat, at time.Time) []sim.Work {
	return []sim.Work{
		mixed(id, at), tested(id, at.Add(time.Minute), weighed),
		placed(id, coat, at.Add(5*time.Minute), at.Add(10*time.Minute), 1),
	}
}

func all(work ...[]sim.Work) []sim.Work {
	var sum []sim.Work
	for _, w := range work {
		sum = append(sum, w...)
	}
	return sum
}

// planned is a site of another plan.
func planned(t testing.TB, bodies []event.Body, work ...sim.Work) *fold.Site {
	t.Helper()
	events, err := simtest.Written(bodies, work, noon.Add(-12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	s := fold.New("tarn", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	return s
}

// near tells numbers apart that differ by more than the last figures of a sum.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*max(1, math.Abs(a), math.Abs(b)) }

// is compares a number of a view with what was worked out.
func is(t testing.TB, what string, got, want float64) {
	t.Helper()
	if !near(got, want) {
		t.Errorf("%s is %g, want %g", what, got, want)
	}
}

// maybeIs compares a number that may be absent; a want of NaN is absent.
func maybeIs(t testing.TB, what string, got *float64, want float64) {
	t.Helper()
	switch {
	case got == nil && math.IsNaN(want):
	case got == nil:
		t.Errorf("%s is absent, want %g", what, want)
	case math.IsNaN(want):
		t.Errorf("%s is %g, want none", what, *got)
	default:
		is(t, what, *got, want)
	}
}

// none is the number of what is absent.
var none = math.NaN()

// at compares an instant that may be absent; a zero one is absent.
func at(t testing.TB, what string, got *time.Time, want time.Time) {
	t.Helper()
	switch {
	case got == nil && want.IsZero():
	case got == nil:
		t.Errorf("%s is absent, want %s", what, want)
	case !got.Equal(want):
		t.Errorf("%s is %s, want %s", what, got, want)
	}
}

func same[V comparable](t testing.TB, what string, got, want V) {
	t.Helper()
	if got != want {
		t.Errorf("%s is %v, want %v", what, got, want)
	}
}

func list[V any](t testing.TB, what string, got []V, want ...V) {
	t.Helper()
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("%s: %v, want %v", what, got, want)
	}
}
