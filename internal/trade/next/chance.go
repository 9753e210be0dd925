package next

import (
	"math"
	"math/bits"
)

// Spreads are how far a job's times stray from what is expected, as the standard deviation of the logarithm in per
// mille.
type Spreads struct {
	Batch int // of the minutes that each cell takes
	Day   int // of the day's set, the same for all cells
	Set   int // of each cell's set beside the day's
	// Stops: so many of a thousand cells take longer by Stop minutes on average.
	StopPerMille, Stop int
}

// UsualSpreads are those of a site that has not shown its own yet: batch times ±25 %, a stop of half an hour with one
// batch in 25, the day's set ±12 %, a batch's ±8 %. Choices of this program, no source.
var UsualSpreads = Spreads{Batch: 250, Day: 120, Set: 80, StopPerMille: 40, Stop: 30}

// draw is a whole number that is always the same for the same scenario, thing and kind, and unlike for others
// (SplitMix64: Steele, Lea, Flood 2014, from memory). It is the only source of chance here, so that two devices that
// know the same give the same advice.
func draw(scenario, thing int, kind uint64) uint64 {
	z := uint64(scenario)*0x9E3779B97F4A7C15 + uint64(thing)*0xD1B54A32D192ED03 + kind*0x8CB92BA72F3D8DD7
	z ^= z >> 30
	z *= 0xBF58476D1CE4E5B9
	z ^= z >> 27
	z *= 0x94D049BB133111EB
	return z ^ z>>31
}

// Kinds of draws.
const (
	drawBatch = 1 + iota
	_         // of the day, once
	drawSet
	drawWhetherStop
	drawStop
)

// even is a draw that goes through all chances evenly from one scenario to the next, by steps of the golden section
// (Weyl 1916): what all cells have in common weighs most in what comes, and a hundred scenarios in which it happened to
// be large would say so each time anybody asks.
func even(scenario int) uint64 { return uint64(scenario)*0x9E3779B97F4A7C15 + 1<<63 }

// below is a draw from 0 to n−1.
func below(d uint64, n int) int {
	high, _ := bits.Mul64(d, uint64(n))
	return int(high)
}

// normals are the standard normal's quantiles at 0.0005, 0.0015 … 0.9995, in thousandths, so that chance is in whole
// numbers from here on.
var normals = func() (z [1000]int64) {
	for i := range z {
		z[i] = int64(math.Round(1000 * math.Sqrt2 * math.Erfinv(float64(2*i+1)/1000-1)))
	}
	return z
}()

// factor is a lognormal factor in millionths with median 1, for a spread in per mille.
func factor(d uint64, spread int) int64 {
	return exp(normals[below(d, len(normals))] * int64(spread))
}

const million = 1_000_000

// exp of a number in millionths, in millionths, by whole numbers alone: the standard library's differs in its last bit
// between processors.
func exp(x int64) int64 {
	if x < 0 {
		return million * million / exp(-x)
	}
	halved := 0
	for x > million/8 {
		x = (x + 1) / 2
		halved++
	}
	sum, term := int64(million), int64(million)
	for k := int64(1); term > 0 && k < 20; k++ {
		term = (term*x + k*million/2) / (k * million)
		sum += term
	}
	for range halved {
		sum = (sum*sum + million/2) / million
	}
	return sum
}

// exponential is a waiting time of the mean given, in minutes.
func exponential(d uint64, mean int) int {
	u := below(d, 1000)
	// The quantile −ln(1 − (u + ½)/1000), in thousandths.
	return int((exponentials[u]*int64(mean) + 500) / 1000)
}

var exponentials = func() (q [1000]int64) {
	for i := range q {
		q[i] = int64(math.Round(-1000 * math.Log1p(-(float64(i)+0.5)/1000)))
	}
	return q
}()

// scenario is a table in which batches take as long and cells set as soon as they do in one numbered world.
func (t *table) scenario(number int, s Spreads) *table {
	j := *t.Job
	j.Cells = make([]Cell, len(t.Cells))
	world := &table{Job: &j, around: t.around, by: make([][]int, len(t.by)), swept: t.swept, scratch: t.scratch}
	day := factor(even(number), s.Day)
	stretch := make([]int64, len(t.Cells))
	stops := make([]int, len(t.Cells))
	for i, c := range t.Cells {
		set := factor(draw(number, i, drawSet), s.Set)
		c.Set = max(1, mulDiv(mulDiv(c.Set, day), set))
		j.Cells[i] = c
		stretch[i] = factor(draw(number, i, drawBatch), s.Batch)
		if below(draw(number, i, drawWhetherStop), 1000) < s.StopPerMille {
			stops[i] = exponential(draw(number, i, drawStop), s.Stop)
		}
	}
	for k, by := range t.by {
		world.by[k] = make([]int, len(by))
		for i, minutes := range by {
			world.by[k][i] = max(1, int(mulDiv(int64(minutes), stretch[i]))) + stops[i]
		}
	}
	world.most = world.mostMinutes()
	return world
}

// mulDiv is v · factor/million, rounded, without overflow; both are not negative.
func mulDiv(v, factor int64) int64 {
	high, low := bits.Mul64(uint64(v), uint64(factor))
	low, carry := bits.Add64(low, million/2, 0)
	q, _ := bits.Div64(high+carry, low, million)
	return int64(q)
}
