package curing

import (
	"fmt"
	"math"
	"slices"
	"time"

	"hod/internal/unit"
)

// MoistCureLeast is the temperature from which a moist day counts: 10 °C, 50 °F. Source: ACI 318, 308R (LIM-08, from memory).
const MoistCureLeast unit.Celsius = 10

// Moist cure that a cement asks for. Source: ACI 318 and 308R (LIM-08, from memory).
const (
	MoistCureOrdinary  = 7 * 24 * time.Hour
	MoistCureHighEarly = 3 * 24 * time.Hour
	MoistCureTypeII    = 10 * 24 * time.Hour
	MoistCureTypeIV    = 14 * 24 * time.Hour // Type V too
)

// Period is a time in which a surface was kept wet or covered.
type Period struct{ From, To time.Time }

// MoistCredit is what the wet time counts for.
type MoistCredit struct {
	Credited   time.Duration // wet, and at MoistCureLeast or above
	TooCold    time.Duration // wet and colder
	Unmeasured time.Duration // wet, and no temperature known: not credited
}

// Moist credits the wet periods of a coat with the temperatures of h. Periods may overlap and need no order; what two have
// in common counts once. An error where one ends before it begins.
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
			return nil, fmt.Errorf("wet period from %s ends before it begins, at %s", p.From.Format(time.RFC3339), p.To.Format(time.RFC3339))
		}
		if n := len(periods); n > 0 && !p.From.After(periods[n-1].To) {
			periods[n-1].To = latest(periods[n-1].To, p.To)
			continue
		}
		periods = append(periods, p)
	}
	return periods, nil
}
