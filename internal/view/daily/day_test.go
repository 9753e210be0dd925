package daily_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

func dayOf(t testing.TB, s *fold.Site, now time.Time, date string) daily.Day {
	t.Helper()
	d, err := daily.DayOf(s, now, time.UTC, date)
	if err != nil {
		t.Fatal(err)
	}
	return d
}

var evening = viewtest.Clock(18, 0)

// What each crew mixed, placed and threw away.
func TestACrewsDayIsWhatItsBatchesCameTo(t *testing.T) {
	work := viewtest.All(
		[]sim.Work{
			viewtest.Wrote(viewtest.Clock(7, 0), event.ShiftStarted{People: 3}),
			viewtest.Wrote(viewtest.Clock(17, 0), event.ShiftEnded{}),
		},
		viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)), // all placed
		[]sim.Work{ // half placed, a quarter thrown away, a quarter of which nothing is said
			viewtest.Mixed(viewtest.Batch(2), viewtest.Clock(9, 0)),
			viewtest.Tested(viewtest.Batch(2), viewtest.Clock(9, 1), viewtest.Weighed),
			viewtest.Placed(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(9, 5), viewtest.Clock(9, 9), 0.5),
			viewtest.Wrote(viewtest.Clock(10, 0), event.BatchDiscarded{
				Batch: viewtest.Batch(2), Part: event.Part{Share: viewtest.Ref(unit.Share(0.25))},
				Why: "stiff",
			}),
		},
		// a wetter one: 18 of 42
		[]sim.Work{
			viewtest.BatchWith(3, viewtest.Clock(11, 0),
				func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 18) }),
			viewtest.Tested(viewtest.Batch(3), viewtest.Clock(11, 1), 145.0/0.065),
		},
	)
	d := dayOf(t, viewtest.Site(t, work...), evening, viewtest.Day)
	if len(d.Crews) != 1 {
		t.Fatalf("crews %+v", d.Crews)
	}
	c := d.Crews[0]
	viewtest.Same(t, "crew", c.Crew, "north")
	if c.People == nil || *c.People != 3 {
		t.Errorf("people %v", c.People)
	}
	viewtest.At(t, "from", c.From, viewtest.Clock(7, 0))
	viewtest.At(t, "to", c.To, viewtest.Clock(17, 0))
	viewtest.Same(t, "batches", c.Batches, 3)
	viewtest.Is(t, "mixed", c.MixedM3, 3*0.065)
	viewtest.Is(t, "placed", c.PlacedM3, 1.5*0.065)
	viewtest.Is(t, "discarded", c.DiscardedM3, 0.25*0.065)
	viewtest.Is(t, "unplaced", c.UnplacedM3, 1.25*0.065)
	viewtest.MaybeIs(t, "w/cm on the mean", c.WCMMean, (16.0/42+16.0/42+18.0/42)/3)
	viewtest.MaybeIs(t, "w/cm at most", c.WCMMax, 18.0/42)
}

func TestACrewOfWhichNothingIsSaidHasNoNumbers(t *testing.T) {
	c := dayOf(t, viewtest.Site(t), evening, viewtest.Day).Crews[0]
	if c.People != nil || c.From != nil || c.To != nil || c.WCMMean != nil || c.WCMMax != nil {
		t.Errorf("nobody wrote anything of the crew, and it has %+v", c)
	}
	// people as planned where the shift does not say
	bodies := viewtest.Plan()
	bodies[1] = event.CrewPlanned{Crew: "north", Name: "North", People: 5}
	s := viewtest.Planned(t, bodies, viewtest.Wrote(viewtest.Clock(7, 0), event.ShiftStarted{}))
	c = dayOf(t, s, evening, viewtest.Day).Crews[0]
	if c.Name != "North" || c.People == nil || *c.People != 5 {
		t.Errorf("planned as North, 5: %+v", c)
	}
}

