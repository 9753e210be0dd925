package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// System is the system of units in which a crew reads. It decides what is shown, never what is computed or kept.
//
// The methods show a quantity with the digits that a site can use: three significant ones as a rule, whole numbers
// never cut, no trailing zeros. A value that is not a number is shown as "not known".
type System int

// The two systems. US is the customary one, with the US gallon.
const (
	Metric System = iota
	US
)

// ParseSystem reads the name of a system: metric or si, us or customary. "imperial" is refused: its gallon is another.
func ParseSystem(s string) (System, error) {
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "metric", "si":
		return Metric, nil
	case "us", "customary", "us customary":
		return US, nil
	}
	return Metric, &Error{
		Input: cut(s, longest), Msg: "it is not a system of units",
		Want: "the systems are metric and us",
	}
}

func (s System) String() string {
	if s == US {
		return "us"
	}
	return "metric"
}

// Other is the other system.
func (s System) Other() System {
	if s == US {
		return Metric
	}
	return US
}

const notKnown = "not known"

// show picks the figure of s; unit begins with the space where there is one.
func (s System) show(metric float64, m string, us float64, u string, digits int) string {
	x, unit := metric, m
	if s == US {
		x, unit = us, u
	}
	if !finite(x) {
		return notKnown
	}
	return sig(x, digits) + unit
}

