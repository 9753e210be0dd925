package ahead_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

// What is left is what is needed less what was placed, of the coats that are not finished.
func TestTheVolumeLeftIsWhatIsNeededLessWhatWasPlaced(t *testing.T) {
	for _, c := range []struct {
		name  string
		work  []sim.Work
		left  float64
		coats int32
		done  bool
	}{
		{"nothing placed", nil, 2 * viewtest.NeededM3, 2, false},
		{
			"one batch", viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
			2*viewtest.NeededM3 - viewtest.BatchM3, 2, false,
		},
		{
			"a coat finished thin takes no more",
			append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
				viewtest.Wrote(viewtest.Clock(9, 0), event.ProgressStated{
					Coat:     viewtest.CoatA1,
					Complete: viewtest.As(unit.Share(1)),
				})), viewtest.NeededM3, 1, false,
		},
		{"both finished", append(viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
			viewtest.Whole(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(9, 0))),
			viewtest.Wrote(viewtest.Clock(10, 0), event.ProgressStated{
				Coat:     viewtest.CoatA1,
				Complete: viewtest.As(unit.Share(1)),
			}),
			viewtest.Wrote(viewtest.Clock(10, 1), event.ProgressStated{
				Coat:     viewtest.CoatA2,
				Complete: viewtest.As(unit.Share(1)),
			})), 0, 0, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := ahead.ForecastOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), c.work...), viewtest.Noon,
				time.UTC)
			viewtest.Is(t, "left", v.VolumeM3, c.left)
			viewtest.Same(t, "coats left", v.CoatsLeft, c.coats)
			viewtest.Same(t, "done", v.Done, c.done)
			if v.Batches == nil {
				t.Fatal("batches left are not known")
			}
			if c.done && (v.Batches.P95 != 0 || v.Width != nil || v.Pace != nil) {
				t.Errorf("done, and left are %+v, width %v, pace %v", *v.Batches, v.Width, v.Pace)
			}
		})
	}
}

// The quantiles of all that is left are in order, and the distribution climbs to one.
func TestADistributionClimbsToOne(t *testing.T) {
	v := ahead.ForecastOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()),
		viewtest.EveryHalfHour(2, viewtest.Clock(8, 0))...), viewtest.Noon, time.UTC)
	b := v.Batches
	if q := []int32{b.P05, b.P10, b.P25, b.P50, b.P75, b.P90, b.P95}; !slices.IsSorted(q) {
		t.Errorf("quantiles %v", q)
	}
	last := 0.0
	for i, k := range v.Chances {
		if k.Cumulative < last || i > 0 && k.Batches <= v.Chances[i-1].Batches {
			t.Errorf("the distribution does not climb: %+v", v.Chances)
		}
		last = k.Cumulative
	}
	viewtest.Is(t, "the end of it", last, 1)
	at := func(n int32) float64 {
		c := 0.0
		for _, k := range v.Chances {
			if k.Batches <= n {
				c = k.Cumulative
			}
		}
		return c
	}
	if at(b.P50) < 0.5 || at(b.P50-1) >= 0.5 || at(b.P90) < 0.9 || at(b.P90-1) >= 0.9 {
		t.Errorf("half by %d (%g), nine in ten by %d (%g)", b.P50, at(b.P50), b.P90, at(b.P90))
	}
}

// A batch that is mixed and lies nowhere yet is under way, not left. Half of one is half.
func TestWhatIsMixedAndNotPlacedIsUnderWay(t *testing.T) {
	for _, c := range []struct {
		name string
		work []sim.Work
		want float64
	}{
		{"none", viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 0)), 0},
		{"one", []sim.Work{viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(11, 50))}, 1},
		{"half of one", []sim.Work{
			viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(11, 40)),
			viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 45), viewtest.Clock(11, 50), 0.5),
		}, 0.5},
	} {
		v := ahead.ForecastOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), c.work...), viewtest.Noon, time.UTC)
		viewtest.Is(t, c.name, v.InTransit, c.want)
	}
}

