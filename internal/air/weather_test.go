package air_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"hod/internal/air"
	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

// at is a temperature of the air at a minute after seven.
type at struct {
	minute int
	air    unit.Celsius
}

func samples(all []at) []event.Weather {
	var out []event.Weather
	for _, k := range all {
		out = append(out, event.Weather{At: foldtest.Clock(k.minute), Air: new(k.air)})
	}
	return out
}

// forecast as it was issued at a minute.
func forecast(issued int, all ...at) event.WeatherForecast {
	return event.WeatherForecast{Source: "station", IssuedAt: foldtest.Clock(issued), Samples: samples(all)}
}

// skies is the weather of a desk at which this was read and told.
func skies(t *testing.T, read []at, told ...event.WeatherForecast) *air.Timeline {
	t.Helper()
	d := foldtest.NewDesk(t)
	for _, b := range told {
		d.By("f1", 0, b)
	}
	if len(read) > 0 {
		d.By("n1", 0, event.WeatherObserved{Station: "crew", Samples: samples(read)})
	}
	return timeline(d)
}

// timeline of a site whose events were read.
func timeline(d *foldtest.Desk) *air.Timeline {
	s := d.Site()
	s.ComputePlan()
	return s.Timeline()
}

// How far readings reach, 3 h, and a forecast's last hour are choices of this program.
func TestTheAirAtAnInstantIsAsReadThenAsForecastThenAsReadNearest(t *testing.T) {
	for name, k := range map[string]struct {
		read   []at
		told   []at
		minute int
		want   unit.Celsius
		source string
	}{
		"nothing read or told":              {nil, nil, 0, 20, air.AirAssumed},
		"a third of the way, straight":      {[]at{{0, 10}, {180, 16}}, nil, 60, 12, air.AirRead},
		"at a reading, the next being far":  {[]at{{0, 10}, {400, 16}}, nil, 0, 10, air.AirRead},
		"readings a minute too far apart":   {[]at{{0, 10}, {181, 16}}, nil, 60, 10, air.AirHeld},
		"before the first reading of a day": {[]at{{0, 10}, {60, 16}}, nil, -60, 10, air.AirHeld},
		"three hours after the last":        {[]at{{0, 10}}, nil, 180, 10, air.AirHeld},
		"a minute more":                     {[]at{{0, 10}}, nil, 181, 10, air.AirFar},
		"a minute more before the first":    {[]at{{0, 10}}, nil, -181, 10, air.AirFar},
		"in a wide gap, nearer the earlier": {[]at{{0, 10}, {1000, 16}}, nil, 499, 10, air.AirFar},
		"in a wide gap, nearer the later":   {[]at{{0, 10}, {1000, 16}}, nil, 501, 16, air.AirFar},
		"in the middle of it":               {[]at{{0, 10}, {1000, 16}}, nil, 500, 10, air.AirFar},
		"the held end of a wide gap":        {[]at{{0, 10}, {1000, 16}}, nil, 820, 16, air.AirHeld},
		"a forecast across a gap in reading": {
			[]at{{0, 10}, {400, 16}},
			[]at{{60, 20}, {180, 30}},
			90, 22.5,
			air.AirForecast,
		},
		"a forecast that was since read":   {[]at{{0, 10}, {180, 16}}, []at{{0, 30}, {180, 30}}, 90, 13, air.AirRead},
		"the last hour that was forecast":  {nil, []at{{0, 25}}, 59, 25, air.AirForecast},
		"when that hour is over":           {nil, []at{{0, 25}}, 60, 20, air.AirAssumed},
		"a forecast before its first hour": {nil, []at{{60, 25}}, 59, 20, air.AirAssumed},
	} {
		t.Run(name, func(t *testing.T) {
			var told []event.WeatherForecast
			if k.told != nil {
				told = append(told, forecast(0, k.told...))
			}
			got, source := skies(t, k.read, told...).AirAt(foldtest.Clock(k.minute))
			if math.Abs(float64(got-k.want)) > 1e-9 || source != k.source {
				t.Errorf("%g °C, %s; want %g, %s", got, source, k.want, k.source)
			}
		})
	}
}

