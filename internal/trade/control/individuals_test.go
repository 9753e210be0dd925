package control

import (
	"math"
	"slices"
	"testing"
)

// The flow rates of the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2, with the figures that it prints.
func TestLimitsAreThoseOfThePublishedExample(t *testing.T) {
	flow := []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}
	l, signals, err := Individuals(flow)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name      string
		got, want float64
	}{{"mean", l.Mean, 50.81}, {"upper limit", l.High, 55.8041}, {"lower limit", l.Low, 45.8159}} {
		if math.Abs(c.got-c.want) > 0.002 {
			t.Errorf("%s %.4f, the handbook has %.4f", c.name, c.got, c.want)
		}
	}
	if len(signals) != 0 {
		t.Errorf("the handbook's process is in control, and here %v", signals)
	}
}

func TestEachRunRuleIsFoundWhereItIsBrokenAndNowhereElse(t *testing.T) {
	l := Limits{Mean: 0, Sigma: 1, Low: -3, High: 3}
	for _, c := range []struct {
		name   string
		values []float64
		want   []Signal
	}{
		{"by chance", []float64{0.5, -0.5, 1.2, -1.2, 0.3, -0.2, 2.1, -2.1, 0.1}, nil},
		{"one outside", []float64{0, -3.1, 0}, []Signal{{1, Outside}}},
		{"two of three", []float64{0, 2.2, 0, 2.3}, []Signal{{3, TwoOfThr}}},
		{"two of three on both sides are none", []float64{2.2, 0, -2.3}, nil},
		{"four of five", []float64{1.1, 1.2, 0, 1.3, 1.4}, []Signal{{4, FourOfFiv}}},
		{"eight on one side", []float64{.1, .2, .1, .2, .1, .2, .1, .2}, []Signal{{7, EightSide}}},
		{"seven on one side", []float64{.1, .2, .1, .2, .1, .2, .1, -.2}, nil},
	} {
		if got := signals(c.values, l); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
}

func TestTooFewValuesHaveNoLimits(t *testing.T) {
	if _, _, err := Individuals([]float64{1, 2, 3}); err == nil {
		t.Error("three values have limits")
	}
	if _, s, err := Individuals(make([]float64, 20)); err != nil || len(s) > 0 {
		t.Errorf("values all alike: %v, %v", s, err)
	}
	if _, _, err := Individuals([]float64{1, 2, 3, 4, 5, 6, 7, math.NaN()}); err == nil {
		t.Error("what is no number has limits")
	}
}