// A batch takes 42 kg of cement and 85 of sand. Of 500 kg of cement 42 are gone with each batch.
func TestMaterialsAreDrawnByTheBatchesLeft(t *testing.T) {
	bodies := viewtest.Week(append(viewtest.Plan(), event.MaterialPlanned{
		Material: "cement",
		Bag:      viewtest.Ref(unit.Mass(21)),
	}))
	v := ahead.ForecastOf(viewtest.Planned(t, bodies, append(viewtest.EveryHalfHour(2, viewtest.Clock(8, 0)),
		viewtest.Received(viewtest.Clock(7, 0), 500, ""))...),
		viewtest.Noon, time.UTC)
	need := func(name string) ahead.MaterialNeed {
		i := slices.IndexFunc(v.Materials, func(m ahead.MaterialNeed) bool { return m.Material == name })
		if i < 0 {
			t.Fatalf("no %s among %+v", name, v.Materials)
		}
		return v.Materials[i]
	}
	c, s := need("cement"), need("sand")
	viewtest.Is(t, "cement a batch", c.PerBatchKg, 42)
	viewtest.MaybeIs(t, "bags a batch", c.PerBatchBags, 2)
	viewtest.Is(t, "cement, as likely as not", c.Need50Kg, 42*float64(v.Batches.P50))
	viewtest.Is(t, "cement, nine times in ten", c.Need90Kg, 42*float64(v.Batches.P90))
	viewtest.MaybeIs(t, "the same in bags", c.Need90Bags, 2*float64(v.Batches.P90))
	viewtest.MaybeIs(t, "on hand", c.OnHandKg, 500-84)
	viewtest.MaybeIs(t, "bags on hand", c.OnHandBags, 416.0/21)
	viewtest.MaybeIs(t, "short", c.ShortKg, 0)
	viewtest.MaybeIs(t, "chance that it does", c.SufficesShare, 1)
	if c.LastsBatches != nil || c.ShortBags != nil || !c.Counted {
		t.Errorf("416 kg do for what is left: %+v", c)
	}
	viewtest.Is(t, "sand a batch", s.PerBatchKg, 85)
	viewtest.MaybeIs(t, "sand on hand", s.OnHandKg, viewtest.None)
	viewtest.MaybeIs(t, "sand short", s.ShortKg, viewtest.None)
	viewtest.MaybeIs(t, "factor of the damp", s.DampFactor, 1)
	viewtest.MaybeIs(t, "moisture", s.Moisture, viewtest.None)
	if s.Counted || s.RunsOut50 != nil {
		t.Errorf("nobody wrote of the sand: %+v", s)
	}
	if c.DampFactor != nil {
		t.Errorf("cement is damp by %g", *c.DampFactor)
	}
}

// 50 kg of cement make one batch of 42: the second has 34 too little.
func TestAStockThatDoesNotDoIsShort(t *testing.T) {
	bodies := viewtest.Week(append(viewtest.Plan(), event.MaterialPlanned{
		Material: "cement",
		Bag:      viewtest.Ref(unit.Mass(20)),
	}))
	v := ahead.ForecastOf(viewtest.Planned(t, bodies, viewtest.Counted(viewtest.Clock(7, 0), 50)), viewtest.Noon,
		time.UTC)
	i := slices.IndexFunc(v.Materials, func(m ahead.MaterialNeed) bool { return m.Material == "cement" })
	m := v.Materials[i]
	viewtest.MaybeIs(t, "short, nine times in ten at most", m.ShortKg, 42*float64(v.Batches.P90)-50)
	if m.LastsBatches == nil || *m.LastsBatches != 1 {
		t.Errorf("it makes %v batches, want 1", m.LastsBatches)
	}
	if want := int32(math.Ceil((42*float64(v.Batches.P90) - 50) / 20)); m.ShortBags == nil || *m.ShortBags != want {
		t.Errorf("bags short %v, want %d", m.ShortBags, want)
	}
	viewtest.MaybeIs(t, "chance that it does", m.SufficesShare, 0)
}

