package renewal

import (
	"math"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// The closed form against the posterior itself: prior density times likelihood of each value, summed over a grid of
// mean and log spread, and the chance that the next k values stay below x under each.
func TestLearningAgreesWithQuadratureOfThePosterior(t *testing.T) {
	prior := belief{mean: 0.08, weight: 2, freedom: 2, square: 0.004 * 0.004}
	values := []float64{0.0771, 0.0802, 0.0745, 0.0779, 0.0810, 0.0758}
	b, err := prior.learn(values)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		k int
		x float64
	}{{1, 0.075}, {1, 0.0795}, {5, 0.38}, {5, 0.39}, {40, 3.1}, {40, 3.2}} {
		var total, below float64
		for ls := math.Log(0.0008); ls < math.Log(0.05); ls += 0.01 {
			sd := math.Exp(ls)
			for mean := 0.055; mean < 0.1; mean += 0.00005 {
				// Inverse gamma in sd², times sd² for the step in log sd.
				logp := -(prior.freedom/2)*2*ls - prior.freedom*prior.square/2/(sd*sd)
				logp += -ls - prior.weight*(mean-prior.mean)*(mean-prior.mean)/2/(sd*sd)
				for _, v := range values {
					logp += -ls - (v-mean)*(v-mean)/2/(sd*sd)
				}
				p := math.Exp(logp - 40)
				total += p
				k := float64(c.k)
				below += p * distuv.UnitNormal.CDF((c.x-k*mean)/(sd*math.Sqrt(k)))
			}
		}
		if got, want := b.sumBelow(c.k, c.x), below/total; math.Abs(got-want) > 1e-4 {
			t.Errorf("P(sum of the next %d < %g): got %.6f, quadrature says %.6f", c.k, c.x, got, want)
		}
	}
}

func TestLearningAllAtOnceIsLearningOneByOne(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		prior := belief{
			mean:    rapid.Float64Range(0.01, 1).Draw(t, "mean"),
			weight:  rapid.Float64Range(0.1, 20).Draw(t, "weight"),
			freedom: rapid.Float64Range(0.1, 20).Draw(t, "freedom"),
			square:  rapid.Float64Range(1e-6, 1e-2).Draw(t, "square"),
		}
		xs := rapid.SliceOfN(rapid.Float64Range(0.01, 1), 1, 20).Draw(t, "xs")
		once, err := prior.learn(xs)
		if err != nil {
			t.Fatal(err)
		}
		each := prior
		for _, x := range xs {
			if each, err = each.learn([]float64{x}); err != nil {
				t.Fatal(err)
			}
		}
		near := func(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Abs(b) }
		if !near(each.mean, once.mean) || !near(each.weight, once.weight) || !near(each.freedom, once.freedom) ||
			!near(each.square, once.square) {
			t.Fatalf("one by one %+v, at once %+v", each, once)
		}
	})
}
