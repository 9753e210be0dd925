package setting

import (
	"fmt"
	"math"

	"hod/internal/unit"
)

// ActivationEnergy is the apparent activation energy of setting or hardening, J/mol: how strongly a mix answers to
// temperature.
type ActivationEnergy float64

// GasConstant is R, J/(mol·K). Source: CODATA 2018, exact.
const GasConstant = 8.31446261815324

const (
	// SuggestedEnergy is the figure to offer, with its name shown, where a mix states none: 40 kJ/mol, the low end of
	// the 40 to 45 kJ/mol that ASTM C1074 suggests (from memory). Class F ash lowers it, slag raises it.
	SuggestedEnergy ActivationEnergy = 40e3

	// SuggestedQ is the same thought in ASTM C1074's other form: Q = Ea/R = 5000 K, 41.57 kJ/mol (from memory).
	SuggestedQ unit.Kelvins = 5000
)

// Smallest and largest activation energies that are believed; literature has 30 to 64 kJ/mol for cements (from memory).
// The lower bound also catches kJ/mol typed where J/mol is meant.
const (
	leastEnergy ActivationEnergy = 5e3
	mostEnergy  ActivationEnergy = 200e3
)

// Coldest and Hottest bound the temperatures for which this package answers. Wider than any mortar that sets, so that a
// winter night's air passes, and narrow enough that a broken probe or a Fahrenheit figure in a furnace does not.
const (
	Coldest unit.Celsius = -40
	Hottest unit.Celsius = 100
)

// Q is the activation energy over the gas constant, K: the form in which ASTM C1074 prints it.
func (ea ActivationEnergy) Q() unit.Kelvins { return unit.Kelvins(float64(ea) / GasConstant) }

// EnergyOf is the activation energy that belongs to q, K.
func EnergyOf(q unit.Kelvins) ActivationEnergy { return ActivationEnergy(float64(q) * GasConstant) }

// AgeFactor is the minutes at ref that do what one minute at t does: exp(-Ea/R · (1/T - 1/Tref)), ASTM C1074
// (Freiesleben Hansen and Pedersen). The kelvin offset is pinned at 273.15; with the 273 that some print it moves by up
// to 0.1 % at 40 °C.
//
// Above 0, and 1 at t = ref. Where there is no answer (not a number, or at or below absolute zero) it is 0; Set.At and
// Consumed refuse such temperatures with an error instead. Below 0 °C the formula goes on although water freezes:
// mortar at -7 °C does not set at all by the trade's table, so the figure errs to the side of calling a joint cold
// early.
func AgeFactor(t, ref unit.Celsius, ea ActivationEnergy) float64 {
	return AgeFactorQ(t, ref, ea.Q())
}

// AgeFactorQ is AgeFactor with the activation energy given as Q = Ea/R, K.
func AgeFactorQ(t, ref unit.Celsius, q unit.Kelvins) float64 {
	kelvin, kelvinRef := t.Kelvin(), ref.Kelvin()
	if !(kelvin > 0) || !(kelvinRef > 0) || math.IsNaN(float64(q)) {
		return 0
	}
	exponent := float64(q) * (1/kelvinRef - 1/kelvin)
	if math.IsNaN(exponent) {
		return 0
	}
	return math.Exp(min(max(exponent, -700), 700)) // beyond ±700 a float64 no longer holds the answer
}

// Check says whether ea can be an activation energy of cement: 5 to 200 kJ/mol.
func (ea ActivationEnergy) Check() error {
	if !(ea >= leastEnergy && ea <= mostEnergy) {
		return fmt.Errorf(
			"activation energy %.4g kJ/mol cannot be a cement's: give 5 to 200 kJ/mol, such as 40 (Q 601 to 24055 K, such as 5000)", float64(ea)/1000)
	}
	return nil
}

// CheckTemperature says whether t lies between Coldest and Hottest.
func CheckTemperature(t unit.Celsius) error {
	if !(t >= Coldest && t <= Hottest) {
		return fmt.Errorf(
			"temperature %.4g °C is outside %g to %g °C (%g to %g °F): is the probe sound and the unit right?",
			float64(t), float64(Coldest), float64(Hottest), Coldest.Fahrenheit(), Hottest.Fahrenheit())
	}
	return nil
}
