package curing

import (
	"fmt"
	"math"
	"time"

	"hod/internal/unit"
)

// The curves of codes, for a mix that has no breaks of its own yet. What they give is a Borrowed, never an Estimate: it
// cannot be mistaken for this mix's.

// Growth is the share of its 28-day strength that a code's curve gives to concrete of an age.
type Growth struct {
	Share float64 // 1 is the 28-day strength
	Curve string  // which curve, for the person
}

// Borrowed is a strength by a code's curve: not this mix's own. Show NotOwn and Caution beside it.
type Borrowed struct {
	Strength unit.Pressure
	Curve    string
}

// NotOwn belongs beside every Borrowed strength.
const NotOwn = "By a code's general curve, not by this mix's own breaks: it may be far off for a rich, fibre-reinforced shell mortar."

// Of is the strength that the curve gives, from a 28-day strength.
func (g Growth) Of(at28 unit.Pressure) (Borrowed, error) {
	if !(at28 > 0) || at28 > 1000*unit.Megapascal {
		return Borrowed{}, fmt.Errorf("28-day strength %.4g MPa must be above 0 and at most 1000 MPa",
			float64(at28/unit.Megapascal))
	}
	return Borrowed{Strength: at28 * unit.Pressure(g.Share), Curve: g.Curve}, nil
}

// CementClass is that of EN 1992-1-1: how early the cement is strong.
type CementClass byte

const (
	Rapid  CementClass = 'R'
	Normal CementClass = 'N'
	Slow   CementClass = 'S'
)

// EN1992Growth is exp(s (1 - sqrt(28/t))), t in days, s 0.20, 0.25, 0.38 for R, N, S: EN 1992-1-1 eq. 3.2. For curing
// at 20 °C; give the equivalent age elsewhere. 0 at age 0.
func EN1992Growth(class CementClass, age time.Duration) (Growth, error) {
	s, ok := map[CementClass]float64{Rapid: 0.20, Normal: 0.25, Slow: 0.38}[class]
	if !ok {
		return Growth{}, fmt.Errorf("cement class %q is not known: R, N or S", string(rune(class)))
	}
	if age < 0 {
		return Growth{}, fmt.Errorf("age %v cannot be below 0", age)
	}
	g := Growth{Curve: fmt.Sprintf("EN 1992-1-1 eq. 3.2, cement class %c", class)}
	if age > 0 {
		g.Share = math.Exp(s * (1 - math.Sqrt(28/days(age))))
	}
	return g, nil
}

// EN1992Characteristic is the characteristic strength that belongs to a mean one between 3 and 28 days: 8 MPa less,
// EN 1992-1-1 3.1.2. An error for a mean of 8 MPa or less.
func EN1992Characteristic(mean unit.Pressure) (unit.Pressure, error) {
	if !(mean > 8*unit.Megapascal) || math.IsInf(float64(mean), 1) {
		return 0,
			fmt.Errorf("mean strength %.4g MPa has no characteristic strength by EN 1992-1-1: it must be above 8 MPa",
				float64(mean/unit.Megapascal))
	}
	return mean - 8*unit.Megapascal, nil
}

// ACI209Cure is a cement and a cure for which ACI 209R has figures.
type ACI209Cure int

const (
	MoistTypeI ACI209Cure = iota + 1
	MoistTypeIII
	SteamTypeI
	SteamTypeIII
)

var aci209 = map[ACI209Cure]struct {
	a, b float64
	name string
}{
	MoistTypeI:   {4.0, 0.85, "moist cure, Type I cement"},
	MoistTypeIII: {2.3, 0.92, "moist cure, Type III cement"},
	SteamTypeI:   {1.0, 0.95, "steam cure, Type I cement"},
	SteamTypeIII: {0.70, 0.98, "steam cure, Type III cement"},
}

// ACI209Growth is t/(a + b t), t in days: ACI 209R-92 Table 2.2.1 (from memory). As printed and not brought to 1 at 28
// days: for moist Type I it is 1.007 there.
func ACI209Growth(cure ACI209Cure, age time.Duration) (Growth, error) {
	c, ok := aci209[cure]
	if !ok {
		return Growth{}, fmt.Errorf("cure %d is not in ACI 209R: moist or steam, Type I or III", cure)
	}
	if age < 0 {
		return Growth{}, fmt.Errorf("age %v cannot be below 0", age)
	}
	return Growth{Share: days(age) / (c.a + c.b*days(age)), Curve: "ACI 209R, " + c.name}, nil
}

func days(d time.Duration) float64 { return d.Hours() / 24 }
