package mixed_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/history"
	"hod/internal/mixed"
	"hod/internal/unit"
)

// A batch of the small plan by absolute volumes (ACI 211.1), water at 62.4 lb/ft³, 999.552 kg/m³; by hand: (42/3.15 +
// 85/2.65 + 16/1)/0.999552 = 61.4363 L without air from 143 kg, and 61.4363/(1 − 0.06) = 65.3578 L as designed. Its
// sand is taken at SSD where no moisture was weighed.
const (
	massCharged = 143.0
	airFreeL    = 61.4363
	designL     = 65.3578
)

// one batch of a desk, which is there.
func one(t *testing.T, s *fold.Site) *mixed.Batch {
	t.Helper()
	b, ok := s.Batch(foldtest.North(1))
	if !ok {
		t.Fatal("batch 1 is not in the record")
	}
	return b
}

func near(got, want, within float64) bool { return math.Abs(got-want) <= within }

// found of a batch: each finding that it has, as code: text, in order.
func found(b *mixed.Batch) string {
	var all []string
	for _, f := range b.Findings {
		all = append(all, f.Code+": "+f.Text)
	}
	return strings.Join(all, "\n")
}

func codes(b *mixed.Batch) string {
	var all []string
	for _, f := range b.Findings {
		all = append(all, f.Code)
	}
	return strings.Join(all, " ")
}

// planMix has the small plan's mix planned anew with a change.
func planMix(d *foldtest.Desk, change func(*event.MixPlanned)) {
	d.By("f1", 0, foldtest.Face(1, change, d.Planned(foldtest.IsMix)))
}

func discarded(part event.Part) event.BatchDiscarded {
	return event.BatchDiscarded{Batch: foldtest.North(1), Part: part, Why: "stiff"}
}

func TestABatchIsDealtOutInTheOrderInWhichItWasPlacedAndNothingOfItIsLost(t *testing.T) {
	half := event.Part{Share: foldtest.Ref(unit.Share(0.5))}
	share := func(of unit.Share, from int) event.Placement {
		return foldtest.Share(foldtest.Put(1, "A1", from, from+4), of)
	}
	litres := func(l float64, from int) event.Placement {
		return foldtest.Volume(foldtest.Put(1, "A1", from, from+4), l)
	}
	weighed := event.BatchTested{Batch: foldtest.North(1), UnitWeight: foldtest.Ref(unit.Density(2200))} // 65 L: C138
	for name, k := range map[string]struct {
		took []event.Body // each written five minutes after the one before
		want string       // shares placed, in order; discarded; left; what is set aside
	}{
		"all of it, nobody having said how much": {
			[]event.Body{foldtest.Put(1, "A1", 5, 9)}, "[1.000] 0.000 0.000 ",
		},
		"a quarter, then the rest": {
			[]event.Body{share(0.25, 5), foldtest.Put(1, "A2", 10, 14)}, "[0.250 0.750] 0.000 0.000 ",
		},
		"the rest, written before the quarter that went before it": {
			[]event.Body{foldtest.Put(1, "A2", 10, 14), share(0.25, 5)}, "[0.250 0.750] 0.000 0.000 ",
		},
		"half of it thrown away, a quarter placed": {
			[]event.Body{discarded(half), share(0.25, 12)}, "[0.250] 0.500 0.250 ",
		},
		"what is left thrown away": {
			[]event.Body{share(0.25, 1), discarded(event.Part{})}, "[0.250] 0.750 0.000 ",
		},
		"more than is left by share, however little": {
			[]event.Body{share(0.6, 5), share(0.41, 10)}, "[0.600] 0.000 0.400 n1/3:placed-beyond-mixed",
		},
		"too much, and then what there is": {
			[]event.Body{share(0.6, 5), share(0.41, 10), share(0.4, 15)},
			"[0.600 0.400] 0.000 0.000 n1/3:placed-beyond-mixed",
		},
		"nothing is left to throw away": {
			[]event.Body{foldtest.Put(1, "A1", 1, 4), discarded(event.Part{})},
			"[1.000] 0.000 0.000 n1/3:placed-beyond-mixed",
		},
		// what an unweighed batch holds is known to 15 % and what a weighed one holds to 5 %: common practice, no
		// source
		"half by volume, of the design's 65.36 L": {
			[]event.Body{litres(32.679, 5)}, "[0.500] 0.000 0.500 ",
		},
		"14 % more than the design by volume": {
			[]event.Body{litres(designL*1.14, 5)}, "[1.140] 0.000 0.000 ",
		},
		"16 % more than the design by volume": {
			[]event.Body{litres(designL*1.16, 5)}, "[] 0.000 1.000 n1/2:placed-beyond-mixed",
		},
		"4 % more than was weighed": {
			[]event.Body{weighed, litres(65*1.04, 6)}, "[1.040] 0.000 0.000 ",
		},
		"6 % more than was weighed": {
			[]event.Body{weighed, litres(65*1.06, 6)}, "[] 0.000 1.000 n1/3:placed-beyond-mixed",
		},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, foldtest.Mixed(1, 0))
			for i, b := range k.took {
				d.By("n1", 5+5*i, b)
			}
			s := d.Site()
			b := one(t, s)
			shares := []string{}
			for _, p := range b.Parts {
				shares = append(shares, fmt.Sprintf("%.3f", p.Share))
			}
			if got := fmt.Sprintf("%v %.3f %.3f %s", shares, b.Discarded, b.Left, foldtest.Aside(s)); got != k.want {
				t.Errorf("placed, discarded, left, set aside: %q, not %q", got, k.want)
			}
		})
	}
}