// A coat's day is what was placed in it that day; what is left counts all days.
func TestACoatsDayIsOfThatDay(t *testing.T) {
	before := event.Batch{Crew: "north", Day: "2031-05-11", Number: 1}
	y := func(h, m int) time.Time { return viewtest.Clock(h, m).AddDate(0, 0, -1) }
	work := viewtest.All([]sim.Work{
		viewtest.Mixed(before, y(8, 0)), viewtest.Tested(before, y(8, 1), viewtest.Weighed),
		viewtest.Placed(before, viewtest.CoatA1, y(8, 5), y(8, 9), 0.5),
	}, viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)))
	s := viewtest.Site(t, work...)
	z := dayOf(t, s, evening, viewtest.Day).Zones
	if len(z) != 1 {
		t.Fatalf("coats %+v", z)
	}
	viewtest.Is(t, "batches", z[0].Batches, 1)
	viewtest.Is(t, "placed", z[0].PlacedM3, viewtest.BatchM3)
	viewtest.Is(t, "thickness that the day added", z[0].ThicknessM, viewtest.BatchM3/1.08/9)
	viewtest.Is(t, "left", z[0].LeftM3, viewtest.NeededM3-1.5*viewtest.BatchM3)
	z = dayOf(t, s, evening, "2031-05-11").Zones // as that day ended
	viewtest.Is(t, "batches of the day before", z[0].Batches, 0.5)
	viewtest.Is(t, "left then", z[0].LeftM3, viewtest.NeededM3-0.5*viewtest.BatchM3)
	if len(dayOf(t, s, evening, "2031-05-10").Zones) != 0 {
		t.Error("nothing was placed on the 10th")
	}
}

// Fresh tests by ASTM C138: D = mass over volume; Y = mass of the batch over D; air = (T − D)/T, with T the density
// without air, 143 kg over (42/3.15 + 85/2.65 + 16)/999.55 m³ = 2327.6 kg/m³.
func TestAFreshTestIsWorkedOutByC138(t *testing.T) {
	free := viewtest.BatchKg / (viewtest.DesignedM3 * 0.94)
	for _, c := range []struct {
		name             string
		body             event.BatchTested
		weight, yield    float64
		air, temperature float64
		flow             float64
	}{
		{
			"a unit weight",
			event.BatchTested{UnitWeight: viewtest.Ref(unit.Density(2200))},
			2200, viewtest.BatchKg / 2200,
			(free - 2200) / free, viewtest.None, viewtest.None,
		},
		{"a measure: (17.2 − 1.8) kg in 7 l", event.BatchTested{
			Gross: viewtest.Ref(unit.Mass(17.2)), Tare: viewtest.Ref(unit.Mass(1.8)),
			Measure: viewtest.Ref(unit.Volume(0.007)),
		}, 2200, viewtest.BatchKg / 2200, (free - 2200) / free, viewtest.None, viewtest.None},
		{"temperature and flow alone", event.BatchTested{
			Temperature: viewtest.Ref(unit.Celsius(24)),
			Flow:        viewtest.Ref(unit.Share(1.1)),
		}, viewtest.None, viewtest.None, viewtest.None, 24, 1.1},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.body.Batch = viewtest.Batch(1)
			d := dayOf(t, viewtest.Site(t, viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
				viewtest.Wrote(viewtest.Clock(8, 5), c.body)), evening, viewtest.Day)
			if len(d.Tests) != 1 {
				t.Fatalf("tests %+v", d.Tests)
			}
			k := d.Tests[0]
			viewtest.MaybeIs(t, "unit weight", k.UnitWeight, c.weight)
			viewtest.MaybeIs(t, "yield", k.YieldM3, c.yield)
			viewtest.MaybeIs(t, "air", k.Air, c.air)
			viewtest.MaybeIs(t, "temperature", k.TemperatureC, c.temperature)
			viewtest.MaybeIs(t, "flow", k.Flow, c.flow)
			viewtest.MaybeIs(t, "w/cm", k.WCM, viewtest.Ratio)
			if k.Within != nil || k.UnitWeightLow != nil {
				t.Errorf("no unit weight is asked of the mix, and it is within: %v, from %v", k.Within, k.UnitWeightLow)
			}
			if k.YieldM3 != nil {
				viewtest.MaybeIs(t, "relative yield", k.RelativeYield, *k.YieldM3/viewtest.DesignedM3)
			}
		})
	}
}

