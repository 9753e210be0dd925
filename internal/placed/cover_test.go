package placed_test

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/judge"
	"hod/internal/unit"
	"hod/internal/view"
)

func cover(zone event.Zone, face event.Face, what event.Tending) event.SurfaceTended {
	return event.SurfaceTended{
		Zone: zone, Face: face, Tending: what,
		With: map[bool]string{true: "wet burlap"}[what == event.Covered],
	}
}

// dry is weather that dries a fresh surface at far over 1 kg/m²/h.
func dry(minute int) event.WeatherObserved {
	air, humidity, wind := unit.Celsius(30), unit.Share(0.25), unit.Speed(7)
	return event.WeatherObserved{
		Station: "crew", WindHeight: foldtest.As(unit.Length(2)),
		Samples: []event.Weather{{At: foldtest.Clock(minute), Air: &air, Humidity: &humidity, Wind: &wind}},
	}
}

func rain(minute int, mm float64) event.WeatherObserved {
	return event.WeatherObserved{
		Station: "crew",
		Samples: []event.Weather{{At: foldtest.Clock(minute), RainMillimetres: &mm}},
	}
}

// A zone was covered in the evening, nobody wrote that the cover came off, and material was placed there the next day.
func TestPlacingOnAFaceEndsItsCoverThere(t *testing.T) {
	const night, next = 9 * 60, 24 * 60
	for name, k := range map[string]struct {
		write func(d *foldtest.Desk)
		dry   int // flags of drying
	}{
		"placed on after the cover": {func(*foldtest.Desk) {}, 1},
		"and covered again after": {func(d *foldtest.Desk) {
			d.By("n1", next+10, cover("A1", event.AnyFace, event.Covered))
		}, 0},
		"and covered again on that face": {func(d *foldtest.Desk) {
			d.By("n1", next+10, cover("A1", event.Outer, event.Covered))
		}, 0},
		"and covered again on the other face": {func(d *foldtest.Desk) {
			d.By("n1", next+10, cover("A1", event.Inner, event.Covered))
		}, 1},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, foldtest.Mixed(1, 0))
			d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
			d.By("n1", night, cover("A1", event.AnyFace, event.Covered))
			second := foldtest.Mixed(1, next)
			second.Batch.Day = foldtest.Clock(next).In(foldtest.Place).Format(time.DateOnly)
			d.By("n1", next, second)
			p := foldtest.Put(1, "A1", next+5, next+8)
			p.Batch, p.Coat.Number = second.Batch, 2
			d.By("n1", next+8, p)
			k.write(d)
			d.By("n1", next+40, dry(next+40))
			s := d.Site()
			if n := foldtest.Count(s, fold.Drying); n != k.dry {
				t.Errorf("%d flags of drying, not %d", n, k.dry)
			}
			if _, _, bare := s.FreshSurface(foldtest.Clock(next + 40)); len(bare) > 0 != (k.dry > 0) {
				t.Errorf("the weather has %v fresh and uncovered", bare)
			}
			z, _ := s.Zone("A1")
			if got := z.Covered(event.Outer, foldtest.Clock(next+40)); got == (k.dry > 0) {
				t.Errorf("the zone is covered: %v", got)
			}
			covers := z.Covers(event.Outer)
			if first := covers[0]; first.To.IsZero() || !first.To.Equal(foldtest.Clock(next+5)) {
				t.Errorf("the night's cover ended at %s, not when material was placed", first.To)
			}
		})
	}
}

// Placed and covered in one minute, in that order, by one device: what was written last lies on top.
func TestACoverOfTheSameMinuteLiesOnWhatWasWrittenBeforeIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	p := foldtest.Put(1, "A1", 0, 0)
	p.From, p.To = time.Time{}, time.Time{}
	d.By("n1", 10, p)
	d.By("n1", 10, cover("A1", event.AnyFace, event.Covered))
	if z, _ := d.Site().Zone("A1"); !z.Covered(event.Outer, foldtest.Clock(11)) {
		t.Error("the cover is gone")
	}
}

