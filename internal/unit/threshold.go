package unit

import "math"

// Round gives q to the nearest whole step, halves away from zero. Decisions compare rounded values, because a phone
// and the server may differ in a float's last bit. A decimal figure that lies on the half (0.205 to 0.01) is first
// freed of that last bit, so that it goes the same way everywhere. A step that is not above zero leaves q as it is.
func Round[Q ~float64](q, step Q) Q {
	if !(step > 0) || math.IsInf(float64(step), 0) {
		return q
	}
	return Q(steps(float64(q), float64(step))) * step
}

func steps(q, step float64) float64 {
	const finer = 1 << 20 // of a step: far above a float's last bit, far below what is measured
	n := q / step
	if math.Abs(n) < 1<<31 {
		n = math.Round(n*finer) / finer
	}
	return math.Round(n)
}

// Limit is a figure as a standard prints it, in the unit in which it prints it.
type Limit[Q ~float64] struct {
	Value float64 // as printed
	Unit  string  // as printed: "kg/m²/h"
	Size  Q       // one such unit in SI
	Zero  Q       // SI at the unit's zero: 0 but for a scale that starts elsewhere, such as °F
	Step  float64 // what a reading is rounded to before it is compared, in the printed unit, above zero
}

func (l Limit[Q]) compare(q Q) (sign int, ok bool) {
	if math.IsNaN(float64(q)) || !(l.Size > 0) || !(l.Step > 0) {
		return 0, false
	}
	a, b := steps(float64(q-l.Zero)/float64(l.Size), l.Step), steps(l.Value, l.Step)
	switch {
	case a > b:
		return 1, true
	case a < b:
		return -1, true
	}
	return 0, true
}

// Threshold is a limit that standards print in two systems, where neither figure is the other converted: 1.0 kg/m²/h
// and 0.2 lb/ft²/h (which is 0.976). A quantity is compared in one system, the site's, never in both.
type Threshold[Q ~float64] struct {
	Metric, US Limit[Q]
}

// In is the limit as s prints it.
func (t Threshold[Q]) In(s System) Limit[Q] {
	if s == US {
		return t.US
	}
	return t.Metric
}

// Exceeded says whether q, rounded, is above the limit of s. What is not a number is not above it.
func (t Threshold[Q]) Exceeded(s System, q Q) bool {
	sign, ok := t.In(s).compare(q)
	return ok && sign > 0
}

// Reached says whether q, rounded, is at or above the limit of s.
func (t Threshold[Q]) Reached(s System, q Q) bool {
	sign, ok := t.In(s).compare(q)
	return ok && sign >= 0
}

// Below says whether q, rounded, is under the limit of s. What is not a number is not under it either.
func (t Threshold[Q]) Below(s System, q Q) bool {
	sign, ok := t.In(s).compare(q)
	return ok && sign < 0
}

// These make the limits of the units in which standards print. The step is in the same unit.

// EvaporationLimits is a threshold in kg/m²/h and lb/ft²/h.
func EvaporationLimits(metric, us, metricStep, usStep float64) Threshold[Evaporation] {
	return Threshold[Evaporation]{
		Metric: Limit[Evaporation]{Value: metric, Unit: "kg/m²/h", Size: 1, Step: metricStep},
		US:     Limit[Evaporation]{Value: us, Unit: "lb/ft²/h", Size: PoundPerSquareFootHour, Step: usStep},
	}
}

// TemperatureLimits is a threshold in °C and °F.
func TemperatureLimits(c, f, step float64) Threshold[Celsius] {
	return Threshold[Celsius]{
		Metric: Limit[Celsius]{Value: c, Unit: "°C", Size: 1, Step: step},
		US:     Limit[Celsius]{Value: f, Unit: "°F", Size: fahrenheitDegree, Zero: Fahrenheit(0), Step: step},
	}
}

// DifferenceLimits is a threshold of a temperature difference, in K and degrees Fahrenheit.
func DifferenceLimits(k, f, step float64) Threshold[Kelvins] {
	return Threshold[Kelvins]{
		Metric: Limit[Kelvins]{Value: k, Unit: "K", Size: 1, Step: step},
		US:     Limit[Kelvins]{Value: f, Unit: "F°", Size: fahrenheitDegree, Step: step},
	}
}

// PressureLimits is a threshold of strength in MPa and psi.
func PressureLimits(mpa, psi, mpaStep, psiStep float64) Threshold[Pressure] {
	return Threshold[Pressure]{
		Metric: Limit[Pressure]{Value: mpa, Unit: "MPa", Size: Megapascal, Step: mpaStep},
		US:     Limit[Pressure]{Value: psi, Unit: "psi", Size: PSI, Step: psiStep},
	}
}
