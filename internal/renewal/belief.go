package renewal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// belief is what is known of a quantity that is normal with unknown mean and unknown spread: normal-inverse-gamma, held
// as a Student distribution of its mean. It is conjugate: learning values at once or one by one gives the same.
// Source: textbook result (from memory); belief_test.go checks it against quadrature of the posterior.
type belief struct {
	mean    float64
	weight  float64 // values that the mean rests on (κ)
	freedom float64 // values that the spread rests on (ν = 2α)
	square  float64 // squared scale of one value about the mean (β/α)
}

// learn adds values to what was known. Weight 0 stands for nothing known before: the mean and spread are then the
// values' own, with one degree of freedom less.
func (b belief) learn(xs []float64) (belief, error) {
	if len(xs) == 0 {
		return b, nil
	}
	s, err := Describe(xs)
	if err != nil {
		return belief{}, err
	}
	n := float64(s.N)
	if b.weight == 0 {
		if s.N < 2 {
			return belief{}, fmt.Errorf(
				"one value and no prior say nothing of the spread: two values, or a prior, are needed")
		}
		return belief{mean: s.Mean, weight: n, freedom: n - 1, square: s.SD * s.SD}, nil
	}
	off := s.Mean - b.mean
	sum := b.freedom*b.square + s.SD*s.SD*(n-1) + b.weight*n/(b.weight+n)*off*off
	return belief{
		mean:    b.mean + off*n/(b.weight+n),
		weight:  b.weight + n,
		freedom: b.freedom + n,
		square:  sum / (b.freedom + n),
	}, nil
}

// next is the scale of Student's distribution of one more value.
func (b belief) next() float64 { return math.Sqrt(b.square * (1 + 1/b.weight)) }

// leastMean is the share of the mean learned below which a long-run mean is struck out as impossible: Student's long
// tails would otherwise leave some probability to batches that yield nothing, or take no time, and with it an endless
// count. With the design alone behind it (weight 2, spread 5 %) this strikes 1.1 in a thousand; after three batches
// less than one in a hundred thousand. A pace with as little behind it and a spread of 30 % loses 3.6 in a hundred, all
// of it on the fast side.
const leastMean = 0.25

// sumBelow is P(n further values add up to less than x): Student about n·mean with scale² n + n²/κ, since the n values
// share one unknown mean. It never rises with n and never falls with x.
func (b belief) sumBelow(n int, x float64) float64 {
	if n <= 0 {
		if x > 0 {
			return 1
		}
		return 0
	}
	k := float64(n)
	if b.square <= 0 {
		return step(x - k*b.mean - tie*math.Abs(x))
	}
	student := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: b.freedom}
	struck := student.CDF(-(1 - leastMean) * b.mean * math.Sqrt(b.weight/b.square))
	below := student.CDF((x - k*b.mean) / math.Sqrt(b.square*(k+k*k/b.weight)))
	return min(1, max(0, (below-struck)/(1-struck)))
}

func step(x float64) float64 {
	if x > 0 {
		return 1
	}
	return 0
}
