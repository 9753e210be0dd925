package curing

import (
	"fmt"
	"time"

	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// FrostStrength is the strength below which one freezing may ruin mortar: 500 psi (printed 3.5 MPa). Source: PCA Design
// and Control of Concrete Mixtures, cold weather, after Powers (LIM-07).
const FrostStrength = 500 * unit.PSI

// FrostAge is the equivalent age at 20 °C to assume for FrostStrength while a mix has no breaks: 24 h, which the same
// source gives for ordinary temperature and w/c below 0.60. With breaks, use the curve's Reaches(FrostStrength).
const FrostAge = 24 * time.Hour

// Frost is what a coat met before it could stand frost.
type Frost struct {
	Readings []Reading // at or below 0 °C before Safe, in order of time
	Safe     time.Time // when the coat came to the age asked for
	Reached  bool      // false: not yet, as far as the history goes; every freezing reading counts
	// Unseen has the gaps before Safe: no one knows whether it froze in them.
	Unseen []Gap
}

// FrostBefore looks for readings at or below 0 °C before h has the equivalent age safe at ref. readings are the
// thermometer's own, since an interval's mean hides a dip; h is their history from the coat's placing on, and readings
// before its first span are passed over. Temperatures are compared to 0.01 °C.
func FrostBefore(readings []Reading, h History, safe time.Duration, ref unit.Celsius,
	ea setting.ActivationEnergy,
) (Frost, error) {
	if safe <= 0 {
		return Frost{}, fmt.Errorf("the age that stands frost, %v, must be above 0", safe)
	}
	if _, err := h.EquivalentAge(ref, ea); err != nil {
		return Frost{}, err
	}
	points, err := inOrder(readings)
	if err != nil {
		return Frost{}, err
	}
	var f Frost
	f.Safe, f.Reached = h.ReachesAge(safe, ref, ea)
	for _, r := range points {
		early := len(h.Spans) > 0 && r.At.Before(h.Spans[0].From)
		if early || (f.Reached && !r.At.Before(f.Safe)) || hundredths(r.Temp) > 0 {
			continue
		}
		f.Readings = append(f.Readings, r)
	}
	for _, g := range h.Gaps {
		if !f.Reached || g.From.Before(f.Safe) {
			f.Unseen = append(f.Unseen, g)
		}
	}
	return f, nil
}