// ASTM C138: D = (gross − tare)/measure, Y = M/D, A = (Y − V)/Y, Ry = Y/Yd.
func TestABatchYieldsItsMassOverItsUnitWeightAndTheLastTestCounts(t *testing.T) {
	mass := func(kg float64) *unit.As[unit.Mass] { return foldtest.Ref(unit.Mass(kg)) }
	seven := foldtest.Ref(unit.Volume(0.007))
	read := func(d unit.Density) event.BatchTested { return event.BatchTested{UnitWeight: foldtest.Ref(d)} }
	for name, k := range map[string]struct {
		tests []event.BatchTested
		litre float64 // 0: it is not known
		air   float64
	}{
		"not tested":            {nil, 0, 0.06},
		"a unit weight of 2200": {[]event.BatchTested{read(2200)}, 65, 1 - airFreeL/65},
		"18.4 kg in 7 L, 3 kg empty": {
			[]event.BatchTested{{Gross: mass(18.4), Tare: mass(3), Measure: seven}},
			65,
			1 - airFreeL/65,
		},
		"15.4 kg, the scale set to zero on the empty measure": {
			[]event.BatchTested{{Gross: mass(15.4), Measure: seven}}, 65, 1 - airFreeL/65,
		},
		"tested again": {
			[]event.BatchTested{read(2200), read(2150)},
			massCharged / 2.15,
			1 - airFreeL/(massCharged/2.15),
		},
		"a test of the temperature alone after it": {
			[]event.BatchTested{read(2200), {Temperature: foldtest.Ref(unit.Celsius(24))}}, 65, 1 - airFreeL/65,
		},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, foldtest.Mixed(1, 0))
			for i, tested := range k.tests {
				tested.Batch = foldtest.North(1)
				d.By("n1", 5+i, tested)
			}
			b := one(t, d.Site())
			if !near(float64(b.Yield)*1000, k.litre, 1e-3) || !near(float64(b.Figures.Air), k.air, 1e-5) {
				t.Errorf("%.4f L with %.5f of air; want %.4f and %.5f", float64(b.Yield)*1000, b.Figures.Air, k.litre,
					k.air)
			}
			if !near(float64(b.Design)*1000, designL, 1e-3) {
				t.Errorf("a test moved the design: %.4f L", float64(b.Design)*1000)
			}
			if n := len(b.Tests); n != len(k.tests) {
				t.Fatalf("%d tests, not %d", n, len(k.tests))
			}
			if n := len(b.Tests); n > 0 && b.Tests[0].Yield > 0 &&
				!near(b.Tests[0].Relative, float64(b.Tests[0].Yield)*1000/designL, 1e-5) {
				t.Errorf("a relative yield of %.5f", b.Tests[0].Relative)
			}
		})
	}
}

