package view_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/trade/curing"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/viewtest"
)

func zoneA1(t testing.TB, now time.Time, work ...sim.Work) view.Zone {
	t.Helper()
	z, ok := view.ZoneOf(viewtest.Site(t, work...), now, time.UTC, "A1")
	if !ok {
		t.Fatal("zone A1 is not known")
	}
	return z
}

func TestAZoneHasItsPlanAndItsEdges(t *testing.T) {
	z := zoneA1(t, viewtest.Noon)
	viewtest.Same(t, "zone", z.Zone, "A1")
	viewtest.Same(t, "site", z.Site, "Tarn vault")
	viewtest.Is(t, "area", z.AreaM2, 9)
	if len(z.Edges) != 1 || z.Edges[0] != (view.ZoneEdge{With: "A2", LengthM: 3}) {
		t.Errorf("edges %+v", z.Edges)
	}
	if len(z.Coats) != 1 || len(z.Coats[0].Placements)+len(z.Joints)+len(z.Tended) != 0 {
		t.Errorf("nothing was placed, and there is %+v", z)
	}
	if z.Coats[0].Strength != nil || z.Coats[0].Covered != nil {
		t.Errorf("strength %v, cover %v", z.Coats[0].Strength, z.Coats[0].Covered)
	}
	if _, ok := view.ZoneOf(viewtest.Site(t), viewtest.Noon, time.UTC, "C9"); ok {
		t.Error("there is no zone C9")
	}
}

// Where the volume of a placement is from, and what it is.
func TestAPlacementsVolumeSaysWhatItRestsOn(t *testing.T) {
	part := func(p event.Part, test bool) []sim.Work {
		work := []sim.Work{viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0))}
		if test {
			work = append(work, viewtest.Tested(viewtest.Batch(1), viewtest.Clock(8, 1), viewtest.Weighed))
		}
		return append(work, viewtest.Wrote(viewtest.Clock(8, 9), event.Placement{
			Batch: viewtest.Batch(1), Coat: viewtest.CoatA1, Part: p,
			From: viewtest.Clock(8, 5), To: viewtest.Clock(8, 9),
		}))
	}
	for _, c := range []struct {
		name, basis string
		work        []sim.Work
		want        float64
	}{
		{"all of a weighed batch", "weighed", part(event.Part{}, true), viewtest.BatchM3},
		{
			"a quarter of a weighed batch", "weighed", part(event.Part{Share: viewtest.Ref(unit.Share(0.25))}, true),
			viewtest.BatchM3 / 4,
		},
		{
			"litres that somebody measured", "stated", part(event.Part{Volume: viewtest.Ref(unit.Volume(0.03))}, true),
			0.03,
		},
		{
			"all of a batch that was not weighed, as designed", "estimated", part(event.Part{}, false),
			viewtest.DesignedM3,
		},
		{
			"half of it", "estimated", part(event.Part{Share: viewtest.Ref(unit.Share(0.5))}, false),
			viewtest.DesignedM3 / 2,
		},
	} {
		p := zoneA1(t, viewtest.Noon, c.work...).Coats[0].Placements
		if len(p) != 1 {
			t.Fatalf("%s: %d placements", c.name, len(p))
		}
		viewtest.Same(t, c.name+": basis", p[0].Basis, c.basis)
		viewtest.Is(t, c.name+": volume", p[0].VolumeM3, c.want)
		if !p[0].From.Equal(viewtest.Clock(8, 5)) || !p[0].To.Equal(viewtest.Clock(8, 9)) ||
			p[0].Batch != "north/2031-05-12/1" {
			t.Errorf("%s: %+v", c.name, p[0])
		}
		viewtest.MaybeIs(t, c.name+": age", p[0].AgeMin, 9)
	}
}

func TestWhatIsSaidOfAPlacementIsShown(t *testing.T) {
	p := viewtest.Wrote(viewtest.Clock(8, 9), event.Placement{
		Batch: viewtest.Batch(1), Coat: viewtest.CoatA1, From: viewtest.Clock(8, 5), To: viewtest.Clock(8, 9),
		Along:   []event.Zone{"A2"},
		Because: "the foreman said so",
		Gauges:  []unit.As[unit.Length]{viewtest.As(unit.Length(0.011)), viewtest.As(unit.Length(0.013))},
	})
	l := zoneA1(t, viewtest.Noon, viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)), p).Coats[0].Placements[0]
	viewtest.List(t, "along", l.Along, "A2")
	viewtest.List(t, "gauges", l.GaugeM, 0.011, 0.013)
	viewtest.Same(t, "because", l.Because, "the foreman said so")
	if l.Strip != nil {
		t.Errorf("the plan has no sides, and the batch lies at %+v", l.Strip)
	}
}

