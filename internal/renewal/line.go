package renewal

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// Line is a straight line fitted by least squares, y = Intercept + Slope·x.
type Line struct {
	N                        int
	Intercept, Slope         float64
	InterceptSE, SlopeSE     float64 // standard errors
	ResidualSD               float64 // with N-2 below
	R2                       float64 // share of the spread of y that the line explains; 1 where y does not vary
	meanX, squaresAboutMeanX float64
}

// FitLine fits a line to at least three points whose x are not all one.
func FitLine(x, y []float64) (Line, error) {
	if len(x) != len(y) {
		return Line{}, fmt.Errorf("%d values of x and %d of y: each point needs both", len(x), len(y))
	}
	if len(x) < 3 {
		return Line{}, fmt.Errorf("%d point(s): a line with its error needs at least three", len(x))
	}
	sx, err := Describe(x)
	if err != nil {
		return Line{}, fmt.Errorf("x: %w", err)
	}
	sy, err := Describe(y)
	if err != nil {
		return Line{}, fmt.Errorf("y: %w", err)
	}
	if sx.SD == 0 {
		return Line{}, fmt.Errorf("all %d points lie at x = %g: a line needs points apart", sx.N, x[0])
	}
	l := Line{N: len(x), meanX: sx.Mean, R2: 1}
	l.Intercept, l.Slope = stat.LinearRegression(x, y, nil, false)
	n := float64(l.N)
	l.squaresAboutMeanX = sx.SD * sx.SD * (n - 1)
	var left float64
	for i := range x {
		r := y[i] - l.At(x[i])
		left += r * r
	}
	l.ResidualSD = math.Sqrt(left / (n - 2))
	l.SlopeSE = l.ResidualSD / math.Sqrt(l.squaresAboutMeanX)
	l.InterceptSE = l.ResidualSD * math.Sqrt(1/n+l.meanX*l.meanX/l.squaresAboutMeanX)
	if sy.SD > 0 {
		l.R2 = 1 - left/(sy.SD*sy.SD*(n-1))
	}
	for _, f := range []float64{l.Intercept, l.Slope, l.InterceptSE, l.SlopeSE, l.ResidualSD, l.R2} {
		if !finite(f) {
			return Line{}, fmt.Errorf("the %d points are too large or too close for a line: check their units", l.N)
		}
	}
	return l, nil
}

// At is the line's y at x.
func (l Line) At(x float64) float64 { return l.Intercept + l.Slope*x }

// Prediction is the range that holds one more y at x with the given confidence, Student with N-2 degrees of freedom.
func (l Line) Prediction(x, confidence float64) (Interval, error) {
	if l.N < 3 || !finite(x) {
		return Interval{}, fmt.Errorf("no prediction at x = %v from a line through %d point(s)", x, l.N)
	}
	from := x - l.meanX
	return about(l.At(x), l.ResidualSD*math.Sqrt(1+1/float64(l.N)+from*from/l.squaresAboutMeanX), float64(l.N-2),
		confidence)
}