// Where the mix asks for 2250 kg/m³ within 2 %: 2205 to 2295.
func TestAUnitWeightIsJudgedByTheMix(t *testing.T) {
	bodies := viewtest.Plan()
	m := bodies[2].(event.MixPlanned)
	m.UnitWeight, m.UnitWeightTolerance = viewtest.Ref(unit.Density(2250)), viewtest.Ref(unit.Share(0.02))
	bodies[2] = m
	for _, c := range []struct {
		weight unit.Density
		within bool
		words  string
	}{{2250, true, "within"}, {2206, true, "within"}, {2294, true, "within"}, {2200, false, "under by 5 kg/m³"}, {
		2305,
		false, "over by 10 kg/m³",
	}} {
		k := dayOf(t, viewtest.Planned(t, bodies, viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
			viewtest.Tested(viewtest.Batch(1), viewtest.Clock(8, 5), c.weight)),
			evening, viewtest.Day).Tests[0]
		if k.Within == nil || *k.Within != c.within || !strings.HasSuffix(k.Judgement, c.words) {
			t.Errorf("%g kg/m³: within %v, %q; want %t, %q", float64(c.weight), k.Within, k.Judgement, c.within,
				c.words)
		}
		viewtest.MaybeIs(t, "from", k.UnitWeightLow, 2205)
		viewtest.MaybeIs(t, "to", k.UnitWeightHigh, 2295)
	}
}

// A cube of 50 mm that broke at 100 kN held 40 MPa (ASTM C109: load over area).
func TestABreakIsLoadOverArea(t *testing.T) {
	b := viewtest.Wrote(viewtest.Clock(15, 0), event.SpecimensBroken{
		Mix: "face", Shape: event.Cube, Size: viewtest.Ref(unit.Length(0.05)),
		Age: 168 * time.Hour, Loads: []unit.Force{95e3, 100e3, 105e3}, Batch: nil,
	})
	k := dayOf(t, viewtest.Site(t, b), evening, viewtest.Day).Breaks
	if len(k) != 1 {
		t.Fatalf("breaks %+v", k)
	}
	viewtest.MaybeIs(t, "strength", k[0].StrengthPa, 100e3/(0.05*0.05))
	viewtest.Is(t, "age", k[0].AgeH, 168)
	viewtest.Same(t, "specimens", k[0].Specimens, 3)
	viewtest.Same(t, "batch", k[0].Batch, "")
	viewtest.Same(t, "wrong", k[0].Wrong, "")
	viewtest.MaybeIs(t, "of three", k[0].OfThreePa, viewtest.None)
}

// What a day lists, and on which day.
func TestADayListsWhatWasWrittenOfIt(t *testing.T) {
	d := viewtest.NewDesk(t, viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		[]sim.Work{
			viewtest.Wrote(viewtest.Clock(9, 0), event.Noted{Text: "windy"}),
			viewtest.Wrote(viewtest.Clock(9, 0).AddDate(0, 0, -1), event.Noted{Text: "yesterday"}),
		})...)
	d.Write("n1", "north", viewtest.Clock(10, 0), event.Amended{Target: d.Of("n1/4"), Body: event.Noted{Text: "calm"}})
	d.Write("n1", "north", viewtest.Clock(11, 0), event.Placement{Batch: viewtest.Batch(7), Coat: viewtest.CoatA1})
	v := dayOf(t, d.Site(), evening, viewtest.Day)
	names := func(all []view.Entry) string {
		var s []string
		for _, e := range all {
			s = append(s, e.Name)
		}
		return strings.Join(s, " ")
	}
	viewtest.Same(t, "notes", names(v.Notes), "n1/4")
	viewtest.Same(t, "changes", names(v.Changes), "n1/6")
	viewtest.Same(t, "set aside", names(v.SetAside), "n1/7")
	viewtest.Same(t, "late", names(v.Late), "")
	viewtest.Same(t, "provisional", v.Provisional, "the day is not over")
	viewtest.At(t, "ended", v.EndedAt, time.Time{})
	v = dayOf(t, d.Site(), evening, "2031-05-11")
	viewtest.Same(t, "notes of the day before", names(v.Notes), "n1/5")
	viewtest.At(t, "ended", v.EndedAt, viewtest.Clock(0, 0))
}

