package setting

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"hod/internal/unit"
)

// SetAt is an initial set measured at one temperature.
type SetAt struct {
	Temp    unit.Celsius
	Initial time.Duration
}

// RateAt is a rate of strength gain measured at one temperature, 1/day or any other unit that is the same throughout.
type RateAt struct {
	Temp unit.Celsius
	Rate float64
}

// EnergyFit is an activation energy from measurements at two or more temperatures.
type EnergyFit struct {
	Ea         ActivationEnergy // J/mol
	Q          unit.Kelvins     // Ea/R, the slope
	R2         float64          // always 1 for two points
	Points     int
	logAt0     float64 // ln of the seconds where 1/T is 0
	ofSets     bool
	Believable bool // Ea lies between 5 and 200 kJ/mol; Set refuses it otherwise
}

// EnergyFromSets is the activation energy in set times at two or more temperatures: the slope of ln(t) against 1/T.
// An error for one temperature only, a time not above 0, or a mix that seems to set later when hotter.
func EnergyFromSets(sets []SetAt) (EnergyFit, error) {
	var inverse, logs []float64
	for i, s := range sets {
		if s.Initial <= 0 {
			return EnergyFit{}, fmt.Errorf("set time %d is %s: it must be above 0", i+1, unit.Duration(s.Initial))
		}
		if err := CheckTemperature(s.Temp); err != nil {
			return EnergyFit{}, fmt.Errorf("set time %d: %w", i+1, err)
		}
		inverse = append(inverse, 1/s.Temp.Kelvin())
		logs = append(logs, math.Log(s.Initial.Seconds()))
	}
	f, err := energy(inverse, logs, "set time")
	f.ofSets = err == nil
	return f, err
}

// EnergyFromRates is the activation energy in rate constants at two or more temperatures: the slope of -ln(k) against
// 1/T (the annex of ASTM C1074, method from memory). Errors as EnergyFromSets.
func EnergyFromRates(rates []RateAt) (EnergyFit, error) {
	var inverse, logs []float64
	for i, r := range rates {
		if !(r.Rate > 0) || math.IsInf(r.Rate, 1) {
			return EnergyFit{}, fmt.Errorf("rate %d is %g: it must be above 0", i+1, r.Rate)
		}
		if err := CheckTemperature(r.Temp); err != nil {
			return EnergyFit{}, fmt.Errorf("rate %d: %w", i+1, err)
		}
		inverse = append(inverse, 1/r.Temp.Kelvin())
		logs = append(logs, -math.Log(r.Rate))
	}
	return energy(inverse, logs, "rate")
}

func energy(inverse, logs []float64, what string) (EnergyFit, error) {
	if len(inverse) < 2 || stat.Variance(inverse, nil) == 0 {
		plural := "s"
		if len(inverse) == 1 {
			plural = ""
		}
		return EnergyFit{}, fmt.Errorf(
			"%d %s%s of one temperature only: two temperatures at least are needed, ten degrees apart or more",
			len(inverse), what, plural)
	}
	intercept, slope := stat.LinearRegression(inverse, logs, nil, false)
	if !(slope > 0) || math.IsInf(slope, 1) {
		return EnergyFit{}, fmt.Errorf(
			"by these figures the mix is slower when hotter (Q %.4g K): look for a mistyped temperature or time", slope)
	}
	f := EnergyFit{
		logAt0: intercept, Q: unit.Kelvins(slope), Ea: EnergyOf(unit.Kelvins(slope)), Points: len(inverse),
		R2: 1,
	}
	if len(inverse) > 2 {
		f.R2 = min(max(stat.RSquared(inverse, logs, nil, intercept, slope), 0), 1)
	}
	f.Believable = f.Ea.Check() == nil
	return f, nil
}

// Set is what the line through the set times says of the mix at ref. An error where the fit is of rates, which know no
// set time, or is not believable.
func (f EnergyFit) Set(ref unit.Celsius) (Set, error) {
	if !f.ofSets {
		return Set{}, fmt.Errorf("this activation energy comes from no set times; measure the initial set itself")
	}
	if err := CheckTemperature(ref); err != nil {
		return Set{}, err
	}
	seconds := math.Exp(f.logAt0 + float64(f.Q)/ref.Kelvin())
	if !(seconds <= maxSeconds) {
		return Set{}, fmt.Errorf("the set times say nothing of %.4g °C: the line is beyond %v there", float64(ref),
			maxDuration)
	}
	s := Set{Initial: duration(seconds), Reference: ref, Ea: f.Ea}
	return s, s.Check()
}