// What was placed on the outer face leaves the cover of the inner one.
func TestACoverEndsOnlyOnTheFacePlacedOn(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("f1", 0, event.CoatPlanned{
		Coat:      event.Coat{Zone: "A1", Face: event.Inner, Number: 1},
		Thickness: foldtest.As(unit.Length(0.012)), Mix: "face",
	})
	d.By("n1", 1, cover("A1", event.AnyFace, event.Covered))
	d.By("n1", 2, foldtest.Mixed(1, 2))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	z, _ := d.Site().Zone("A1")
	if z.Covered(event.Outer, foldtest.Clock(11)) || !z.Covered(event.Inner, foldtest.Clock(11)) {
		t.Errorf("outer covered %v, inner covered %v", z.Covered(event.Outer, foldtest.Clock(11)),
			z.Covered(event.Inner, foldtest.Clock(11)))
	}
}

// Ten hours under burlap, from 08:00 on, until the next coat was placed at 18:00 and nobody covered again: ten hours of
// moist cure, though the probe read on until the next morning. All readings are at 20 °C, over the 10 °C that count.
func TestMoistCuringIsCountedUntilTheCoverEnds(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	d.By("n1", 60, cover("A1", event.Outer, event.Covered))
	readings := event.CureReadings{Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}, Probe: "p7"}
	for m := 30; m <= 24*60; m += 30 {
		readings.Samples = append(readings.Samples, event.Reading{At: foldtest.Clock(m), Temperature: 20})
	}
	d.By("p1", 24*60, readings)
	d.By("n1", 655, foldtest.Mixed(2, 655))
	p := foldtest.Put(2, "A1", 660, 670)
	p.Coat.Number = 2
	d.By("n1", 670, p)
	s := d.Site()
	z, _ := s.Zone("A1")
	cures := s.CuresOf(z.Coats[0], foldtest.Clock(24*60))
	if len(cures) != 1 || cures[0].Moist.Credited != 10*time.Hour {
		t.Errorf("moist cures %+v, not one of 10 h", cures)
	}
}

// Rain in the hour before 15:00 on a coat that sets at 16:00.
func TestRainOnFreshMortarIsFlagged(t *testing.T) {
	for name, k := range map[string]struct {
		write func(d *foldtest.Desk)
		want  string // in the flag's text; empty: no flag
	}{
		"uncovered": {
			func(d *foldtest.Desk) { d.By("n1", 60, rain(60, 4.2)) },
			"rain, 4.2 mm by 1 reading, fell on A1 outer 1",
		},
		"over two hours": {
			func(d *foldtest.Desk) { d.By("n1", 60, rain(60, 4.2)); d.By("n1", 120, rain(120, 1.3)) },
			"rain, 5.5 mm by 2 readings",
		},
		"read twice in one hour": {
			func(d *foldtest.Desk) { d.By("n1", 60, rain(60, 4)); d.By("n1", 75, rain(75, 4)) },
			"rain, 5.0 mm by 2 readings",
		},
		"covered before the rain": {func(d *foldtest.Desk) {
			d.By("n1", 11, cover("A1", event.Outer, event.Covered))
			d.By("n1", 120, rain(120, 4.2))
		}, ""},
		"covered when it had begun": {func(d *foldtest.Desk) {
			d.By("n1", 30, cover("A1", event.Outer, event.Covered))
			d.By("n1", 60, rain(60, 4.2))
		}, "may have fallen on A1 outer 1 while it was fresh: it lay uncovered for 25 min of that time"},
		"bare again before it ended": {func(d *foldtest.Desk) {
			d.By("n1", 11, cover("A1", event.Outer, event.Covered))
			d.By("n1", 50, cover("A1", event.Outer, event.Uncovered))
			d.By("n1", 60, rain(60, 4.2))
		}, "rain, 4.2 mm"},
		"covered, and the cover placed on": {func(d *foldtest.Desk) {
			d.By("n1", -600, cover("A1", event.Outer, event.Covered))
			d.By("n1", 60, rain(60, 4.2))
		}, "rain, 4.2 mm"},
		"a trace":              {func(d *foldtest.Desk) { d.By("n1", 60, rain(60, 0.04)) }, ""},
		"read to be none":      {func(d *foldtest.Desk) { d.By("n1", 60, rain(60, 0)) }, ""},
		"before it was placed": {func(d *foldtest.Desk) { d.By("n1", 5, rain(5, 4.2)) }, ""},
		"after initial set":    {func(d *foldtest.Desk) { d.By("n1", 400, rain(400, 4.2)) }, ""},
		"in the hour in which it reached set": {
			func(d *foldtest.Desk) { d.By("n1", 180, rain(180, 4.2)) },
			"may have fallen",
		},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, foldtest.Mixed(1, 0))
			d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
			k.write(d)
			s := d.Site()
			if k.want == "" {
				if n := foldtest.Count(s, fold.Washed); n != 0 {
					t.Errorf("%d flags of rain", n)
				}
				return
			}
			f := foldtest.FlagOf(t, s, fold.Washed)
			if !strings.Contains(f.Text, k.want) || !strings.Contains(f.Text, "washed") ||
				f.Grave != strings.Contains(f.Text, "fell on") || f.Source == "" {
				t.Errorf("the flag says %q, grave %v, by %q; wanted %q", f.Text, f.Grave, f.Source, k.want)
			}
		})
	}
}