func TestACoversLifeOnAFace(t *testing.T) {
	tend := func(hour int, what event.Tending, with string) sim.Work {
		return viewtest.Wrote(viewtest.Clock(hour, 0), event.SurfaceTended{
			Zone: "A1", Face: event.Outer, Tending: what,
			With: with,
		})
	}
	work := append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		tend(9, event.Covered, "wet burlap"),
		tend(11, event.Wetted, "hose"), tend(13, event.Uncovered, ""))
	for _, c := range []struct {
		now  time.Time
		want string
	}{{viewtest.Clock(8, 30), ""}, {viewtest.Clock(9, 30), "wet burlap"}, {
		viewtest.Clock(12, 0),
		"wet burlap",
	}, {viewtest.Clock(14, 0), ""}} {
		k := zoneA1(t, c.now, work...).Coats[0].Covered
		switch {
		case k == nil && c.want != "":
			t.Errorf("at %s no cover lies there", c.now.Format("15:04"))
		case k != nil && (k.With != c.want || !k.Since.Equal(viewtest.Clock(9, 0))):
			t.Errorf("at %s lies %+v, want %q", c.now.Format("15:04"), *k, c.want)
		}
	}
	var got []string
	for _, l := range zoneA1(t, viewtest.Clock(14, 0), work...).Tended {
		got = append(got, strings.TrimSpace(l.At.Format("15:04")+" "+l.Face+" "+l.What+" "+l.With))
	}
	viewtest.List(t, "tended", got, "09:00 outer covered wet burlap", "11:00 outer wetted hose",
		"13:00 outer uncovered")
}

func TestPlacingOnAFaceEndsItsCover(t *testing.T) {
	work := viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		[]sim.Work{viewtest.Wrote(viewtest.Clock(9, 0), event.SurfaceTended{
			Zone: "A1", Face: event.Outer, Tending: event.Covered,
			With: "sheet",
		})}, viewtest.Whole(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(10, 0)))
	z := zoneA1(t, viewtest.Clock(11, 0), work...)
	if z.Coats[0].Covered != nil {
		t.Errorf("a cover still lies there: %+v", z.Coats[0].Covered)
	}
	last := z.Tended[len(z.Tended)-1]
	if last.What != "cover ended by placing" || !last.At.Equal(viewtest.Clock(10, 5)) || last.With != "n1/7" {
		t.Errorf("the last thing written of the surface is %+v", last)
	}
}

// Nurse-Saul over a datum of 0 °C: 20 °C over ten hours are 200 °C·h (ASTM C1074, equation 1).
func TestMaturityIsTheTemperatureOverItsDatumByTheHour(t *testing.T) {
	for _, c := range []struct {
		celsius unit.Celsius
		hours   int
		want    float64
	}{{20, 10, 200}, {10, 10, 100}, {25, 4, 100}} {
		var samples []event.Reading
		for h := 0; h <= c.hours; h++ {
			samples = append(samples, event.Reading{
				At:          viewtest.Clock(8, 0).Add(time.Duration(h) * time.Hour),
				Temperature: c.celsius,
			})
		}
		cure := viewtest.Wrote(viewtest.Clock(8, 0).Add(time.Duration(c.hours)*time.Hour), event.CureReadings{
			Probe: "p1", Coat: viewtest.CoatA1,
			Samples: samples,
		})
		s := viewtest.Site(t, append([]sim.Work{
			viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
			viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), viewtest.Clock(8, 0),
				1),
		}, cure)...)
		z, _ := view.ZoneOf(s, viewtest.Clock(8, 0).Add(time.Duration(c.hours)*time.Hour), time.UTC, "A1")
		st := z.Coats[0].Strength
		if st == nil {
			t.Fatal("no strength of a coat with readings")
		}
		if math.Abs(st.MaturityCH-c.want) > 0.5 {
			t.Errorf("%g °C over %d h: maturity %g, want %g", float64(c.celsius), c.hours, st.MaturityCH, c.want)
		}
		viewtest.Is(t, "lowest", st.LowestC, float64(c.celsius))
		viewtest.Same(t, "readings", st.Readings, int32(c.hours+1))
		viewtest.Same(t, "probe", st.Probe, "p1")
		viewtest.Same(t, "caution", st.Caution, curing.Caution)
		viewtest.MaybeIs(t, "strength without breaks", st.StrengthPa, viewtest.None)
		viewtest.Same(t, "extrapolated", st.Extrapolated, false)
		if c.celsius == 20 && math.Abs(st.EquivalentAgeH-float64(c.hours)) > 0.05 { // 20 °C is the reference
			t.Errorf("equivalent age %g h of %d h at 20 °C", st.EquivalentAgeH, c.hours)
		}
	}
}

// Of two probes in a coat the one that shows the least age speaks for it.
func TestTheYoungestProbeSpeaksForItsCoat(t *testing.T) {
	run := func(probe string, celsius unit.Celsius) sim.Work {
		return viewtest.Wrote(viewtest.Clock(18, 0), event.CureReadings{
			Probe: probe, Coat: viewtest.CoatA1,
			Samples: hourly(viewtest.Clock(8, 0), 10, celsius),
		})
	}
	z := zoneA1(t, viewtest.Clock(18, 0), viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
		viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), viewtest.Clock(8, 0), 1),
		run("warm", 30), run("cool", 15))
	viewtest.Same(t, "probe", z.Coats[0].Strength.Probe, "cool")
}