// A mix's unit weight is asked to 2 % where it states no tolerance: of 2200 kg/m³, 2156 to 2244.
func TestAUnitWeightOutsideWhatTheMixAsksForIsFoundWithHowFarItIsOff(t *testing.T) {
	for name, k := range map[string]struct {
		target, weight unit.Density
		tolerance      unit.Share // 0: not stated
		judged         string
		found          bool
	}{
		"as asked":    {2200, 2200, 0, "within", false},
		"at the edge": {2200, 2244, 0, "within", false},
		"over it": {
			2200, 2250, 0, "2250 kg/m³, not 2156 kg/m³ to 2244 kg/m³: over by 6 kg/m³",
			true,
		},
		"under it": {
			2200, 2150, 0, "2150 kg/m³, not 2156 kg/m³ to 2244 kg/m³: under by 6 kg/m³",
			true,
		},
		"over by what rounding hides":     {2200, 2244.3, 0, "over by less than 1 kg/m³", true},
		"within what the mix states":      {2200, 2250, 0.03, "within", false},
		"outside what the mix states":     {2200, 2230, 0.01, "over by 8 kg/m³", true},
		"a mix that asks for none":        {0, 2250, 0, "no unit weight is asked of this mix", false},
		"no yield that such a mix can do": {2200, 1100, 0, "no yield of such a mix", false},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			planMix(d, func(m *event.MixPlanned) {
				if k.target > 0 {
					m.UnitWeight = foldtest.Ref(k.target)
				}
				if k.tolerance > 0 {
					m.UnitWeightTolerance = foldtest.Ref(k.tolerance)
				}
			})
			d.By("n1", 0, foldtest.Mixed(1, 0))
			e := d.By("n1", 5, tested(k.weight, ""))
			b := one(t, d.Site())
			if got := b.Tests[0].Judgement; !strings.Contains(got, k.judged) {
				t.Errorf("judged %q, not %q", got, k.judged)
			}
			n := 0
			for _, f := range b.Findings {
				if f.Code != finding.UnitWeight {
					continue
				}
				n++
				if !slices.Contains(f.Events, e.Name) || f.Source == "" {
					t.Errorf("the finding rests on %v by %q, not on the test by C138", f.Events, f.Source)
				}
			}
			if (n == 1) != k.found || b.Tests[0].Within == (k.found || k.weight == 1100) {
				t.Errorf("%d findings, within %v", n, b.Tests[0].Within)
			}
		})
	}
}

func TestWhatNobodySaidOfABatchsTimesIsTakenFromWhatWasSaid(t *testing.T) {
	for name, k := range map[string]struct {
		from, water, ready int // minutes after seven; 0: not said. It is written at minute 30.
		wantWater, want    int
		known              bool
	}{
		"all said":              {10, 12, 20, 12, 20, true},
		"no water contact":      {10, 0, 20, 10, 20, false},
		"ready alone":           {0, 0, 20, 20, 20, false},
		"nothing but the entry": {0, 0, 0, 30, 30, false},
		"water alone":           {0, 12, 0, 12, 30, true},
	} {
		t.Run(name, func(t *testing.T) {
			said := func(minute int) time.Time {
				if minute == 0 {
					return time.Time{}
				}
				return foldtest.Clock(minute)
			}
			d := foldtest.NewDesk(t)
			b := foldtest.Mixed(1, 20)
			b.MixedFrom, b.WaterAt, b.MixedTo = said(k.from), said(k.water), said(k.ready)
			d.By("n1", 30, b)
			is := one(t, d.Site())
			if !is.Water.Equal(foldtest.Clock(k.wantWater)) || !is.Ready.Equal(foldtest.Clock(k.want)) ||
				is.WaterKnown != k.known {
				t.Errorf("water at %s (said: %v), ready at %s", is.Water, is.WaterKnown, is.Ready)
			}
		})
	}
}

// 35 °C (95 °F) at most as it leaves the mixer: ACI 301-20 and ACI 305.1-14, each in its own system.
func TestMortarIsTooHotByItsLastReadingInTheSitesOwnSystem(t *testing.T) {
	for name, k := range map[string]struct {
		us    bool
		mixer unit.Celsius
		tests []unit.Celsius
		want  string // the reading that it was found at; empty: none
	}{
		"at the limit":                       {false, 35, nil, ""},
		"over it":                            {false, 36, nil, "36 °C"},
		"at the limit of a US site":          {true, unit.Fahrenheit(95), nil, ""},
		"over it there":                      {true, unit.Fahrenheit(96), nil, "96 °F"},
		"hot, and cooler when it was tested": {false, 36, []unit.Celsius{34}, ""},
		"cool, and hot when it was tested":   {false, 30, []unit.Celsius{34, 37}, "37 °C"},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			if k.us {
				site := d.Planned(func(b event.Body) bool { _, is := b.(event.SitePlanned); return is })
				b := site.Body.(event.SitePlanned)
				b.Units, b.Replaces = event.US, []event.Hash{site.Hash()}
				d.By("f1", 0, b)
			}
			b := foldtest.Mixed(1, 0)
			b.Temperature = foldtest.Ref(k.mixer)
			last := d.By("n1", 0, b)
			for i, c := range k.tests {
				last = d.By("n1", 5+i, event.BatchTested{Batch: foldtest.North(1), Temperature: foldtest.Ref(c)})
			}
			is := one(t, d.Site())
			want := ""
			if k.want != "" {
				want = finding.HotMix + ": batch " + is.ID.String() + " left the mixer at " + k.want
			}
			if got := found(is); got != want {
				t.Errorf("found %q, not %q", got, want)
			}
			if is.Measured != last.Name.String() {
				t.Errorf("measured by %s, not by the last, %s", is.Measured, last.Name)
			}
		})
	}
}

