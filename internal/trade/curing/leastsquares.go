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
	f := fit{
		model: m, xs: xs, ys: ys, p: append([]float64(nil), start...), residual: make([]float64, n),
		jacobian: mat.NewDense(n, k, nil), scale: make([]float64, k), total: sumOfSquares(ys),
		trial: make([]float64, k), trialRes: make([]float64, n), lambda: 1e-3,
	}
	var ok bool
	if f.rss, ok = residuals(m, f.p, xs, ys, f.residual); !ok {
		return solution{}, errNoConvergence
	}
	for range 1000 {
		slope, err := f.slope()
		if err != nil {
			return solution{}, err
		}
		if slope <= 1e-13*math.Sqrt(f.total) || f.rss <= 1e-28*f.total {
			return finish(f.p, f.rss, f.jacobian, f.scale)
		}
		improved, settled := f.step()
		if settled {
			return finish(f.p, f.rss, f.jacobian, f.scale)
		}
		if !improved {
			// No shorter step helps. Rounding is the reason where the slope is small already; else p sits at the edge
			// of what is allowed.
			if slope <= 1e-7*math.Sqrt(max(f.rss, 1e-20*f.total)) {
				return finish(f.p, f.rss, f.jacobian, f.scale)
			}
			return solution{}, errNoConvergence
		}
	}
	return solution{}, errNoConvergence
}

// fit is a fit on its way.
//
// Invariant: residual and rss are those of p, between steps.
type fit struct {
	model
	xs, ys   []float64
	p        []float64
	residual []float64
	rss      float64
	total    float64 // sum of the squares of ys

	jacobian *mat.Dense // at p, once slope has been asked
	scale    []float64  // the lengths of its columns
	lambda   float64    // how much a step is damped

	trial, trialRes []float64
}

// slope is how far the residual is from being at right angles to every column, which it is, to within rounding of the
// data, where p is stationary.
func (f *fit) slope() (float64, error) {
	row := make([]float64, len(f.p))
	for i, x := range f.xs {
		f.gradient(f.p, x, row)
		f.jacobian.SetRow(i, row)
	}
	slope := 0.0
	for j := range f.scale {
		column := f.jacobian.ColView(j)
		f.scale[j] = mat.Norm(column, 2)
		if !(f.scale[j] > 0) || math.IsInf(f.scale[j], 1) {
			return 0, errUndetermined
		}
		slope = max(slope, math.Abs(mat.Dot(column, mat.NewVecDense(len(f.residual), f.residual)))/f.scale[j])
	}
	return slope, nil
}

// step goes to the first point that is no worse, with ever more damping. It is settled where that point is no other to
// within rounding.
func (f *fit) step() (improved, settled bool) {
	for f.lambda < 1e16 {
		step, err := marquardt(f.jacobian, f.residual, f.scale, f.lambda)
		if err != nil {
			f.lambda = max(f.lambda, 1e-12) * 10
			continue
		}
		moved := 0.0
		for j := range f.p {
			f.trial[j] = f.p[j] + step[j]
			moved = max(moved, math.Abs(step[j])/(math.Abs(f.p[j])+1e-300))
		}
		next, ok := 0.0, f.allowed == nil || f.allowed(f.trial)
		if ok {
			next, ok = residuals(f.model, f.trial, f.xs, f.ys, f.trialRes)
		}
		if !ok || next > f.rss {
			f.lambda *= 10
			continue
		}
		settled = moved < 1e-12 && f.lambda <= 1e-3
		copy(f.p, f.trial)
		f.residual, f.trialRes = f.trialRes, f.residual
		improved, f.rss = next < f.rss, next
		f.lambda = max(f.lambda/10, 1e-15)
		return improved, settled
	}
	return false, false
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
