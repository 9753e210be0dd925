package unit

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// The rate above which precautions are asked for is printed as 1.0 kg/m²/h and as 0.2 lb/ft²/h, which is 0.976: each is
// compared in its own unit. Source: EVAP-L1, ACI 305R and ACI 308R.
func TestEachSystemIsComparedWithItsOwnFigure(t *testing.T) {
	limit := EvaporationLimits(1.0, 0.2, 0.01, 0.001)
	for _, c := range []struct {
		name       string
		rate       Evaporation
		metric, us bool
	}{
		{"under both", 0.95, false, false},
		{"between the two", 0.985, false, true},
		{"over both", 1.02, true, true},
		{"at the metric figure", 1.0, false, true},
		{"rounds to the metric figure", 1.0049, false, true},
		{"at the US figure", 0.2 * PoundPerSquareFootHour, false, false},
		{
			"at the US figure, a last bit up", Evaporation(math.Nextafter(float64(0.2*PoundPerSquareFootHour), 2)),
			false,
			false,
		},
		{"not a number", Evaporation(math.NaN()), false, false},
		{"beyond all numbers", Evaporation(math.Inf(1)), true, true},
	} {
		if got := limit.Exceeded(Metric, c.rate); got != c.metric {
			t.Errorf("%s, metric: exceeded %v, want %v", c.name, got, c.metric)
		}
		if got := limit.Exceeded(US, c.rate); got != c.us {
			t.Errorf("%s, US: exceeded %v, want %v", c.name, got, c.us)
		}
	}
}

func TestLimitsOfOtherUnits(t *testing.T) {
	cold := TemperatureLimits(5, 40, 0.1) // 40 °F is 4.44 °C
	if !cold.Below(US, Fahrenheit(39.9)) || cold.Below(US, Fahrenheit(40)) || !cold.Reached(US, Fahrenheit(40)) ||
		cold.Exceeded(US, Fahrenheit(40)) {
		t.Error("40 °F is not compared as a Fahrenheit thermometer reads")
	}
	if !cold.Below(Metric, 4.9) || cold.Below(Metric, 5) || cold.Below(Metric, 4.96) ||
		cold.Below(Metric, Celsius(math.NaN())) {
		t.Error("5 °C is not compared as a Celsius thermometer reads")
	}
	frost := PressureLimits(3.5, 500, 0.1, 10) // 500 psi is 3.45 MPa: UNIT-09, ASTM C403
	if !frost.Below(Metric, 3.44*Megapascal) || frost.Below(US, 500*PSI) || !frost.Below(US, 490*PSI) {
		t.Error("3.5 MPa and 500 psi are not compared each in its unit")
	}
	gap := DifferenceLimits(20, 35, 0.5)
	if !gap.Exceeded(Metric, 20.5) || gap.Exceeded(US, 35*5.0/9) || !gap.Exceeded(US, 36*5.0/9) {
		t.Error("20 K and 35 F° are not compared each in its unit")
	}
	// A limit that was not filled in decides nothing.
	var none Threshold[Length]
	if none.Exceeded(Metric, 1) || none.Below(US, -1) || none.Reached(US, 0) {
		t.Error("an empty threshold decides")
	}
}

func TestRound(t *testing.T) {
	for _, c := range []struct{ x, step, want float64 }{
		{0.204, 0.01, 0.20},
		{0.205, 0.01, 0.21},
		{1.005, 0.01, 1.01},
		{0.285, 0.01, 0.29},
		{-0.205, 0.01, -0.21},
		{2.5, 1, 3},
		{7, 5, 5},
		{8, 5, 10},
		{1.23, 0, 1.23},
		{1.23, -1, 1.23},
		{1e300, 0.1, 1e300},
	} {
		if got := Round(c.x, c.step); !near(got, c.want) {
			t.Errorf("%v to %v: got %v, want %v", c.x, c.step, got, c.want)
		}
	}
}

// A reading is decimal, the figure computed from it is off by a last bit or two, up or down: the decision is the same.
// This is what makes a phone and the server agree, also where a reading lies halfway between two steps.
func TestLastBitsDecideNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(-4000, 4000).Draw(t, "thousandths")
		x := float64(n) / 1000
		step := rapid.SampledFrom([]float64{0.01, 0.1, 0.5, 1}).Draw(t, "step")
		limit := Threshold[Evaporation]{Metric: Limit[Evaporation]{Value: 1, Size: 1, Step: step}}
		bits := rapid.IntRange(1, 8).Draw(t, "last bits")
		up, down := x, x
		for range bits {
			up, down = math.Nextafter(up, 9), math.Nextafter(down, -9)
		}
		for _, y := range []float64{up, down} {
			if Round(x, step) != Round(y, step) || limit.Exceeded(Metric, Evaporation(x)) != limit.Exceeded(Metric,
				Evaporation(y)) {
				t.Fatalf("%v and %v differ when rounded to %v: %v, %v", x, y, step, Round(x, step), Round(y, step))
			}
		}
	})
}

func TestMoreIsNeverLessExceeded(t *testing.T) {
	limit := EvaporationLimits(1.0, 0.2, 0.01, 0.001)
	rapid.Check(t, func(t *rapid.T) {
		rate := rapid.Float64Range(0.9, 1.1)
		x, y := rate.Draw(t, "x"), rate.Draw(t, "y")
		for _, s := range []System{Metric, US} {
			if x <= y && limit.Exceeded(s, Evaporation(x)) && !limit.Exceeded(s, Evaporation(y)) {
				t.Fatalf("%v exceeds the %v limit and %v does not", x, s, y)
			}
			if limit.Below(s, Evaporation(x)) == limit.Reached(s, Evaporation(x)) {
				t.Fatalf("%v is both or neither of below and at the %v limit", x, s)
			}
		}
	})
}
