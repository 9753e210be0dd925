package renewal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Sample sums up measured values that are taken to be draws of one and the same thing.
type Sample struct {
	N    int
	Mean float64
	SD   float64 // with N-1 below; 0 where N is 1, which says nothing of the spread
}

// Interval is a range with both ends.
type Interval struct{ Low, High float64 }

// Describe gives count, mean and standard deviation of xs, which must hold at least one value and only finite ones. The
// deviations are taken from a first value before they are squared, so that a small spread on a large mean survives
// (1e9+4, +7, +13, +16 has variance 30).
func Describe(xs []float64) (Sample, error) {
	if len(xs) == 0 {
		return Sample{}, fmt.Errorf("no values to describe: at least one is needed")
	}
	shifted := make([]float64, len(xs))
	for i, x := range xs {
		if !finite(x) {
			return Sample{}, fmt.Errorf("value %d of %d is %v, not a finite number", i+1, len(xs), x)
		}
		shifted[i] = x - xs[0]
	}
	mean, variance := stat.MeanVariance(shifted, nil)
	s := Sample{N: len(xs), Mean: xs[0] + mean}
	if s.N > 1 {
		s.SD = math.Sqrt(variance)
	}
	if !finite(s.Mean) || !finite(s.SD) {
		return Sample{}, fmt.Errorf("the %d values are too large to describe: check their units", s.N)
	}
	return s, nil
}

// Confidence is the range that holds the true mean with the given confidence (0.95 for 95 %): mean ± t·sd/√n, Student
// with n-1 degrees of freedom. It needs two values.
func (s Sample) Confidence(confidence float64) (Interval, error) {
	return s.around(confidence, math.Sqrt(1/float64(s.N)))
}

// Prediction is the range that holds one more value with the given confidence: mean ± t·sd·√(1+1/n). It needs two
// values.
func (s Sample) Prediction(confidence float64) (Interval, error) {
	return s.around(confidence, math.Sqrt(1+1/float64(s.N)))
}

func (s Sample) around(confidence, factor float64) (Interval, error) {
	if s.N < 2 {
		return Interval{}, fmt.Errorf("%d value(s) say nothing of the spread: at least two are needed", s.N)
	}
	return about(s.Mean, s.SD*factor, float64(s.N-1), confidence)
}

// about is centre ± t·scale.
func about(centre, scale, freedom, confidence float64) (Interval, error) {
	if !(confidence > 0 && confidence < 1) {
		return Interval{}, fmt.Errorf("confidence %v must lie between 0 and 1, such as 0.95", confidence)
	}
	t, err := StudentQuantile((1+confidence)/2, freedom)
	if err != nil {
		return Interval{}, err
	}
	r := Interval{Low: centre - t*scale, High: centre + t*scale}
	if !finite(r.Low) || !finite(r.High) {
		return Interval{}, fmt.Errorf(
			"the range about %g is too wide to state: %g values of freedom are too few for confidence %g",
			centre, freedom, confidence)
	}
	return r, nil
}

// StudentQuantile is the t below which Student's distribution with the given degrees of freedom holds the share p,
// which lies between 0 and 1, both excluded.
func StudentQuantile(p, freedom float64) (float64, error) {
	if !(p > 0 && p < 1) {
		return 0, fmt.Errorf("share %v must lie between 0 and 1", p)
	}
	if !(freedom > 0) || !finite(freedom) {
		return 0, fmt.Errorf("%v degrees of freedom: must be above 0", freedom)
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: freedom}.Quantile(p)
	if !finite(t) {
		return 0, fmt.Errorf("Student's quantile at %v with %v degrees of freedom is beyond what can be computed", p,
			freedom)
	}
	return t, nil
}

// Autocorrelation is that of xs with itself one place later (lag 1): near 0 where the values are independent, as the
// figures of this package take them to be. It needs two values that are not all alike.
func Autocorrelation(xs []float64) (float64, error) {
	s, err := Describe(xs)
	if err != nil {
		return 0, err
	}
	var with, own float64
	for i, x := range xs {
		own += (x - s.Mean) * (x - s.Mean)
		if i > 0 {
			with += (x - s.Mean) * (xs[i-1] - s.Mean)
		}
	}
	if !(own > 0) || !finite(own) || !finite(with) {
		return 0, fmt.Errorf("the %d value(s) are all alike: nothing to correlate", s.N)
	}
	return with / own, nil
}

// Chart holds the limits of an individuals (moving range) chart: a batch beyond them differs from its fellows by more
// than they differ among themselves.
type Chart struct {
	Centre    float64 // mean of the values
	MeanRange float64 // mean of the differences between one value and the next, without sign
	Sigma     float64 // MeanRange / 1.128
	Low, High float64 // Centre ∓ 3 Sigma
}

// IndividualsChart sets the limits from values in the order in which they were made; at least two. Sigma is the mean
// moving range over 1.128 (d2 of pairs), the limits three sigma to each side (2.66 mean ranges).
func IndividualsChart(xs []float64) (Chart, error) {
	s, err := Describe(xs)
	if err != nil {
		return Chart{}, err
	}
	if s.N < 2 {
		return Chart{}, fmt.Errorf("one value has no moving range: at least two are needed")
	}
	const d2 = 1.128
	c := Chart{Centre: s.Mean}
	for i := 1; i < len(xs); i++ {
		c.MeanRange += math.Abs(xs[i] - xs[i-1])
	}
	c.MeanRange /= float64(s.N - 1)
	c.Sigma = c.MeanRange / d2
	c.Low, c.High = c.Centre-3*c.Sigma, c.Centre+3*c.Sigma
	if !finite(c.Low) || !finite(c.High) {
		return Chart{}, fmt.Errorf("the %d values are too large for a chart: check their units", s.N)
	}
	return c, nil
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }
