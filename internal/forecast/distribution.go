package forecast

import (
	"cmp"
	"slices"

	"hod/internal/renewal"
)

// tie is the step below which two probabilities count as equal, so that the last bit of a sum decides nothing.
const tie = 1e-9

// mostBatches is where counting stops: a figure beyond it is a mistake of units, not a job.
const mostBatches = 100_000

// counted is the distribution of counts, each with its weight; the weights together are 1.
func counted(counts []int, weights []float64) renewal.Distribution {
	if len(counts) == 0 {
		return renewal.Certain(0)
	}
	low, high := slices.Min(counts), slices.Max(counts)
	d := renewal.Distribution{From: low, Cum: make([]float64, high-low+1)}
	for i, n := range counts {
		d.Cum[n-low] += weights[i]
	}
	sum := 0.0
	for i := range d.Cum {
		sum += d.Cum[i]
		d.Cum[i] = min(sum, 1)
	}
	d.Cum[len(d.Cum)-1] = 1
	return d
}

// Instants are weighted instants in order of time, of which some may lie beyond the calendar.
type Instants struct {
	at     []Wall
	weight []float64
}

func instants(at []Wall, weights []float64) Instants {
	order := make([]int, len(at))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(at[a], at[b]) })
	var t Instants
	for _, i := range order {
		t.at, t.weight = append(t.at, at[i]), append(t.weight, weights[i])
	}
	return t
}

// Quantile is the earliest instant by which it is reached with probability p; false where that lies beyond the
// calendar.
func (t Instants) Quantile(p float64) (Wall, bool) {
	sum := 0.0
	for i, w := range t.weight {
		if sum += w; sum >= p-tie {
			return t.at[i], t.at[i] < never
		}
	}
	return never, false
}

// never lies beyond any calendar.
const never = Wall(1e12)
