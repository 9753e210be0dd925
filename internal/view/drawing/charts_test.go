package drawing_test

import (
	"math"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view/drawing"
	vt "hod/internal/view/viewtest"
)

// Each day has what was placed on it and on all days before, by the days of the site's own place.
func TestProgressIsASumOverTheDaysOfTheSite(t *testing.T) {
	work := vt.All(vt.Whole(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0)), vt.Whole(vt.Batch(2), vt.CoatA1, vt.Clock(9, 0)),
		vt.Whole(vt.Batch(3), vt.CoatA2, vt.Clock(23, 30)))
	s := vt.Site(t, work...)
	later := vt.Clock(8, 0).AddDate(0, 0, 2)
	east := time.FixedZone("east", 3600)
	type day struct {
		date    string
		batches float64
	}
	for _, c := range []struct {
		name string
		in   *time.Location
		now  time.Time
		want []day
	}{
		{"all on one day", time.UTC, later, []day{{"2031-05-12", 3}}},
		{"an hour to the east midnight is between", east, later, []day{{"2031-05-12", 2}, {"2031-05-13", 3}}},
		{"what is still to come is not placed", time.UTC, vt.Clock(8, 30), []day{{"2031-05-12", 1}}},
		{"a part that is not yet done is not placed", time.UTC, vt.Clock(8, 7), nil},
	} {
		v := drawing.ChartsOf(s, c.now, c.in)
		vt.Is(t, c.name+": planned", v.PlannedM3, 2*vt.NeededM3)
		if len(v.Progress) != len(c.want) {
			t.Errorf("%s: %+v, want %+v", c.name, v.Progress, c.want)
			continue
		}
		for i, w := range c.want {
			got := v.Progress[i]
			vt.Same(t, c.name+": date", got.Date, w.date)
			vt.Is(t, c.name+": batches", got.Batches, w.batches)
			vt.Is(t, c.name+": placed", got.PlacedM3, w.batches*vt.BatchM3)
			midnight, _ := time.ParseInLocation(time.DateOnly, w.date, c.in)
			vt.At(t, c.name+": its end", &got.At, midnight.AddDate(0, 0, 1))
		}
	}
}

// A bar is the mean of what was placed over the coat's area, less the loss, beside what gauges read; a coat in which
// nothing lies has none.
func TestABarIsOfACoatInWhichSomethingLies(t *testing.T) {
	placed := vt.Placed(vt.Batch(1), vt.CoatA1, vt.Clock(8, 5), vt.Clock(8, 10), 1)
	b := placed.Body.(event.Placement)
	b.Gauges = []unit.As[unit.Length]{vt.As(unit.Length(0.011)), vt.As(unit.Length(0))}
	placed.Body = b
	s := vt.Site(t, vt.Mixed(vt.Batch(1), vt.Clock(8, 0)), vt.Tested(vt.Batch(1), vt.Clock(8, 1), vt.Weighed), placed)
	v := drawing.ChartsOf(s, vt.Noon, time.UTC)
	if len(v.Thickness) != 1 {
		t.Fatalf("bars %+v, want that of A1 alone", v.Thickness)
	}
	bar := v.Thickness[0]
	vt.Same(t, "zone", bar.Zone, "A1")
	vt.Same(t, "state", bar.State, "under way")
	vt.Is(t, "design", bar.DesignM, 0.012)
	vt.Is(t, "mean", bar.MeanM, vt.BatchM3/1.08/9)
	vt.List(t, "gauges; bare mesh is a reading of nought", bar.GaugeM, 0.011, 0)
}

// weighings are batches half an hour apart, each weighed at a unit weight.
func weighings(densities ...unit.Density) []sim.Work {
	var work []sim.Work
	for i, d := range densities {
		at := vt.Clock(7, 0).Add(time.Duration(i) * 30 * time.Minute)
		work = append(work, vt.Mixed(vt.Batch(i+1), at), vt.Tested(vt.Batch(i+1), at.Add(time.Minute), d))
	}
	return work
}

