package unit

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// All Parse functions read numbers as 2.5, 1/2, 1 1/2, 1-1/2 or ½, the unit glued or spaced, in any case; sums as
// 2gal+18floz or, largest unit first, 5lb 4oz. Their errors are *Error. No amount may be below zero.

func (k kind) parse(s string) (float64, error) {
	t, msg := plain(s)
	if msg == "" {
		var v float64
		if v, msg = k.sum(t); msg == "" {
			return v, nil
		}
	}
	return 0, k.fail(s, msg)
}

// ParseMass reads a mass: 94lb, 12.5 kg, 5lb 4oz, 14#. A bare ton is refused, it is three different masses.
func ParseMass(s string) (Mass, error) {
	v, err := mass.parse(s)
	return Mass(v), err
}

// ParseVolume reads a volume: 2.5gal, 2gal+18floz, 9.5 L, 3 ft³, 1 cu yd. A gal is the US gallon of 231 in³; the
// imperial one is impgal. An oz is refused: it is a mass.
func ParseVolume(s string) (Volume, error) {
	v, err := volume.parse(s)
	return Volume(v), err
}

// ParseLength reads a length: 38mm, 2.4 m, 1 1/2in, 6'-8", 6' 8 1/2”, and without a shell's quotes 6ft8in, 6ft-8in,
// 6f8.
func ParseLength(s string) (Length, error) {
	v, err := length.parse(s)
	return Length(v), err
}

// ParseArea reads an area: 72ft2, 72 sq ft, 6.7 m².
func ParseArea(s string) (Area, error) {
	v, err := area.parse(s)
	return Area(v), err
}

// ParseSpeed reads a speed: 12mph, 19 km/h, 19kph, 5 m/s, 10 knots.
func ParseSpeed(s string) (Speed, error) {
	v, err := speed.parse(s)
	return Speed(v), err
}

// ParseDensity reads a density or unit weight: 130lb/ft3, 130 pcf, 2080 kg/m³, 1.07g/mL, 8.34 lb/gal.
func ParseDensity(s string) (Density, error) {
	v, err := density.parse(s)
	return Density(v), err
}

// ParsePressure reads a pressure or strength: 4000psi, 27.6 MPa, 27.6N/mm2, 101.3 kPa, 29.92inHg.
func ParsePressure(s string) (Pressure, error) {
	v, err := pressure.parse(s)
	return Pressure(v), err
}

// ParseForce reads a force, such as a testing machine's load: 12000lbf, 53 kN. Here lb means lbf, as on the dial.
func ParseForce(s string) (Force, error) {
	v, err := force.parse(s)
	return Force(v), err
}

// ParseTemperature reads a temperature: 85F, 29 °C, -5C, 302K. Nothing below absolute zero.
func ParseTemperature(s string) (Celsius, error) {
	v, err := temperature.parse(s)
	return Celsius(v), err
}

// ParseTemperatureDifference reads a difference of two temperatures, which may be negative: 18F is 10 K, not -7.8 °C.
func ParseTemperatureDifference(s string) (Kelvins, error) {
	v, err := difference.parse(s)
	return Kelvins(v), err
}

// ParseEvaporation reads an evaporation rate: 0.2lb/ft2/h, 1.0 kg/m²/h, 1 kg/(m²·h).
func ParseEvaporation(s string) (Evaporation, error) {
	v, err := evaporation.parse(s)
	return Evaporation(v), err
}

// shareWords are shares that people write in words.
var shareWords = map[string]Share{
	"all": 1, "whole": 1, "the whole": 1, "none": 0, "half": 0.5, "third": 1.0 / 3, "one third": 1.0 / 3,
	"two thirds": 2.0 / 3, "quarter": 0.25, "one quarter": 0.25, "three quarters": 0.75,
}