// Sand that was weighed at 4 % moisture, of its dry mass, with 1 % absorption: a batch's 85 kg, saturated and surface
// dry, weigh 85 × 1.04/1.01 = 87.525 kg as they lie.
func TestSandIsReckonedDamp(t *testing.T) {
	w := viewtest.BatchWith(1, viewtest.Clock(8, 0),
		func(b *event.BatchMixed) { b.SandMoisture = viewtest.Ref(unit.Share(0.04)) })
	v := ahead.ForecastOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), w), viewtest.Noon, time.UTC)
	i := slices.IndexFunc(v.Materials, func(m ahead.MaterialNeed) bool { return m.Material == "sand" })
	m := v.Materials[i]
	if math.Abs(m.PerBatchKg-85*1.04/1.01) > 1e-6 {
		t.Errorf("a batch takes %g kg, want %g", m.PerBatchKg, 85*1.04/1.01)
	}
	viewtest.MaybeIs(t, "moisture", m.Moisture, 0.04)
	if m.DampFactor == nil || math.Abs(*m.DampFactor-1.04/1.01) > 1e-9 {
		t.Errorf("factor %v", m.DampFactor)
	}
	if !strings.Contains(m.Damp, "4%") || !strings.Contains(m.Damp, "north/2031-05-12/1") {
		t.Errorf("in words %q", m.Damp)
	}
}

// A pace needs three batches of a crew that followed one another.
func TestAPaceIsKnownFromThreeBatchesOn(t *testing.T) {
	for _, c := range []struct {
		batches int
		known   bool
	}{{0, false}, {2, false}, {4, true}} {
		bodies := viewtest.Week(viewtest.Plan())
		for i, b := range bodies { // so much that it lasts
			if z, zone := b.(event.ZonePlanned); zone {
				z.Area = viewtest.As(unit.Area(200))
				bodies[i] = z
			}
		}
		v := ahead.ForecastOf(viewtest.Planned(t, bodies, viewtest.EveryHalfHour(c.batches, viewtest.Clock(8, 0))...),
			viewtest.Noon, time.UTC)
		if (v.Pace != nil) != c.known || (v.WorkHours50 != nil) != c.known || (v.Finish50 != nil) != c.known {
			t.Errorf("after %d batches: pace %v, work %v, finish %v", c.batches, v.Pace, v.WorkHours50, v.Finish50)
		}
		if !c.known {
			if v.Tomorrow.Batches != nil || v.Tomorrow.Suffices || v.Tomorrow.Note == "" {
				t.Errorf("after %d batches tomorrow is %+v", c.batches, v.Tomorrow)
			}
			continue
		}
		if *v.Pace < 1.2 || *v.Pace > 2.8 { // one each half hour
			t.Errorf("pace %g batches an hour, want about 2", *v.Pace)
		}
		viewtest.Is(t, "work", *v.WorkHours50, float64(v.Batches.P50)/(*v.Pace))
		viewtest.Same(t, "tomorrow", v.Tomorrow.Date, "2031-05-13")
		viewtest.Is(t, "hours of tomorrow", v.Tomorrow.Hours, 10)
		if v.Tomorrow.Batches == nil || *v.Tomorrow.Batches < 5 || *v.Tomorrow.Batches > 40 {
			t.Errorf("batches of tomorrow %v", v.Tomorrow.Batches)
		}
		if f := v.Finish; f.P05.After(*f.P50) || f.P50.After(*f.P95) || !v.Finish50.Equal(*f.P50) {
			t.Errorf("finish %+v", f)
		}
		viewtest.Same(t, "gaps", v.Width.Gaps, int32(c.batches-1))
		viewtest.Same(t, "weighed", v.Width.Weighed, int32(c.batches))
	}
}

// The hours that the forecast weather forbids are not worked: 10 h less the 2 of rain.
func TestTomorrowsHoursAreThoseThatTheWeatherAllows(t *testing.T) {
	rain := func(h int, mm float64) event.Weather {
		return event.Weather{
			At:  viewtest.Clock(0, 0).AddDate(0, 0, 1).Add(time.Duration(h) * time.Hour),
			Air: new(unit.Celsius(15)), RainMillimetres: &mm,
		}
	}
	f := viewtest.Wrote(viewtest.Clock(6, 0), event.WeatherForecast{
		Source: "office", IssuedAt: viewtest.Clock(6, 0),
		Samples: []event.Weather{rain(9, 3), rain(10, 2), rain(11, 0), rain(20, 9)},
	})
	v := ahead.ForecastOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), f), viewtest.Noon, time.UTC)
	viewtest.Is(t, "hours", v.Tomorrow.Hours, 8)
}

