package mix

import (
	"fmt"

	"hod/internal/unit"
)

// UnitWeight of fresh mortar, D = (gross − tare) / volume of the measure. Source: ASTM C138. A result outside 100 to
// 5000 kg/m³ is an error: a unit was mistaken.
func UnitWeight(gross, tare unit.Mass, measure unit.Volume) (unit.Density, error) {
	if err := checkMass("the full measure", gross); err != nil {
		return 0, err
	}
	// A scale may have been set to zero with the empty measure on it.
	if err := within("mass of the empty measure", tare, 0, mostMass, unit.System.Mass,
		"it must be 0 or more, and at most {high}"); err != nil {
		return 0, err
	}
	if err := checkVolume("the measure", measure); err != nil {
		return 0, err
	}
	if gross <= tare {
		return 0, fmt.Errorf("the full measure weighs %s and the empty one %s; the full one must weigh more",
			both(gross, unit.System.Mass), both(tare, unit.System.Mass))
	}
	d := unit.Density(float64(gross-tare) / float64(measure))
	return d, within("unit weight", d, 100, 5000, unit.System.Density,
		"it must be from {low} to {high}; mortar is about 2000 kg/m³ (125 lb/ft³), foamed down to 400 (25): check the masses and the measure's volume")
}

// Yield is the volume of a batch, Y = M/D. Source: ASTM C138.
func Yield(batch unit.Mass, unitWeight unit.Density) (unit.Volume, error) {
	if err := checkMass("the batch", batch); err != nil {
		return 0, err
	}
	if err := checkDensity("unit weight", unitWeight); err != nil {
		return 0, err
	}
	return unitWeight.Of(batch), nil
}

// RelativeYield is Ry = Y/Yd: above 1 the batch fills more than designed, with less cement in each volume. Source: ASTM
// C138.
func RelativeYield(yield, design unit.Volume) (float64, error) {
	if err := checkVolume("yield", yield); err != nil {
		return 0, err
	}
	if err := checkVolume("design yield", design); err != nil {
		return 0, err
	}
	return float64(yield / design), nil
}

// AirByWeight is the gravimetric air content A = (T − D)/T, with T the air-free unit weight. Source: ASTM C138. Down to
// −10 % a negative result is given as it is: it says that an amount, a gravity, a moisture or the measurement is wrong;
// below that it is an error.
func AirByWeight(airFree, unitWeight unit.Density) (unit.Share, error) {
	if err := checkDensity("air-free unit weight", airFree); err != nil {
		return 0, err
	}
	if err := checkDensity("unit weight", unitWeight); err != nil {
		return 0, err
	}
	return checkAirFound(unit.Share((airFree - unitWeight) / airFree))
}

// AirByVolume is the same from the yield and the absolute volume of the batch, A = (Y − V)/Y. Source: ASTM C138.
func AirByVolume(yield, airFree unit.Volume) (unit.Share, error) {
	if err := checkVolume("yield", yield); err != nil {
		return 0, err
	}
	if err := checkVolume("the constituents", airFree); err != nil {
		return 0, err
	}
	return airOf(yield, airFree)
}

// airOf is AirByVolume for volumes that have been checked.
func airOf(yield, airFree unit.Volume) (unit.Share, error) {
	return checkAirFound(unit.Share((yield - airFree) / yield))
}

func checkAirFound(air unit.Share) (unit.Share, error) {
	if air < -0.1 {
		return 0,
			fmt.Errorf(
				"air content would be %.1f %%: the mortar cannot be that much denser than its constituents; check gravities, moisture and units", 100*air)
	}
	return air, percent("air content", air, -0.1, 0.95, "at most 95% of a mortar is air: check masses and units")
}

func negativeAir(air unit.Share) string {
	return fmt.Sprintf(
		"air content comes to %.2f %%, which cannot be: an amount, a gravity, the sand's moisture or the measurement is not as written", 100*air)
}

// AtAir is the unit weight of a mortar with so much air and an air-free unit weight.
func AtAir(airFree unit.Density, air unit.Share) (unit.Density, error) {
	if err := checkDensity("air-free unit weight", airFree); err != nil {
		return 0, err
	}
	if err := checkAir(air); err != nil {
		return 0, err
	}
	return airFree * unit.Density(1-air), nil
}

// CementContent is the mass of cement in each volume of mortar as it came out, C = Cb/Y. Source: ASTM C138.
func CementContent(cement unit.Mass, yield unit.Volume) (unit.Density, error) {
	if err := checkMass("cement", cement); err != nil {
		return 0, err
	}
	if err := checkVolume("yield", yield); err != nil {
		return 0, err
	}
	return unit.Density(float64(cement) / float64(yield)), nil
}

// UnitWeightJudgement holds a measured unit weight against a mix's target.
type UnitWeightJudgement struct {
	Measured, Low, High, Deviation unit.Density
	Within                         bool
}

// JudgeUnitWeight compares at a step of 0.01 kg/m³. A tolerance of 0 is an error, since no measurement would meet it.
func JudgeUnitWeight(measured, target, tolerance unit.Density) (UnitWeightJudgement, error) {
	if err := checkDensity("unit weight", measured); err != nil {
		return UnitWeightJudgement{}, err
	}
	if err := checkDensity("target unit weight", target); err != nil {
		return UnitWeightJudgement{}, err
	}
	if err := within("unit weight tolerance", tolerance, 0.01, mostDense, unit.System.Density,
		"it must be above 0, as 50 kg/m³ (3 lb/ft³)"); err != nil {
		return UnitWeightJudgement{}, err
	}
	off := measured - target
	return UnitWeightJudgement{
		Measured: measured, Low: target - tolerance, High: target + tolerance, Deviation: off,
		Within: step(unit.Share(max(off, -off)-tolerance)*1e-4) <= 0,
	}, nil
}
