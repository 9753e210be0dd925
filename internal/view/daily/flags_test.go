package daily_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

// flagged is the flag of a code; there must be one.
func flagged(t testing.TB, v daily.Flags, code string) daily.Flag {
	t.Helper()
	i := slices.IndexFunc(v.Flags, func(f daily.Flag) bool { return f.Code == code })
	if i < 0 {
		var codes []string
		for _, f := range v.Flags {
			codes = append(codes, f.Code)
		}
		t.Fatalf("no flag %s among %v", code, codes)
	}
	return v.Flags[i]
}

// evidence of a flag by its name.
func evidence(t testing.TB, f daily.Flag, name string) daily.Fact {
	t.Helper()
	i := slices.IndexFunc(f.Evidence, func(k daily.Fact) bool { return k.Name == name })
	if i < 0 {
		t.Fatalf("%s has no fact %q: %+v", f.Code, name, f.Evidence)
	}
	return f.Evidence[i]
}

// Each flag with the figures that it rests on, as numbers.
func TestEachFlagHasTheNumbersThatItRestsOn(t *testing.T) {
	type fact struct {
		name, unit string
		number     float64
	}
	minutes := func(n int) time.Time { return viewtest.Clock(8, 0).Add(time.Duration(n) * time.Minute) }
	for _, c := range []struct {
		code, subject string
		work          []sim.Work
		facts         []fact
		low, high     float64
		unit          string
	}{
		// 22 kg of water over 42 kg of cement is 0.524, and the mix allows 0.5
		{
			"water-limit", "batch north/2031-05-12/1",
			[]sim.Work{viewtest.BatchWith(1, viewtest.Clock(8, 0),
				func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 22) })},
			[]fact{{"water in all", "kg", 22}, {"cementitious", "kg", 42}},
			viewtest.None, 0.5, "share",
		},
		// the plan allows 5 %: 95 kg of sand where 85 are asked for
		{
			"weighing", "batch north/2031-05-12/1",
			[]sim.Work{viewtest.BatchWith(1, viewtest.Clock(8, 0),
				func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 95, 16) })},
			[]fact{{"sand", "kg", 95}},
			viewtest.None, viewtest.None, "",
		},
		// 10 min more than the 90 that a batch may be worked where its mix says nothing
		{
			"old-batch", "batch north/2031-05-12/1",
			[]sim.Work{
				viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
				viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, minutes(95), minutes(100), 1),
			},
			nil, viewtest.None, 90, "min",
		},
		{
			"hot-mix", "batch north/2031-05-12/1",
			[]sim.Work{viewtest.BatchWith(1, viewtest.Clock(8, 0),
				func(b *event.BatchMixed) { b.Temperature = viewtest.Ref(unit.Celsius(38)) })},
			[]fact{{"mortar", "c", 38}},
			viewtest.None, 35, "c",
		},
		// a batch of 0.065 m³ of which a quarter was placed and nothing is said of the rest
		{
			"unplaced", "batch north/2031-05-12/1",
			[]sim.Work{
				viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
				viewtest.Tested(viewtest.Batch(1), viewtest.Clock(8, 1), viewtest.Weighed),
				viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, minutes(5), minutes(9), 0.25),
			},
			[]fact{{"left", "m3", 0.75 * viewtest.BatchM3}, {"of the batch", "share", 0.75}},
			viewtest.None, 90, "min",
		},
		// gauges of 8 and 10 mm where 12 are planned: under nine tenths of it
		{
			"thin", "A1 outer 1",
			[]sim.Work{
				viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
				viewtest.Wrote(minutes(9), event.Placement{
					Batch: viewtest.Batch(1), Coat: viewtest.CoatA1, From: minutes(5), To: minutes(9),
					Gauges: []unit.As[unit.Length]{viewtest.As(unit.Length(0.008)), viewtest.As(unit.Length(0.010))},
				}),
			},
			[]fact{{"gauges", "count", 2}, {"mean", "m", 0.009}, {"design", "m", 0.012}},
			0.9 * 0.012, viewtest.None, "m",
		},
		// three batches of 0.065 m³ in a coat that takes 0.11664: 67 % over
		{
			"overfull", "A1 outer 1",
			viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, minutes(0)),
				viewtest.Whole(viewtest.Batch(2), viewtest.CoatA1, minutes(20)),
				viewtest.Whole(viewtest.Batch(3), viewtest.CoatA1, minutes(40))),
			[]fact{{"placed", "m3", 3 * viewtest.BatchM3}, {"needed, loss counted", "m3", viewtest.NeededM3}},
			viewtest.None, 1.2 * viewtest.NeededM3, "m3",
		},
		// 42 kg went, 40 came
		{
			"ledger-short", "cement",
			[]sim.Work{
				viewtest.Received(viewtest.Clock(7, 0), 40, ""),
				viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
			},
			[]fact{{"short by", "kg", 2}},
			viewtest.None, viewtest.None, "",
		},
		// half full and said to be all complete
		{
			"closed-thin", "A1 outer 1",
			append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
				viewtest.Wrote(viewtest.Clock(9, 0), event.ProgressStated{
					Coat:     viewtest.CoatA1,
					Complete: viewtest.As(unit.Share(1)),
				})),
			[]fact{{"placed", "m3", viewtest.BatchM3}, {"needed, loss counted", "m3", viewtest.NeededM3}},
			0.8, viewtest.None, "share",
		},
	} {
		t.Run(c.code, func(t *testing.T) {
			f := flagged(t, daily.FlagsOf(viewtest.Site(t, c.work...), viewtest.Clock(17, 0), time.UTC, false), c.code)
			if !f.Open || f.Subject != c.subject {
				t.Errorf("of %q, open %t; want %q", f.Subject, f.Open, c.subject)
			}
			for _, k := range c.facts {
				got := evidence(t, f, k.name)
				viewtest.MaybeIs(t, k.name, got.Number, k.number)
				viewtest.Same(t, "unit of "+k.name, got.Unit, k.unit)
			}
			if math.IsNaN(c.low) && math.IsNaN(c.high) {
				if f.Allowed != nil {
					t.Errorf("allowed is %+v, want none", *f.Allowed)
				}
				return
			}
			if f.Allowed == nil {
				t.Fatalf("no limit as a number beside %q", f.Limit)
			}
			viewtest.MaybeIs(t, "at least", f.Allowed.Low, c.low)
			viewtest.MaybeIs(t, "at most", f.Allowed.High, c.high)
			viewtest.Same(t, "unit of the limit", f.Allowed.Unit, c.unit)
		})
	}
}