func TestRainSpeaksTheSitesUnits(t *testing.T) {
	if got := judge.Rain(unit.US, 25.4/4); got != "0.25 in" {
		t.Errorf("6.35 mm is %s", got)
	}
}

// A coat was begun on one day and gone on with on the next; in that night it froze. What lay since the day before is
// old enough to stand it, what was placed that evening is not.
func TestFrostIsJudgedForTheNewestMaterial(t *testing.T) {
	frozen := func(second bool) int {
		d := foldtest.NewDesk(t)
		const next = 36 * 60
		d.By("n1", 0, foldtest.Mixed(1, 0))
		d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
		if second {
			b := foldtest.Mixed(1, next)
			b.Batch.Day = foldtest.Clock(next).In(foldtest.Place).Format(time.DateOnly)
			d.By("n1", next, b)
			p := foldtest.Put(1, "A1", next+5, next+10)
			p.Batch = b.Batch
			d.By("n1", next+10, p)
		}
		readings := event.CureReadings{Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}, Probe: "p7"}
		for m := 30; m <= 42*60; m += 30 {
			temp := unit.Celsius(22)
			if m == 41*60 {
				temp = -2
			}
			readings.Samples = append(readings.Samples, event.Reading{At: foldtest.Clock(m), Temperature: temp})
		}
		d.By("p1", 42*60, readings)
		return foldtest.Count(d.Site(), fold.Frost)
	}
	if n := frozen(false); n != 0 {
		t.Errorf("%d flags of frost on a coat of 41 hours at 22 °C", n)
	}
	if n := frozen(true); n != 1 {
		t.Errorf("%d flags of frost on a coat gone on with 5 hours before, not 1", n)
	}
}

// The board's weather, the zone and the flags say the same of one cover.
func TestAllViewsTakeACoverAlike(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", -600, cover("A1", event.AnyFace, event.Covered))
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	d.By("n1", 30, dry(30))
	s := d.Site()
	c, _ := view.WeatherOf(s, foldtest.Clock(30), foldtest.Place)
	z, _ := view.ZoneOf(s, foldtest.Clock(30), foldtest.Place, "A1")
	bare := len(c.FreshUncovered) == 1
	if !bare || z.Coats[0].Covered != nil || foldtest.Count(s, fold.Drying) != 1 {
		t.Errorf("weather bare %v, zone covered %v, flags of drying %d", bare, z.Coats[0].Covered,
			foldtest.Count(s, fold.Drying))
	}
	d.By("n1", 20, cover("A1", event.Outer, event.Covered))
	s = d.Site()
	c, _ = view.WeatherOf(s, foldtest.Clock(30), foldtest.Place)
	z, _ = view.ZoneOf(s, foldtest.Clock(30), foldtest.Place, "A1")
	if got := z.Coats[0].Covered; len(c.FreshUncovered) != 0 || got == nil || !got.Since.Equal(foldtest.Clock(20)) ||
		foldtest.Count(s, fold.Drying) != 0 {
		t.Errorf("weather %v, zone covered %v, flags of drying %d", c.FreshUncovered, got,
			foldtest.Count(s, fold.Drying))
	}
}
