package view_test

import (
	"math"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

func TestEvaporationIsUnosOfTheReading(t *testing.T) {
	for _, c := range []struct {
		air, humidity, wind float64
		over                bool
	}{
		{33, 0.25, 8, true},
		{23, 0.90, 1, false},
		{28, 0.40, 3, true},
		{20, 0.60, 2, false},
	} {
		s := viewtest.Site(t, viewtest.Read(viewtest.Full(viewtest.Noon, unit.Celsius(c.air), unit.Share(c.humidity),
			unit.Speed(c.wind))))
		v, ok := view.WeatherOf(s, viewtest.Noon.Add(5*time.Minute), time.UTC)
		if !ok {
			t.Fatal("nothing is known of the weather")
		}
		wind := viewtest.WindAtWork(c.wind, 2)
		if v.WindMPS == nil || math.Abs(*v.WindMPS-wind) > 0.001*wind {
			t.Errorf("wind %v m/s at 0.5 m, want %g", v.WindMPS, wind)
		}
		viewtest.MaybeIs(t, "wind as read", v.WindReadMPS, c.wind)
		viewtest.MaybeIs(t, "height", v.WindHeightM, 2)
		// nothing fresh lies there: the surface is taken as warm as the air
		want := viewtest.Uno(c.air, c.air, c.humidity, *v.WindMPS)
		if v.EvaporationKgM2H == nil || math.Abs(*v.EvaporationKgM2H-want) > 1e-6 {
			t.Errorf("%g °C, %g, %g m/s: evaporation %v, want %g", c.air, c.humidity, c.wind, v.EvaporationKgM2H, want)
		}
		// the US form is its own regression; a pound over a square foot is 4.8824 kg/m²
		if us := *v.EvaporationLbFt2H * 4.8824; math.Abs(us-want) > 0.06*max(want, 0.2) {
			t.Errorf("in US units %g kg/m²/h, want about %g", us, want)
		}
		if v.OverLimit == nil || *v.OverLimit != c.over {
			t.Errorf("over the limit of 0.5: %v, want %t", v.OverLimit, c.over)
		}
		viewtest.Is(t, "limit", v.LimitKgM2H, 0.5)
		viewtest.Is(t, "limit", v.LimitLbFt2H, 0.1)
	}
}

// The surface of fresh mortar that was read counts for itself.
func TestAReadSurfaceIsTakenAsRead(t *testing.T) {
	w := viewtest.Full(viewtest.Noon, 30, 0.5, 4)
	w.SurfaceTemperature = new(unit.Celsius(40))
	v, _ := view.WeatherOf(viewtest.Site(t, viewtest.Read(w)), viewtest.Noon, time.UTC)
	viewtest.MaybeIs(t, "surface", v.SurfaceC, 40)
	viewtest.Same(t, "source", v.SurfaceSource, "read")
	if want := viewtest.Uno(40, 30, 0.5, *v.WindMPS); math.Abs(*v.EvaporationKgM2H-want) > 1e-6 {
		t.Errorf("evaporation %g, want %g", *v.EvaporationKgM2H, want)
	}
}

// The heat index is 105 °F at 90 °F and 70 % (the table of the National Weather Service; its regression gives 105.9).
func TestTheHeatIndexIsThePublishedOne(t *testing.T) {
	c := unit.Celsius((90.0 - 32) / 1.8)
	v, _ := view.WeatherOf(viewtest.Site(t, viewtest.Read(viewtest.Full(viewtest.Noon, c, 0.7, 1))), viewtest.Noon,
		time.UTC)
	if v.HeatIndexF == nil || math.Abs(*v.HeatIndexF-105.9) > 0.2 {
		t.Errorf("heat index %v, want 105.9", v.HeatIndexF)
	}
	if len(v.Judgements) == 0 {
		t.Error("nothing is said of the heat")
	}
}

// The dew point of 20 °C and 50 % is 9.3 °C (psychrometric tables; Magnus).
func TestHumidityAndDewPointFollowFromEachOther(t *testing.T) {
	v, _ := view.WeatherOf(viewtest.Site(t, viewtest.Read(viewtest.Full(viewtest.Noon, 20, 0.5, 1))), viewtest.Noon,
		time.UTC)
	if v.DewPointC == nil || math.Abs(*v.DewPointC-9.3) > 0.1 {
		t.Errorf("dew point %v, want 9.3", v.DewPointC)
	}
	w := event.Weather{
		At: viewtest.Noon, Air: new(unit.Celsius(20)), DewPoint: new(unit.Celsius(9.27)),
		Wind: new(unit.Speed(1)),
	}
	v, _ = view.WeatherOf(viewtest.Site(t, viewtest.Read(w)), viewtest.Noon, time.UTC)
	if v.Humidity == nil || math.Abs(*v.Humidity-0.5) > 0.01 {
		t.Errorf("humidity %v, want 0.5", v.Humidity)
	}
}

// What nobody read is absent, and named.
func TestWhatWasNotReadIsNamed(t *testing.T) {
	for _, c := range []struct {
		name    string
		w       event.Weather
		missing []string
	}{
		{"air alone", event.Weather{At: viewtest.Noon, Air: new(unit.Celsius(20))}, []string{"humidity", "wind"}},
		{
			"wind alone",
			event.Weather{At: viewtest.Noon, Wind: new(unit.Speed(3))},
			[]string{"air temperature", "humidity"},
		},
		{
			"rain alone",
			event.Weather{At: viewtest.Noon, RainMillimetres: new(2.0)},
			[]string{"air temperature", "humidity", "wind"},
		},
		{"all three", viewtest.Full(viewtest.Noon, 20, 0.5, 1), nil},
	} {
		v, ok := view.WeatherOf(viewtest.Site(t, viewtest.Read(c.w)), viewtest.Noon, time.UTC)
		if !ok {
			t.Fatalf("%s: nothing is known", c.name)
		}
		viewtest.List(t, c.name, v.Missing, c.missing...)
		if full := c.missing == nil; (v.EvaporationKgM2H != nil) != full || (v.OverLimit != nil) != full ||
			(v.LastFullAt != nil) != full {
			t.Errorf("%s: evaporation %v, over %v, last full %v", c.name, v.EvaporationKgM2H, v.OverLimit, v.LastFullAt)
		}
		if c.w.Air == nil && v.AirC != nil || c.w.Wind == nil && v.WindMPS != nil {
			t.Errorf("%s: air %v, wind %v", c.name, v.AirC, v.WindMPS)
		}
	}
	if _, ok := view.WeatherOf(viewtest.Site(t), viewtest.Noon, time.UTC); ok {
		t.Error("nobody read anything, and there is weather")
	}
}

// A reading of later than now is not known now.
func TestAReadingOfLaterIsNotKnownYet(t *testing.T) {
	s := viewtest.Site(t, viewtest.Read(viewtest.Full(viewtest.Noon, 20, 0.5, 1)),
		viewtest.Read(viewtest.Full(viewtest.Noon.Add(time.Hour), 30, 0.5, 1)))
	v, _ := view.WeatherOf(s, viewtest.Noon.Add(30*time.Minute), time.UTC)
	viewtest.MaybeIs(t, "air", v.AirC, 20)
	viewtest.At(t, "read", v.ReadAt, viewtest.Noon)
}

func TestOldReadingsAreSaidToBeOld(t *testing.T) {
	s := viewtest.Site(t, viewtest.Read(viewtest.Full(viewtest.Noon, 20, 0.5, 1)))
	for _, c := range []struct {
		after time.Duration
		said  bool
	}{{time.Hour, false}, {2 * time.Hour, false}, {3 * time.Hour, true}} {
		v, _ := view.WeatherOf(s, viewtest.Noon.Add(c.after), time.UTC)
		if said := len(v.Missing) > 0; said != c.said || (v.TooOld != "") != c.said {
			t.Errorf("after %s: missing %q, too old %q", c.after, v.Missing, v.TooOld)
		}
		viewtest.At(t, "last full", v.LastFullAt, viewtest.Noon)
		viewtest.Is(t, "counts for", v.CountsForMin, 120)
	}
}

// Hours to come are those of the forecast to the end of tomorrow, each with what forbids it.
func TestTheHoursToComeAreThoseForecast(t *testing.T) {
	hour := func(h int, air unit.Celsius, rain float64) event.Weather {
		w := viewtest.Full(viewtest.Clock(0, 0).Add(time.Duration(h)*time.Hour), air, 0.8, 1)
		w.RainMillimetres = &rain
		return w
	}
	f := viewtest.Wrote(viewtest.Clock(6, 0), event.WeatherForecast{
		Source: "office", IssuedAt: viewtest.Clock(6, 0), WindHeight: viewtest.As(unit.Length(10)),
		Samples: []event.Weather{
			hour(8, 18, 0), hour(13, 20, 0), hour(14, 20, 2.5), hour(30, 2, 0), hour(47, 15, 0),
			hour(49, 15, 0),
		},
	})
	v, ok := view.WeatherOf(viewtest.Site(t, f), viewtest.Noon, time.UTC)
	if !ok || v.ReadAt != nil {
		t.Fatalf("known %t, read %v", ok, v.ReadAt)
	}
	viewtest.Same(t, "source", v.ForecastSource, "office")
	type is struct {
		at       time.Time
		workable bool
		why      string
	}
	want := []is{
		{viewtest.Clock(13, 0), true, ""},
		{viewtest.Clock(14, 0), false, "rain 2.5 mm, from 1 mm in the hour on"},
		{viewtest.Clock(6, 0).AddDate(0, 0, 1), false, "cold: 2 °C, under 4 °C"},
		{viewtest.Clock(23, 0).AddDate(0, 0, 1), true, ""},
	} // 08:00 has passed, and 01:00 of the day after tomorrow is too far
	var got []is
	for _, h := range v.Hours {
		got = append(got, is{h.At, h.Workable, h.Why})
	}
	viewtest.List(t, "hours", got, want...)
	if h := v.Hours[0]; h.EvaporationKgM2H == nil || *h.EvaporationKgM2H <= 0 || *h.AirC != 20 || *h.RainMM != 0 {
		t.Errorf("an hour with all that was told: %+v", h)
	}
}

func TestAnHourOfWhichOnlyTheAirWasToldHasNothingElse(t *testing.T) {
	f := viewtest.Wrote(viewtest.Clock(6, 0), event.WeatherForecast{
		Source: "office", IssuedAt: viewtest.Clock(6, 0),
		Samples: []event.Weather{{At: viewtest.Clock(13, 0), Air: new(unit.Celsius(20))}},
	})
	v, _ := view.WeatherOf(viewtest.Site(t, f), viewtest.Noon, time.UTC)
	if len(v.Hours) != 1 {
		t.Fatalf("%d hours", len(v.Hours))
	}
	if h := v.Hours[0]; h.EvaporationKgM2H != nil || h.RainMM != nil || !h.Workable {
		t.Errorf("an hour of the air alone: %+v", h)
	}
}

// What lies fresh and uncovered is named, until it is covered.
func TestWhatLiesFreshAndUncoveredIsNamed(t *testing.T) {
	work := append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 0)),
		viewtest.Read(viewtest.Full(viewtest.Noon, 20, 0.5, 1)))
	v, _ := view.WeatherOf(viewtest.Site(t, work...), viewtest.Noon, time.UTC)
	viewtest.List(t, "fresh", v.FreshUncovered, "A1 outer 1")
	work = append(work, viewtest.Wrote(viewtest.Clock(11, 30), event.SurfaceTended{
		Zone: "A1", Face: event.Outer,
		Tending: event.Covered,
	}))
	v, _ = view.WeatherOf(viewtest.Site(t, work...), viewtest.Noon, time.UTC)
	viewtest.List(t, "fresh under a cover", v.FreshUncovered)
}

