package curing

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hod/internal/unit"
)

// MoistCureLeast is the temperature from which a moist day counts: 10 °C, 50 °F. Source: ACI 318, 308R (LIM-08, from
// memory).
const MoistCureLeast unit.Celsius = 10

// Cement is the class of cement by which the moist-cure periods go.
type Cement string

const (
	OrdinaryCement  Cement = "ordinary"
	HighEarlyCement Cement = "high-early" // Type III
	TypeIICement    Cement = "II"
	TypeIVCement    Cement = "IV"
	TypeVCement     Cement = "V"
)

// Cements are all of them.
var Cements = []Cement{OrdinaryCement, HighEarlyCement, TypeIICement, TypeIVCement, TypeVCement}

// MoistCureRule is the rule behind MoistCure, and MoistCureSource where it stands.
const (
	MoistCureRule   = "7 days, 3 for high-early cement, at 10 °C (50 °F) or warmer; 10 days for Type II, 14 for Type IV and V"
	MoistCureSource = "ACI 318 (7 and 3 days); ACI 308R (10 and 14); from memory"
)

// MoistCureOrdinary is what a cement asks for of which no more is known.
const MoistCureOrdinary = 7 * 24 * time.Hour

// MoistCure is how long a surface is kept wet, at MoistCureLeast or warmer, by its cement. Source: ACI 318 and 308R
// (LIM-08, from memory).
func MoistCure(c Cement) (time.Duration, error) {
	days := map[Cement]int{
		OrdinaryCement: 7, HighEarlyCement: 3, TypeIICement: 10, TypeIVCement: 14,
		TypeVCement: 14,
	}[c]
	if days == 0 {
		return 0, fmt.Errorf("no moist-cure period for cement %q; name ordinary, high-early, II, IV or V", string(c))
	}
	return time.Duration(days) * 24 * time.Hour, nil
}

// Period is a time in which a surface was kept wet or covered.
type Period struct{ From, To time.Time }

// MoistCredit is what the wet time counts for.
type MoistCredit struct {
	Credited   time.Duration // wet, and at MoistCureLeast or above
	TooCold    time.Duration // wet and colder
	Unmeasured time.Duration // wet, and no temperature known: not credited
}

// Moist credits the wet periods of a coat with the temperatures of h. Periods may overlap and need no order; what two
// have in common counts once. An error where one ends before it begins.
func Moist(wet []Period, h History) (MoistCredit, error) {
	var c MoistCredit
	periods, err := merged(wet)
	if err != nil {
		return c, err
	}
	for _, p := range periods {
		known := time.Duration(0)
		for _, s := range h.clip(p.From, p.To).Spans {
			d := s.To.Sub(s.From)
			known += d
			if hundredths(s.Mean) >= hundredths(MoistCureLeast) {
				c.Credited += d
			} else {
				c.TooCold += d
			}
		}
		c.Unmeasured += p.To.Sub(p.From) - known
	}
	return c, nil
}

// hundredths is the step in which temperatures are compared with a limit: 0.01 °C, so that machines agree.
func hundredths(t unit.Celsius) int64 { return int64(math.Round(float64(t) * 100)) }

func merged(wet []Period) ([]Period, error) {
	sorted := slices.Clone(wet)
	slices.SortFunc(sorted, func(a, b Period) int { return a.From.Compare(b.From) })
	var periods []Period
	for _, p := range sorted {
		if p.To.Before(p.From) {
			return nil, fmt.Errorf("wet period from %s ends before it begins, at %s", p.From.Format(time.RFC3339),
				p.To.Format(time.RFC3339))
		}
		if n := len(periods); n > 0 && !p.From.After(periods[n-1].To) {
			periods[n-1].To = latest(periods[n-1].To, p.To)
			continue
		}
		periods = append(periods, p)
	}
	return periods, nil
}