// A weighed constituent stands beside what is allowed of it: 85 kg more or less 5 %.
func TestAWeighedConstituentHasItsRange(t *testing.T) {
	s := viewtest.Site(t, viewtest.BatchWith(1, viewtest.Clock(8, 0),
		func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 95, 16) }))
	k := evidence(t, flagged(t, daily.FlagsOf(s, viewtest.Noon, time.UTC, false), "weighing"), "sand")
	viewtest.MaybeIs(t, "at least", k.Low, 85*0.95)
	viewtest.MaybeIs(t, "at most", k.High, 85*1.05)
}

// 9.81 m/s², 33 °C and 25 %: far over 0.5 kg/m²/h.
func TestDryingIsFlaggedWithTheWorstReading(t *testing.T) {
	s := viewtest.Site(t, append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 0)),
		viewtest.Read(viewtest.Full(viewtest.Clock(11, 30), 30, 0.4, 4)),
		viewtest.Read(viewtest.Hot(viewtest.Noon)))...)
	f := flagged(t, daily.FlagsOf(s, viewtest.Clock(12, 30), time.UTC, false), "drying")
	viewtest.At(t, "worst reading", evidence(t, f, "worst reading").At, viewtest.Noon)
	viewtest.MaybeIs(t, "air", evidence(t, f, "air").Number, 33)
	if w := evidence(t, f, "wind at 0.5 m"); math.Abs(*w.Number-viewtest.WindAtWork(8, 2)) > 0.01 || w.Unit != "mps" {
		t.Errorf("wind %+v", w)
	}
	viewtest.MaybeIs(t, "limit", f.Allowed.High, 0.5)
	viewtest.Same(t, "unit", f.Allowed.Unit, "kg_m2_h")
	if m := evidence(t, f, "by Menzel"); m.Unit != "kg_m2_h" || *m.Number <= 0.5 {
		t.Errorf("by Menzel %+v", m)
	}
}

