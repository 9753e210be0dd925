package setting

import (
	"fmt"
	"math"
	"time"

	"gonum.org/v1/gonum/stat"

	"hod/internal/unit"
)

// Penetration resistances of initial and final set. Source: ASTM C403 (printed 500 and 4000 psi, 3.5 and 27.6 MPa).
const (
	InitialSet = 500 * unit.PSI
	FinalSet   = 4000 * unit.PSI
)

// LeastReadings is the number of penetrations that ASTM C403 asks for.
const LeastReadings = 6

// Needles has the bearing areas of the penetrometer's needles. Source: ASTM C403 (from memory).
var Needles = []unit.Area{
	unit.Area(unit.Inch * unit.Inch),
	unit.Area(unit.Inch*unit.Inch) / 2,
	unit.Area(unit.Inch*unit.Inch) / 4,
	unit.Area(unit.Inch*unit.Inch) / 10,
	unit.Area(unit.Inch*unit.Inch) / 20,
	unit.Area(unit.Inch*unit.Inch) / 40,
}

// NeedleDiameter is that of a round needle with bearing area a; 0 where a is not above 0.
func NeedleDiameter(a unit.Area) unit.Length {
	if !(a > 0) {
		return 0
	}
	return unit.Length(math.Sqrt(4 * float64(a) / math.Pi))
}

// Resistance is the force that pressed a needle in over the needle's area.
func Resistance(force unit.Force, needle unit.Area) (unit.Pressure, error) {
	if !(force > 0) || !(needle > 0) || math.IsInf(float64(force), 1) || math.IsInf(float64(force)/float64(needle), 1) {
		return 0, fmt.Errorf("force %.4g N on a needle of %.4g mm²: both must be above 0", float64(force),
			float64(needle)*1e6)
	}
	return unit.Pressure(float64(force) / float64(needle)), nil
}

// Penetration is one reading of the penetrometer.
type Penetration struct {
	Elapsed    time.Duration // since water met cement
	Resistance unit.Pressure
}

// PenetrationFit is the line log10(psi) = Intercept + Slope · log10(min) through penetration readings, and the set
// times read off it.
type PenetrationFit struct {
	Slope, Intercept float64
	R2               float64 // of the logarithms; 1 is a line through every reading
	Readings         int
	Initial, Final   time.Duration // since water met cement

	// A time is extrapolated where no reading lies on its far (or near) side: then it is the line's word and no one's
	// measurement.
	InitialExtrapolated, FinalExtrapolated bool
	Notes                                  []string // for the person: what to know before relying on it
}

// FitPenetration draws the regression of ASTM C403 (form from memory) through readings and reads both set times off it.
// An error for fewer than six readings, a time or resistance not above 0, readings all of one instant, or mortar that
// did not stiffen.
func FitPenetration(readings []Penetration) (PenetrationFit, error) {
	if len(readings) < LeastReadings {
		return PenetrationFit{}, fmt.Errorf("%d penetration readings: ASTM C403 asks for at least %d", len(readings),
			LeastReadings)
	}
	var minutes, psi []float64
	first, last := readings[0].Elapsed, readings[0].Elapsed
	var low, high unit.Pressure = readings[0].Resistance, readings[0].Resistance
	for i, r := range readings {
		if r.Elapsed <= 0 {
			return PenetrationFit{},
				fmt.Errorf("penetration reading %d was taken %v after water contact: it must be above 0", i+1,
					r.Elapsed)
		}
		if !(r.Resistance > 0) || math.IsInf(float64(r.Resistance), 1) {
			return PenetrationFit{}, fmt.Errorf("penetration reading %d has resistance %g Pa: it must be above 0", i+1,
				float64(r.Resistance))
		}
		minutes = append(minutes, math.Log10(r.Elapsed.Minutes()))
		psi = append(psi, math.Log10(float64(r.Resistance/unit.PSI)))
		first, last = min(first, r.Elapsed), max(last, r.Elapsed)
		low, high = min(low, r.Resistance), max(high, r.Resistance)
	}
	if first == last {
		return PenetrationFit{},
			fmt.Errorf("all %d penetration readings are of one instant, %s: spread them over the stiffening",
				len(readings), unit.Duration(first))
	}
	f := PenetrationFit{Readings: len(readings)}
	f.Intercept, f.Slope = stat.LinearRegression(minutes, psi, nil, false)
	if !(f.Slope > 0) || low == high {
		return PenetrationFit{},
			fmt.Errorf("the mortar did not stiffen: resistance goes with time to the power %.3g, not above 0", f.Slope)
	}
	f.R2 = min(max(stat.RSquared(minutes, psi, nil, f.Intercept, f.Slope), 0), 1)
	var err error
	if f.Initial, err = f.reaches(InitialSet); err != nil {
		return PenetrationFit{}, err
	}
	if f.Final, err = f.reaches(FinalSet); err != nil {
		return PenetrationFit{}, err
	}
	f.InitialExtrapolated = f.Initial < first || f.Initial > last
	f.FinalExtrapolated = f.Final < first || f.Final > last
	if f.InitialExtrapolated {
		f.Notes = append(f.Notes, fmt.Sprintf("initial set is extrapolated: readings run from %s to %s",
			unit.Duration(first), unit.Duration(last)))
	}
	if f.FinalExtrapolated {
		f.Notes = append(f.Notes, fmt.Sprintf("final set is extrapolated: readings run from %s to %s",
			unit.Duration(first), unit.Duration(last)))
	}
	if math.Sqrt(f.R2) < goodCorrelation {
		f.Notes = append(f.Notes,
			fmt.Sprintf(
				"correlation %.3f is below %.2f: look for an outlying reading, or read the times off a hand-drawn curve", math.Sqrt(f.R2), goodCorrelation))
	}
	return f, nil
}

