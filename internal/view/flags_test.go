package view_test

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

func batchWith(n int, at time.Time, change func(*event.BatchMixed)) sim.Work {
	w := mixed(batch(n), at)
	b := w.Body.(event.BatchMixed)
	change(&b)
	w.Body = b
	return w
}

// Each flag with the figures that it rests on, as numbers.
func TestEachFlagHasTheNumbersThatItRestsOn(t *testing.T) {
	type fact struct {
		name, unit string
		number     float64
	}
	minutes := func(n int) time.Time { return clock(8, 0).Add(time.Duration(n) * time.Minute) }
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
			[]sim.Work{batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 85, 22) })},
			[]fact{{"water in all", "kg", 22}, {"cementitious", "kg", 42}},
			none, 0.5, "share",
		},
		// the plan allows 5 %: 95 kg of sand where 85 are asked for
		{
			"weighing", "batch north/2031-05-12/1",
			[]sim.Work{batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 95, 16) })},
			[]fact{{"sand", "kg", 95}},
			none, none, "",
		},
		// 10 min more than the 90 that a batch may be worked where its mix says nothing
		{
			"old-batch", "batch north/2031-05-12/1",
			[]sim.Work{mixed(batch(1), clock(8, 0)), placed(batch(1), coatA1, minutes(95), minutes(100), 1)},
			nil, none, 90, "min",
		},
		{
			"hot-mix", "batch north/2031-05-12/1",
			[]sim.Work{batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Temperature = ref(unit.Celsius(38)) })},
			[]fact{{"mortar", "c", 38}},
			none, 35, "c",
		},
		// a batch of 0.065 m³ of which a quarter was placed and nothing is said of the rest
		{
			"unplaced", "batch north/2031-05-12/1",
			[]sim.Work{
				mixed(batch(1), clock(8, 0)), tested(batch(1), clock(8, 1), weighed),
				placed(batch(1), coatA1, minutes(5), minutes(9), 0.25),
			},
			[]fact{{"left", "m3", 0.75 * batchM3}, {"of the batch", "share", 0.75}},
			none, 90, "min",
		},
		// gauges of 8 and 10 mm where 12 are planned: under nine tenths of it
		{
			"thin", "A1 outer 1",
			[]sim.Work{mixed(batch(1), clock(8, 0)), wrote(minutes(9), event.Placement{
				Batch: batch(1), Coat: coatA1, From: minutes(5), To: minutes(9),
				Gauges: []unit.As[unit.Length]{as(unit.Length(0.008)), as(unit.Length(0.010))},
			})},
			[]fact{{"gauges", "count", 2}, {"mean", "m", 0.009}, {"design", "m", 0.012}},
			0.9 * 0.012, none, "m",
		},
		// three batches of 0.065 m³ in a coat that takes 0.11664: 67 % over
		{
			"overfull", "A1 outer 1",
			all(whole(batch(1), coatA1, minutes(0)), whole(batch(2), coatA1, minutes(20)),
				whole(batch(3), coatA1, minutes(40))),
			[]fact{{"placed", "m3", 3 * batchM3}, {"needed, loss counted", "m3", neededM3}},
			none, 1.2 * neededM3, "m3",
		},
		// 42 kg went, 40 came
		{
			"ledger-short", "cement",
			[]sim.Work{received(clock(7, 0), 40, ""), mixed(batch(1), clock(8, 0))},
			[]fact{{"short by", "kg", 2}},
			none, none, "",
		},
		// half full and said to be all complete
		{
			"closed-thin", "A1 outer 1",
			append(whole(batch(1), coatA1, clock(8, 0)),
				wrote(clock(9, 0), event.ProgressStated{Coat: coatA1, Complete: as(unit.Share(1))})),
			[]fact{{"placed", "m3", batchM3}, {"needed, loss counted", "m3", neededM3}},
			0.8, none, "share",
		},
	} {
		t.Run(c.code, func(t *testing.T) {
			f := flagged(t, daily.FlagsOf(site(t, c.work...), clock(17, 0), time.UTC, false), c.code)
			if !f.Open || f.Subject != c.subject {
				t.Errorf("of %q, open %t; want %q", f.Subject, f.Open, c.subject)
			}
			for _, k := range c.facts {
				got := evidence(t, f, k.name)
				maybeIs(t, k.name, got.Number, k.number)
				same(t, "unit of "+k.name, got.Unit, k.unit)
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
			maybeIs(t, "at least", f.Allowed.Low, c.low)
			maybeIs(t, "at most", f.Allowed.High, c.high)
			same(t, "unit of the limit", f.Allowed.Unit, c.unit)
		})
	}
}

// A weighed constituent stands beside what is allowed of it: 85 kg more or less 5 %.
func TestAWeighedConstituentHasItsRange(t *testing.T) {
	s := site(t, batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 95, 16) }))
	k := evidence(t, flagged(t, daily.FlagsOf(s, noon, time.UTC, false), "weighing"), "sand")
	maybeIs(t, "at least", k.Low, 85*0.95)
	maybeIs(t, "at most", k.High, 85*1.05)
}

