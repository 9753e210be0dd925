package weather

import (
	"encoding/csv"
	"errors"
	"io/fs"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/unit"
)

var nan, inf = math.NaN(), math.Inf(1)

func TestImpossibleWeatherIsRefused(t *testing.T) {
	good := Observation{Air{20, 0.5}, 3, 25}
	change := func(f func(*Observation)) Observation { o := good; f(&o); return o }
	for name, o := range map[string]Observation{
		"no humidity":       change(func(o *Observation) { o.Air.Humidity = 0 }),
		"negative humidity": change(func(o *Observation) { o.Air.Humidity = -0.1 }),
		"101 %":             change(func(o *Observation) { o.Air.Humidity = 1.01 }),
		"humidity NaN":      change(func(o *Observation) { o.Air.Humidity = unit.Share(nan) }),
		"air NaN":           change(func(o *Observation) { o.Air.Temperature = unit.Celsius(nan) }),
		"air infinite":      change(func(o *Observation) { o.Air.Temperature = unit.Celsius(inf) }),
		"air at 70 °C":      change(func(o *Observation) { o.Air.Temperature = 70 }),
		"air at −30 °C":     change(func(o *Observation) { o.Air.Temperature = -30 }),
		"surface NaN":       change(func(o *Observation) { o.Surface = unit.Celsius(nan) }),
		"surface at 90 °C":  change(func(o *Observation) { o.Surface = 90 }),
		"wind backwards":    change(func(o *Observation) { o.Wind = -1 }),
		"wind NaN":          change(func(o *Observation) { o.Wind = unit.Speed(nan) }),
		"wind of 100 m/s":   change(func(o *Observation) { o.Wind = 100 }),
	} {
		for form, err := range everyForm(o) {
			if err == nil {
				t.Errorf("%s: %s gave a figure, want an error", name, form)
			} else if strings.Contains(err.Error(), "%!") {
				t.Errorf("%s: garbled message: %v", name, err)
			}
		}
	}
	for form, err := range everyForm(good) {
		if err != nil {
			t.Errorf("good weather: %s: %v", form, err)
		}
	}
}

func everyForm(o Observation) map[string]error {
	errs := map[string]error{}
	_, errs["Uno SI"] = UnoSI(o)
	_, errs["Uno US"] = UnoUS(o)
	_, errs["Menzel SI"] = MenzelSI(o, Magnus)
	_, errs["Menzel US"] = MenzelUS(o, Magnus)
	return errs
}

func TestImpossibleFiguresAreRefused(t *testing.T) {
	refuse := func(what string, err error) {
		t.Helper()
		if err == nil {
			t.Errorf("%s: got a figure, want an error", what)
		}
	}
	_, err := FromDewPoint(20, 20.1, Magnus)
	refuse("dew point above the air", err)
	_, err = FromDewPoint(unit.Celsius(nan), 10, Magnus)
	refuse("air NaN beside a dew point", err)
	_, err = FromDewPoint(20, unit.Celsius(nan), Magnus)
	refuse("dew point NaN", err)
	_, err = Air{-40, 0.01}.DewPoint(Magnus)
	refuse("a dew point below the formula's range", err)
	_, err = Saturation(9).Pressure(20)
	refuse("an unknown formula", err)
	_, err = Saturation(-1).Temperature(2000)
	refuse("an unknown formula", err)
	_, err = IF97.Pressure(-1)
	refuse("steam tables below freezing", err)
	_, err = MenzelSI(Observation{Air{-5, 0.5}, 3, 25}, IF97)
	refuse("Menzel with steam tables below freezing", err)
	_, err = FromWetBulb(20, 21, 101325)
	refuse("wet bulb above dry bulb", err)
	_, err = FromWetBulb(40, 5, 101325)
	refuse("a wet bulb that no air gives", err)
	_, err = FromWetBulb(20, 15, 0)
	refuse("no air pressure", err)
	_, err = FromWetBulb(unit.Celsius(nan), 15, 101325)
	refuse("dry bulb NaN", err)
	_, err = AtWorkHeight(3, 0)
	refuse("wind read at the ground", err)
	_, err = AtWorkHeight(3, unit.Length(nan))
	refuse("wind read at a height NaN", err)
	_, err = AtTwoMetres(3, 0.05)
	refuse("wind read within the grass", err)
	_, err = StandardPressure(unit.Length(inf))
	refuse("an infinite height", err)
	_, err = HeatIndex(Air{80, 0.5})
	refuse("heat index at 80 °C", err)
	_, err = ColdSpell(make([]unit.Celsius, 71))
	refuse("a cold spell of 71 hours", err)
	_, err = PlacingTemperature(10, 0)
	refuse("no thickness", err)
	_, err = ColdWeather(unit.Celsius(nan))
	refuse("air NaN", err)
	_, err = Frost(-1, unit.Pressure(nan))
	refuse("strength NaN", err)
	_, err = Cooling(unit.Kelvins(nan), 0.02)
	refuse("a fall NaN", err)
	_, err = Protection(3, false)
	refuse("full load", err)
	layer := Layer{5, 0.05, 0.01}
	_, err = Lost(Layer{0, 0.05, 0.01}, nil)
	refuse("no water", err)
	_, err = Lost(Layer{5, unit.Volume(nan), 0.01}, nil)
	refuse("yield NaN", err)
	_, err = Lost(layer, []Span{{time.Hour, unit.Evaporation(nan)}})
	refuse("rate NaN", err)
	_, err = Lost(layer, []Span{{-time.Hour, 1}})
	refuse("a span backwards", err)
}