func (s System) fixed(metric float64, m string, us float64, u string, decimals int) string {
	x, unit := metric, m
	if s == US {
		x, unit = us, u
	}
	if !finite(x) {
		return notKnown
	}
	return fixed(x, decimals) + unit
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

// sig shows x to so many significant digits; the digits before the point are never cut, zeros at the end are.
func sig(x float64, digits int) string {
	if x == 0 {
		return "0"
	}
	decimals := digits - 1 - int(math.Floor(math.Log10(math.Abs(x))))
	return fixed(x, min(max(decimals, 0), 9))
}

func fixed(x float64, decimals int) string {
	if math.Abs(x) >= 1e15 {
		return strconv.FormatFloat(x, 'g', 3, 64)
	}
	s := strconv.FormatFloat(x, 'f', decimals, 64)
	if strings.IndexByte(s, '.') >= 0 {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

// below says whether x, shown to three digits, is under limit; it keeps 999.9 g from becoming 1000 g.
func below(x, limit float64) bool { return math.Abs(x) < limit*0.9995 }

// Mass shows kg, or g under one; lb, or oz under one.
func (s System) Mass(m Mass) string {
	kg, lb := float64(m), float64(m/Pound)
	if s == Metric && below(kg, 1) {
		return s.show(kg*1000, " g", 0, "", 3)
	}
	if s == US && below(lb, 1) {
		return s.show(0, "", lb*16, " oz", 3)
	}
	return s.show(kg, " kg", lb, " lb", 3)
}

// Volume shows mortar: L, or m³ from one; ft³. For water and admixtures see Liquid.
func (s System) Volume(v Volume) string {
	if s == Metric && !below(float64(v), 1) {
		return s.show(float64(v), " m³", 0, "", 3)
	}
	return s.show(float64(v/Litre), " L", float64(v/CubicFoot), " ft³", 3)
}

// Liquid shows water and admixtures: L, or mL under one; gal, or fl oz under a quart.
func (s System) Liquid(v Volume) string {
	if s == Metric && below(float64(v/Litre), 1) {
		return s.show(float64(v/Millilitre), " mL", 0, "", 3)
	}
	if s == US && below(float64(v/Quart), 1) {
		return s.show(0, "", float64(v/FluidOunce), " fl oz", 3)
	}
	return s.show(float64(v/Litre), " L", float64(v/Gallon), " gal", 3)
}

// Length shows m to the centimetre, or mm under one; feet and inches to a sixteenth, from 50 ft to the inch.
func (s System) Length(l Length) string {
	if s == Metric {
		if below(float64(l), 1) {
			return s.Thickness(l)
		}
		return s.fixed(float64(l), " m", 0, "", 2)
	}
	inches := math.Abs(float64(l / Inch))
	if inches < 11.97 {
		return s.Thickness(l)
	}
	if !finite(inches) {
		return notKnown
	}
	if inches > 1e9 {
		return s.show(0, "", float64(l/Foot), " ft", 3)
	}
	sixteenths := int64(math.Round(inches * 16))
	if sixteenths >= 50*12*16 {
		sixteenths = int64(math.Round(inches)) * 16
	}
	text := fmt.Sprintf("%d ft", sixteenths/192)
	if rest := sixteenths % 192; rest != 0 {
		text += " " + fractional(rest) + " in"
	}
	if l < 0 {
		text = "-" + text
	}
	return text
}

// fractional writes sixteenths of an inch, at least one.
func fractional(sixteenths int64) string {
	whole, top, bottom := sixteenths/16, sixteenths%16, int64(16)
	for top != 0 && top%2 == 0 {
		top, bottom = top/2, bottom/2
	}
	switch {
	case top == 0:
		return strconv.FormatInt(whole, 10)
	case whole == 0:
		return fmt.Sprintf("%d/%d", top, bottom)
	}
	return fmt.Sprintf("%d %d/%d", whole, top, bottom)
}

// Thickness shows mm to a tenth; inches as a fraction where it is one in sixteenths to within a hundredth of itself,
// else in decimals, since a sixteenth is a tenth of a thin coat.
func (s System) Thickness(l Length) string {
	in := float64(l / Inch)
	if s == Metric {
		return s.fixed(float64(l/Millimetre), " mm", 0, "", 1)
	}
	if n := math.Round(in * 16); n >= 1 && n < 1e9 && math.Abs(in-n/16) < min(0.005, in/100) {
		return fractional(int64(n)) + " in"
	}
	return s.show(0, "", in, " in", 3)
}

// Area shows m², or mm² under a hundredth of one; ft², or in² under one.
func (s System) Area(a Area) string {
	if s == Metric && below(float64(a), 0.01) {
		return s.show(float64(a)*1e6, " mm²", 0, "", 3)
	}
	if s == US && below(float64(a/SquareFoot), 1) {
		return s.show(0, "", float64(a/SquareInch), " in²", 3)
	}
	return s.show(float64(a), " m²", float64(a/SquareFoot), " ft²", 3)
}

// Temperature shows °C or °F to a tenth.
func (s System) Temperature(c Celsius) string {
	return s.fixed(float64(c), " °C", c.Fahrenheit(), " °F", 1)
}

// Difference shows a difference of temperatures in K, or in degrees Fahrenheit as F°, to a tenth.
func (s System) Difference(k Kelvins) string {
	return s.fixed(float64(k), " K", float64(k)*9/5, " F°", 1)
}

// Speed shows km/h or mph to a tenth.
func (s System) Speed(v Speed) string {
	return s.fixed(float64(v/KilometrePerHour), " km/h", float64(v/MilePerHour), " mph", 1)
}

// Density shows whole kg/m³, or lb/ft³ to a tenth.
func (s System) Density(d Density) string {
	if s == Metric {
		return s.fixed(float64(d), " kg/m³", 0, "", 0)
	}
	return s.fixed(0, "", float64(d/PoundPerCubicFoot), " lb/ft³", 1)
}

// AreaMass shows kg/m² or lb/ft², as a dead load.
func (s System) AreaMass(m AreaMass) string {
	return s.show(float64(m), " kg/m²", float64(m/PoundPerSquareFoot), " lb/ft²", 3)
}

// Pressure shows MPa, or kPa under a tenth of one, or psi.
func (s System) Pressure(p Pressure) string {
	if s == Metric && below(float64(p/Megapascal), 0.1) {
		return s.show(float64(p/Kilopascal), " kPa", 0, "", 3)
	}
	return s.show(float64(p/Megapascal), " MPa", float64(p/PSI), " psi", 3)
}

// Force shows kN, or N under one; lbf.
func (s System) Force(f Force) string {
	if s == Metric && below(float64(f), 1000) {
		return s.show(float64(f), " N", 0, "", 3)
	}
	return s.show(float64(f)/1000, " kN", float64(f/PoundForce), " lbf", 3)
}

// Share shows per cent to three digits, at most two of them decimals; the same in both systems.
func (s System) Share(x Share) string {
	percent := float64(x) * 100
	switch {
	case !finite(percent):
		return notKnown
	case math.Abs(percent) >= 1:
		return sig(percent, 3) + "%"
	}
	return fixed(percent, 2) + "%"
}

// Flow shows L/min or gal/min.
func (s System) Flow(f Flow) string {
	return s.show(float64(f)*60/float64(Litre), " L/min", float64(f)*60/float64(Gallon), " gal/min", 3)
}

// Evaporation shows kg/m²/h to a hundredth or lb/ft²/h to a thousandth.
func (s System) Evaporation(e Evaporation) string {
	if s == Metric {
		return s.fixed(float64(e), " kg/m²/h", 0, "", 2)
	}
	return s.fixed(0, "", float64(e/PoundPerSquareFootHour), " lb/ft²/h", 3)
}

// Dose shows mL/100 kg or fl oz/cwt.
func (s System) Dose(d Dose) string {
	return s.show(float64(d)*100/float64(Millilitre), " mL/100 kg", float64(d/FluidOuncePerHundredweight), " fl oz/cwt",
		3)
}

// Duration shows a length of time in its two largest parts: 45 s, 4 min 30 s, 1 h 30 min, 2 d 3 h. It rounds to the
// smaller part shown, but 10 s and less to a tenth. It is the same in both systems.
func Duration(d time.Duration) string {
	sign := ""
	if d < 0 {
		sign = "-"
		if d = -d; d < 0 { // the one duration that has no opposite
			d = 1<<63 - 1
		}
	}
	parts := func(d, big, small time.Duration, bigName, smallName string) string {
		n := int64(d.Round(small) / small)
		text, per := "", int64(big/small)
		if n >= per {
			text = strconv.FormatInt(n/per, 10) + " " + bigName
		}
		if rest := n % per; rest != 0 || text == "" {
			if text != "" {
				text += " "
			}
			text += strconv.FormatInt(rest, 10) + " " + smallName
		}
		return sign + text
	}
	switch {
	case d < 10*time.Second:
		s := fixed(d.Seconds(), 1)
		if s == "0" {
			sign = ""
		}
		return sign + s + " s"
	case d < time.Hour-time.Second/2:
		return parts(d, time.Minute, time.Second, "min", "s")
	case d < 24*time.Hour-time.Minute/2:
		return parts(d, time.Hour, time.Minute, "h", "min")
	}
	return parts(d, 24*time.Hour, time.Hour, "d", "h")
}