// goodCorrelation is that of the logarithms below which the line is doubted: 0.98, ASTM C403 (from memory, low
// confidence).
const goodCorrelation = 0.98

// Resistance is what the line has at elapsed; 0 where elapsed is not above 0.
func (f PenetrationFit) Resistance(elapsed time.Duration) unit.Pressure {
	if elapsed <= 0 {
		return 0
	}
	exponent := min(f.Intercept+f.Slope*math.Log10(elapsed.Minutes()), 300)
	return unit.Pressure(math.Pow(10, exponent)) * unit.PSI
}

func (f PenetrationFit) reaches(p unit.Pressure) (time.Duration, error) {
	minutes := math.Pow(10, (math.Log10(float64(p/unit.PSI))-f.Intercept)/f.Slope)
	if !(minutes <= Longest.Minutes()) {
		return 0, fmt.Errorf("the line through the readings is too flat: it reaches %.0f psi only after more than %v",
			float64(p/unit.PSI), Longest)
	}
	return duration(minutes * 60), nil
}

// VicatDepth is the needle's penetration at initial set of paste. Source: ASTM C191 (from memory).
const VicatDepth = 25 * unit.Millimetre

// Vicat is one reading of the Vicat needle in paste.
type Vicat struct {
	Elapsed time.Duration // since water met cement
	Depth   unit.Length
}

// VicatInitial is the time at which the needle goes in 25 mm, straight between the last reading deeper than that and
// the first that is not (ASTM C191, from memory). Readings go by time. An error where they do not enclose 25 mm:
// nothing is extrapolated.
func VicatInitial(readings []Vicat) (time.Duration, error) {
	for i, r := range readings {
		if r.Elapsed < 0 || !(r.Depth >= 0) || r.Depth > 0.05 {
			return 0, fmt.Errorf("Vicat reading %d: %v and %g mm cannot be; the needle goes in 0 to 50 mm", i+1,
				r.Elapsed, float64(r.Depth)*1e3)
		}
		if i > 0 && r.Elapsed <= readings[i-1].Elapsed {
			return 0, fmt.Errorf("Vicat reading %d at %v is not later than the one before it at %v", i+1, r.Elapsed,
				readings[i-1].Elapsed)
		}
		if r.Depth > VicatDepth {
			continue
		}
		if i == 0 {
			break
		}
		before := readings[i-1]
		part := float64(before.Depth-VicatDepth) / float64(before.Depth-r.Depth)
		return before.Elapsed + time.Duration(math.Round(part*float64(r.Elapsed-before.Elapsed))), nil
	}
	return 0,
		fmt.Errorf("the %d Vicat readings do not enclose 25 mm: one deeper and a later one of 25 mm or less are needed",
			len(readings))
}