func genObservation() *rapid.Generator[Observation] {
	return rapid.Custom(func(t *rapid.T) Observation {
		return Observation{
			Air: Air{
				unit.Celsius(rapid.Float64Range(-17, 59).Draw(t, "air")),
				unit.Share(rapid.Float64Range(0.01, 1).Draw(t, "humidity")),
			},
			Wind:    unit.Speed(rapid.Float64Range(0, 40).Draw(t, "wind")),
			Surface: unit.Celsius(rapid.Float64Range(-17, 59).Draw(t, "surface")),
		}
	})
}

func rates(t *rapid.T, o Observation) [4]Estimate {
	var r [4]Estimate
	var errs [4]error
	r[0], errs[0] = UnoSI(o)
	r[1], errs[1] = UnoUS(o)
	r[2], errs[2] = MenzelSI(o, Magnus)
	r[3], errs[3] = MenzelUS(o, ASHRAE)
	if err := errors.Join(errs[:]...); err != nil {
		t.Fatal(err)
	}
	for _, e := range r {
		if !(e.Rate >= 0 && !math.IsInf(float64(e.Rate), 0)) || e.Condensation != (e.Raw < 0) ||
			(e.Condensation && e.Rate != 0) {
			t.Fatalf("%s of %+v: %+v", e.Form, o, e)
		}
	}
	return r
}

// Floats may differ in a last bit where the physics says "the same".
const hair = 1e-12

func TestMoreWindNeverDriesLess(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		calm := genObservation().Draw(t, "weather")
		windy := calm
		windy.Wind += unit.Speed(rapid.Float64Range(0, 20).Draw(t, "more"))
		a, b := rates(t, calm), rates(t, windy)
		for i := range a {
			if float64(b[i].Rate) < float64(a[i].Rate)*(1-hair) {
				t.Fatalf("%s: %v at %v m/s, %v at %v", a[i].Form, a[i].Rate, calm.Wind, b[i].Rate, windy.Wind)
			}
		}
	})
}

func TestMoreHumidityNeverDriesMore(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		dry := genObservation().Draw(t, "weather")
		damp := dry
		damp.Air.Humidity = min(1, damp.Air.Humidity+unit.Share(rapid.Float64Range(0, 1).Draw(t, "more")))
		a, b := rates(t, dry), rates(t, damp)
		for i := range a {
			if float64(b[i].Rate) > float64(a[i].Rate)*(1+hair) {
				t.Fatalf("%s: %v at %v, %v at %v", a[i].Form, a[i].Rate, dry.Air.Humidity, b[i].Rate, damp.Air.Humidity)
			}
		}
	})
}

