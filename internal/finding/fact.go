package finding

import (
	"time"

	"hod/internal/trade/weather"
	"hod/internal/unit"
)

// Fact is one figure that a finding rests on, in words. An instant stands apart from the words, since only the reader's
// side knows on which clock to show it; a number stands beside them, for programs.
type Fact struct {
	Name, Value string
	At          time.Time // zero where the fact is of no instant
	Figure
}

// Figure is a number in SI units, or the range of numbers that is allowed or known; nil where it is none.
type Figure struct {
	Number, Low, High *float64
	// as the names of figures in the views end: kg, m3, m, c, mps, kg_m3, kg_m2_h, pa, min, mm, share, count
	Unit string
}

// FigureOf is a quantity as a number.
func FigureOf[Q ~float64](q Q) Figure { return Figure{Number: new(float64(q)), Unit: unitOf(q)} }

// AtMost is a limit above which nothing is allowed.
func AtMost[Q ~float64](q Q) Figure { return Figure{High: new(float64(q)), Unit: unitOf(q)} }

// AtLeast is a limit below which nothing is allowed.
func AtLeast[Q ~float64](q Q) Figure { return Figure{Low: new(float64(q)), Unit: unitOf(q)} }

// Between are limits on both sides.
func Between[Q ~float64](low, high Q) Figure {
	return Figure{Low: new(float64(low)), High: new(float64(high)), Unit: unitOf(low)}
}

// Number is a figure whose unit its type does not tell.
func Number(n float64, in string) Figure { return Figure{Number: &n, Unit: in} }

// Minutes is a figure of a time.
func Minutes(d time.Duration) Figure { return Number(d.Minutes(), "min") }

// CountOf is a figure of how many there are.
func CountOf(n int) Figure { return Number(float64(n), "count") }

// Within has a number beside the range that is allowed of it.
func (f Figure) Within(low, high float64) Figure {
	f.Low, f.High = &low, &high
	return f
}

func unitOf(q any) string {
	switch q.(type) {
	case unit.Mass:
		return "kg"
	case unit.Volume:
		return "m3"
	case unit.Length:
		return "m"
	case unit.Area:
		return "m2"
	case unit.Celsius:
		return "c"
	case unit.Speed:
		return "mps"
	case unit.Density:
		return "kg_m3"
	case unit.Evaporation:
		return "kg_m2_h"
	case unit.Pressure:
		return "pa"
	}
	return "share"
}

// AllowedBy is the limit of a judgement of a temperature: it is broken above its limit or below it.
func AllowedBy(j weather.Judgement) Figure {
	if j.SI.Measured > j.SI.Limit {
		return AtMost(unit.Celsius(j.SI.Limit))
	}
	return AtLeast(unit.Celsius(j.SI.Limit))
}

// FactIn is a quantity in words and as a number.
func FactIn[Q ~float64](name, words string, q Q) Fact {
	return Fact{Name: name, Value: words, Figure: FigureOf(q)}
}

// FactOf is a quantity in the words of a system and as a number.
func FactOf[Q ~float64](name string, q Q, show func(unit.System, Q) string, sys unit.System) Fact {
	return FactIn(name, show(sys, q), q)
}