func TestWhatIsNotPlannedIsNotKnown(t *testing.T) {
	v := ahead.ForecastOf(viewtest.Planned(t, nil), viewtest.Noon, time.UTC)
	if v.Batches != nil || v.Done || v.CoatsLeft != 0 || v.Pace != nil || v.Width != nil {
		t.Errorf("nothing is planned, and it is said %+v", v)
	}
	if len(v.Missing) == 0 || !strings.HasPrefix(v.Missing[0], "no coat is planned") {
		t.Errorf("missing %q", v.Missing)
	}
}

func TestAMixWithoutFiguresLeavesItsCoatsOut(t *testing.T) {
	bodies := viewtest.Week(viewtest.Plan())
	m := bodies[2].(event.MixPlanned)
	m.Constituents[1].Amount = event.Amount{Volume: 0.05, ByVolume: true} // nobody said what a volume of it weighs
	bodies[2] = m
	v := ahead.ForecastOf(viewtest.Planned(t, bodies), viewtest.Noon, time.UTC)
	if v.Batches != nil {
		t.Errorf("batches of a mix without figures: %+v", *v.Batches)
	}
	if len(v.Missing) < 2 || !strings.HasSuffix(v.Missing[0], "its mix face has no figures") {
		t.Errorf("missing %q", v.Missing)
	}
	viewtest.Same(t, "coats left", v.CoatsLeft, 2)
}

// The forecast of one mix: its volume, and what it yields. One batch of 0.065 m³ where 0.0654 were designed.
func TestAMixsForecastHasItsYield(t *testing.T) {
	v := ahead.ForecastOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()),
		viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0))...), viewtest.Noon, time.UTC)
	if len(v.Mixes) != 1 {
		t.Fatalf("mixes %+v", v.Mixes)
	}
	m := v.Mixes[0]
	viewtest.Same(t, "mix", m.Mix, "face")
	viewtest.Same(t, "tested", m.Tested, 1)
	viewtest.Is(t, "volume", m.VolumeM3, 2*viewtest.NeededM3-viewtest.BatchM3)
	// learned, towards the one that was weighed
	if m.YieldMeanM3 == nil || *m.YieldMeanM3 <= viewtest.BatchM3 || *m.YieldMeanM3 >= viewtest.DesignedM3 {
		t.Errorf("yield %v, want between %g and %g", m.YieldMeanM3, viewtest.BatchM3, viewtest.DesignedM3)
	}
	viewtest.Same(t, "batches", m.P50, v.Batches.P50)
}

// Nothing of another's clock: two sites of the same events forecast the same.
func TestTheSameEventsForecastTheSame(t *testing.T) {
	work := viewtest.EveryHalfHour(4, viewtest.Clock(8, 0))
	a, b := ahead.ForecastOf(viewtest.Site(t, work...), viewtest.Noon, time.UTC), ahead.ForecastOf(backwards(t, work),
		viewtest.Noon, time.UTC)
	if *a.Batches != *b.Batches || a.VolumeM3 != b.VolumeM3 {
		t.Errorf("forward %+v of %g, backward %+v of %g", *a.Batches, a.VolumeM3, *b.Batches, b.VolumeM3)
	}
}

// backwards folds the events of a site last first.
func backwards(t testing.TB, work []sim.Work) *fold.Site {
	t.Helper()
	d := viewtest.NewDesk(t, work...)
	slices.Reverse(d.D.Events)
	return d.Site()
}