// The limits of a chart of individuals are the mean and three sigmas to each side, where a sigma is the mean moving
// range over 1.128 (NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2). A batch of 143 kg at a unit weight d
// yields 143/d, over what the design yields.
func TestAControlChartIsTheMeanAndTheMovingRange(t *testing.T) {
	var densities []unit.Density
	for i := range 20 {
		densities = append(densities, []unit.Density{2200, 2220, 2190, 2210}[i%4])
	}
	densities[12] = 2400 // far from all others
	var values []float64
	sum, ranges := 0.0, 0.0
	for i, d := range densities {
		values = append(values, vt.BatchKg/float64(d)/vt.DesignedM3)
		sum += values[i]
		if i > 0 {
			ranges += math.Abs(values[i] - values[i-1])
		}
	}
	mean, sigma := sum/20, ranges/19/1.128
	v := drawing.ChartsOf(vt.Site(t, weighings(densities...)...), vt.Clock(23, 0), time.UTC)
	if len(v.Control) != 2 {
		t.Fatalf("charts %+v, want of yield and w/cm", v.Control)
	}
	yield, ratio := v.Control[0], v.Control[1]
	vt.Same(t, "the first", yield.Figure, "relative yield")
	vt.Same(t, "batches", len(yield.Points), 20)
	vt.MaybeIs(t, "mean", yield.Mean, mean)
	vt.MaybeIs(t, "low", yield.Low, mean-3*sigma)
	vt.MaybeIs(t, "high", yield.High, mean+3*sigma)
	vt.MaybeIs(t, "a limit of the mix's own", yield.Limit, vt.None)
	for i, p := range yield.Points {
		vt.Is(t, p.Batch, p.Value, values[i])
		if outside := i == 12; outside != (p.Rule == "beyond three sigmas") {
			t.Errorf("%s at %g: rule %q", p.Batch, p.Value, p.Rule)
		}
	}
	vt.Same(t, "the second", ratio.Figure, "w/cm")
	vt.MaybeIs(t, "the mix's limit", ratio.Limit, 0.5)
	vt.MaybeIs(t, "mean of those that are all alike", ratio.Mean, vt.Ratio)
	vt.Is(t, "w/cm", ratio.Points[0].Value, vt.Ratio)
}

// Of few batches there are points and no limits, with the reason; a batch that was not weighed has no yield.
func TestAChartOfFewBatchesHasNoLimits(t *testing.T) {
	work := append(weighings(2200, 2210), vt.Mixed(vt.Batch(3), vt.Clock(9, 0)))
	v := drawing.ChartsOf(vt.Site(t, work...), vt.Noon, time.UTC)
	for i, points := range []int{2, 3} {
		c := v.Control[i]
		vt.Same(t, c.Figure+": points", len(c.Points), points)
		vt.MaybeIs(t, c.Figure+": mean", c.Mean, vt.None)
		if c.Note == "" {
			t.Errorf("%s: nothing says why there are no limits", c.Figure)
		}
	}
	if v := drawing.ChartsOf(vt.Site(t), vt.Noon, time.UTC); len(v.Control) != 0 || len(v.Progress) != 0 {
		t.Errorf("a site at which nothing was mixed has charts %+v", v)
	}
}

// A stock's line has a point for whatever changed it, with the balance after it.
func TestAStocksLineHasEachBalance(t *testing.T) {
	work := append([]sim.Work{vt.Received(vt.Clock(7, 0), 500, "")},
		vt.Whole(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0))...)
	work = append(work, vt.Counted(vt.Clock(10, 0), 450))
	v := drawing.StockLeafOf(vt.Site(t, work...), vt.Noon, time.UTC)
	var cement drawing.StockLine
	for _, l := range v.Lines {
		if l.Material == "cement" {
			cement = l
		}
	}
	want := []drawing.StockPoint{
		{At: vt.Clock(7, 0), AmountKg: 500, BalanceKg: 500},
		{At: vt.Clock(8, 0), AmountKg: -42, BalanceKg: 458},
		{At: vt.Clock(10, 0), AmountKg: 450, BalanceKg: 450},
	}
	if len(cement.Points) != len(want) {
		t.Fatalf("points %+v", cement.Points)
	}
	for i, w := range want {
		got := cement.Points[i]
		vt.Is(t, got.What+": balance", got.BalanceKg, w.BalanceKg)
		vt.Is(t, got.What+": amount", math.Abs(got.AmountKg), math.Abs(w.AmountKg))
		vt.At(t, got.What, &got.At, w.At)
	}
}