func TestOfForecastsForOneHourTheLatestIssuedHoldsInWhateverOrderTheyCame(t *testing.T) {
	old, fresh := forecast(0, at{120, 15}, at{180, 15}), forecast(30, at{120, 21})
	for name, told := range map[string][]event.WeatherForecast{"in order": {old, fresh}, "late": {fresh, old}} {
		tl := skies(t, nil, told...)
		if len(tl.Told) != 2 { // 9:00 as told last, and 10:00, of which nobody told anything newer
			t.Errorf("%s: %d hours are told, not 2", name, len(tl.Told))
		}
		for minute, want := range map[int]unit.Celsius{120: 21, 150: 18, 180: 15} {
			if got, source := tl.AirAt(foldtest.Clock(minute)); got != want || source != air.AirForecast {
				t.Errorf("%s: %g °C, %s at minute %d; want %g", name, got, source, minute, want)
			}
		}
	}
}

// The mean wind falls toward the ground by the 1/7 power law: v(0.5 m) = v(z)·(0.5/z)^(1/7), a boundary-layer rule for
// open ground. By hand: (0.5/10)^(1/7) = e^(−2.99573/7) = 0.65184 and (0.5/2)^(1/7) = e^(−1.38629/7) = 0.82034.
func TestWindIsBroughtToTheHeightThatEvaporationWants(t *testing.T) {
	for name, k := range map[string]struct {
		wind   unit.Speed
		height unit.Length
		want   float64 // negative: none that a rate of drying follows from
	}{
		"on a mast of 10 m":                   {7, 10, 7 * 0.65184},
		"in the hand at 2 m":                  {7, 2, 7 * 0.82034},
		"at 0.5 m already":                    {7, 0.5, 7},
		"calm":                                {0, 10, 0},
		"faster than the rule was found for":  {70, 10, -1},
		"higher than the rule was found for":  {7, 100, -1},
		"nearer the ground than it holds for": {7, 0.05, -1},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, event.WeatherObserved{
				Station: "crew", WindHeight: foldtest.As(k.height),
				Samples: []event.Weather{{
					At: foldtest.Clock(0), Air: new(unit.Celsius(20)), Humidity: new(unit.Share(0.5)),
					Wind: new(k.wind),
				}},
			})
			sky := timeline(d).Read[0]
			switch {
			case (sky.Wind == nil) != (k.want < 0) || sky.Full() != (k.want >= 0):
				t.Errorf("wind %v, full %v", sky.Wind, sky.Full())
			case sky.Wind != nil && math.Abs(float64(*sky.Wind)-k.want) > 1e-4:
				t.Errorf("%g m/s at 0.5 m, not %g", *sky.Wind, k.want)
			}
		})
	}
}

// From a dew point by the Magnus form, WMO-No. 8: e(t) = 6.112·exp(17.62 t/(243.12 + t)) hPa. By hand, at 10 °C
// 12.260 hPa and at 20 °C 23.326 hPa: 52.56 %.
func TestHumidityIsAsReadElseByTheDewPointElseSaidToBeMissing(t *testing.T) {
	warm, share, dew := new(unit.Celsius(20)), new(unit.Share(0.4)), new(unit.Celsius(10))
	for name, k := range map[string]struct {
		read  event.Weather
		want  float64
		lacks string
	}{
		"humidity":          {event.Weather{Air: warm, Humidity: share}, 0.4, ""},
		"a dew point":       {event.Weather{Air: warm, DewPoint: dew}, 0.5256, ""},
		"both":              {event.Weather{Air: warm, Humidity: share, DewPoint: dew}, 0.4, ""},
		"air alone":         {event.Weather{Air: warm}, 0, "humidity was not read"},
		"humidity, no air":  {event.Weather{Humidity: share}, 0, "air temperature was not read"},
		"dew point, no air": {event.Weather{DewPoint: dew}, 0, "air temperature was not read"},
	} {
		t.Run(name, func(t *testing.T) {
			moist, err := air.Sky{Weather: k.read}.Moist()
			if k.lacks != "" {
				if err == nil || !strings.Contains(err.Error(), k.lacks) {
					t.Errorf("error %v, not %q", err, k.lacks)
				}
				return
			}
			if err != nil || math.Abs(float64(moist.Humidity)-k.want) > 5e-5 || moist.Temperature != 20 {
				t.Errorf("%+v, %v; want a humidity of %g", moist, err, k.want)
			}
			if (air.Sky{Weather: k.read}).Full() {
				t.Error("without wind it is taken for a full reading")
			}
		})
	}
}