// The day's weather: lowest and highest, sums of rain, and the worst hour for a surface as warm as the air.
func TestTheDaysWeatherIsWhatWasReadThatDay(t *testing.T) {
	rain := func(w event.Weather, mm float64) event.Weather { w.RainMillimetres = &mm; return w }
	work := []sim.Work{
		// yesterday's counts for nothing
		viewtest.Read(viewtest.Full(viewtest.Clock(6, 0).AddDate(0, 0, -1), 40, 0.1, 9)),
		viewtest.Read(viewtest.Full(viewtest.Clock(7, 0), 12, 0.8, 1)),
		viewtest.Read(rain(viewtest.Full(viewtest.Clock(13, 0), 28, 0.35, 5), 0.5)),
		viewtest.Read(rain(viewtest.Full(viewtest.Clock(17, 0), 22, 0.5, 2), 1.5)),
	}
	d, err := daily.DayOf(viewtest.Site(t, work...), viewtest.Clock(18, 0), time.UTC, viewtest.Day)
	if err != nil {
		t.Fatal(err)
	}
	w := d.Weather
	viewtest.Same(t, "readings", w.Readings, 3)
	viewtest.MaybeIs(t, "lowest", w.AirLowC, 12)
	viewtest.MaybeIs(t, "highest", w.AirHighC, 28)
	viewtest.MaybeIs(t, "driest", w.HumidityLow, 0.35)
	viewtest.MaybeIs(t, "rain", w.RainMM, 2)
	viewtest.At(t, "worst", w.EvaporationAt, viewtest.Clock(13, 0))
	if want := viewtest.Uno(28, 28, 0.35, *w.WindHighMPS); w.EvaporationMax == nil ||
		math.Abs(*w.EvaporationMax-want) > 1e-6 {
		t.Errorf("worst evaporation %v, want %g", w.EvaporationMax, want)
	}
	if want := viewtest.WindAtWork(5, 2); math.Abs(*w.WindHighMPS-want) > 0.001*want {
		t.Errorf("highest wind %g, want %g", *w.WindHighMPS, want)
	}
	viewtest.Is(t, "unjudged", w.UnjudgedMin, 0) // nothing fresh lay there
}