// What was written after the day had ended is in it, and marked.
func TestWhatWasForgottenIsInItsDayAndMarkedLate(t *testing.T) {
	events, err := simtest.Written(viewtest.Plan(), viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0)), viewtest.Noon.Add(-12*time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	late, err := event.Write(event.Event{
		Name: event.Name{Device: "n1", Seq: 4}, Crew: "north", HappenedAt: viewtest.Clock(9, 0),
		LoggedAt: viewtest.Clock(9, 0).AddDate(0, 0, 1), Typed: true,
		Body: viewtest.Mixed(viewtest.Batch(2), viewtest.Clock(9, 0)).Body,
	})
	if err != nil {
		t.Fatal(err)
	}
	s := fold.New("tarn", simtest.Root)
	for _, e := range append(events, late) {
		s.Add(e)
	}
	v := dayOf(t, s, viewtest.Noon.AddDate(0, 0, 2), viewtest.Day)
	viewtest.Same(t, "batches", v.Crews[0].Batches, 2)
	if len(v.Late) != 1 || v.Late[0].Name != "n1/4" || !v.Late[0].Late {
		t.Errorf("late %+v", v.Late)
	}
	v = dayOf(t, s, viewtest.Noon.AddDate(0, 0, 2), "2031-05-13")
	viewtest.Same(t, "of the days before, written after the 13th", v.LateBefore, 0)
	v = dayOf(t, s, viewtest.Noon.AddDate(0, 0, 2), "2031-05-12")
	viewtest.Same(t, "of the days before, written after the 12th", v.LateBefore, 0)
}

// A crew's own day leaves out what others did.
func TestOneCrewsDayIsItsOwn(t *testing.T) {
	work := viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		viewtest.Whole(viewtest.BatchOf("south", 1), viewtest.CoatA2, viewtest.Clock(9, 0)),
		[]sim.Work{viewtest.Wrote(viewtest.Clock(10, 0), event.Noted{Text: "x"})})
	s := viewtest.Site(t, work...)
	v := dayOf(t, s, evening, viewtest.Day)
	own := v.Of(s, time.UTC, "south")
	viewtest.Same(t, "crew", own.Crew, "south")
	if len(own.Crews) != 1 || own.Crews[0].Crew != "south" || len(own.Zones) != 1 || own.Zones[0].Zone != "A2" ||
		len(own.Tests) != 1 || len(own.Notes) != 0 {
		t.Errorf("south's day: %+v", own)
	}
	if len(own.Record) != 1 || own.Record[0].Device != "s2" || own.Record[0].Seq != 3 {
		t.Errorf("south's record: %+v", own.Record)
	}
	viewtest.Same(t, "joints made", own.JointsMade, 1) // along the edge of A1: both crews'
	if len(v.Crews) != 2 || len(v.Notes) != 1 {
		t.Errorf("the whole day was changed: %+v", v)
	}
	if none := v.Of(s, time.UTC, ""); len(none.Crews) != 2 {
		t.Error("of no crew it is the whole day")
	}
}

// How far each device's record reached.
func TestADaySaysHowFarTheRecordReached(t *testing.T) {
	v := dayOf(t, viewtest.Site(t, viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0))...),
		evening, viewtest.Day)
	i := slices.IndexFunc(v.Record, func(d daily.DeviceEnd) bool { return d.Device == "n1" })
	if i < 0 {
		t.Fatalf("record %+v", v.Record)
	}
	if r := v.Record[i]; r.Seq != 3 || r.Crew != "north" || !r.LastAt.Equal(viewtest.Clock(8, 10)) {
		t.Errorf("record %+v", r)
	}
}

func TestADayThatIsNoDateIsRefused(t *testing.T) {
	if _, err := daily.DayOf(viewtest.Site(t), evening, time.UTC, "12 May"); err == nil ||
		!strings.Contains(err.Error(), "one looks like 2026-07-18") {
		t.Errorf("the error is %v", err)
	}
}

// Joints made that day, and of them those that surely met live material.
func TestADayCountsItsJoints(t *testing.T) {
	second := viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(9, 0), 1)
	p := second[1].Body.(event.Placement)
	p.Along = []event.Zone{"A1"} // else the third may be the one that met it
	second[1].Body = p
	work := viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0),
		1), second, viewtest.BatchAt23(viewtest.Batch(3), viewtest.CoatA2, viewtest.Clock(14, 0),
		1))
	v := dayOf(t, viewtest.Site(t, work...), evening, viewtest.Day)
	// A1 to A2 at 65 of 150 min; inside A2 at 305 of 150 min
	viewtest.Same(t, "made", v.JointsMade, 2)
	viewtest.Same(t, "live", v.JointsLive, 1)
	if i := slices.IndexFunc(v.Joints, func(j view.Joint) bool { return j.Made }); i < 0 ||
		v.Joints[i].Kind != "inside" || v.Joints[i].State != "cold" ||
		math.Abs(v.Joints[i].ConsumedLow-305.0/150) > 1e-5 {
		t.Errorf("joints %+v", v.Joints)
	}
}

