package forecast

import "math"

// gauss is what is known of several quantities at once, normal: their means, and their variances and covariances row by
// row. It learns by one observation after the other, each of a sum of a few of them. Source: Kalman 1960 (from memory).
type gauss struct {
	n    int
	mean []float64
	cov  []float64
	gain []float64 // what observe works with
}

func gaussOf(n int) *gauss {
	return &gauss{n: n, mean: make([]float64, n), cov: make([]float64, n*n), gain: make([]float64, n)}
}

func (g *gauss) copyOf(from *gauss) {
	copy(g.mean, from.mean)
	copy(g.cov, from.cov)
}

// set makes quantity i one that nothing is known of but mean and variance, independent of the others.
func (g *gauss) set(i int, mean, variance float64) {
	for j := range g.n {
		g.cov[i*g.n+j], g.cov[j*g.n+i] = 0, 0
	}
	g.mean[i], g.cov[i*g.n+i] = mean, variance
}

// widen adds to the variance of quantity i: it may have moved.
func (g *gauss) widen(i int, variance float64) { g.cov[i*g.n+i] += variance }

// term is one quantity of a sum, with its factor.
type term struct {
	at int
	by float64
}

// observe that the sum was seen to be y, with noise of that variance, and tell the logarithm of how likely that was
// (but for a constant).
func (g *gauss) observe(sum []term, y, noise float64) float64 {
	off, variance := y, noise
	for i := range g.n {
		row := g.cov[i*g.n : (i+1)*g.n]
		with := 0.0
		for _, t := range sum {
			with += float64(t.by * row[t.at])
		}
		g.gain[i] = with
	}
	for _, t := range sum {
		off -= float64(t.by * g.mean[t.at])
		variance += float64(t.by * g.gain[t.at])
	}
	if !(variance > 0) {
		return 0
	}
	for i := range g.n {
		k := g.gain[i] / variance
		if k == 0 {
			continue
		}
		g.mean[i] += float64(k * off)
		row := g.cov[i*g.n : (i+1)*g.n]
		for j := range row {
			row[j] -= float64(k * g.gain[j])
		}
	}
	return -(float64(off*off)/variance + ln(variance)) / 2
}

// root is a lower triangle whose product with its own transpose gives the covariances of the first n quantities, so
// that independent normal numbers become such as these. What is known without doubt gets a row of zeros. Source:
// Cholesky.
func (g *gauss) root(n int) []float64 {
	l := make([]float64, n*n)
	for i := range n {
		for j := 0; j <= i; j++ {
			sum := g.cov[i*g.n+j]
			for k := range j {
				sum -= float64(l[i*n+k] * l[j*n+k])
			}
			switch {
			case i == j && sum > 0:
				l[i*n+i] = math.Sqrt(sum)
			case i != j && l[j*n+j] > 0:
				l[i*n+j] = sum / l[j*n+j]
			}
		}
	}
	return l
}
