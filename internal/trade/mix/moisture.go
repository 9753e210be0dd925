package mix

import (
	"fmt"

	"hod/internal/unit"
)

// SandState is one amount of sand, as water divides it. Weighed = SSD + Free, and SSD = OvenDry × (1 + absorption).
type SandState struct {
	OvenDry unit.Mass
	SSD     unit.Mass // saturated and surface-dry: the state that mixes are written in
	Weighed unit.Mass // as it lies in the pile: what the scale shows
	Free    unit.Mass // water outside the grains, part of the mixing water; negative when the sand will take water up
}

// Moisture and absorption are shares of the oven-dry mass (ASTM C566, C128), so that 0.05 is 5 %. Beyond 40 % is not a
// sand that lies in a pile: a percentage was given for a share, or the volume for the mass.
func checkMoisture(what string, m unit.Share) error {
	return percent("moisture of "+what, m, 0, 0.4, "it must be from 0 to 40% of the oven-dry mass, as 5%")
}

func checkAbsorption(what string, a unit.Share) error {
	return percent("absorption of "+what, a, 0, 0.4, "it must be from 0 to 40% of the oven-dry mass, as 1%")
}

// SandFromSSD says what to weigh to have so much sand at SSD: the sand's total moisture and absorption as shares of
// oven-dry mass, each 0 to 0.4. Source: ACI 211.1 (moisture correction).
func SandFromSSD(ssd unit.Mass, absorption, moisture unit.Share) (SandState, error) {
	return sandState("sand", ssd, 1+absorption, absorption, moisture)
}

// SandFromOvenDry is SandFromSSD for an amount that was written oven-dry.
func SandFromOvenDry(dry unit.Mass, absorption, moisture unit.Share) (SandState, error) {
	return sandState("sand", dry, 1, absorption, moisture)
}

// SandFromWeighed says what sand and free water a weighed amount of damp sand holds.
func SandFromWeighed(weighed unit.Mass, absorption, moisture unit.Share) (SandState, error) {
	return sandState("sand", weighed, 1+moisture, absorption, moisture)
}

// SandFromSurface is for moisture that is stated as surface moisture: free water as a share of the SSD mass, negative
// when drier than SSD. Then total moisture is (1 + surface)(1 + absorption) - 1.
func SandFromSurface(ssd unit.Mass, absorption, surface unit.Share) (SandState, error) {
	if err := percent("surface moisture of sand", surface, -0.3, 0.4,
		"it must be from -30 to 40% of the SSD mass, as 4%"); err != nil {
		return SandState{}, err
	}
	if err := checkMass("sand", ssd); err != nil {
		return SandState{}, err
	}
	if err := checkAbsorption("sand", absorption); err != nil {
		return SandState{}, err
	}
	s := SandState{OvenDry: ssd / unit.Mass(1+absorption), SSD: ssd, Free: ssd * unit.Mass(surface)}
	s.Weighed = s.SSD + s.Free
	// A millionth of slack, so that bone-dry sand whose figures were rounded is not refused.
	if s.Weighed < s.OvenDry*(1-1e-6) {
		return SandState{}, fmt.Errorf(
			"surface moisture of sand is %s with an absorption of %s; it cannot be drier than oven-dry, which is %s",
			unit.Metric.Share(surface), unit.Metric.Share(absorption), unit.Metric.Share(unit.Share(s.OvenDry/ssd-1)))
	}
	return s, nil
}

// sandState takes a mass that is basis times the oven-dry one.
func sandState(name string, m unit.Mass, basis, absorption, moisture unit.Share) (SandState, error) {
	if err := checkMass(name, m); err != nil {
		return SandState{}, err
	}
	if err := checkAbsorption(name, absorption); err != nil {
		return SandState{}, err
	}
	if err := checkMoisture(name, moisture); err != nil {
		return SandState{}, err
	}
	dry := m / unit.Mass(basis)
	return SandState{
		OvenDry: dry,
		SSD:     dry * unit.Mass(1+absorption),
		Weighed: dry * unit.Mass(1+moisture),
		Free:    dry * unit.Mass(moisture-absorption),
	}, nil
}

// SandMoisture is the total moisture of a sample weighed damp and again when it has been dried to constant mass, as a
// share of the dry mass. Source: ASTM C566 (from memory).
func SandMoisture(damp, dry unit.Mass) (unit.Share, error) {
	if err := checkMass("damp sample", damp); err != nil {
		return 0, err
	}
	if err := checkMass("dried sample", dry); err != nil {
		return 0, err
	}
	m := unit.Share((damp - dry) / dry)
	return m, checkMoisture("the sample", m)
}