func TestSaturatedAirAsWarmAsTheSurfaceTakesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		o := genObservation().Draw(t, "weather")
		o.Air.Humidity, o.Surface = 1, o.Air.Temperature
		for _, e := range rates(t, o) {
			if e.Rate != 0 || e.Condensation {
				t.Fatalf("%s of %+v: %+v, want nothing either way", e.Form, o, e)
			}
		}
	})
}

func TestDewPointUndoesHumidity(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := Saturation(rapid.IntRange(int(Magnus), int(Uno)).Draw(t, "formula"))
		air := Air{
			unit.Celsius(rapid.Float64Range(0, 59).Draw(t, "air")),
			unit.Share(rapid.Float64Range(0.05, 1).Draw(t, "humidity")),
		}
		dew, err := air.DewPoint(s)
		if err != nil {
			t.Fatal(err)
		}
		if dew > air.Temperature {
			t.Fatalf("dew point %v above the air %v", dew, air.Temperature)
		}
		back, err := FromDewPoint(air.Temperature, dew, s)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(back.Humidity-air.Humidity)) > 1e-9 {
			t.Fatalf("%s: humidity %v came back as %v through a dew point of %v", s, air.Humidity, back.Humidity, dew)
		}
	})
}

func TestDrierWetBulbMeansDrierAir(t *testing.T) {
	if a, err := FromWetBulb(22, 22, 101325); err != nil || math.Abs(float64(a.Humidity)-1) > 1e-12 {
		t.Errorf("wet bulb as warm as the dry: %v, %v; want saturated air", a, err)
	}
	rapid.Check(t, func(t *rapid.T) {
		dry := rapid.Float64Range(10, 45).Draw(t, "dry")
		fall := rapid.Float64Range(0.01, 3).Draw(t, "fall")
		more := rapid.Float64Range(0.01, 1).Draw(t, "more")
		a, err := FromWetBulb(unit.Celsius(dry), unit.Celsius(dry-fall), 101325)
		b, err2 := FromWetBulb(unit.Celsius(dry), unit.Celsius(dry-fall-more), 101325)
		if err := errors.Join(err, err2); err != nil {
			t.Fatal(err)
		}
		if b.Humidity >= a.Humidity {
			t.Fatalf("a wet bulb %v lower gave %v, after %v", more, b.Humidity, a.Humidity)
		}
	})
}

func TestASteamTableOfItsOwn(t *testing.T) {
	for s := Magnus; s <= IF97; s++ {
		low, high := s.Range()
		for at := max(low, -45); at <= min(high, 100); at += 2.5 {
			p, err := s.Pressure(at)
			must(t, err)
			back, err := s.Temperature(p)
			must(t, err)
			// the ASHRAE branches meet in a jump: two temperatures there share a pressure
			if math.Abs(float64(back-at)) > 0.005 {
				t.Errorf("%s: %v °C came back as %v", s, at, back)
			}
		}
		if s.Source().Published == "" || s.Source().Text == "" {
			t.Errorf("%s has no source", s)
		}
	}
}

func TestThresholdsAreComparedInTheirOwnUnit(t *testing.T) {
	// 0.98 kg/m²/h is over 0.2 lb/ft²/h and under the 1.0 kg/m²/h that the same standards print.
	rate := unit.Evaporation(0.98)
	if Ordinary.Reached(Estimate{Form: FormUnoSI, Rate: rate}) {
		t.Error("0.98 kg/m²/h by an SI form reached 1.0")
	}
	if !Ordinary.Reached(Estimate{Form: FormUnoUS, Rate: rate}) {
		t.Error("0.98 kg/m²/h = 0.2007 lb/ft²/h by a US form did not reach 0.2")
	}
	for _, h := range []Threshold{Ordinary, LowBleed, Strictest} {
		if !h.Reached(Estimate{Form: FormMenzelSI, Rate: h.SI * (1 - 1e-12)}) ||
			!h.Reached(Estimate{
				Form: FormMenzelUS,
				Rate: unit.Evaporation(h.US*(1-1e-12)) * unit.PoundPerSquareFootHour,
			}) {
			t.Errorf("%s: a rate short by its last bit did not reach the threshold", h.Name)
		}
	}
}