// What is left for tomorrow is what is on hand less what the rest of today takes.
func TestTomorrowsStockIsWhatTodayLeaves(t *testing.T) {
	bodies := viewtest.Week(viewtest.Plan())
	for i, b := range bodies { // so much that both days are full of it
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(400))
			bodies[i] = z
		}
	}
	v := ahead.ForecastOf(viewtest.Planned(t, bodies, append(viewtest.EveryHalfHour(6, viewtest.Clock(8, 0)),
		viewtest.Received(viewtest.Clock(7, 0), 2000, ""))...),
		viewtest.Noon, time.UTC)
	i := slices.IndexFunc(v.Tomorrow.Materials, func(m ahead.MaterialNeed) bool { return m.Material == "cement" })
	if i < 0 {
		t.Fatalf("tomorrow takes %+v", v.Tomorrow.Materials)
	}
	m := v.Tomorrow.Materials[i]
	viewtest.MaybeIs(t, "on hand", m.OnHandKg, 2000-6*42)
	if m.Left50Kg == nil {
		t.Fatal("nothing is said of what today leaves")
	}
	today := (*m.OnHandKg - *m.Left50Kg) / 42 // five hours of two batches each, less those that are not begun in time
	if today < 5 || today > 12 || math.Abs(today-math.Round(today)) > 1e-6 {
		t.Errorf("the rest of today takes %g batches, want about ten whole ones", today)
	}
	viewtest.Is(t, "tomorrow, as likely as not", m.Need50Kg, 42*float64(*v.Tomorrow.P50))
}

// What is short tomorrow counts what today still takes of what is on hand, and the flag says so.
func TestAFlagOfAShortStockSaysWhatIsLeftForTomorrow(t *testing.T) {
	bodies := viewtest.Week(viewtest.Plan())
	for i, b := range bodies { // so much that both days are full of it
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(400))
			bodies[i] = z
		}
	}
	s := viewtest.Planned(t, bodies, append(viewtest.EveryHalfHour(6, viewtest.Clock(8, 0)),
		viewtest.Received(viewtest.Clock(7, 0), 800, ""))...)
	flags := daily.FlagsOf(s, viewtest.Noon, time.UTC, true).Flags
	i := slices.IndexFunc(flags, func(f daily.Flag) bool { return f.Code == fold.StockShort })
	if i < 0 {
		t.Fatalf("no flag of a stock among %+v", flags)
	}
	f := flags[i]
	if !strings.Contains(f.Text, "; after what today still takes, ") || !strings.HasSuffix(f.Text, " are lacking") {
		t.Errorf("it says %q", f.Text)
	}
	if !slices.ContainsFunc(f.Evidence,
		func(e daily.Fact) bool { return strings.HasPrefix(e.Name, "left of it for tomorrow") && e.Value != "" }) {
		t.Errorf("its evidence does not say what is left for tomorrow: %+v", f.Evidence)
	}
}

// Where the next day has an order, the flag of a short stock says what the order has beside what the pace would take.
func TestAFlagOfAShortStockSaysWhatTheDaysOrderHas(t *testing.T) {
	d := viewtest.NewDesk(t, append(viewtest.EveryHalfHour(6, viewtest.Clock(8, 0)),
		viewtest.Received(viewtest.Clock(7, 0), 800, ""))...)
	for _, b := range viewtest.Week(viewtest.Plan()) {
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(400))
			d.Write("f1", "office", viewtest.Clock(6, 0), z)
		}
	}
	d.Write("f1", "office", viewtest.Clock(11, 30), event.DayOrdered{
		Day: "2031-05-13", Start: viewtest.Clock(7, 0).AddDate(0, 0, 1), Crews: []event.Crew{"north"}, Batches: 11,
		Bays: []event.DayBay{{Zones: []event.Zone{"A1"}}},
	})
	s := d.Site()
	flags := daily.FlagsOf(s, viewtest.Noon, time.UTC, true).Flags
	i := slices.IndexFunc(flags, func(f daily.Flag) bool { return f.Code == fold.StockShort })
	if i < 0 {
		t.Fatalf("no flag of a stock among %+v", flags)
	}
	if f := flags[i]; !strings.Contains(f.Text, "by the crews' pace") || !strings.HasSuffix(f.Text, ": 11") {
		t.Errorf("it says %q", f.Text)
	}
}
