package renewal

import (
	"fmt"
	"iter"
	"math"
	"sort"
)

// certain is how near to 1 a cumulative probability counts as 1, and how small one counts as none.
const certain = 1e-12

// tie is the step below which two probabilities, or two volumes as a share of one another, count as equal, so that the
// last bit of a sum (which may differ between processors) decides nothing: 45 batches stay 45.
const tie = 1e-9

// mostBatches is where counting stops: a figure beyond it is a mistake of units, not a job.
const mostBatches = 100_000

// Distribution is that of a count, most often of batches. The zero value is 0 with certainty.
type Distribution struct {
	From int       // lowest count that is possible at all
	Cum  []float64 // Cum[i] is P(count ≤ From+i); never falls; the last is 1
}

// Certain is a count known without doubt.
func Certain(n int) Distribution { return Distribution{From: n, Cum: []float64{1}} }

// At is P(count ≤ n).
func (d Distribution) At(n int) float64 {
	switch i := n - d.From; {
	case i < 0:
		return 0
	case i >= len(d.Cum):
		return 1
	default:
		return d.Cum[i]
	}
}

// Quantile is the lowest count that suffices with probability p. A p at or below 0 gives the lowest count possible, one
// at or above 1 the highest.
func (d Distribution) Quantile(p float64) int {
	return d.From + min(sort.Search(len(d.Cum), func(i int) bool { return d.Cum[i] >= p-tie }), max(len(d.Cum)-1, 0))
}

// P50 is the count that suffices as often as not.
func (d Distribution) P50() int { return d.Quantile(0.5) }

// P90 is the count that suffices nine times in ten.
func (d Distribution) P90() int { return d.Quantile(0.9) }

// Last is the highest count that is possible.
func (d Distribution) Last() int { return d.From + max(len(d.Cum)-1, 0) }

// Mean is the expected count.
func (d Distribution) Mean() float64 {
	over := 0.0
	for _, c := range d.Cum {
		over += 1 - c
	}
	return float64(d.From) + over
}

// SD is the standard deviation of the count.
func (d Distribution) SD() float64 {
	var first, second float64 // of count - From
	for i, c := range d.Cum {
		first += 1 - c
		second += float64(2*i+1) * (1 - c)
	}
	return math.Sqrt(max(0, second-first*first))
}

// All gives each possible count with P(count ≤ it), ascending.
func (d Distribution) All() iter.Seq2[int, float64] {
	return func(yield func(int, float64) bool) {
		for i, c := range d.Cum {
			if !yield(d.From+i, c) {
				return
			}
		}
	}
}

// chances gives each possible count with its own probability, ascending.
func (d Distribution) chances() iter.Seq2[int, float64] {
	return func(yield func(int, float64) bool) {
		if len(d.Cum) == 0 {
			yield(d.From, 1)
			return
		}
		before := 0.0
		for i, c := range d.Cum {
			if c > before && !yield(d.From+i, c-before) {
				return
			}
			before = c
		}
	}
}

// counted collects cum(n) for from ≤ n ≤ last, trims what is impossible, and mends what rounding may have bent: never
// falling, within 0 and 1, 1 at the end.
func counted(from, last int, cum func(int) float64) Distribution {
	d := Distribution{From: from}
	highest := 0.0
	for n := from; n <= last; n++ {
		highest = max(highest, cum(n))
		if highest < certain {
			continue
		}
		if len(d.Cum) == 0 {
			d.From = n
		}
		if highest >= 1-certain {
			break
		}
		d.Cum = append(d.Cum, highest)
	}
	if len(d.Cum) == 0 && highest < certain {
		d.From = last
		d.Cum = []float64{1}
		return d
	}
	if highest >= 1-certain {
		d.Cum = append(d.Cum, 1)
	} else {
		d.Cum[len(d.Cum)-1] = 1
	}
	return d
}

// grown is counted without a known end: cum must not fall with n and must reach 1.
func grown(cum func(int) float64) (Distribution, error) {
	from := sort.Search(mostBatches, func(n int) bool { return cum(n) >= certain })
	last := from
	for last <= mostBatches && cum(last) < 1-certain {
		last++
	}
	if last > mostBatches {
		return Distribution{}, fmt.Errorf(
			"the yields are so scattered that more than %d batches may be needed: check them and their units",
			mostBatches)
	}
	return counted(from, last, cum), nil
}
