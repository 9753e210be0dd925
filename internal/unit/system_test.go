package unit

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

func TestShownInBothSystems(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Metric.Mass(42.63768278), "42.6 kg"},
		{US.Mass(42.63768278), "94 lb"},
		{Metric.Mass(0.51), "510 g"},
		{US.Mass(0.5 * Pound), "8 oz"},
		{US.Mass(1134), "2500 lb"},
		{Metric.Mass(1234.5), "1234 kg"},
		{Metric.Mass(0.9999), "1 kg"},
		{Metric.Mass(0), "0 g"},
		{Metric.Volume(0.085), "85 L"},
		{Metric.Volume(1.234), "1.23 m³"},
		{US.Volume(3 * CubicFoot), "3 ft³"},
		{US.Volume(0.1), "3.53 ft³"},
		{US.Liquid(2.5 * Gallon), "2.5 gal"},
		{Metric.Liquid(2.5 * Gallon), "9.46 L"},
		{US.Liquid(18 * FluidOunce), "18 fl oz"},
		{Metric.Liquid(18 * FluidOunce), "532 mL"},
		{US.Liquid(Quart), "0.25 gal"},
		{US.Length(80 * Inch), "6 ft 8 in"},
		{US.Length(80.5 * Inch), "6 ft 8 1/2 in"},
		{US.Length(6 * Foot), "6 ft"},
		{US.Length(11.999 * Inch), "1 ft"},
		{US.Length(100*Foot + 3.3*Inch), "100 ft 3 in"},
		{Metric.Length(2.4), "2.4 m"},
		{Metric.Length(0.038), "38 mm"},
		{US.Thickness(Inch / 2), "1/2 in"},
		{US.Thickness(12 * Millimetre), "0.472 in"},
		{US.Thickness(1.5 * Inch), "1 1/2 in"},
		{US.Thickness(2 * Inch), "2 in"},
		{Metric.Thickness(Inch / 2), "12.7 mm"},
		{US.Thickness(0), "0 in"},
		{US.Area(72 * SquareFoot), "72 ft²"},
		{Metric.Area(72 * SquareFoot), "6.69 m²"},
		{US.Area(4 * SquareInch), "4 in²"},
		{Metric.Area(0.0025), "2500 mm²"},
		{US.Temperature(25), "77 °F"},
		{Metric.Temperature(Fahrenheit(85)), "29.4 °C"},
		{Metric.Temperature(-0.04), "0 °C"},
		{US.Difference(10), "18 F°"},
		{Metric.Difference(10), "10 K"},
		{US.Speed(12 * MilePerHour), "12 mph"},
		{Metric.Speed(12 * MilePerHour), "19.3 km/h"},
		{US.Density(WaterDensity), "62.4 lb/ft³"},
		{US.AreaMass(16.5 * PoundPerSquareFoot), "16.5 lb/ft²"},
		{Metric.AreaMass(16.5 * PoundPerSquareFoot), "80.6 kg/m²"},
		{Metric.Density(WaterDensity), "1000 kg/m³"},
		{US.Pressure(4000 * PSI), "4000 psi"},
		{Metric.Pressure(4000 * PSI), "27.6 MPa"},
		{Metric.Pressure(2339), "2.34 kPa"},
		{US.Force(12000 * PoundForce), "12000 lbf"},
		{Metric.Force(12000 * PoundForce), "53.4 kN"},
		{US.Evaporation(0.2 * PoundPerSquareFootHour), "0.2 lb/ft²/h"},
		{Metric.Evaporation(0.2 * PoundPerSquareFootHour), "0.98 kg/m²/h"},
		{US.Share(0.04), "4%"},
		{Metric.Share(0.0125), "1.25%"},
		{Metric.Share(0.5698), "57%"},
		{Metric.Share(1), "100%"},
		{Metric.Share(0.00052), "0.05%"},
		{US.Flow(3.75 * Flow(Gallon) / 60), "3.75 gal/min"},
		{Metric.Flow(0.24e-3), "14.4 L/min"},
		{US.Dose(16 * FluidOuncePerHundredweight), "16 fl oz/cwt"},
		{Metric.Dose(16 * FluidOuncePerHundredweight), "1043 mL/100 kg"},
		{US.Mass(Mass(math.NaN())), "not known"},
		{Metric.Length(Length(math.Inf(1))), "not known"},
		{US.Length(Length(math.Inf(-1))), "not known"},
		{Metric.Share(Share(math.NaN())), "not known"},
		{US.Length(Length(math.NaN())), "not known"},
		{Duration(35 * time.Second), "35 s"},
		{Duration(270 * time.Second), "4 min 30 s"},
		{Duration(90 * time.Minute), "1 h 30 min"},
		{Duration(time.Hour - time.Millisecond), "1 h"},
		{Duration(24*time.Hour - time.Second), "1 d"},
		{Duration(51 * time.Hour), "2 d 3 h"},
		{Duration(1500 * time.Millisecond), "1.5 s"},
		{Duration(0), "0 s"},
		{Duration(-47 * time.Minute), "-47 min"},
		{Duration(math.MinInt64), "-106751 d 23 h"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
}