// People mix whole batches, halves and quarters; what is within 5 % of one is taken for it, so that cement is judged,
// too. The mix states no w/cm limit here, so that water is judged by its weight.
func TestABatchIsHeldToTheSizeThatItsCementSays(t *testing.T) {
	for name, k := range map[string]struct {
		cement, sand, water unit.Mass
		want                string // what is off, in the finding's own words
	}{
		"as designed":                       {42, 85, 16, ""},
		"half a batch":                      {21, 42.5, 8, ""},
		"a quarter":                         {10.5, 21.25, 4, ""},
		"two batches and a half":            {105, 212.5, 40, ""},
		"half a batch, sand 6 % over":       {21, 45.05, 8, "sand +6.0 %"},
		"cement 4 % over, which is weighed": {43.68, 85, 16, ""},
		"0.55 of a batch":                   {23.1, 46.75, 8.8, ""},
		"cement alone 10 % over":            {46.2, 85, 16, "sand -9.1 %, water added -9.1 %"},
		"cement forgotten by a tenth":       {37.8, 85, 16, "sand +11.1 %, water added +11.1 %"},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			planMix(d, func(m *event.MixPlanned) { m.WaterLimit = 0 })
			b := foldtest.Mixed(1, 0)
			for i, m := range []unit.Mass{k.cement, k.sand, k.water} {
				b.Charges[i].Amount.Mass = m
			}
			d.By("n1", 0, b)
			is := one(t, d.Site())
			want := ""
			if k.want != "" {
				want = finding.Weighing + ": batch " + is.ID.String() + " was weighed out of tolerance: " + k.want
			}
			if got := found(is); got != want {
				t.Errorf("found %q, not %q", got, want)
			}
		})
	}
}

func TestABatchWithoutFiguresSaysWhyAndIsTakenForItsMix(t *testing.T) {
	for name, k := range map[string]struct {
		change func(*event.BatchMixed)
		want   string
	}{
		"something that the mix has not": {
			func(b *event.BatchMixed) { b.Charges[1].Constituent = "gravel" },
			"mix face has no gravel; its constituents are cement, sand, water",
		},
		"a volume of sand whose bulk density nobody planned": {
			func(b *event.BatchMixed) { b.Charges[1].Amount = event.Amount{Volume: 0.05, ByVolume: true} },
			"what a volume of sand weighs is not known",
		},
		"no cement": {func(b *event.BatchMixed) { b.Charges = b.Charges[1:] }, "no cement was charged"},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			b := foldtest.Mixed(1, 0)
			k.change(&b)
			d.By("n1", 0, b)
			d.By("n1", 5, tested(2200, ""))
			is := one(t, d.Site())
			if got := found(is); !strings.HasPrefix(got, finding.NoFigures+": ") || !strings.Contains(got, k.want) {
				t.Errorf("found %q, not that %q", got, k.want)
			}
			if !near(float64(is.Design)*1000, designL, 1e-3) || is.Yield != 0 {
				t.Errorf("%.3f L as designed, %.3f L measured of what is not known", float64(is.Design)*1000,
					float64(is.Yield)*1000)
			}
		})
	}
}