// ParseShare reads a share of a whole, 0 to 1: 4%, 0.04, 1/2, half, all, none. A bare 1 is refused, since it may be
// meant as 1%.
func ParseShare(s string) (Share, error) {
	t, msg := plain(s)
	if msg != "" {
		return 0, share.fail(s, msg)
	}
	if of, ok := shareWords[strings.TrimPrefix(strings.ToLower(t), "a ")]; ok {
		return of, nil
	}
	x, n, msg := number(t)
	if msg != "" {
		return 0, share.fail(s, msg)
	}
	if n == 0 || strings.TrimSpace(t[n:]) != "" {
		if x, msg = share.sum(t); msg != "" {
			return 0, share.fail(s, msg)
		}
		n = 0
	}
	if msg := beyondWhole(x, strings.TrimSpace(t[:n])); msg != "" {
		return 0, share.fail(s, msg)
	}
	if n == 0 { // per cent: a hundredth times 95 is not quite the 0.95 that a script would write
		x, _ = strconv.ParseFloat(strconv.FormatFloat(x, 'g', 15, 64), 64)
	}
	return Share(x), nil
}

// beyondWhole says why x is no share; bare is the number where it was written without a unit.
func beyondWhole(x float64, bare string) string {
	switch {
	case x == 1 && bare != "":
		return "it can be one per cent or the whole: write 1%, 100% or all"
	case !(x > 1):
		return ""
	case bare == "":
		return "it is more than the whole, which is 100%"
	case strings.Contains(bare, "/"):
		return "it is more than the whole"
	}
	return fmt.Sprintf("it is more than the whole; did you mean %s%%?", bare)
}

// ParseFlow reads a rate of flow: 0.24L/s, 3.75 gal/min, 3gpm, or as it is measured with a bucket, 1qt/4s.
func ParseFlow(s string) (Flow, error) {
	v, err := flow.ratio(s, volume, duration)
	return Flow(v), err
}

// ParseDose reads a dose of admixture on the mass of cementitious material: 16floz/cwt (100 lb), 650 mL/100 kg.
func ParseDose(s string) (Dose, error) {
	v, err := dose.ratio(s, volume, doseMass)
	return Dose(v), err
}

// ratio reads "quantity / quantity", where the lower one's number may be left out.
func (k kind) ratio(s string, upper, lower kind) (float64, error) {
	t, msg := plain(s)
	if msg != "" {
		return 0, k.fail(s, msg)
	}
	if i := foldIndex(t, " in "); i > 0 && k == flow {
		t = t[:i] + "/" + t[i+len(" in "):]
	}
	at := divides(t)
	if at < 0 {
		v, msg := k.sum(t)
		if msg != "" {
			return 0, k.fail(s, msg)
		}
		return v, nil
	}
	a, msg := upper.sum(t[:at])
	if msg != "" {
		return 0, k.fail(s, msg)
	}
	under := strings.TrimSpace(t[at+1:])
	if under != "" && letter(under[0]) {
		under = "1" + under
	}
	b, msg := lower.sum(under)
	switch {
	case under == "":
		return 0, k.fail(s, "nothing is written after the /")
	case msg != "":
		return 0, k.fail(s, "after the /, "+msg)
	case b == 0:
		return 0, k.fail(s, "it divides by zero")
	}
	return a / b, nil
}

// divides finds the / that parts two quantities; that of 1/2 stands between digits, but ft3/s divides.
func divides(t string) int {
	for i := range len(t) {
		if t[i] != '/' {
			continue
		}
		j := i
		for j > 0 && t[j-1] == ' ' {
			j--
		}
		for j > 0 && t[j-1] >= '0' && t[j-1] <= '9' {
			j--
		}
		if j > 0 && (letter(t[j-1]) || t[j-1] == '^' || t[j-1] == '.' && j > 1 && letter(t[j-2])) {
			return i
		}
	}
	return -1
}

// tooLong is beyond any job, and well inside what a time.Duration holds.
const tooLong = 36500 * 24 * hour // s

// ParseDuration reads a length of time as people write it: 10s, 4min, 90 min, 1h30, 1 1/2 h, 7d; 1:30 is an hour and
// a half, 0:04:30 has seconds. At most a hundred years.
func ParseDuration(s string) (time.Duration, error) {
	t, msg := plain(s)
	if msg != "" {
		return 0, duration.fail(s, msg)
	}
	v, colon := 0.0, strings.IndexByte(t, ':') >= 0
	if colon {
		v, msg = clock(t)
	} else {
		v, msg = duration.sum(t)
	}
	switch {
	case msg != "":
		return 0, duration.fail(s, msg)
	case v > tooLong:
		return 0, duration.fail(s, "it is longer than a hundred years")
	}
	// Whole seconds first: 1h30 is then exact, and only the rest of a second is rounded.
	seconds := int64(v)
	return time.Duration(seconds)*time.Second + time.Duration((v-float64(seconds))*1e9+0.5), nil
}

