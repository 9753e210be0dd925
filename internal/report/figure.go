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

const notKnown = "not known"

// volume of mortar; less than a cubic centimetre is what sums leave behind.
func (s *sheet) volume(m3 float64) string {
	if math.Abs(m3) < 1e-6 {
		m3 = 0
	}
	return s.system.Volume(unit.Volume(m3))
}

func (s *sheet) mass(kg float64) string {
	if math.Abs(kg) < 1e-6 {
		kg = 0
	}
	return s.system.Mass(unit.Mass(kg))
}

func (s *sheet) thickness(m float64) string {
	if math.Abs(m) < 1e-6 {
		m = 0
	}
	return s.system.Thickness(unit.Length(m))
}

// maybeMass is nothing where there was none.
func (s *sheet) maybeMass(kg float64) string {
	if math.Abs(kg) < 1e-6 {
		return ""
	}
	return s.mass(kg)
}

func (s *sheet) maybeVolume(m3 float64) string {
	if math.Abs(m3) < 1e-6 {
		return ""
	}
	return s.volume(m3)
}

func (s *sheet) area(m2 float64) string       { return s.system.Area(unit.Area(m2)) }
func (s *sheet) length(m float64) string      { return s.system.Length(unit.Length(m)) }
func (s *sheet) temperature(c float64) string { return s.system.Temperature(unit.Celsius(c)) }
func (s *sheet) speed(mps float64) string     { return s.system.Speed(unit.Speed(mps)) }
func (s *sheet) share(x float64) string       { return s.system.Share(unit.Share(x)) }
func (s *sheet) pressure(pa float64) string   { return s.system.Pressure(unit.Pressure(pa)) }
func (s *sheet) density(kg float64) string    { return s.system.Density(unit.Density(kg)) }
func (s *sheet) rain(mm float64) string {
	return s.system.Thickness(unit.Length(mm) * unit.Millimetre)
}

func (s *sheet) evaporation(kg float64) string { return s.system.Evaporation(unit.Evaporation(kg)) }

// evaporationLb shows a figure that was computed in lb/ft²/h by the form that is kept in these units.
func (s *sheet) evaporationLb(lb float64) string {
	return unit.US.Evaporation(unit.Evaporation(lb) * unit.PoundPerSquareFootHour)
}

// drying is the evaporation now, empty where it is not known, and its limit, each by the form of the site's system.
func (s *sheet) drying(c view.Conditions) (rate, limit string) {
	if s.system == unit.US {
		return maybe(c.EvaporationLbFt2H, s.evaporationLb), s.evaporationLb(c.LimitLbFt2H)
	}
	return maybe(c.EvaporationKgM2H, s.evaporation), s.evaporation(c.LimitKgM2H)
}

// maybe shows a figure that is known; nothing is shown where it is not, since a nought is a figure too.
func maybe(x *float64, show func(float64) string) string {
	if x == nil {
		return ""
	}
	return show(*x)
}

// named shows a figure that is known behind its name.
func named(name string, x *float64, show func(float64) string) string {
	if x == nil {
		return ""
	}
	return name + " " + show(*x)
}

// fallen is rain; nothing where none fell.
func (s *sheet) fallen(mm float64) string {
	if mm <= 0 {
		return ""
	}
	return s.rain(mm)
}

// against is "12.1 of 15 mm": the unit once where both have it.
func against(is, of string) string {
	a, unitA, _ := cutLast(is)
	_, unitB, ok := cutLast(of)
	if ok && unitA == unitB && is != notKnown {
		return a + " of " + of
	}
	return is + " of " + of
}

// between is "35–90 min": the unit once where both have it, and one figure where they are alike.
func between(low, high string) string {
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

// decimal shows a figure without a unit; nothing is shown where there is none.
func decimal(x float64, digits int) string {
	switch {
	case math.IsNaN(x), math.IsInf(x, 0):
		return notKnown
	case math.Abs(x) >= 1e15:
		return strconv.FormatFloat(x, 'g', 3, 64)
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

// thousandths shows a ratio.
func thousandths(x float64) string { return decimal(x, 3) }

func hours(h float64) string {
	s := decimal(h, 1)
	if s != notKnown {
		s = strings.TrimSuffix(s, ".0") + " h"
	}
	return s
}

// mostMinutes keeps a figure that no view gives from becoming a length of time that it is not.
const mostMinutes = 60 * 24 * 36500

func ofMinutes(m float64) string {
	if math.IsNaN(m) || math.Abs(m) > mostMinutes {
		return notKnown
	}
	return minutes(time.Duration(m * float64(time.Minute)))
}

// minutes is a length of time as people count down: whole minutes begun are not given away, and it is minutes up to two
// hours.
func minutes(d time.Duration) string {
	d = d.Truncate(time.Minute)
	if d > -2*time.Hour && d < 2*time.Hour {
		return fmt.Sprintf("%d min", d/time.Minute)
	}
	return unit.Duration(d)
}

func count[N ~int | ~int32](n N, one, many string) string {
	if n == 1 {
		return fmt.Sprintf("%d %s", n, one)
	}
	return fmt.Sprintf("%d %s", n, many)
}

// part is how many batches, whole and parts of them.
func part(n float64) string {
	s := decimal(n, 2)
	if s != notKnown && strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "1" {
		return s + " batch"
	}
	return s + " batches"
}

// left says how many batches are, as a chance and not as a number.
func left(b ahead.BatchesLeft) string {
	if b.P50 == b.P90 {
		return count(b.P50, "batch", "batches")
	}
	return fmt.Sprintf("%s as likely as not, %d nine times in ten", count(b.P50, "batch", "batches"), b.P90)
}

// ofDay is a batch as it is called on its own day: north/7 for north/2026-07-18/7.
func ofDay(batch, date string) string { return strings.Replace(batch, "/"+date+"/", "/", 1) }

func coatName(zone, face string, number int32) string {
	if face == "" || face == "any" {
		return fmt.Sprintf("%s %d", zone, number)
	}
	return fmt.Sprintf("%s %s %d", zone, face, number)
}
