package mix

import (
	"fmt"

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

func checkMass(what string, m unit.Mass) error {
	return between("mass of "+what+" in kg", m, leastMass, mostMass, "it must be above 0 and at most 100 t")
}

func checkVolume(what string, v unit.Volume) error {
	return between("volume of "+what+" in m³", v, leastVolume, mostVolume, "it must be above 0 and at most 1000 m³")
}

func checkDensity(what string, d unit.Density) error {
	return between(what+" in kg/m³", d, leastDense, mostDense, "it must be at least 1 and at most 25000; mortar is about 2000")
}

func checkGravity(what string, g float64) error {
	return between("specific gravity of "+what, g, leastGravity, mostGravity,
		"it must be between 0.01 and 25, as 3.15 for Portland cement or 2.65 for silica sand")
}

func checkShare(what string, s unit.Share) error {
	return between(what, s, 0, 1, "it must be a share from 0 to 1, as 0.05 for 5 %")
}

// checkAir allows what foam can bring; beyond it nothing would stay on an armature.
func checkAir(air unit.Share) error {
	return between("air content", air, 0, 0.9, "it must be a share of the volume from 0 to 0.9, as 0.06 for 6 %")
}
