package weather

import (
	"fmt"

	"hod/internal/unit"
)

// Section is the class of a member's least dimension, by which the cold-weather tables go. A shell is Thin.
type Section int

const (
	Thin    Section = iota // under 12 in (300 mm)
	Medium                 // 12 to 36 in
	Thick                  // over 36 and up to 72 in
	Massive                // over 72 in
)

// SectionOf is the class of a thickness. Source: ACI 306R-10, table 3.1, from memory.
func SectionOf(thickness unit.Length) (Section, error) {
	if !(thickness > 0 && thickness <= 100) {
		return 0, fmt.Errorf("a thickness of %.4g m cannot be used; give one above 0 and at most 100 m",
			float64(thickness))
	}
	switch inches := rounded(float64(thickness/unit.Inch), 1e-6); {
	case inches < 12:
		return Thin, nil
	case inches <= 36:
		return Medium, nil
	case inches <= 72:
		return Thick, nil
	}
	return Massive, nil
}

// Degrees is a temperature limit, or a limit on a difference, as standards print it: once in each system, rounded, so
// that neither is the other's conversion.
type Degrees struct {
	C float64
	F float64
}

// Verdict is a figure against a limit, each in one system's unit.
type Verdict struct {
	Measured, Limit float64
	Unit            string
	Broken          bool
}

// Judgement is what a rule says of a reading, in both systems: a site goes by its own. The two can differ, since the
// printed limits are rounded; Broken takes the safe side.
type Judgement struct {
	Rule   string
	Says   string // what to do or to know, in one sentence
	SI, US Verdict
	Source Source
}

// Broken says that the limit is passed in either system.
func (j Judgement) Broken() bool { return j.SI.Broken || j.US.Broken }

// step to which temperatures are rounded before they are compared
const stepDegrees = 0.01

// temperature is the limit as one of a temperature.
func (d Degrees) temperature() unit.Threshold[unit.Celsius] {
	return unit.TemperatureLimits(d.C, d.F, stepDegrees)
}

func below(t unit.Celsius, limit Degrees) (si, us Verdict) {
	l := limit.temperature()
	si = Verdict{Measured: float64(t), Limit: limit.C, Unit: l.Metric.Unit, Broken: l.Below(unit.Metric, t)}
	us = Verdict{Measured: t.Fahrenheit(), Limit: limit.F, Unit: l.US.Unit, Broken: l.Below(unit.US, t)}
	return si, us
}

func above(t unit.Celsius, limit Degrees) (si, us Verdict) {
	l := limit.temperature()
	si = Verdict{Measured: float64(t), Limit: limit.C, Unit: l.Metric.Unit, Broken: l.Exceeded(unit.Metric, t)}
	us = Verdict{Measured: t.Fahrenheit(), Limit: limit.F, Unit: l.US.Unit, Broken: l.Exceeded(unit.US, t)}
	return si, us
}

func moreThan(d unit.Kelvins, limit Degrees) (si, us Verdict) {
	l := unit.DifferenceLimits(limit.C, limit.F, stepDegrees)
	si = Verdict{Measured: float64(d), Limit: limit.C, Unit: l.Metric.Unit, Broken: l.Exceeded(unit.Metric, d)}
	us = Verdict{Measured: float64(d) * 9 / 5, Limit: limit.F, Unit: l.US.Unit, Broken: l.Exceeded(unit.US, d)}
	return si, us
}

func checkTemperature(what string, t unit.Celsius) error {
	if !(t >= -90 && t <= 150) {
		return fmt.Errorf("%s of %.4g °C cannot be used; give −90 to 150 °C (−130 to 302 °F)", what, float64(t))
	}
	return nil
}

func checkDifference(what string, d unit.Kelvins) error {
	if !(d >= -240 && d <= 240) {
		return fmt.Errorf("%s of %.4g K cannot be used; give −240 to 240 K", what, float64(d))
	}
	return nil
}
