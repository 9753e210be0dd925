package mix

import "hod/internal/unit"

// Bucket is damp sand measured by volume. Damp sand stands looser than dry, so a bucket of it holds less sand: 20 to
// 35 % more volume for the same sand is usual around 5 % moisture.
type Bucket struct {
	Volume     unit.Volume
	DryLoose   unit.Density // of the same sand dry and loose; 1440 to 1600 kg/m³ is usual
	Bulking    unit.Share   // volume gained by being damp, as a share of the dry loose volume; 0 to 0.6
	Moisture   unit.Share
	Absorption unit.Share
}

// SandFromBucket says what sand and water buckets of bulked sand hold: dry sand = volume × dry loose unit weight /
// (1 + bulking).
func SandFromBucket(b Bucket) (SandState, error) {
	if err := checkVolume("bucket", b.Volume); err != nil {
		return SandState{}, err
	}
	if err := within("dry loose unit weight of sand", b.DryLoose, 100, 5000, unit.System.Density,
		"it must be from {low} to {high}; sand is about 1500 kg/m³ (95 lb/ft³)"); err != nil {
		return SandState{}, err
	}
	if err := percent("bulking", b.Bulking, 0, 0.6,
		"it must be from 0 to 60% of the dry loose volume, as 25%"); err != nil {
		return SandState{}, err
	}
	return SandFromOvenDry(b.DryLoose.Mass(b.Volume)/unit.Mass(1+b.Bulking), b.Absorption, b.Moisture)
}
