package ahead

import (
	"slices"
	"time"

	"hod/internal/forecast"
)

// FanPoint is how many batches are left at an instant to come, over all draws of the rest of the job.
type FanPoint struct {
	At  time.Time `json:"at"`
	P05 float64   `json:"p05"`
	P25 float64   `json:"p25"`
	P50 float64   `json:"p50"`
	P75 float64   `json:"p75"`
	P95 float64   `json:"p95"`
}

// fanSteps is into how many steps the time until the work is done is cut.
const fanSteps = 36

// Fan is how the batches left go down to none; nil where they are not known, or when they are mixed is not.
func (o *Outlook) Fan() []FanPoint {
	if o.err != nil || !o.answer.Paced || len(o.answer.Draws) == 0 {
		return nil
	}
	end, reached := o.answer.Finish.Quantile(.95)
	if !reached {
		if end, reached = o.answer.Finish.Quantile(.5); !reached {
			return nil
		}
	}
	from := o.Now
	if end <= from {
		return nil
	}
	type left struct {
		batches int
		weight  float64
	}
	var all []FanPoint
	begun := make([]int, len(o.answer.Draws)) // of each draw, its batches begun by the step
	for step := range fanSteps + 1 {
		w := from + (end-from)*forecast.Wall(step)/fanSteps
		now := make([]left, len(o.answer.Draws))
		for i, d := range o.answer.Draws {
			for begun[i] < len(d.Batches) && d.Batches[begun[i]].At <= w {
				begun[i]++
			}
			now[i] = left{len(d.Batches) - begun[i], d.Weight}
		}
		slices.SortFunc(now, func(a, b left) int { return a.batches - b.batches })
		quantile := func(p float64) float64 {
			sum := 0.0
			for _, l := range now {
				if sum += l.weight; sum >= p {
					return float64(l.batches)
				}
			}
			return float64(now[len(now)-1].batches)
		}
		all = append(all, FanPoint{
			At: w.In(o.in).UTC(), P05: quantile(.05), P25: quantile(.25), P50: quantile(.5),
			P75: quantile(.75), P95: quantile(.95),
		})
	}
	return all
}