func said[Q any](t *testing.T, text string, parse func(string) (Q, error)) As[Q] {
	t.Helper()
	a, err := Said(text, parse)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// What a person wrote is shown as written; the bracket holds the system in which they did not write.
func TestWordsAreKept(t *testing.T) {
	for _, c := range []struct{ got, want string }{
		{Both(US, said(t, "2.5gal", ParseVolume), System.Liquid), "2.5 gal (9.46 L)"},
		{Both(Metric, said(t, " 2.5gal ", ParseVolume), System.Liquid), "2.5 gal (9.46 L)"},
		{Both(US, said(t, "9.5L", ParseVolume), System.Liquid), "9.5 L (2.51 gal)"},
		{Both(US, said(t, "2.50gal", ParseVolume), System.Liquid), "2.50 gal (9.46 L)"},
		{Both(US, said(t, "2gal+18floz", ParseVolume), System.Liquid), "2gal+18floz (8.1 L)"},
		{Both(US, said(t, "2 1/2 gal", ParseVolume), System.Liquid), "2 1/2 gal (9.46 L)"},
		{Both(US, said(t, "½ gal", ParseVolume), System.Liquid), "½ gal (1.89 L)"},
		{Both(US, Computed(2.5*Gallon), System.Liquid), "2.5 gal (9.46 L)"},
		{Both(Metric, Computed(2.5*Gallon), System.Liquid), "9.46 L (2.5 gal)"},
		{Both(US, said(t, `6'-8"`, ParseLength), System.Length), `6'-8" (2.03 m)`},
		{Both(US, said(t, "6f8", ParseLength), System.Length), "6f8 (2.03 m)"},
		{Both(US, said(t, "85F", ParseTemperature), System.Temperature), "85 F (29.4 °C)"},
		{Both(US, said(t, "-5C", ParseTemperature), System.Temperature), "-5 C (23 °F)"},
		{Both(US, said(t, "0.2lb/ft2/h", ParseEvaporation), System.Evaporation), "0.2 lb/ft2/h (0.98 kg/m²/h)"},
		{Both(US, said(t, "130lb/ft3", ParseDensity), System.Density), "130 lb/ft3 (2082 kg/m³)"},
		{Both(Metric, said(t, "10kn", ParseSpeed), System.Speed), "10 kn (18.5 km/h)"},
		{Both(US, said(t, "4%", ParseShare), System.Share), "4%"},
		{Both(US, said(t, "half", ParseShare), System.Share), "half"},
		{Both(US, said(t, "18oz", ParseMass), System.Mass), "18 oz (510 g)"},
		{Both(US, said(t, "1qt/4s", ParseFlow), System.Flow), "1qt/4s (14.2 L/min)"},
		{Shown(US, said(t, "2.50gal", ParseVolume), System.Liquid), "2.50 gal"},
		{Shown(Metric, said(t, "2.50gal", ParseVolume), System.Liquid), "9.46 L"},
		{Shown(Metric, Computed(2.5*Gallon), System.Liquid), "9.46 L"},
		{Spaced("12ft3"), "12 ft3"},
		{Spaced("nothing"), "nothing"},
		{Spaced("4%"), "4%"},
		{Spaced(""), ""},
		{Spaced("2blorps"), "2blorps"},
	} {
		if c.got != c.want {
			t.Errorf("got %q, want %q", c.got, c.want)
		}
	}
	if a, err := Said("18oz", ParseVolume); err == nil || a.Entered != "" {
		t.Errorf("words that were refused are kept: %+v, %v", a, err)
	}
}

func TestSystemNames(t *testing.T) {
	for text, want := range map[string]System{"metric": Metric, "SI": Metric, "us": US, " US ": US, "customary": US} {
		if got, err := ParseSystem(text); err != nil || got != want {
			t.Errorf("%q: got %v, %v", text, got, err)
		}
	}
	var e *Error
	if _, err := ParseSystem("imperial"); !errors.As(err, &e) || !strings.Contains(e.Error(), "metric and us") {
		t.Errorf("imperial: %v", err)
	}
	for _, s := range []System{Metric, US} {
		if got, err := ParseSystem(s.String()); err != nil || got != s || s.Other() == s || s.Other().Other() != s {
			t.Errorf("%v: %v, %v", s, got, err)
		}
	}
}

// shows is each way to show a kind, with the coarsest it may be: a share of the value or a step, whichever is more.
var shows = []struct {
	name             string
	k                kind
	show             func(System, float64) string
	smallest, most   float64 // SI
	relative, metric float64 // half the last digit, in the value and in SI
	us               float64
}{
	{"mass", mass, shown(System.Mass), 1e-4, 1e5, 0.0051, 0, 0},
	{"volume", volume, shown(System.Volume), 1e-5, 1e3, 0.0051, 0, 0},
	{"liquid", volume, shown(System.Liquid), 1e-6, 1e2, 0.0051, 0, 0},
	{"length", length, shown(System.Length), 1e-3, 500, 0.0101, 0.005001, 0.501 * float64(Inch)},
	{"short length", length, shown(System.Length), 0.31, 15, 0, 0.005001, 0.0313 * float64(Inch)},
	{"thickness", length, shown(System.Thickness), 1e-3, 0.2, 0.0101, 0.0000501, 0},
	{"area", area, shown(System.Area), 1e-5, 1e4, 0.0051, 0, 0},
	{"temperature", temperature, shown(System.Temperature), -50, 100, 0, 0.0501, 0.0501 * fahrenheitDegree},
	{"difference", difference, shown(System.Difference), -50, 50, 0, 0.0501, 0.0501 * fahrenheitDegree},
	{"speed", speed, shown(System.Speed), 0, 50, 0, 0.0501 * float64(KilometrePerHour), 0.0501 * float64(MilePerHour)},
	{"density", density, shown(System.Density), 10, 8000, 0, 0.501, 0.0501 * float64(PoundPerCubicFoot)},
	{"pressure", pressure, shown(System.Pressure), 100, 1e8, 0.0051, 0, 0},
	{"force", force, shown(System.Force), 1, 1e6, 0.0051, 0, 0},
	{"share", share, shown(System.Share), 0, 1, 0.0051, 0.0000501, 0.0000501},
	{"flow", flow, shown(System.Flow), 1e-6, 1, 0.0051, 0, 0},
	{
		"evaporation", evaporation, shown(System.Evaporation), 0, 5, 0, 0.00501,
		0.000501 * float64(PoundPerSquareFootHour),
	},
	{"dose", dose, shown(System.Dose), 1e-6, 1e-2, 0.0051, 0, 0},
}

func shown[Q ~float64](show func(System, Q) string) func(System, float64) string {
	return func(s System, x float64) string { return show(s, Q(x)) }
}

// What is shown can be typed in again, means what was shown to the last digit shown, and never turns an order around.
func TestShownCanBeReadAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := rapid.SampledFrom(shows).Draw(t, "quantity")
		s := rapid.SampledFrom([]System{Metric, US}).Draw(t, "system")
		value := rapid.Float64Range(c.smallest, c.most)
		if c.smallest > 0 { // small ones as often as large ones
			value = rapid.Map(rapid.Float64Range(math.Log(c.smallest), math.Log(c.most)), math.Exp)
		}
		x, y := value.Draw(t, "x"), value.Draw(t, "y")
		again := func(x float64) float64 {
			text := c.show(s, x)
			got := parsed(t, c.k, text)
			step := c.metric
			if s == US {
				step = c.us
			}
			if off := math.Abs(got - x); off > max(step, c.relative*math.Abs(x)) {
				t.Fatalf("%s %v is shown as %q, which is %v", c.name, x, text, got)
			}
			return got
		}
		a, b := again(x), again(y)
		if x <= y && a > b*(1+1e-12) && a > b+1e-12 || x > y && b > a*(1+1e-12) && b > a+1e-12 {
			t.Fatalf("%s: %v and %v are shown as %q and %q", c.name, x, y, c.show(s, x), c.show(s, y))
		}
	})
}

func TestDurationCanBeReadAgain(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		d := time.Duration(math.Exp(rapid.Float64Range(math.Log(1e8), math.Log(3e18)).Draw(t, "ln ns")))
		text := Duration(d)
		got, err := ParseDuration(text)
		if err != nil {
			t.Fatal(err)
		}
		if off := (got - d).Abs(); float64(off) > 0.5e9 && float64(off) > 0.0215*float64(d) {
			t.Fatalf("%v is shown as %q, which is %v", d, text, got)
		}
	})
}

// No figure of any kind is shown as NaN or Inf, with an exponent that cannot be read, or not at all.
func TestShownIsNeverNaN(t *testing.T) {
	for _, c := range shows {
		for _, x := range []float64{
			math.NaN(), math.Inf(1), math.Inf(-1), math.MaxFloat64, -math.MaxFloat64,
			math.SmallestNonzeroFloat64, 0,
		} {
			for _, s := range []System{Metric, US} {
				if text := c.show(s, x); strings.Contains(text, "NaN") || strings.Contains(text, "Inf") || text == "" {
					t.Errorf("%s %v is shown as %q", c.name, x, text)
				}
			}
		}
	}
}
