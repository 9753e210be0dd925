package setting

import (
	"fmt"
	"time"

	"hod/internal/unit"
)

// Longest is as far as this package follows one material: fourteen days. Nothing that crews place is still fresh then.
const Longest = 14 * 24 * time.Hour

// Set is what is known of a mix's initial set (penetration resistance 500 psi, ASTM C403): how long after water met
// cement, at which temperature, and how strongly the mix answers to temperature.
type Set struct {
	Initial   time.Duration // from water contact, at Reference
	Reference unit.Celsius
	Ea        ActivationEnergy // J/mol
}

// Check says what is wrong with s, and what would be right.
func (s Set) Check() error {
	if s.Initial <= 0 || s.Initial > Longest {
		return fmt.Errorf("initial set %s must be above 0 and at most %s: give the time from water contact, such as 5h",
			unit.Duration(s.Initial), unit.Duration(Longest))
	}
	if err := CheckTemperature(s.Reference); err != nil {
		return fmt.Errorf("reference of the initial set: %w", err)
	}
	return s.Ea.Check()
}

// At is the time to initial set at a constant t: Initial over the age factor (Pinto and Hover's view of set by
// equivalent age). The same answer, less than a nanosecond apart, as Turns gives for that temperature.
func (s Set) At(t unit.Celsius) (time.Duration, error) {
	if err := s.Check(); err != nil {
		return 0, err
	}
	if err := CheckTemperature(t); err != nil {
		return 0, err
	}
	seconds := s.Initial.Seconds() / AgeFactor(t, s.Reference, s.Ea)
	if seconds > maxSeconds {
		return 0,
			fmt.Errorf("at %.4g °C this mix would take more than %s to set; check its activation energy of %g kJ/mol",
				float64(t), unit.Duration(maxDuration), float64(s.Ea)/1000)
	}
	return duration(seconds), nil
}

const (
	maxDuration = 365 * 24 * time.Hour
	maxSeconds  = float64(maxDuration / time.Second)
)

func duration(seconds float64) time.Duration { return time.Duration(seconds * float64(time.Second)) }