// By hand: 16 kg from the hose, and 60 s of a wand that gives 0.01 or 0.05 L a second: (16 + 0.6)/42 = 0.395 and
// (16 + 3)/42 = 0.452, where the mix allows 0.42.
func TestWaterSprayedInCountsTowardWCM(t *testing.T) {
	for name, k := range map[string]struct {
		rate *unit.As[unit.Volume]
		wcm  float64
		want string
	}{
		"a fine wand":         {foldtest.Ref(unit.Volume(1e-5)), 16.6 / 42, ""},
		"a wide one":          {foldtest.Ref(unit.Volume(5e-5)), 19.0 / 42, finding.WaterLimit},
		"one nobody measured": {nil, 16.0 / 42, ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			b := foldtest.Mixed(1, 0)
			b.Spray, b.SprayPerS = time.Minute, k.rate
			d.By("n1", 0, b)
			is := one(t, d.Site())
			if !near(is.Figures.WaterCementitious, k.wcm, 2e-4) || codes(is) != k.want {
				t.Errorf("w/cm %.4f and %q; want %.4f and %q", is.Figures.WaterCementitious, codes(is), k.wcm, k.want)
			}
		})
	}
}

// 90 min from water contact where the mix states no working time: ASTM C94, from memory.
func TestABatchIsOldByWhenItWasPlacedAndItsMixsWorkingTime(t *testing.T) {
	for name, k := range map[string]struct {
		working time.Duration
		until   int // minutes after water contact
		want    string
	}{
		"ninety minutes":              {0, 90, ""},
		"a minute more":               {0, 91, "was 1 h 31 min old when it was placed in A1"},
		"half an hour is stated":      {30 * time.Minute, 30, ""},
		"a minute more than that":     {30 * time.Minute, 31, "was 31 min old when it was placed in A1"},
		"two hours, and a set of 4 h": {2 * time.Hour, 91, ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			planMix(d, func(m *event.MixPlanned) { m.Working = k.working })
			d.By("n1", 5, foldtest.Mixed(1, 5))
			e := d.By("n1", k.until, foldtest.Put(1, "A1", 10, k.until))
			is := one(t, d.Site())
			got := found(is)
			if (got != "") != (k.want != "") || !strings.Contains(got, k.want) {
				t.Fatalf("found %q, not %q", got, k.want)
			}
			if got != "" && (codes(is) != finding.OldBatch || !slices.Contains(is.Findings[0].Events, e.Name)) {
				t.Errorf("%s of %v", codes(is), is.Findings[0].Events)
			}
		})
	}
}

func TestOfBatchesOfOneNumberTheFirstCountsAndAllAreNamed(t *testing.T) {
	d := foldtest.NewDesk(t)
	late := foldtest.Mixed(1, 60)
	late.Charges[1].Amount.Mass = 90
	second := d.By("n2", 60, late)
	first := d.By("n1", 0, foldtest.Mixed(1, 0))
	s := d.Site()
	b := one(t, s)
	if b.Mixed.Name != first.Name || len(b.Twins) != 1 || b.Twins[0].Name != second.Name {
		t.Fatalf("%s counts beside %d twins, not %s", b.Mixed.Name, len(b.Twins), first.Name)
	}
	if codes(b) != finding.SameNumber || !slices.Contains(b.Findings[0].Events, second.Name) {
		t.Errorf("found %q of %v", found(b), b.Findings[0].Events)
	}
	s.Add(d.By("n1", 70, event.Voided{Target: first.Hash(), Why: "it was not mixed"}))
	if b := one(t, s); b.Mixed.Name != second.Name || strings.Contains(codes(b), finding.SameNumber) {
		t.Errorf("with the first taken back %s counts, and it is found %q", b.Mixed.Name, found(b))
	}
}

func TestWhatSpeaksOfABatchThatNobodyMixedWaitsForIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 5, tested(2200, ""))
	d.By("n1", 6, discarded(event.Part{Share: foldtest.Ref(unit.Share(0.1))}))
	s := d.Site()
	if _, ok := s.Batch(foldtest.North(1)); ok {
		t.Error("there is a batch that nobody mixed")
	}
	if got := foldtest.Aside(s); got != "n1/1:unknown-batch n1/2:unknown-batch" {
		t.Errorf("set aside %q", got)
	}
	s.Add(d.By("n2", 0, foldtest.Mixed(1, 0)))
	b := one(t, s)
	if got := foldtest.Aside(s); got != "" || !near(float64(b.Yield)*1000, 65, 1e-3) ||
		!near(float64(b.Left), 0.9, 1e-9) {
		t.Errorf("set aside %q; it yields %.3f L of which %.3f are left", got, float64(b.Yield)*1000, b.Left)
	}
	if r := b.Tests[0].Record; r.State != history.Holds {
		t.Errorf("the test %s", r.State)
	}
}