// The words of a fact and its number say the same, in both systems of units: what the system writes of the number
// begins the words, or stands in them.
func TestTheNumberOfAFactIsTheOneInItsWords(t *testing.T) {
	words := map[string]func(unit.System, float64) string{
		"kg":      func(s unit.System, x float64) string { return s.Mass(unit.Mass(x)) },
		"m3":      func(s unit.System, x float64) string { return s.Volume(unit.Volume(x)) },
		"c":       func(s unit.System, x float64) string { return s.Temperature(unit.Celsius(x)) },
		"mps":     func(s unit.System, x float64) string { return s.Speed(unit.Speed(x)) },
		"kg_m3":   func(s unit.System, x float64) string { return s.Density(unit.Density(x)) },
		"kg_m2_h": func(s unit.System, x float64) string { return s.Evaporation(unit.Evaporation(x)) },
		"min": func(_ unit.System, x float64) string {
			return unit.Duration(time.Duration(x * float64(time.Minute)))
		},
		"count": func(_ unit.System, x float64) string {
			return strings.TrimSuffix(unit.Metric.Share(unit.Share(x/100)), "%")
		},
	}
	looked := map[string]int{}
	for _, sys := range []event.Units{event.Metric, event.US} {
		bodies := viewtest.Plan()
		sp := bodies[0].(event.SitePlanned)
		sp.Units = sys
		bodies[0] = sp
		job := sim.Job{
			Plan: bodies, First: viewtest.Noon.Add(-12 * time.Hour), Days: 2, Seed: 11, Late: 4 * time.Hour,
			HotDay: 1,
		}
		work, err := job.Work()
		if err != nil {
			t.Fatal(err)
		}
		work = append(work, viewtest.BatchWith(90, viewtest.Clock(8, 0),
			func(b *event.BatchMixed) {
				b.Charges, b.Temperature = viewtest.Charges(42, 95, 25), viewtest.Ref(unit.Celsius(39))
			}),
			viewtest.Tested(viewtest.Batch(90), viewtest.Clock(8, 1), 1900))
		s := viewtest.Planned(t, bodies, work...)
		in := unit.Metric
		if sys == event.US {
			in = unit.US
		}
		for _, f := range daily.FlagsOf(s, viewtest.Noon.Add(40*time.Hour), time.UTC, true).Flags {
			facts := f.Evidence
			for _, l := range f.Lines {
				facts = append(facts, l.Evidence...)
			}
			for _, k := range facts {
				if k.Number == nil {
					continue
				}
				if k.Unit == "" {
					t.Errorf("%s, %s: a number without a unit", f.Code, k.Name)
				}
				show := words[k.Unit]
				if show == nil {
					continue // shares are shown as per cent, as ratios, or of their own
				}
				looked[k.Unit]++
				if want := show(in, *k.Number); !strings.Contains(k.Value, want) {
					t.Errorf("%s, %s: the words are %q and the number %g is %q", f.Code, k.Name, k.Value, *k.Number,
						want)
				}
			}
		}
	}
	for _, u := range []string{"kg", "m3", "c"} {
		if looked[u] == 0 {
			t.Errorf("no fact in %s was looked at: %v", u, looked)
		}
	}
}

// An answer closes a flag, and says who gave it; the open ones and the answered are counted.
func TestAnAnswerClosesAFlag(t *testing.T) {
	d := viewtest.NewDesk(t, viewtest.BatchWith(1, viewtest.Clock(8, 0),
		func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 22) }))
	f := flagged(t, daily.FlagsOf(d.Site(), viewtest.Noon, time.UTC, false), "water-limit")
	before := daily.FlagsOf(d.Site(), viewtest.Noon, time.UTC, false)
	d.Write("f1", "office", viewtest.Clock(9, 0), event.FlagAnswered{Flag: f.FullID, Answer: "cut out"})
	after := daily.FlagsOf(d.Site(), viewtest.Noon, time.UTC, true)
	viewtest.Same(t, "open", after.Open, before.Open-1)
	viewtest.Same(t, "answered", after.Answered, 1)
	got := flagged(t, after, "water-limit")
	if got.Open || got.Answer != "cut out" || !strings.Contains(got.Answerer, "office") &&
		!strings.Contains(got.Answerer, "f1") {
		t.Errorf("answered: open %t, %q by %q", got.Open, got.Answer, got.Answerer)
	}
	if slices.ContainsFunc(daily.FlagsOf(d.Site(), viewtest.Noon, time.UTC, false).Flags,
		func(k daily.Flag) bool { return k.Code == "water-limit" }) {
		t.Error("an answered flag is among the open ones")
	}
	if !strings.HasPrefix(f.FullID, f.ID) || len(f.ID) < 5 {
		t.Errorf("the short id %q does not begin the full one, %q", f.ID, f.FullID)
	}
}

