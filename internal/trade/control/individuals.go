package control

import (
	"fmt"
	"math"
)

// Sources, to stand beside a chart.
const (
	LimitsSource = "individuals chart, mean ± 2.66 × mean moving range of two (3 sigma, Shewhart 1931; NIST/SEMATECH e-Handbook 6.3.2.2)"
	RulesSource  = "run rules: Western Electric, Statistical Quality Control Handbook, 1956; NIST/SEMATECH e-Handbook 6.3.2"
)

// Fewest values from which limits are drawn. With fewer the moving range says next to nothing: a choice of this
// program.
const Fewest = 8

// d2 is the mean range of two values of a normal distribution, in sigmas.
const d2 = 1.128

// Limits of a chart.
type Limits struct {
	Mean, Low, High float64 // three sigmas from the mean
	Sigma           float64 // from the moving range, so that a slow drift does not widen it
}

// Signal is a value at which a rule says that chance alone is unlikely.
type Signal struct {
	At   int // of the values
	Rule string
}

// The rules, as they are told.
const (
	Outside   = "beyond three sigmas"
	TwoOfThr  = "two of three in a row beyond two sigmas on one side"
	FourOfFiv = "four of five in a row beyond one sigma on one side"
	EightSide = "eight in a row on one side of the mean"
)

// Individuals is the chart of single values in their order. An error where there are too few, or one is no number.
func Individuals(values []float64) (Limits, []Signal, error) {
	if len(values) < Fewest {
		return Limits{}, nil, fmt.Errorf("%d values; limits are drawn from %d on", len(values), Fewest)
	}
	sum, ranges := 0.0, 0.0
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return Limits{}, nil, fmt.Errorf("value %d is no number", i+1)
		}
		sum += v
		if i > 0 {
			ranges += math.Abs(v - values[i-1])
		}
	}
	n := float64(len(values))
	l := Limits{Mean: sum / n, Sigma: ranges / (n - 1) / d2}
	l.Low, l.High = l.Mean-float64(3*l.Sigma), l.Mean+float64(3*l.Sigma)
	return l, signals(values, l), nil
}

// signals of the four rules; of one value the first that applies.
func signals(values []float64, l Limits) []Signal {
	var all []Signal
	if l.Sigma <= 0 {
		return nil // all alike
	}
	for i := range values {
		if rule := ruleAt(values[:i+1], l); rule != "" {
			all = append(all, Signal{i, rule})
		}
	}
	return all
}

// ruleAt is the rule that the last of the values breaks.
func ruleAt(values []float64, l Limits) string {
	last := len(values) - 1
	for _, side := range []float64{1, -1} {
		of := func(i int) float64 { return side * (values[i] - l.Mean) / l.Sigma }
		beyond := func(span int, sigmas float64) (n int) {
			for i := max(0, last-span+1); i <= last; i++ {
				if of(i) > sigmas {
					n++
				}
			}
			return n
		}
		switch {
		case of(last) > 3:
			return Outside
		case of(last) > 2 && beyond(3, 2) >= 2:
			return TwoOfThr
		case of(last) > 1 && beyond(5, 1) >= 4:
			return FourOfFiv
		case len(values) >= 8 && beyond(8, 0) == 8:
			return EightSide
		}
	}
	return ""
}