// The stock of a past day is as it was when it ended.
func TestADaysStockIsAsItEnded(t *testing.T) {
	s := viewtest.Site(t, viewtest.Received(viewtest.Clock(7, 0), 1000, ""),
		viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
		viewtest.Mixed(event.Batch{Crew: "north", Day: "2031-05-13", Number: 1}, viewtest.Clock(8, 0).AddDate(0, 0, 1)))
	now := viewtest.Noon.AddDate(0, 0, 2)
	viewtest.MaybeIs(t, "on the 12th", viewtest.Cement(t, dayOf(t, s, now, viewtest.Day).Stock).OnHandKg, 958)
	viewtest.MaybeIs(t, "on the 13th", viewtest.Cement(t, dayOf(t, s, now, "2031-05-13").Stock).OnHandKg, 916)
	if m := dayOf(t, s, now, "2031-05-11").Stock.Materials; len(m) != 0 {
		t.Errorf("nothing was planned on the 11th, and there is %+v", m)
	}
}

// Why a day may still change: it is not over, or somebody who worked has not been heard since.
func TestADaySaysWhyItMayStillChange(t *testing.T) {
	work := viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		viewtest.Whole(viewtest.BatchOf("south", 1), viewtest.CoatA2, viewtest.Clock(9, 0)))
	// north, the next morning
	next := append(work, viewtest.Wrote(viewtest.Clock(8, 0).AddDate(0, 0, 1), event.Noted{Text: "x"}))
	for _, c := range []struct {
		name string
		work []sim.Work
		now  time.Time
		want string
	}{
		{"that day", work, evening, "the day is not over"},
		{
			"the next, of nobody", work, viewtest.Noon.AddDate(0, 0, 1),
			"nothing has come since from crew north, crew south",
		},
		{"the next, of one crew", next, viewtest.Noon.AddDate(0, 0, 1), "nothing has come since from crew south"},
		{
			"both were heard", append(next,
				viewtest.By("south", viewtest.Wrote(viewtest.Clock(9, 0).AddDate(0, 0, 1), event.Noted{Text: "y"}))...),
			viewtest.Noon.AddDate(0, 0, 1), "",
		},
	} {
		viewtest.Same(t, c.name, dayOf(t, viewtest.Site(t, c.work...), c.now, viewtest.Day).Provisional, c.want)
	}
}

// What is left at the end of a day, coat by coat.
func TestADayListsTheCoatsThatAreLeft(t *testing.T) {
	work := append(viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		viewtest.Whole(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(9, 0))),
		viewtest.Wrote(viewtest.Clock(10, 0), event.ProgressStated{
			Coat:     viewtest.CoatA1,
			Complete: viewtest.As(unit.Share(1)),
		}))
	v := dayOf(t, viewtest.Site(t, work...), evening, viewtest.Day)
	if len(v.Left) != 1 || v.Left[0].Zone != "A2" {
		t.Fatalf("left %+v", v.Left)
	}
	viewtest.Is(t, "left", v.Left[0].LeftM3, viewtest.NeededM3-viewtest.BatchM3)
	if v.BatchesLeft == nil || v.BatchesLeft.P50 < 1 {
		t.Errorf("batches left %+v", v.BatchesLeft)
	}
	if len(v.Cautions) != 2 {
		t.Errorf("cautions %q", v.Cautions)
	}
}

// A flag is of the day on which it arose; those of before that were open are counted.
func TestADayHasTheFlagsThatAroseOnIt(t *testing.T) {
	wet := func(b *event.BatchMixed) { b.Charges = viewtest.Charges(42, 85, 22) }
	old := viewtest.BatchWith(1, viewtest.Clock(8, 0).AddDate(0, 0, -1), wet)
	b := old.Body.(event.BatchMixed)
	b.Batch.Day = "2031-05-11"
	old.Body = b
	s := viewtest.Site(t, old, viewtest.BatchWith(1, viewtest.Clock(8, 0), wet))
	v := dayOf(t, s, viewtest.Clock(9, 0), viewtest.Day)
	water := 0
	for _, f := range v.Flags {
		if f.Code == "water-limit" {
			water++
			if !strings.Contains(f.Text, "north/2031-05-12/1") {
				t.Errorf("of another day: %q", f.Text)
			}
		}
	}
	viewtest.Same(t, "flags of water", water, 1)
	if v.OpenBefore < 1 {
		t.Errorf("open of the days before: %d", v.OpenBefore)
	}
}