// hourly readings of one temperature, from an instant on.
func hourly(from time.Time, hours int, celsius unit.Celsius) []event.Reading {
	var all []event.Reading
	for h := range hours + 1 {
		all = append(all, event.Reading{At: from.Add(time.Duration(h) * time.Hour), Temperature: celsius})
	}
	return all
}

// Hours that nobody read are not made up: of 08:00 to 18:00 with nothing from 10:00 to 16:00, four hours at 20 °C
// count.
func TestAGapInTheReadingsIsNotBridged(t *testing.T) {
	samples := append(hourly(viewtest.Clock(8, 0), 2, 20), hourly(viewtest.Clock(16, 0), 2, 20)...)
	z := zoneA1(t, viewtest.Clock(18, 0), viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
		viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), viewtest.Clock(8, 0), 1),
		viewtest.Wrote(viewtest.Clock(18, 0), event.CureReadings{Probe: "p1", Coat: viewtest.CoatA1, Samples: samples}))
	st := z.Coats[0].Strength
	if math.Abs(st.MaturityCH-80) > 0.5 || math.Abs(st.EquivalentAgeH-4) > 0.05 {
		t.Errorf("maturity %g °C·h and %g h, want 80 and 4", st.MaturityCH, st.EquivalentAgeH)
	}
	if st.Note == "" {
		t.Error("nothing is said of the gap")
	}
}

func TestOneReadingSaysNoAge(t *testing.T) {
	z := zoneA1(t, viewtest.Clock(9, 0), viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
		viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), viewtest.Clock(8, 0), 1),
		viewtest.Wrote(viewtest.Clock(9, 0), event.CureReadings{
			Probe: "hand", Coat: viewtest.CoatA1,
			Samples: hourly(viewtest.Clock(8, 30), 0, 24),
		}))
	st := z.Coats[0].Strength
	viewtest.Same(t, "note", st.Note, "one reading says no age")
	viewtest.Is(t, "maturity", st.MaturityCH, 0)
	viewtest.Is(t, "lowest", st.LowestC, 24)
	viewtest.MaybeIs(t, "strength", st.StrengthPa, viewtest.None)
}

// Readings of before the coat was placed are of what lay there before.
func TestReadingsFromBeforeThePlacingDoNotCount(t *testing.T) {
	z := zoneA1(t, viewtest.Clock(18, 0), viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(14, 0)),
		viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(14, 0), viewtest.Clock(14, 5), 1),
		viewtest.Wrote(viewtest.Clock(18, 0), event.CureReadings{
			Probe: "p1", Coat: viewtest.CoatA1,
			Samples: hourly(viewtest.Clock(8, 0), 10, 20),
		}))
	st := z.Coats[0].Strength
	if math.Abs(st.EquivalentAgeH-4) > 0.05 {
		t.Errorf("equivalent age %g h, want the 4 since 14:00", st.EquivalentAgeH)
	}
	viewtest.Same(t, "readings", st.Readings, 5)
}

// By the mix's own breaks: cubes of one age and strength at 20 °C say of a coat as old and as warm that strength.
// Standard curing is at 23 °C (ASTM C192), at which the specimens' maturity is reckoned where none is given.
func TestTheStrengthIsByTheMixsOwnBreaks(t *testing.T) {
	brk := func(hours int, n unit.Force) sim.Work {
		return viewtest.Wrote(viewtest.Clock(6, 0), event.SpecimensBroken{
			Mix: "face", Shape: event.Cube, Size: viewtest.Ref(unit.Length(0.05)),
			Age:   time.Duration(hours) * time.Hour,
			Loads: []unit.Force{n}, MaturityCH: float64(20 * hours),
		})
	}
	work := []sim.Work{
		brk(24, 25e3), brk(72, 50e3), brk(168, 70e3), brk(672, 90e3),
		viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
		viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), viewtest.Clock(8, 0), 1),
	}
	read := viewtest.Wrote(viewtest.Clock(8, 0).AddDate(0, 0, 3), event.CureReadings{
		Probe: "p1", Coat: viewtest.CoatA1,
		Samples: hourly(viewtest.Clock(8, 0), 72, 20),
	})
	z, _ := view.ZoneOf(viewtest.Site(t, append(work, read)...), viewtest.Clock(8, 0).AddDate(0, 0, 3), time.UTC, "A1")
	st := z.Coats[0].Strength
	if math.Abs(st.MaturityCH-1440) > 1 {
		t.Errorf("maturity %g, want 72 × 20", st.MaturityCH)
	}
	if st.StrengthPa == nil { // 50 kN on 50 × 50 mm is 20 MPa
		t.Fatalf("no strength: %q", st.Note)
	}
	if *st.StrengthPa < 17e6 || *st.StrengthPa > 23e6 || *st.LowPa >= *st.StrengthPa || *st.HighPa <= *st.StrengthPa {
		t.Errorf("strength %g (%g to %g) Pa, want about 20 MPa", *st.StrengthPa, *st.LowPa, *st.HighPa)
	}
	if st.Extrapolated || len(st.Borrowed) != 0 {
		t.Errorf("extrapolated %t, borrowed %+v", st.Extrapolated, st.Borrowed)
	}
	viewtest.Same(t, "caution", st.Caution, curing.Caution)
}
