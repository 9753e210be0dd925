package mix

import (
	"fmt"
	"strings"

	"hod/internal/unit"
)

// The widest amounts that are taken for real. Outside them a unit was mistaken or a digit slipped; inside them no
// quotient of two amounts can overflow.
const (
	leastMass    unit.Mass    = 1e-6 // 1 mg
	mostMass     unit.Mass    = 1e5  // 100 t, more than any mixer holds
	leastVolume  unit.Volume  = 1e-9 // 1 mm³
	mostVolume   unit.Volume  = 1e3
	leastDense   unit.Density = 1
	mostDense    unit.Density = 25000
	leastGravity              = 0.01
	mostGravity               = 25.0
)

// between is an error unless low <= q <= high; NaN and infinities are outside every range.
func between[Q ~float64](what string, q, low, high Q, right string) error {
	if q >= low && q <= high {
		return nil
	}
	return fmt.Errorf("%s is %.6g; %s", what, float64(q), right)
}

// within is between for a quantity with a unit. The refusal says it in both systems, so that whoever wrote the value
// finds it there as it was written; {low} and {high} in right are the bounds, in both systems too.
func within[Q ~float64](what string, q, low, high Q, show func(unit.System, Q) string, right string) error {
	if q >= low && q <= high {
		return nil
	}
	right = strings.NewReplacer("{low}", both(low, show), "{high}", both(high, show)).Replace(right)
	return fmt.Errorf("%s is %s; %s", what, both(q, show), right)
}

// both is a quantity in both systems.
func both[Q ~float64](q Q, show func(unit.System, Q) string) string {
	return unit.Both(unit.Metric, unit.Computed(q), show)
}

// percent refuses a share outside its range, in per cent, as people write shares.
func percent(what string, s, low, high unit.Share, right string) error {
	if s >= low && s <= high {
		return nil
	}
	return fmt.Errorf("%s is %s; %s", what, unit.Metric.Share(s), right)
}

func checkMass(what string, m unit.Mass) error {
	return within("mass of "+what, m, leastMass, mostMass, unit.System.Mass, "it must be above 0 and at most {high}")
}

func checkVolume(what string, v unit.Volume) error {
	return within("volume of "+what, v, leastVolume, mostVolume, unit.System.Volume,
		"it must be above 0 and at most {high}")
}

func checkDensity(what string, d unit.Density) error {
	return within(what, d, leastDense, mostDense, unit.System.Density,
		"it must be at least {low} and at most {high}; mortar is about 2000 kg/m³ (125 lb/ft³)")
}

func checkGravity(what string, g float64) error {
	return between("specific gravity of "+what, g, leastGravity, mostGravity,
		"it must be between 0.01 and 25, as 3.15 for Portland cement or 2.65 for silica sand")
}

func checkShare(what string, s unit.Share) error {
	return percent(what, s, 0, 1, "it must be from 0 to 100%")
}

// checkAir allows what foam can bring; beyond it nothing would stay on an armature.
func checkAir(air unit.Share) error {
	return percent("air content", air, 0, 0.9, "it must be from 0 to 90% of the volume, as 6%")
}
