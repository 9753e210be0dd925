package forecast

import (
	"fmt"
	"math"
	"time"
)

// PacePrior is what is expected of the pace before any batch was finished.
type PacePrior struct {
	PerBatch time.Duration // working time from one finished batch to the next
	Weight   float64       // how many finished batches that expectation is worth; 0 for none, and then two intervals are needed
	Spread   float64       // standard deviation of one interval as a share of PerBatch
}

// Pace is what is known of the working time from one batch to the next.
type Pace struct {
	Intervals int           // that it was learned from
	PerBatch  time.Duration // mean
	Scale     time.Duration // spread from batch to batch
	Weight    float64       // intervals that PerBatch rests on, prior included
	Freedom   float64       // degrees of freedom of Scale
}

// LearnPace joins the prior with completed intervals: for each batch after the first of a shift, the working time since
// the batch before it, over all crews that work side by side, so that the pace is the site's. Breaks that the crews take
// belong to the intervals; nights and weather stops do not.
func LearnPace(prior PacePrior, intervals []time.Duration) (Pace, error) {
	if !(prior.Weight >= 0) || !finite(prior.Weight) {
		return Pace{}, fmt.Errorf("the prior's weight %v must be 0 or more batches", prior.Weight)
	}
	b := belief{}
	if prior.Weight > 0 {
		if prior.PerBatch <= 0 {
			return Pace{}, fmt.Errorf("expected time per batch %v must be above 0", prior.PerBatch)
		}
		if !(prior.Spread >= 0 && prior.Spread <= 1) {
			return Pace{}, fmt.Errorf("the prior's spread %v must lie between 0 and 1 of the time per batch, such as 0.3", prior.Spread)
		}
		sd := prior.PerBatch.Hours() * prior.Spread
		b = belief{mean: prior.PerBatch.Hours(), weight: prior.Weight, freedom: prior.Weight, square: sd * sd}
	}
	hours := make([]float64, len(intervals))
	for i, d := range intervals {
		if d <= 0 {
			return Pace{}, fmt.Errorf("interval %d of %d is %v: a batch takes more than no time", i+1, len(intervals), d)
		}
		hours[i] = d.Hours()
	}
	if prior.Weight == 0 && len(hours) < 2 {
		return Pace{}, fmt.Errorf("%d interval(s) and no prior: two completed intervals, or an expected time per batch, are needed", len(hours))
	}
	b, err := b.learn(hours)
	if err != nil {
		return Pace{}, fmt.Errorf("learn the pace: %w", err)
	}
	p := Pace{
		Intervals: len(hours), PerBatch: inHours(b.mean), Scale: inHours(math.Sqrt(b.square)), Weight: b.weight, Freedom: b.freedom,
	}
	return p, p.valid()
}

// PerHour is the expected number of batches in a working hour; 0 where nothing is known.
func (p Pace) PerHour() float64 {
	if p.PerBatch <= 0 {
		return 0
	}
	return 1 / p.PerBatch.Hours()
}

// Within is the probability that n more batches are finished within so much working time; 0 where nothing is known of
// the pace. A long-run mean below a quarter of the one learned is struck out as impossible, as it is for yields.
func (p Pace) Within(n int, worked time.Duration) float64 {
	switch {
	case n <= 0:
		return 1
	case worked <= 0 || p.valid() != nil:
		return 0
	}
	return p.belief().sumBelow(n, worked.Hours()*(1+2*tie)) // finishing on the stroke of the hour is within it
}

// BatchesIn is the number of batches that so much working time has room for.
func (p Pace) BatchesIn(worked time.Duration) (Distribution, error) {
	if err := p.valid(); err != nil {
		return Distribution{}, err
	}
	if worked <= 0 {
		return Certain(0), nil
	}
	if err := p.countable(worked); err != nil {
		return Distribution{}, err
	}
	return grown(func(n int) float64 { return 1 - p.Within(n+1, worked) })
}

func (p Pace) countable(worked time.Duration) error {
	if worked.Hours()/p.PerBatch.Hours() > mostBatches/10 {
		return fmt.Errorf("%v of work at %v a batch are more than %d batches: check the pace", worked, p.PerBatch, mostBatches/10)
	}
	return nil
}

func (p Pace) belief() belief {
	s := p.Scale.Hours()
	return belief{mean: p.PerBatch.Hours(), weight: p.Weight, freedom: p.Freedom, square: s * s}
}

func (p Pace) valid() error {
	switch {
	case p.PerBatch <= 0:
		return fmt.Errorf("time per batch %v must be above 0: learn the pace first", p.PerBatch)
	case !(p.Weight > 0) || !(p.Freedom > 0) || !finite(p.Weight) || !finite(p.Freedom):
		return fmt.Errorf("nothing is known of the pace: it rests on %v intervals; learn it first", p.Weight)
	case p.Scale < 0:
		return fmt.Errorf("spread %v of the time per batch must be 0 or more", p.Scale)
	case p.Scale > 4*p.PerBatch:
		return fmt.Errorf("times per batch spread by %v about a mean of %v: nights or weather stops are among the intervals; leave them out",
			p.Scale.Round(time.Minute), p.PerBatch.Round(time.Minute))
	}
	return nil
}

func inHours(h float64) time.Duration { return time.Duration(math.Round(h * float64(time.Hour))) }
