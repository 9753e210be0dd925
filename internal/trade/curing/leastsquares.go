package curing

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// model is a curve with parameters, linear or not.
type model struct {
	value    func(p []float64, x float64) float64
	gradient func(p []float64, x float64, into []float64) // of value by each parameter
	allowed  func(p []float64) bool                       // nil: everywhere
}

// solution is a least-squares fit.
type solution struct {
	p          []float64
	rss        float64
	freedom    int        // readings less parameters
	covariance *mat.Dense // of p, with the residual variance in it
}

var (
	errNoConvergence = errors.New("the fit does not converge")
	errUndetermined  = errors.New("the figures do not tell the parameters apart")
)

// leastSquares is Levenberg and Marquardt's method with columns scaled, from start. It returns only a stationary point
// that it has seen to be one. Deterministic.
func leastSquares(m model, xs, ys, start []float64) (solution, error) {
	n, k := len(xs), len(start)
	if n <= k {
		return solution{}, fmt.Errorf("%d figures for %d parameters: at least %d are needed", n, k, k+1)
	}
	p := append([]float64(nil), start...)
	residual := make([]float64, n)
	rss, ok := residuals(m, p, xs, ys, residual)
	if !ok {
		return solution{}, errNoConvergence
	}
	var (
		total    = sumOfSquares(ys)
		jacobian = mat.NewDense(n, k, nil)
		row      = make([]float64, k)
		scale    = make([]float64, k)
		trial    = make([]float64, k)
		trialRes = make([]float64, n)
		lambda   = 1e-3
	)
	for range 1000 {
		for i, x := range xs {
			m.gradient(p, x, row)
			jacobian.SetRow(i, row)
		}
		for j := range k {
			scale[j] = mat.Norm(jacobian.ColView(j), 2)
			if !(scale[j] > 0) || math.IsInf(scale[j], 1) {
				return solution{}, errUndetermined
			}
		}
		// Stationary: the residual is at right angles to every column, to within rounding of the data.
		slope := 0.0
		for j := range k {
			slope = max(slope, math.Abs(mat.Dot(jacobian.ColView(j), mat.NewVecDense(n, residual)))/scale[j])
		}
		if slope <= 1e-13*math.Sqrt(total) || rss <= 1e-28*total {
			return finish(p, rss, jacobian, scale)
		}
		improved := false
		for lambda < 1e16 {
			step, err := marquardt(jacobian, residual, scale, lambda)
			if err != nil {
				lambda = max(lambda, 1e-12) * 10
				continue
			}
			moved := 0.0
			for j := range k {
				trial[j] = p[j] + step[j]
				moved = max(moved, math.Abs(step[j])/(math.Abs(p[j])+1e-300))
			}
			next, ok := 0.0, m.allowed == nil || m.allowed(trial)
			if ok {
				next, ok = residuals(m, trial, xs, ys, trialRes)
			}
			if ok && next <= rss {
				small := moved < 1e-12 && lambda <= 1e-3
				copy(p, trial)
				residual, trialRes = trialRes, residual
				improved, rss = next < rss, next
				lambda = max(lambda/10, 1e-15)
				if small {
					return finish(p, rss, jacobian, scale)
				}
				break
			}
			lambda *= 10
		}
		if !improved {
			// No shorter step helps. Rounding is the reason where the slope is small already; else p sits at the edge
			// of what is allowed.
			if slope <= 1e-7*math.Sqrt(max(rss, 1e-20*total)) {
				return finish(p, rss, jacobian, scale)
			}
			return solution{}, errNoConvergence
		}
	}
	return solution{}, errNoConvergence
}

func sumOfSquares(v []float64) (sum float64) {
	for _, x := range v {
		sum += x * x
	}
	return sum
}

func residuals(m model, p, xs, ys, into []float64) (float64, bool) {
	for i, x := range xs {
		into[i] = ys[i] - m.value(p, x)
	}
	rss := sumOfSquares(into)
	return rss, !math.IsNaN(rss) && !math.IsInf(rss, 0)
}

// marquardt solves min |J s - r|² + λ |D s|² by QR of the two stacked, D the column norms.
func marquardt(j *mat.Dense, r, scale []float64, lambda float64) ([]float64, error) {
	n, k := j.Dims()
	stacked := mat.NewDense(n+k, k, nil)
	right := mat.NewVecDense(n+k, nil)
	for row := range n {
		for col := range k {
			stacked.Set(row, col, j.At(row, col)/scale[col])
		}
		right.SetVec(row, r[row])
	}
	for col := range k {
		stacked.Set(n+col, col, math.Sqrt(lambda))
	}
	var (
		qr mat.QR
		s  mat.VecDense
	)
	qr.Factorize(stacked)
	if err := qr.SolveVecTo(&s, false, right); err != nil {
		return nil, err
	}
	step := make([]float64, k)
	for col := range k {
		step[col] = s.AtVec(col) / scale[col]
	}
	return step, nil
}

// finish gives the covariance, s² (JᵀJ)⁻¹, by the QR of the scaled Jacobian.
func finish(p []float64, rss float64, j *mat.Dense, scale []float64) (solution, error) {
	n, k := j.Dims()
	scaled := mat.NewDense(n, k, nil)
	scaled.Apply(func(row, col int, v float64) float64 { return v / scale[col] }, j)
	var qr mat.QR
	qr.Factorize(scaled)
	if cond := qr.Cond(); !(cond < 1e9) {
		return solution{}, errUndetermined
	}
	var r, inverse, covariance mat.Dense
	qr.RTo(&r)
	if err := inverse.Inverse(r.Slice(0, k, 0, k)); err != nil {
		return solution{}, errUndetermined
	}
	covariance.Mul(&inverse, inverse.T())
	variance := rss / float64(n-k)
	covariance.Apply(func(row, col int, v float64) float64 { return v * variance / scale[row] / scale[col] },
		&covariance)
	return solution{p: p, rss: rss, freedom: n - k, covariance: &covariance}, nil
}