func TestHoursAreThoseOnTheClockUpToNowAndNoneWhereOneIsNotRead(t *testing.T) {
	read := []at{{-60, 8}, {30, 14}, {120, 20}, {180, 26}} // 6:00, 7:30, 9:00, 10:00
	tl := skies(t, read)
	got, ok := tl.Hours(foldtest.Clock(150), 3) // at 9:30: 7:00, 8:00, 9:00
	if !ok || len(got) != 3 || got[0] != 12 || got[1] != 16 || got[2] != 20 {
		t.Errorf("%v, %v; want 12, 16 and 20 °C", got, ok)
	}
	if got, ok := tl.Hours(foldtest.Clock(150), 5); ok {
		t.Errorf("5:00 was not read, and yet %v", got)
	}
	if got, ok := skies(t, nil, forecast(0, at{0, 20}, at{120, 20})).Hours(foldtest.Clock(120), 2); ok {
		t.Errorf("a forecast is taken for readings: %v", got)
	}
}

// What a gauge cannot resolve, under 0.1 mm, is a trace and no rain: WMO-No. 8, from memory.
func TestATraceIsNoRain(t *testing.T) {
	d := foldtest.NewDesk(t)
	b := event.WeatherObserved{Station: "crew"}
	for i, mm := range []float64{0.05, 0.1, 0, 4} {
		b.Samples = append(b.Samples, event.Weather{At: foldtest.Clock(60 * i), RainMillimetres: new(mm)})
	}
	d.By("n1", 0, b)
	tl := timeline(d)
	if len(tl.Rainy) != 2 || tl.Rainy[0] != 1 || tl.Rainy[1] != 3 {
		t.Errorf("rain in readings %v, not in the second and the last", tl.Rainy)
	}
	if !tl.None() {
		t.Error("a rain gauge alone is taken for a reading of the air")
	}
}

func TestAirIsSettledOnceNoLaterReadingCanReachBack(t *testing.T) {
	tl := skies(t, []at{{0, 10}, {100, 12}, {300, 16}})
	for name, k := range map[string]struct {
		minute int
		want   time.Time
	}{
		"the next reading is over three hours later": {-81, foldtest.Clock(100)},
		"a reading within three hours, a later one":  {60, foldtest.Clock(300)},
		"a reading at just three hours":              {120, time.Time{}},
		"after the last":                             {301, time.Time{}},
	} {
		if got := tl.Settled(foldtest.Clock(k.minute)); !got.Equal(k.want) {
			t.Errorf("%s: settled at %v, not %v", name, got, k.want)
		}
	}
	for name, k := range map[string]struct {
		minute int
		within time.Duration
		want   bool
	}{
		"at a reading":           {100, time.Minute, true},
		"half an hour after it":  {130, 31 * time.Minute, true},
		"longer ago than within": {130, 30 * time.Minute, false},
		"before any reading":     {-1, time.Hour, false},
	} {
		if got := tl.Tells(foldtest.Clock(k.minute), k.within); got != k.want {
			t.Errorf("%s: told by readings before it: %v", name, got)
		}
	}
}
