package weather

import (
	"fmt"
	"math"

	"hod/internal/unit"
)

// WorkHeight is where the evaporation formulas want the wind: 0.5 m (20 in) above the surface, the mean and not the
// gust (Concrete International Q&A, "Estimating Evaporation Rates to Prevent Plastic Shrinkage Cracking", about 2007).
const WorkHeight unit.Length = 0.5

// WindSource is the rule by which AtWorkHeight brings wind down.
var WindSource = Source{
	Name: "1/7 power law", Text: "v(0.5 m) = v(z) (0.5 m / z)^(1/7)",
	Published: "boundary-layer rule for open ground",
}

const fastest = 60 // m/s; nobody places mortar in more, so the unit must be wrong

func checkWind(v unit.Speed) error {
	if !(v >= 0 && v <= fastest) {
		return fmt.Errorf(
			"wind of %.4g m/s cannot be used; give a mean wind of 0 to %d m/s, and see that its unit is right",
			float64(v), fastest)
	}
	return nil
}

// AtWorkHeight brings a mean wind, read at a height above the ground, to 0.5 m by the 1/7 power law. Heights of 0.1 to
// 60 m. Near walls, scaffolds or under sheeting the rule does not hold: read the wind there.
func AtWorkHeight(read unit.Speed, height unit.Length) (unit.Speed, error) {
	if err := checkWind(read); err != nil {
		return 0, err
	}
	if !(height >= 0.1 && height <= 60) {
		return 0, fmt.Errorf("wind read at a height of %.4g m cannot be used; give 0.1 to 60 m above the surface",
			float64(height))
	}
	return read * unit.Speed(math.Pow(float64(WorkHeight/height), 1.0/7)), nil
}

// AtTwoMetres brings a mean wind, read at a height of 0.5 to 60 m, to 2 m by the logarithmic form over short grass:
// u2 = uz 4.87/ln(67.8 z − 5.42). Source: FAO Irrigation and Drainage Paper 56, equation 47, from memory. It is a check
// on AtWorkHeight and stands in no evaporation formula here.
func AtTwoMetres(read unit.Speed, height unit.Length) (unit.Speed, error) {
	if err := checkWind(read); err != nil {
		return 0, err
	}
	if !(height >= 0.5 && height <= 60) {
		return 0, fmt.Errorf("wind read at a height of %.4g m cannot be used; give 0.5 to 60 m above the ground",
			float64(height))
	}
	return read * unit.Speed(4.87/math.Log(67.8*float64(height)-5.42)), nil
}