func TestSplittingASpanLosesTheSame(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		layer := Layer{21, 0.085, 0.012}
		rate := unit.Evaporation(rapid.Float64Range(0, 2).Draw(t, "rate"))
		whole := time.Duration(rapid.Int64Range(0, int64(3*time.Hour)).Draw(t, "time"))
		part := time.Duration(rapid.Int64Range(0, int64(whole)).Draw(t, "part"))
		a, err := Lost(layer, []Span{{whole, rate}})
		b, err2 := Lost(layer, []Span{{part, rate}, {time.Hour, 0}, {whole - part, rate}})
		if err := errors.Join(err, err2); err != nil {
			t.Fatal(err)
		}
		if math.Abs(float64(a.Share-b.Share)) > 1e-12 || a.Share < 0 || a.Share > 1 {
			t.Fatalf("whole %+v, in two with a covered hour between %+v", a, b)
		}
	})
}

func TestALayerCannotLoseMoreThanItHas(t *testing.T) {
	lost, err := Lost(Layer{21, 0.085, 0.005}, []Span{{10 * time.Hour, 1}})
	must(t, err)
	if lost.Share != 1 || !lost.Dry {
		t.Errorf("ten hours at 1 kg/m²/h on 1.2 kg/m²: %+v, want all of it and dry", lost)
	}
}

func TestColdSpell(t *testing.T) {
	hours := func(f float64) []unit.Celsius {
		h := make([]unit.Celsius, 80)
		for i := range h {
			h[i] = unit.Fahrenheit(f)
		}
		return h
	}
	warmNoon := hours(20)      // cold enough that the mean stays under 40 °F
	for i := 40; i < 53; i++ { // 13 hours above 50 °F, over midnight
		warmNoon[i] = unit.Fahrenheit(51)
	}
	twelve := append([]unit.Celsius(nil), warmNoon...)
	twelve[40] = unit.Fahrenheit(20)
	oneMildDay := hours(30)
	for i := range 24 {
		oneMildDay[56+i] = unit.Fahrenheit(41)
	}
	for name, c := range map[string]struct {
		air  []unit.Celsius
		want bool
	}{
		"three days at 39 °F":                    {hours(39), true},
		"three days at 40 °F":                    {hours(40), false},
		"thirteen hours of one day above 50 °F":  {warmNoon, false},
		"twelve hours above 50 °F are just half": {twelve, true},
		"the third day at 41 °F":                 {oneMildDay, false},
	} {
		j, err := ColdSpell(c.air)
		must(t, err)
		if j.Broken() != c.want {
			t.Errorf("%s: got %v, want %v", name, j.Broken(), c.want)
		}
	}
}

func TestPrintedLimitsDifferBetweenSystems(t *testing.T) {
	// 4.2 °C is 39.6 °F: under the 40 °F and over the 4 °C that the standard prints for one and the same limit.
	j, err := ColdWeather(4.2)
	must(t, err)
	if j.SI.Broken || !j.US.Broken || !j.Broken() {
		t.Errorf("4.2 °C: %+v; want broken in °F alone, and the safe side taken", j)
	}
	// Between 500 psi (3.447 MPa) and 3.5 MPa.
	j, err = Frost(-2, 3.48*unit.Megapascal)
	must(t, err)
	if !j.SI.Broken || j.US.Broken {
		t.Errorf("3.48 MPa at −2 °C: %+v; want broken in MPa alone", j)
	}
}

