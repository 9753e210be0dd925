package renewal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"

	"hod/internal/unit"
)

// Batches is the number of batches until their yields add up to the volume, given what is known of the yield: the sum
// of n batches to come is Student about n·mean with squared scale n + n²/weight, since they share one unknown mean, so
// a mean learned from few batches widens the answer most where most batches are left. A volume of 0 or less needs none.
//
// A long-run mean below a quarter of the one learned is struck out as impossible (see leastMean).
func Batches(p Posterior, volume unit.Volume) (Distribution, error) {
	if done, err := none(volume); done || err != nil {
		return Certain(0), err
	}
	if err := p.valid(); err != nil {
		return Distribution{}, err
	}
	if err := countable(float64(p.Mean), float64(volume)); err != nil {
		return Distribution{}, err
	}
	b := p.belief()
	return grown(func(n int) float64 { return 1 - b.sumBelow(n, float64(volume)) })
}

// BatchesNormal is the number of batches until the volume is reached where mean and standard deviation of the yield are
// known: P(N ≤ n) = Φ((n·mean − volume)/(sd·√n)). With sd 0 it is volume/mean, rounded up. A standard deviation above
// the mean is refused: such yields are not normal, and BatchesEmpirical is the right question.
func BatchesNormal(mean, sd, volume unit.Volume) (Distribution, error) {
	if done, err := none(volume); done || err != nil {
		return Certain(0), err
	}
	m, s, v := float64(mean), float64(sd), float64(volume)
	if !(m > 0) || !finite(m) {
		return Distribution{}, fmt.Errorf("mean yield %s of a batch must be above 0", both(mean))
	}
	if !(s >= 0 && s <= m) {
		return Distribution{}, fmt.Errorf("standard deviation %s must lie between 0 and the mean yield %s", both(sd),
			both(mean))
	}
	if err := countable(m, v); err != nil {
		return Distribution{}, err
	}
	if s < tie*m {
		return Certain(Whole(v / m)), nil
	}
	return grown(func(n int) float64 {
		if n == 0 {
			return 0
		}
		k := float64(n)
		return distuv.UnitNormal.CDF((k*m - v) / (s * math.Sqrt(k)))
	})
}

// MeanBatches is the expected number of batches for a volume of many batches, whatever the shape of the yields:
// volume/mean + (sd² + mean²)/(2 mean²). Source: renewal theory, first two terms; what is left out vanishes as the
// volume grows.
func MeanBatches(mean, sd, volume unit.Volume) (float64, error) {
	if done, err := none(volume); done || err != nil {
		return 0, err
	}
	m, s, v := float64(mean), float64(sd), float64(volume)
	if !(m > 0) || !finite(m) || !(s >= 0) {
		return 0, fmt.Errorf("mean yield %s must be above 0 and its standard deviation %s not below 0", both(mean),
			both(sd))
	}
	n := v/m + (s/m*(s/m)+1)/2
	if !finite(n) {
		return 0, fmt.Errorf("%s by batches of %s is beyond counting: check the units", both(volume), both(mean))
	}
	return n, nil
}

// Whole is the lowest whole number not below x, where an x that exceeds a whole number by rounding alone counts as that
// number: 125 ft³ and 8 % in batches of 3 ft³ are 45 batches, not 46. An x at or below 0 gives 0; one beyond counting,
// or not a number, gives math.MaxInt32.
func Whole(x float64) int {
	if x <= 0 {
		return 0
	}
	if !(x < math.MaxInt32) {
		return math.MaxInt32
	}
	nearest := math.Round(x)
	if math.Abs(x-nearest) <= tie*x {
		return int(nearest)
	}
	return int(math.Ceil(x))
}

// both is a volume in both systems, so that whoever wrote it finds it as it was written.
func both(v unit.Volume) string { return unit.Both(unit.Metric, unit.Computed(v), unit.System.Volume) }

// none tells whether the volume needs no batch at all.
func none(volume unit.Volume) (bool, error) {
	if !finite(float64(volume)) {
		return false, fmt.Errorf("volume %v is not a finite number", float64(volume))
	}
	return volume <= 0, nil
}

func countable(mean, volume float64) error {
	if !(volume/mean <= mostBatches/10) {
		return fmt.Errorf("%s in batches of %s are more than %d batches: check the units", both(unit.Volume(volume)),
			both(unit.Volume(mean)), mostBatches/10)
	}
	return nil
}
