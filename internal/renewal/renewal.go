package renewal

import (
	"fmt"
	"math"
	"slices"

	"hod/internal/unit"
)

// BatchesEmpirical is the number of batches until the volume is reached where each batch yields what one of the weighed
// batches did, each with the same chance: a renewal sum, convolved batch by batch, no shape assumed. It takes the
// yields as all there is to know, so with few of them it is surer than it should be: Batches with a Posterior is the
// honest figure there.
//
// Yields that are whole multiples of some step (as readings of a scale are) are summed exactly; others are each shared
// between the two neighbouring points of a grid so that their mean stays exact. For a job of more batches than can be
// convolved in a moment (about a thousand) the sum is taken as normal with the yields' own mean and spread.
func BatchesEmpirical(yields []unit.Volume, volume unit.Volume) (Distribution, error) {
	if done, err := none(volume); done || err != nil {
		return Certain(0), err
	}
	if len(yields) < 2 {
		return Distribution{}, fmt.Errorf(
			"%d yield(s) say nothing of the spread: at least two weighed batches are needed", len(yields))
	}
	ys, err := cubicMetres(yields)
	if err != nil {
		return Distribution{}, err
	}
	s, err := Describe(ys)
	if err != nil {
		return Distribution{}, err
	}
	if err := countable(s.Mean, float64(volume)); err != nil {
		return Distribution{}, err
	}
	l, ok := latticeOf(ys, float64(volume)/s.Mean)
	if !ok {
		asAll := s.SD * math.Sqrt(1-1/float64(s.N)) // these yields are all there is: n, not n-1, below
		return BatchesNormal(unit.Volume(s.Mean), unit.Volume(min(asAll, s.Mean)), volume)
	}
	return l.until(float64(volume))
}

// lattice is a yield that takes the values least + i·step with chance[i].
type lattice struct {
	least, step float64
	chance      []float64
}

const (
	finest = 4096 // steps between the least and the highest yield that count as a common step
	fine   = 512  // steps of a grid where there is no common one
	coarse = 16   // below which a grid no longer shows the yields' shape
	effort = 3e7  // multiplications that one answer may take: some hundredths of a second
)

// latticeOf puts yields on a lattice that can be summed with bearable effort until about that many batches.
func latticeOf(ys []float64, batches float64) (lattice, bool) {
	ys = slices.Sorted(slices.Values(ys))
	least, spread := ys[0], ys[len(ys)-1]-ys[0]
	each := 1 / float64(len(ys))
	if spread <= tie*least {
		return lattice{least: least, chance: []float64{1}}, true
	}
	// The sum of n batches spreads over points that grow with √n, each met by as many yields as differ.
	bearable := func(steps float64) bool {
		return 2*math.Pow(batches, 1.5)*steps*min(steps+1, float64(len(ys))) <= effort
	}
	if step := commonStep(ys); step > 0 && bearable(spread/step) {
		l := lattice{least: least, step: step, chance: make([]float64, int(math.Round(spread/step))+1)}
		for _, y := range ys {
			l.chance[int(math.Round((y-least)/step))] += each
		}
		return l, true
	}
	steps := fine
	for !bearable(float64(steps)) {
		if steps /= 2; steps < coarse {
			return lattice{}, false
		}
	}
	l := lattice{least: least, step: spread / float64(steps), chance: make([]float64, steps+1)}
	for _, y := range ys {
		at := (y - least) / l.step
		low := min(int(at), steps-1)
		l.chance[low] += each * (1 - (at - float64(low)))
		l.chance[low+1] += each * (at - float64(low))
	}
	return l, true
}

// commonStep is the largest step of which all differences of the sorted ys are whole multiples, or 0 if there is none
// within finest steps of the spread.
func commonStep(ys []float64) float64 {
	spread := ys[len(ys)-1] - ys[0]
	small := spread / (2 * finest)
	step := 0.0
	for _, y := range ys {
		a, b := step, y-ys[0]
		for b > small { // Euclid; what is left of a division by rounding alone is far below small
			a, b = b, math.Abs(a-b*math.Round(a/b))
		}
		step = a
	}
	if step < spread/finest {
		return 0
	}
	step = spread / math.Round(spread/step)
	for _, y := range ys {
		if at := (y - ys[0]) / step; math.Abs(at-math.Round(at)) > 1e-6 {
			return 0
		}
	}
	return step
}

// until sums batches until volume is reached. At each batch it holds the chance of every sum that still falls short;
// what is missing from 1 has arrived.
func (l lattice) until(volume float64) (Distribution, error) {
	short := volume - tie*volume // a sum within rounding of the volume has reached it
	type yield struct {
		at     int
		chance float64
	}
	var yields []yield
	for i, c := range l.chance {
		if c > 0 {
			yields = append(yields, yield{i, c})
		}
	}
	alive, low := []float64{1}, 0 // alive[j]: sum n·least + (low+j)·step
	var cum []float64
	for n := 1; ; n++ {
		if n > mostBatches {
			return Distribution{}, fmt.Errorf(
				"the least yield of %s is so small that more than %d batches may be needed: check it",
				both(unit.Volume(l.least)), mostBatches)
		}
		room := short - float64(n)*l.least
		if room <= 0 { // even the least yields have reached it
			cum = append(cum, 1)
			break
		}
		top := low + len(alive) - 1 + yields[len(yields)-1].at
		if l.step > 0 {
			top = int(min(float64(top), math.Ceil(room/l.step)-1))
		}
		low += yields[0].at
		next := make([]float64, max(0, top-low+1))
		for _, y := range yields {
			from := y.at - yields[0].at
			for j, c := range alive[:max(0, min(len(alive), len(next)-from))] {
				next[from+j] += c * y.chance
			}
		}
		for len(next) > 0 && next[0] < 1e-18 { // too rare to count; keeps the band narrow
			next, low = next[1:], low+1
		}
		for len(next) > 0 && next[len(next)-1] < 1e-18 {
			next = next[:len(next)-1]
		}
		alive = next
		left := 0.0
		for _, c := range alive {
			left += c
		}
		cum = append(cum, 1-left)
		if left < certain {
			break
		}
	}
	return counted(1, len(cum), func(n int) float64 { return cum[n-1] }), nil
}