func TestGraveFlagsComeFirstAndOfThoseTheNewest(t *testing.T) {
	s := viewtest.Site(t,
		// weighing: not grave
		viewtest.BatchWith(1, viewtest.Clock(8, 0),
			func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 95, 16) }),
		// water: grave
		viewtest.BatchWith(2, viewtest.Clock(9, 0),
			func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 22) }),
		viewtest.BatchWith(3, viewtest.Clock(10, 0),
			func(b *event.BatchMixed) { b.Temperature = viewtest.Ref(unit.Celsius(39)) }),
	)
	var got []string
	for _, f := range daily.FlagsOf(s, viewtest.Clock(10, 30), time.UTC, false).Flags {
		if f.Grave {
			got = append(got, "grave "+f.Code)
		} else {
			got = append(got, f.Code)
		}
	}
	if len(got) < 3 || got[0] != "grave hot-mix" || got[1] != "grave water-limit" ||
		strings.HasPrefix(got[2], "grave") {
		t.Errorf("order %v", got)
	}
}

func TestATwofoldPlanIsAConflictWithBothVersions(t *testing.T) {
	d := viewtest.NewDesk(t)
	was := d.Of("f1/4") // zone A1
	d.Write("f1", "office", viewtest.Clock(8, 0), event.ZonePlanned{
		Zone: "A1", Area: viewtest.As(unit.Area(10)), Order: 1,
		Replaces: []event.Hash{was},
	})
	d.Write("f1", "office", viewtest.Clock(9, 0), event.ZonePlanned{
		Zone: "A1", Area: viewtest.As(unit.Area(11)), Order: 1,
		Replaces: []event.Hash{was},
	})
	f := flagged(t, daily.FlagsOf(d.Site(), viewtest.Noon, time.UTC, false), "conflict")
	viewtest.Same(t, "subject", f.Subject, "zone A1")
	viewtest.List(t, "what to type", f.Do, "hod settle f1/9", "hod settle f1/10")
	if e := evidence(t, f, "f1/10"); !strings.HasPrefix(e.Value,
		"in use: 12 May 2031 09:00 by crew office: zone A1, 11 m²") || !e.At.Equal(viewtest.Clock(9, 0)) {
		t.Errorf("the one in use: %+v", e)
	}
	viewtest.Same(t, "difference", evidence(t, f, "f1/10 against f1/9").Value,
		"area 11 m² (118 ft²), was 10 m² (108 ft²)")
	viewtest.Is(t, "the later is used", daily.BoardOf(d.Site(), viewtest.Noon, time.UTC).Zones[0].AreaM2, 11)
}

// The air fell to −2 °C while something was young; the limit is 4 °C (40 °F).
func TestColdAirIsFlaggedByDay(t *testing.T) {
	work := append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		viewtest.Read(viewtest.Full(viewtest.Clock(9, 0), 3, 0.8, 1)),
		viewtest.Read(viewtest.Full(viewtest.Clock(10, 0), -2, 0.8, 1)),
		viewtest.Read(viewtest.Full(viewtest.Clock(11, 0), 6, 0.8, 1)))
	f := flagged(t, daily.FlagsOf(viewtest.Site(t, work...), viewtest.Noon, time.UTC, false), "cold-air")
	first, last := evidence(t, f, "first such reading"), evidence(t, f, "last such reading")
	viewtest.MaybeIs(t, "first", first.Number, 3)
	viewtest.At(t, "first", first.At, viewtest.Clock(9, 0))
	viewtest.MaybeIs(t, "last", last.Number, -2)
	viewtest.At(t, "last", last.At, viewtest.Clock(10, 0))
	viewtest.MaybeIs(t, "at least", f.Allowed.Low, 4)
}

func TestASiteWithNothingWrongHasNoFlag(t *testing.T) {
	v := daily.FlagsOf(viewtest.Site(t, viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0))...),
		viewtest.Clock(8, 30), time.UTC, true)
	if len(v.Flags) != 0 || v.Open != 0 || v.Answered != 0 {
		t.Errorf("flags %+v", v)
	}
}

func TestAFlagsLineMayStandAlone(t *testing.T) {
	f := daily.Flag{
		Code: "drying",
		Lines: []daily.FlagLine{{
			ID: "aa", FullID: "aaaa", Subject: "A1", Text: "x", Open: true,
			Allowed: &daily.Allowed{Unit: "kg"}, Events: []string{"n1/1"}, Do: []string{"y"},
		}},
	}
	one := f.Alone(f.Lines[0])
	if one.Code != "drying" || one.ID != "aa" || one.FullID != "aaaa" || !one.Open ||
		one.Allowed != f.Lines[0].Allowed || len(one.Events) != 1 || len(one.Do) != 1 || len(one.Lines) != 0 {
		t.Errorf("alone it is %+v", one)
	}
}