// Readings of 20 °C over ten hours are 200 °C·h over a datum of 0 °C (ASTM C1074, Nurse-Saul), each point with the sum
// up to it; a gap that is too long to bridge is shown and counts for nothing.
func TestACuresCourseIsTheSumOfItsReadings(t *testing.T) {
	var samples []event.Reading
	for _, h := range []int{0, 1, 2, 3, 4, 5, 14, 15, 16} {
		samples = append(samples, event.Reading{At: vt.Clock(8+h, 0), Temperature: 20})
	}
	now := vt.Clock(8, 0).AddDate(0, 0, 1)
	s := vt.Site(t, vt.Mixed(vt.Batch(1), vt.Clock(8, 0)),
		vt.Placed(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0), vt.Clock(8, 0), 1),
		vt.Wrote(now, event.CureReadings{Probe: "p1", Coat: vt.CoatA1, Samples: samples}))
	v, ok := drawing.ZoneLeafOf(s, now, time.UTC, "A1")
	if !ok || len(v.Cures) != 1 {
		t.Fatalf("cures %+v", v.Cures)
	}
	k := v.Cures[0]
	vt.Same(t, "probe", k.Probe, "p1")
	vt.Same(t, "readings", len(k.Readings), 9)
	vt.Is(t, "datum", k.DatumC, 0)
	vt.MaybeIs(t, "five hours on", k.Readings[5].MaturityCH, 100)
	vt.MaybeIs(t, "after the gap", k.Readings[6].MaturityCH, 100)
	vt.MaybeIs(t, "at the end", k.Readings[8].MaturityCH, 140)
	vt.Is(t, "now", k.Maturity, 140)
	vt.Same(t, "gaps", len(k.Gaps), 1)
	vt.At(t, "the gap's end", &k.Gaps[0][1], vt.Clock(22, 0))
	vt.Same(t, "points of a curve without a break", len(k.Strength), 0)
	if k.Caution == "" {
		t.Error("a course of maturity without its caution")
	}
	if _, ok := drawing.ZoneLeafOf(s, now, time.UTC, "Z9"); ok {
		t.Error("a zone that nobody planned has a page")
	}
}

// The mix's own curve is drawn from its breaks, from nought to a twentieth beyond the oldest, and goes up; its band
// holds it.
func TestACurveIsThatOfTheMixsBreaks(t *testing.T) {
	var work []sim.Work
	for _, b := range []struct {
		hours int
		load  unit.Force
	}{{24, 25e3}, {72, 50e3}, {168, 70e3}, {672, 90e3}} {
		work = append(work, vt.Wrote(vt.Clock(6, 0), event.SpecimensBroken{
			Mix: "face", Shape: event.Cube, Size: vt.Ref(unit.Length(0.05)), Age: time.Duration(b.hours) * time.Hour,
			Loads: []unit.Force{b.load}, MaturityCH: float64(20 * b.hours),
		}))
	}
	work = append(work, vt.Mixed(vt.Batch(1), vt.Clock(8, 0)),
		vt.Placed(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0), vt.Clock(8, 0), 1),
		vt.Wrote(vt.Clock(18, 0), event.CureReadings{Probe: "p1", Coat: vt.CoatA1, Samples: []event.Reading{
			{At: vt.Clock(8, 0), Temperature: 20}, {At: vt.Clock(9, 0), Temperature: 20},
		}}))
	v, _ := drawing.ZoneLeafOf(vt.Site(t, work...), vt.Clock(18, 0), time.UTC, "A1")
	if len(v.Cures) != 1 {
		t.Fatalf("cures %+v", v.Cures)
	}
	k := v.Cures[0]
	if len(k.Breaks) != 4 || len(k.Strength) == 0 {
		t.Fatalf("%d breaks and %d points of a curve", len(k.Breaks), len(k.Strength))
	}
	vt.Is(t, "the second break's maturity", k.Breaks[1].MaturityCH, 20*72)
	vt.Is(t, "the second break's strength", k.Breaks[1].Pa, 50e3/(0.05*0.05))
	last := k.Strength[len(k.Strength)-1]
	vt.Is(t, "the curve's end", last.MaturityCH, 1.05*20*672)
	for i, p := range k.Strength {
		if p.LowPa > p.Pa || p.HighPa < p.Pa || i > 0 && p.Pa <= k.Strength[i-1].Pa {
			t.Errorf("point %d of the curve: %+v", i, p)
		}
	}
}

func TestOfAMaterialOfWhichNobodyWroteWhatThereIsNoBalanceIsDrawn(t *testing.T) {
	if v := drawing.ChartsOf(vt.Site(t, weighings(2200)...), vt.Clock(23, 0), time.UTC); len(v.Stock) > 0 {
		t.Errorf("balances %+v of what nobody counted", v.Stock)
	}
}
