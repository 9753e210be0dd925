package report

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

const NotKnown = "not known"

// Volume of mortar; less than a cubic centimetre is what sums leave behind.
func (s *Sheet) Volume(m3 float64) string {
	if math.Abs(m3) < 1e-6 {
		m3 = 0
	}
	return s.System.Volume(unit.Volume(m3))
}

// Mass in the units of the page, as are all figures below.
func (s *Sheet) Mass(kg float64) string {
	if math.Abs(kg) < 1e-6 {
		kg = 0
	}
	return s.System.Mass(unit.Mass(kg))
}

// Thickness of a coat.
func (s *Sheet) Thickness(m float64) string {
	if math.Abs(m) < 1e-6 {
		m = 0
	}
	return s.System.Thickness(unit.Length(m))
}

// maybeMass is nothing where there was none.
func (s *Sheet) maybeMass(kg float64) string {
	if math.Abs(kg) < 1e-6 {
		return ""
	}
	return s.Mass(kg)
}

// MaybeVolume is Volume of one that may not be known; empty where it is not.
func (s *Sheet) MaybeVolume(m3 float64) string {
	if math.Abs(m3) < 1e-6 {
		return ""
	}
	return s.Volume(m3)
}

func (s *Sheet) area(m2 float64) string { return s.System.Area(unit.Area(m2)) }

// Length of an edge.
func (s *Sheet) Length(m float64) string { return s.System.Length(unit.Length(m)) }

// Temperature in °C or °F.
func (s *Sheet) Temperature(c float64) string { return s.System.Temperature(unit.Celsius(c)) }

// Speed of the wind.
func (s *Sheet) Speed(mps float64) string { return s.System.Speed(unit.Speed(mps)) }

// Share as per cent.
func (s *Sheet) Share(x float64) string { return s.System.Share(unit.Share(x)) }

func (s *Sheet) pressure(pa float64) string { return s.System.Pressure(unit.Pressure(pa)) }

// Density is a unit weight.
func (s *Sheet) Density(kg float64) string { return s.System.Density(unit.Density(kg)) }

// Rain is its height.
func (s *Sheet) Rain(mm float64) string {
	return s.System.Thickness(unit.Length(mm) * unit.Millimetre)
}

// Evaporation as a rate with its unit.
func (s *Sheet) Evaporation(kg float64) string { return s.System.Evaporation(unit.Evaporation(kg)) }

// EvaporationLb shows a figure that was computed in lb/ft²/h by the form that is kept in these units.
func (s *Sheet) EvaporationLb(lb float64) string {
	return unit.US.Evaporation(unit.Evaporation(lb) * unit.PoundPerSquareFootHour)
}

// Drying is the evaporation now, empty where it is not known, and its limit, each by the form of the site's system.
func (s *Sheet) Drying(c view.Conditions) (rate, limit string) {
	if s.System == unit.US {
		return Maybe(c.EvaporationLbFt2H, s.EvaporationLb), s.EvaporationLb(c.LimitLbFt2H)
	}
	return Maybe(c.EvaporationKgM2H, s.Evaporation), s.Evaporation(c.LimitKgM2H)
}

// Maybe shows a figure that is known; nothing is shown where it is not, since a nought is a figure too.
func Maybe(x *float64, show func(float64) string) string {
	if x == nil {
		return ""
	}
	return show(*x)
}

// Named shows a figure that is known behind its name.
func Named(name string, x *float64, show func(float64) string) string {
	if x == nil {
		return ""
	}
	return name + " " + show(*x)
}

// fallen is rain; nothing where none fell.
func (s *Sheet) fallen(mm float64) string {
	if mm <= 0 {
		return ""
	}
	return s.Rain(mm)
}

// Against is "12.1 of 15 mm": the unit once where both have it.
func Against(is, of string) string {
	a, unitA, _ := cutLast(is)
	_, unitB, ok := cutLast(of)
	if ok && unitA == unitB && is != NotKnown {
		return a + " of " + of
	}
	return is + " of " + of
}

// Between is "35–90 min": the unit once where both have it, and one figure where they are alike.
func Between(low, high string) string {
	if low == high {
		return low
	}
	a, unitA, _ := cutLast(low)
	b, unitB, ok := cutLast(high)
	if ok && unitA == unitB && number(a) && !strings.Contains(a+b, " ") {
		return a + "–" + high
	}
	if strings.HasSuffix(low, "%") && strings.HasSuffix(high, "%") {
		low = strings.TrimSuffix(low, "%")
	}
	return low + "–" + high
}

func cutLast(s string) (number, unit string, ok bool) {
	i := strings.LastIndexByte(s, ' ')
	if i < 0 {
		return s, "", false
	}
	return s[:i], s[i+1:], true
}

// Decimal shows a figure without a unit; nothing is shown where there is none.
func Decimal(x float64, digits int) string {
	switch {
	case math.IsNaN(x), math.IsInf(x, 0):
		return NotKnown
	case math.Abs(x) >= 1e15:
		return strconv.FormatFloat(x, 'g', 3, 64)
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

// Thousandths shows a ratio.
func Thousandths(x float64) string { return Decimal(x, 3) }

func hours(h float64) string {
	s := Decimal(h, 1)
	if s != NotKnown {
		s = strings.TrimSuffix(s, ".0") + " h"
	}
	return s
}

// mostMinutes keeps a figure that no view gives from becoming a length of time that it is not.
const mostMinutes = 60 * 24 * 36500

// OfMinutes is Minutes of a number of them, which may be none that makes sense.
func OfMinutes(m float64) string {
	if math.IsNaN(m) || math.Abs(m) > mostMinutes {
		return NotKnown
	}
	return Minutes(time.Duration(m * float64(time.Minute)))
}

// Minutes is a length of time as people count down: whole minutes begun are not given away, and it is minutes up to two
// hours.
func Minutes(d time.Duration) string {
	d = d.Truncate(time.Minute)
	if d > -2*time.Hour && d < 2*time.Hour {
		return fmt.Sprintf("%d min", d/time.Minute)
	}
	return unit.Duration(d)
}

// Count is a number with its noun, in the plural where it is not one.
func Count[N ~int | ~int32](n N, one, many string) string {
	if n == 1 {
		return fmt.Sprintf("%d %s", n, one)
	}
	return fmt.Sprintf("%d %s", n, many)
}

// Part is how many batches, whole and parts of them.
func Part(n float64) string {
	s := Decimal(n, 2)
	if s != NotKnown && strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "1" {
		return s + " batch"
	}
	return s + " batches"
}

// Left says how many batches are, as a chance and not as a number.
func Left(b ahead.BatchesLeft) string {
	if b.P50 == b.P90 {
		return Count(b.P50, "batch", "batches")
	}
	return fmt.Sprintf("%s as likely as not, %d nine times in ten", Count(b.P50, "batch", "batches"), b.P90)
}

// OfDay is a batch as it is called on its own day: north/7 for north/2026-07-18/7.
func OfDay(batch, date string) string { return strings.Replace(batch, "/"+date+"/", "/", 1) }

// CoatName is a zone with the coat and, where one is meant, its face.
func CoatName(zone, face string, number int32) string {
	if face == "" || face == "any" {
		return fmt.Sprintf("%s %d", zone, number)
	}
	return fmt.Sprintf("%s %s %d", zone, face, number)
}
