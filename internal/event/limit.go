package event

import (
	"fmt"
	"math"
	"strconv"

	"hod/internal/unit"
)

// limit is what a quantity of the trade can be. It catches the slip of a finger (2500gal for 2.5gal) and what is no
// number; whether a value is wise is for the trade's rooms. The figures are common practice with room to spare, no
// source.
type limit struct {
	lo, hi float64 // in the unit shown
	above  bool    // lo itself cannot be
	unit   string
	per    float64 // units shown in one SI unit
}

var (
	someMass        = limit{0, 4000, true, " kg", 1}
	someVolume      = limit{0, 2000, true, " L", 1000}
	chargeMass      = limit{0, 4000, false, " kg", 1} // a constituent may have been left out
	chargeVolume    = limit{0, 2000, false, " L", 1000}
	waterMass       = limit{0, 500, false, " kg", 1} // to one batch
	waterVolume     = limit{0, 500, false, " L", 1000}
	deliveredMass   = limit{0, 1e6, true, " kg", 1}
	deliveredVolume = limit{0, 1000, true, " m³", 1}
	countedMass     = limit{0, 1e6, false, " kg", 1} // none left is a count
	countedVolume   = limit{0, 1000, false, " m³", 1}
	measureVolume   = limit{0, 1000, true, " L", 1000}
	measureMass     = limit{0, 4000, true, " kg", 1}
	emptyMass       = limit{0, 4000, false, " kg", 1}
	sprayPerSecond  = limit{0, 10, true, " L/s", 1000}
	zoneArea        = limit{0, 100000, true, " m²", 1}
	edgeLength      = limit{0, 1000, true, " m", 1}
	station         = limit{0, 1000, false, " m", 1} // along a side, or a radius
	coatThickness   = limit{0, 500, true, " mm", 1000}
	gaugeThickness  = limit{0, 500, false, " mm", 1000}
	probeDepth      = limit{0, 500, false, " mm", 1000}
	windHeight      = limit{0, 200, true, " m", 1}
	specimenSize    = limit{10, 1000, false, " mm", 1000}
	temperature     = limit{-40, 100, false, " °C", 1}
	sandMoisture    = limit{0, 30, false, "% of its dry mass", 100}
	wholeShare      = limit{0, 100, false, "%", 100}
	partShare       = limit{0, 100, true, "%", 100}
	humidity        = limit{0, 100, true, "%", 100}
	airShare        = limit{0, 90, false, "%", 100} // foamed mortar has most
	tolerance       = limit{0, 50, true, "%", 100}
	flowShare       = limit{0, 300, false, "%", 100}
	bagMass         = limit{0.05, 2000, false, " kg", 1} // fibre comes in small ones, sand in big ones
	bulkDensity     = limit{1, 6000, false, " kg/m³", 1} // loose fibre weighs little
	unitWeight      = limit{100, 6000, false, " kg/m³", 1}
	gravity         = limit{0.01, 12, false, "", 1}
	waterRatio      = limit{0.1, 2, false, "", 1}
	activation      = limit{5, 200, false, " kJ/mol", 1}
	evaporation     = limit{0, 10, true, " kg/(m²·h)", 1}
	evaporationUS   = limit{0, 2, true, " lb/(ft²·h)", 1}
	wind            = limit{0, 100, false, " m/s", 1}
	sun             = limit{0, 2000, false, " W/m²", 1}
	rain            = limit{0, 500, false, " mm", 1}
	breakLoad       = limit{0, 10000, true, " kN", 1e-3}
	maturity        = limit{0, 1e6, false, " °C·h", 1}
)

// check takes a value in SI and the words in which it was given, if any.
func (l limit) check(what string, si float64, entered string) error {
	if err := checkLine(what, entered); err != nil {
		return err
	}
	v := si * l.per
	if v >= l.lo && v <= l.hi && (v > l.lo || !l.above) { // false for NaN
		return nil
	}
	said, between := number(v)+l.unit, "from %s to %s%s"
	if entered != "" { // the figure stays: what another device wrote need not be what it is said to have been
		said = strconv.Quote(clip(entered)) + ", " + said + ","
	} else if us := l.us(v); us != "" {
		said += " (" + us + ")"
	}
	if l.above {
		between = "above %s and at most %s%s"
	}
	text := fmt.Sprintf(between, number(l.lo), number(l.hi), l.unit)
	switch low, high := l.us(l.lo), l.us(l.hi); {
	case high == "":
	case l.lo == 0:
		text += " (" + high + ")"
	default:
		text += " (" + low + " to " + high + ")"
	}
	return cannot("the %s of %s cannot be; it must be %s", what, said, text)
}

// us is a value of the unit shown as a US site reads it; empty where there is no other way to say it.
func (l limit) us(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return ""
	}
	switch si := v / l.per; l.unit {
	case " kg":
		return unit.US.Mass(unit.Mass(si))
	case " L":
		return unit.US.Liquid(unit.Volume(si))
	case " m³":
		return unit.US.Volume(unit.Volume(si))
	case " m²":
		return unit.US.Area(unit.Area(si))
	case " m":
		return unit.US.Length(unit.Length(si))
	case " mm":
		return unit.US.Thickness(unit.Length(si))
	case " °C":
		return unit.US.Temperature(unit.Celsius(si))
	case " m/s":
		return unit.US.Speed(unit.Speed(si))
	case " kg/m³":
		return unit.US.Density(unit.Density(si))
	}
	return ""
}

func within[Q ~float64](what string, q unit.As[Q], l limit) error {
	return l.check(what, float64(q.SI), q.Entered)
}

// maybe is within for what may not be said.
func maybe[Q ~float64](what string, q *unit.As[Q], l limit) error {
	if q == nil {
		return nil
	}
	return within(what, *q, l)
}

// read is for a measurement that may be missing.
func read[Q ~float64](what string, q *Q, l limit) error {
	if q == nil {
		return nil
	}
	return l.check(what, float64(*q), "")
}

// orNone is for a number whose zero says that there is none.
func orNone(what string, v float64, l limit) error {
	if v == 0 {
		return nil
	}
	return l.check(what, v, "")
}

func number(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "no finite number"
	}
	return strconv.FormatFloat(v, 'g', 6, 64)
}
