package ahead_test

import (
	"testing"
	"time"

	"hod/internal/view/ahead"
	vt "hod/internal/view/viewtest"
)

// A stock is told against what is needed nine times in ten, by what is left for the day where that is known. What was
// never counted, or is not needed, has no share; a stock that the record says is below nought is nought.
func TestAStockIsAShareOfWhatIsNeeded(t *testing.T) {
	for _, c := range []struct {
		name string
		need ahead.MaterialNeed
		want float64
	}{
		{"half", ahead.MaterialNeed{OnHandKg: new(50.0), Need90Kg: 100}, 0.5},
		{"none of it is left", ahead.MaterialNeed{OnHandKg: new(0.0), Need90Kg: 100}, 0},
		{"less than none", ahead.MaterialNeed{OnHandKg: new(-3.0), Need90Kg: 100}, 0},
		{"what is left for the day counts", ahead.MaterialNeed{
			OnHandKg: new(300.0), Left50Kg: new(120.0),
			Need90Kg: 100,
		}, 1.2},
		{"never counted", ahead.MaterialNeed{Need90Kg: 100}, vt.None},
		{"not needed", ahead.MaterialNeed{OnHandKg: new(50.0)}, vt.None},
	} {
		share, known := c.need.OfNeed()
		var got *float64
		if known {
			got = &share
		}
		vt.MaybeIs(t, c.name, got, c.want)
	}
}

// What is short presses first, then what was never counted, then the rest as it came; what is not needed does not.
func TestWhatIsShortPressesFirst(t *testing.T) {
	needs := []ahead.MaterialNeed{
		{Material: "fibre", OnHandKg: new(9.0), Need90Kg: 3, ShortKg: new(0.0)},
		{Material: "sand", Need90Kg: 800},
		{Material: "dye", OnHandKg: new(1.0)},
		{Material: "ash", OnHandKg: new(90.0), Need90Kg: 30, ShortKg: new(0.0)},
		{Material: "cement", OnHandKg: new(100.0), Need90Kg: 400, ShortKg: new(300.0)},
	}
	var got []string
	for _, n := range ahead.MostPressing(needs) {
		got = append(got, n.Material)
	}
	vt.List(t, "order", got, "cement", "sand", "fibre", "ash")
	vt.Same(t, "what was given stays as it was", needs[0].Material, "fibre")
}

// The fan begins with all that is left and ends with as good as none, its lines in order at each step; without a pace
// nobody knows when, and there is no fan.
func TestTheFanKeepsItsLinesInOrder(t *testing.T) {
	bodies := vt.Week(vt.Plan())
	now := vt.Clock(10, 0)
	o := ahead.OutlookOf(vt.Planned(t, bodies, vt.EveryHalfHour(3, vt.Clock(8, 0))...), now, time.UTC)
	fan, left := o.Fan(), o.Left()
	if len(fan) == 0 || left == nil {
		t.Fatalf("fan %v, left %v", fan, left)
	}
	vt.At(t, "its beginning", &fan[0].At, now)
	vt.Is(t, "at first, as likely as not", fan[0].P50, float64(left.P50))
	vt.Is(t, "at last, as likely as not", fan[len(fan)-1].P50, 0)
	for i, p := range fan {
		if p.P05 > p.P25 || p.P25 > p.P50 || p.P50 > p.P75 || p.P75 > p.P95 {
			t.Errorf("lines cross at step %d: %+v", i, p)
		}
		if i > 0 && (p.P50 > fan[i-1].P50 || !p.At.After(fan[i-1].At)) {
			t.Errorf("batches left grow at step %d: %+v after %+v", i, p, fan[i-1])
		}
	}
	unpaced := ahead.OutlookOf(vt.Planned(t, bodies), now, time.UTC)
	if fan := unpaced.Fan(); fan != nil {
		t.Errorf("a site that knows no pace has the fan %+v", fan)
	}
}
