package curing

import (
	"fmt"
	"math"
	"time"

	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// DegreeHours is maturity by Nurse and Saul, °C·h above the datum.
type DegreeHours float64

// Days is the same in °C·d.
func (m DegreeHours) Days() float64 { return float64(m) / 24 }

// Datum temperatures, below which Nurse and Saul's maturity takes hydration to stand still. Source: ASTM C1074 (from
// memory).
const (
	DatumC1074 unit.Celsius = 0   // ordinary cement without admixtures, cured between 0 and 40 °C
	DatumOld   unit.Celsius = -10 // the older default
)

// Reference is the temperature of equivalent age where nothing else is stated: 20 °C. ASTM C1074 in the US takes 23 °C.
const Reference unit.Celsius = 20

// NurseSaul is the maturity of h above datum: the sum of (mean - datum) times hours, where a span below datum adds
// nothing (ASTM C1074). An error where datum is not between -60 and 60 °C.
func (h History) NurseSaul(datum unit.Celsius) (DegreeHours, error) {
	if !(datum >= -60 && datum <= 60) {
		return 0, fmt.Errorf("datum %.4g °C is outside -60 to 60 °C: 0 and -10 °C are usual", float64(datum))
	}
	sum := 0.0
	for _, s := range h.Spans {
		sum += max(0, float64(s.Mean-datum)) * s.To.Sub(s.From).Hours()
	}
	return DegreeHours(sum), nil
}

// SaulFactor is the hours at ref that do what an hour at t does by Nurse and Saul; 0 below datum. An error where ref is
// not above datum.
func SaulFactor(t, ref, datum unit.Celsius) (float64, error) {
	for _, x := range []unit.Celsius{t, ref, datum} {
		if !(x >= Coldest && x <= Hottest) {
			return 0, fmt.Errorf("temperature %.4g °C is outside %g to %g °C", float64(x), float64(Coldest),
				float64(Hottest))
		}
	}
	if ref-datum < 1 {
		return 0, fmt.Errorf("reference %.4g °C must lie above the datum %.4g °C, by a degree at least", float64(ref),
			float64(datum))
	}
	return max(0, float64(t-datum)/float64(ref-datum)), nil
}

// SaulAge is the time at ref that would have brought the same maturity by Nurse and Saul. Errors as SaulFactor.
func (h History) SaulAge(ref, datum unit.Celsius) (time.Duration, error) {
	if _, err := SaulFactor(ref, ref, datum); err != nil {
		return 0, err
	}
	return h.age(func(t unit.Celsius) float64 {
		factor, err := SaulFactor(t, ref, datum)
		if err != nil {
			return 0 // readings are believed only within the temperatures that it takes
		}
		return factor
	})
}

// EquivalentAge is the time at ref that would have brought the same maturity, by the age factor of ASTM C1074. It
// counts below freezing as the formula does; FrostBefore is what watches for that.
func (h History) EquivalentAge(ref unit.Celsius, ea setting.ActivationEnergy) (time.Duration, error) {
	if err := ea.Check(); err != nil {
		return 0, err
	}
	if err := setting.CheckTemperature(ref); err != nil {
		return 0, fmt.Errorf("reference of the equivalent age: %w", err)
	}
	return h.age(func(t unit.Celsius) float64 { return setting.AgeFactor(t, ref, ea) })
}

// EquivalentAgeQ is EquivalentAge with the activation energy given as Q = Ea/R, K.
func (h History) EquivalentAgeQ(ref unit.Celsius, q unit.Kelvins) (time.Duration, error) {
	return h.EquivalentAge(ref, setting.EnergyOf(q))
}

func (h History) age(factor func(unit.Celsius) float64) (time.Duration, error) {
	seconds := 0.0
	for _, s := range h.Spans {
		seconds += s.To.Sub(s.From).Seconds() * factor(s.Mean)
	}
	if !(seconds < math.MaxInt64/1e9) {
		return 0, fmt.Errorf("the history is longer than can be counted")
	}
	return time.Duration(math.Round(seconds * 1e9)), nil
}

// ReachesAge is the instant at which h has brought an equivalent age, and whether it has. False also where the inputs
// do not stand; EquivalentAge says why.
func (h History) ReachesAge(age time.Duration, ref unit.Celsius, ea setting.ActivationEnergy) (time.Time, bool) {
	if ea.Check() != nil || setting.CheckTemperature(ref) != nil || age <= 0 {
		return time.Time{}, false
	}
	left := age.Seconds()
	for _, s := range h.Spans {
		factor := setting.AgeFactor(s.Mean, ref, ea)
		gain := factor * s.To.Sub(s.From).Seconds()
		if gain >= left-1e-9 { // a nanosecond's rounding must not carry the answer into the next span
			return earliest(s.From.Add(time.Duration(math.Ceil(left/factor*1e9))), s.To), true
		}
		left -= gain
	}
	return time.Time{}, false
}

// EN1992 is the age by EN 1992-1-1, and the time that its formula does not cover.
type EN1992 struct {
	Age     time.Duration
	Outside time.Duration // below 0 or above 80 °C; adds nothing to Age
}

// Note says in words what Outside means; empty where the whole history is covered.
func (e EN1992) Note() string {
	if e.Outside == 0 {
		return ""
	}
	return fmt.Sprintf("%s lay outside 0 to 80 °C, where EN 1992-1-1 eq. B.10 does not hold; it adds nothing",
		unit.Duration(e.Outside))
}

// EN1992Age is the temperature-adjusted age of EN 1992-1-1:2004 eq. B.10. Spans outside 0 to 80 °C add nothing and are
// reported. At 20 °C it is 0.2 % below the clock, by the rounding in the formula.
func (h History) EN1992Age() (EN1992, error) {
	var e EN1992
	for _, s := range h.Spans {
		if !enHolds(s.Mean) {
			e.Outside += s.To.Sub(s.From)
		}
	}
	var err error
	e.Age, err = h.age(func(t unit.Celsius) float64 {
		factor, err := EN1992Factor(t)
		if err != nil {
			return 0
		}
		return factor
	})
	return e, err
}

func enHolds(t unit.Celsius) bool { return t >= 0 && t <= 80 }

// EN1992Factor is exp(13.65 - 4000/(273+t)), EN 1992-1-1:2004 eq. B.10 (the form from memory), with 273 as it prints
// it. An error outside 0 to 80 °C.
func EN1992Factor(t unit.Celsius) (float64, error) {
	if !enHolds(t) {
		return 0, fmt.Errorf("EN 1992-1-1 eq. B.10 holds from 0 to 80 °C, not at %.4g °C", float64(t))
	}
	return math.Exp(13.65 - 4000/(273+float64(t))), nil
}

// VariableEnergy is the activation energy of Freiesleben Hansen and Pedersen: 33.5 kJ/mol from 20 °C up, and 1.47
// kJ/mol more for each degree below (from memory).
func VariableEnergy(t unit.Celsius) setting.ActivationEnergy {
	return setting.ActivationEnergy(33.5e3 + 1.47e3*max(0, 20-float64(t)))
}

// VariableEnergyAge is the equivalent age at 20 °C with VariableEnergy.
func (h History) VariableEnergyAge() (time.Duration, error) {
	return h.age(func(t unit.Celsius) float64 { return setting.AgeFactor(t, 20, VariableEnergy(t)) })
}