// 9.81 m/s², 33 °C and 25 %: far over 0.5 kg/m²/h.
func TestDryingIsFlaggedWithTheWorstReading(t *testing.T) {
	s := site(t, append(whole(batch(1), coatA1, clock(11, 0)), read(full(clock(11, 30), 30, 0.4, 4)),
		read(hot(noon)))...)
	f := flagged(t, daily.FlagsOf(s, clock(12, 30), time.UTC, false), "drying")
	at(t, "worst reading", evidence(t, f, "worst reading").At, noon)
	maybeIs(t, "air", evidence(t, f, "air").Number, 33)
	if w := evidence(t, f, "wind at 0.5 m"); math.Abs(*w.Number-windAtWork(8, 2)) > 0.01 || w.Unit != "mps" {
		t.Errorf("wind %+v", w)
	}
	maybeIs(t, "limit", f.Allowed.High, 0.5)
	same(t, "unit", f.Allowed.Unit, "kg_m2_h")
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
		bodies := plan()
		sp := bodies[0].(event.SitePlanned)
		sp.Units = sys
		bodies[0] = sp
		job := sim.Job{
			Plan: bodies, First: noon.Add(-12 * time.Hour), Days: 2, Seed: 11, Late: 4 * time.Hour,
			HotDay: 1,
		}
		work, err := job.Work()
		if err != nil {
			t.Fatal(err)
		}
		work = append(work, batchWith(90, clock(8, 0),
			func(b *event.BatchMixed) { b.Charges, b.Temperature = charges(42, 95, 25), ref(unit.Celsius(39)) }),
			tested(batch(90), clock(8, 1), 1900))
		s := planned(t, bodies, work...)
		in := unit.Metric
		if sys == event.US {
			in = unit.US
		}
		for _, f := range daily.FlagsOf(s, noon.Add(40*time.Hour), time.UTC, true).Flags {
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
	d := newDesk(t, batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 85, 22) }))
	f := flagged(t, daily.FlagsOf(d.site(), noon, time.UTC, false), "water-limit")
	before := daily.FlagsOf(d.site(), noon, time.UTC, false)
	d.write("f1", "office", clock(9, 0), event.FlagAnswered{Flag: f.FullID, Answer: "cut out"})
	after := daily.FlagsOf(d.site(), noon, time.UTC, true)
	same(t, "open", after.Open, before.Open-1)
	same(t, "answered", after.Answered, 1)
	got := flagged(t, after, "water-limit")
	if got.Open || got.Answer != "cut out" || !strings.Contains(got.Answerer, "office") &&
		!strings.Contains(got.Answerer, "f1") {
		t.Errorf("answered: open %t, %q by %q", got.Open, got.Answer, got.Answerer)
	}
	if slices.ContainsFunc(daily.FlagsOf(d.site(), noon, time.UTC, false).Flags,
		func(k daily.Flag) bool { return k.Code == "water-limit" }) {
		t.Error("an answered flag is among the open ones")
	}
	if !strings.HasPrefix(f.FullID, f.ID) || len(f.ID) < 5 {
		t.Errorf("the short id %q does not begin the full one, %q", f.ID, f.FullID)
	}
}

func TestGraveFlagsComeFirstAndOfThoseTheNewest(t *testing.T) {
	s := site(t,
		batchWith(1, clock(8, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 95, 16) }), // weighing: not grave
		batchWith(2, clock(9, 0), func(b *event.BatchMixed) { b.Charges = charges(42, 85, 22) }), // water: grave
		batchWith(3, clock(10, 0), func(b *event.BatchMixed) { b.Temperature = ref(unit.Celsius(39)) }),
	)
	var got []string
	for _, f := range daily.FlagsOf(s, clock(10, 30), time.UTC, false).Flags {
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
	d := newDesk(t)
	was := d.of("f1/4") // zone A1
	d.write("f1", "office", clock(8, 0), event.ZonePlanned{
		Zone: "A1", Area: as(unit.Area(10)), Order: 1,
		Replaces: []event.Hash{was},
	})
	d.write("f1", "office", clock(9, 0), event.ZonePlanned{
		Zone: "A1", Area: as(unit.Area(11)), Order: 1,
		Replaces: []event.Hash{was},
	})
	f := flagged(t, daily.FlagsOf(d.site(), noon, time.UTC, false), "conflict")
	same(t, "subject", f.Subject, "zone A1")
	list(t, "what to type", f.Do, "hod settle f1/9", "hod settle f1/10")
	if e := evidence(t, f, "f1/10"); !strings.HasPrefix(e.Value,
		"in use: 12 May 2031 09:00 by crew office: zone A1, 11 m²") || !e.At.Equal(clock(9, 0)) {
		t.Errorf("the one in use: %+v", e)
	}
	same(t, "difference", evidence(t, f, "f1/10 against f1/9").Value, "area 11 m² (118 ft²), was 10 m² (108 ft²)")
	is(t, "the later is used", daily.BoardOf(d.site(), noon, time.UTC).Zones[0].AreaM2, 11)
}

// The air fell to −2 °C while something was young; the limit is 4 °C (40 °F).
func TestColdAirIsFlaggedByDay(t *testing.T) {
	work := append(whole(batch(1), coatA1, clock(8, 0)),
		read(full(clock(9, 0), 3, 0.8, 1)), read(full(clock(10, 0), -2, 0.8, 1)), read(full(clock(11, 0), 6, 0.8, 1)))
	f := flagged(t, daily.FlagsOf(site(t, work...), noon, time.UTC, false), "cold-air")
	first, last := evidence(t, f, "first such reading"), evidence(t, f, "last such reading")
	maybeIs(t, "first", first.Number, 3)
	at(t, "first", first.At, clock(9, 0))
	maybeIs(t, "last", last.Number, -2)
	at(t, "last", last.At, clock(10, 0))
	maybeIs(t, "at least", f.Allowed.Low, 4)
}

func TestASiteWithNothingWrongHasNoFlag(t *testing.T) {
	v := daily.FlagsOf(site(t, whole(batch(1), coatA1, clock(8, 0))...), clock(8, 30), time.UTC, true)
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