func TestHeatIndexWords(t *testing.T) {
	for _, c := range []struct {
		f, rh float64
		want  HeatLevel
	}{{70, 50, Comfortable}, {82, 60, HeatCaution}, {92, 50, ExtremeCaution}, {96, 60, Danger}, {
		105, 60,
		ExtremeDanger,
	}, {20, 50, Comfortable}} {
		h, err := HeatIndex(Air{unit.Fahrenheit(c.f), unit.Share(c.rh / 100)})
		must(t, err)
		if h.Level != c.want {
			t.Errorf("%v °F, %v %%: %.1f °F, %q; want %q", c.f, c.rh, h.Fahrenheit(), h.Level, c.want)
		}
	}
	// The adjustment for dry air takes off, the one for damp air adds (weather service's text, from memory).
	plain, err := HeatIndex(Air{unit.Fahrenheit(95), 0.13})
	must(t, err)
	dry, err := HeatIndex(Air{unit.Fahrenheit(95), 0.05})
	must(t, err)
	if dry.Index >= plain.Index {
		t.Errorf("95 °F: %v at 5 %%, %v at 13 %%; want less when drier", dry.Fahrenheit(), plain.Fahrenheit())
	}
	if h, err := HeatIndex(Air{unit.Fahrenheit(115), 0.9}); err != nil || !h.Beyond {
		t.Errorf("115 °F and 90 %%: %+v, %v; want it marked as beyond the table", h, err)
	}
}

// A July of hourly airport weather with its heat wave, and a January, where the open data are at hand: every hour that
// is complete gives a figure, and none is negative or beyond belief.
func TestRealWeatherGivesFigures(t *testing.T) {
	for _, month := range []struct {
		file    string
		surface func(air unit.Celsius) unit.Celsius
	}{
		{"weather-2013-07-lga.csv", func(air unit.Celsius) unit.Celsius { return air + 3 }},
		{"weather-2013-01-lga.csv", func(unit.Celsius) unit.Celsius { return 13 }}, // kept warm
	} {
		t.Run(month.file, func(t *testing.T) {
			f, err := os.Open("../../../../shared/data/" + month.file)
			if errors.Is(err, fs.ErrNotExist) {
				t.Skip("the open weather data are not at hand here")
			}
			must(t, err)
			defer f.Close()
			rows, err := csv.NewReader(f).ReadAll()
			must(t, err)
			column := map[string]int{}
			for i, name := range rows[0] {
				column[name] = i
			}
			complete, reached, agree := 0, 0, 0
			for _, row := range rows[1:] {
				var x [4]float64
				whole := true
				for i, name := range []string{"temp", "dewp", "humid", "wind_speed"} {
					v, err := strconv.ParseFloat(row[column[name]], 64)
					whole = whole && err == nil
					x[i] = v
				}
				if !whole {
					continue
				}
				complete++
				when := row[column["time_hour"]]
				air := Air{unit.Fahrenheit(x[0]), unit.Share(x[2] / 100)}
				wind, err := AtWorkHeight(unit.Speed(x[3])*unit.MilePerHour, 10)
				must(t, err)
				o := Observation{air, wind, month.surface(air.Temperature)}
				si, err := UnoSI(o)
				must(t, err)
				us, err := UnoUS(o)
				must(t, err)
				menzel, err := MenzelSI(o, Magnus)
				must(t, err)
				for _, e := range []Estimate{si, us, menzel} {
					if !(e.Rate >= 0 && e.Rate < 10) {
						t.Errorf("%s: %s gives %v kg/m²/h of %+v", when, e.Form, e.Rate, o)
					}
				}
				if LowBleed.Reached(si) {
					reached++
				}
				back, err := FromDewPoint(air.Temperature, unit.Fahrenheit(x[1]), Magnus)
				must(t, err)
				if math.Abs(float64(back.Humidity-air.Humidity)) <= 0.005 {
					agree++
				}
				_, err = HeatIndex(air)
				must(t, err)
			}
			t.Logf("%d complete hours of %d; %d of them reach 0.5 kg/m²/h; humidity agrees with the dew point in %d",
				complete, len(rows)-1, reached, agree)
			if complete < 600 {
				t.Errorf("only %d complete hours: the file was not understood", complete)
			}
			// Some hours mix a special report's thermometers with the routine one's, so not every hour can agree.
			if agree*100 < complete*85 {
				t.Errorf("the observers' humidity agrees with that from their dew point in %d of %d hours, want most",
					agree, complete)
			}
		})
	}
}