func clock(t string) (v float64, msg string) {
	parts := 0
	for part := range strings.SplitSeq(t, ":") {
		n := digits(part)
		if n != len(part) || n == 0 || n > 4 || parts > 0 && n != 2 || parts > 2 {
			return 0, "with colons it is hours:minutes or hours:minutes:seconds"
		}
		x := 0.0
		for _, c := range part {
			x = x*10 + float64(c-'0')
		}
		if parts > 0 && x > 59 {
			return 0, quote(part) + " after a colon is more than 59"
		}
		v += x * [...]float64{hour, 60, 1}[parts]
		parts++
	}
	return v, ""
}

// Amount is a constituent as it was measured out: weighed or by volume.
type Amount struct {
	Mass     Mass   // where not IsVolume
	Volume   Volume // where IsVolume
	IsVolume bool
}

// At is the mass of a at density d, kg: the mass itself where it was weighed. A density of zero or less cannot be.
func (a Amount) At(d Density) (Mass, error) {
	switch {
	case !a.IsVolume:
		return a.Mass, nil
	case !(d > 0 && d < most):
		return 0, fmt.Errorf("a volume of %s has a mass only at a density above zero, such as %s",
			Metric.Liquid(a.Volume), Metric.Density(WaterDensity))
	}
	return d.Mass(a.Volume), nil
}

// ParseAmount reads a mass or a volume. A bare oz is the mass; see ParseLiquid.
func ParseAmount(s string) (Amount, error) {
	m, err := ParseMass(s)
	if err == nil {
		return Amount{Mass: m}, nil
	}
	v, other := ParseVolume(s)
	if other == nil {
		return Amount{Volume: v, IsVolume: true}, nil
	}
	return Amount{}, neitherOf(s, err, other)
}

// neitherOf picks the nearer of the two complaints about s and words it for both kinds.
func neitherOf(s string, notMass, notVolume error) error {
	e := *notMass.(*Error) //nolint:errorlint // this room's parsers return nothing else
	e.Want = "a mass is written like " + mass.examples() + ", a volume like " + volume.examples()
	t, msg := plain(s)
	if msg == "" && (t[0] == '-' || t[0] == '+') { // which kind is meant shows behind the sign
		t = strings.TrimLeft(t[1:], " ")
	}
	_, n, wrong := number(t)
	if msg != "" || n == 0 || wrong != "" {
		return &e
	}
	rest := strings.TrimLeft(t[n:], " ")
	_, isMass := mass.unit(rest)
	_, isVolume := volume.unit(rest)
	_, name, elsewhere := mass.home(written(rest))
	switch {
	case isMass > 0:
	case rest == "":
		e.Msg = quote(t[:n]) + " has no unit: " + mass.offer(t[:n]) + " if weighed, " + volume.offer(t[:n]) +
			" by volume would do"
	case isVolume > 0, !elsewhere && mass.nearest(name) == "" && volume.nearest(name) != "":
		e.Msg = notVolume.(*Error).Msg //nolint:errorlint // as above
	case strings.HasSuffix(e.Msg, " of mass"):
		e.Msg += " or volume"
	}
	return &e
}

// ParseLiquid reads the amount of a liquid, such as water or an admixture, by volume or weighed. It refuses the bare oz
// of the admixture trade, which may be fl oz or a weight.
func ParseLiquid(s string) (Amount, error) {
	a, err := ParseAmount(s)
	if err != nil || a.IsVolume {
		return a, err
	}
	t, _ := plain(s)
	x, n, _ := number(t)
	if e, _ := mass.unit(strings.TrimLeft(t[n:], " ")); e.factor == float64(Ounce) {
		number := strings.TrimSpace(t[:n])
		return Amount{}, volume.fail(s,
			fmt.Sprintf("an oz of a liquid can be a volume or a weight: write %sfloz, or %slb if weighed",
				number, sig(x/16, 4)))
	}
	return a, nil
}
