package next

import (
	"math"
	"testing"
)

// Normal prior and normal readings, both in the logarithm: the posterior's mean and spread by the textbook's formula,
// in floating point.
func TestTestsOfSetMoveTheDayByTheirWeight(t *testing.T) {
	prior := Spreads{Day: 120, Set: 80}
	for _, ratios := range [][]int{{880}, {880, 880, 880}, {1100, 950}, {700}} {
		factor, after := prior.Learned(ratios)
		n, sum := float64(len(ratios)), 0.0
		for _, r := range ratios {
			sum += math.Log(float64(r) / 1000)
		}
		d, b := 0.120*0.120, 0.080*0.080
		mean, spread := sum/n*d/(d+b/n), 1000*math.Sqrt(d*b/n/(d+b/n))
		if got := math.Log(float64(factor) / million); math.Abs(got-mean) > 1e-4 ||
			math.Abs(float64(after.Day)-spread) > 1 {
			t.Errorf("%v: the day is at %.4f ± %d ‰, not %.4f ± %.1f", ratios, got, after.Day, mean, spread)
		}
	}
	if factor, after := prior.Learned(nil); factor != million || after != prior {
		t.Errorf("without a test the day is %d and %+v", factor, after)
	}
}
