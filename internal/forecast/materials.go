package forecast

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"hod/internal/unit"
)

// Stock is one material of the mix: how much each batch takes, and how much is there.
type Stock struct {
	Material string
	PerBatch unit.Mass // above 0
	OnHand   unit.Mass // below 0 where the ledger is short; then no batch can be made of it
}

// Supply compares a stock with the batches needed.
type Supply struct {
	Stock
	Batches            int       // whole batches that the stock makes
	Enough             float64   // probability that the stock suffices
	NeedP50, NeedP90   unit.Mass // what the 50 and the 90 % count of batches take
	ShortP50, ShortP90 unit.Mass // what then lacks; 0 where nothing does
}

// Supplies compares each stock with the batches needed, that which runs out first ahead, then by name.
func Supplies(need Distribution, stocks []Stock) ([]Supply, error) {
	var all []Supply
	for _, s := range stocks {
		if !(s.PerBatch > 0) || !finite(float64(s.PerBatch)) {
			return nil, fmt.Errorf("%s: %v kg a batch must be above 0; leave out what the mix does not take", s.Material, float64(s.PerBatch))
		}
		if !finite(float64(s.OnHand)) {
			return nil, fmt.Errorf("%s: %v kg on hand is not a finite number", s.Material, float64(s.OnHand))
		}
		m := Supply{Stock: s, Batches: wholeBelow(float64(s.OnHand / s.PerBatch))}
		m.Enough = need.At(m.Batches)
		for _, q := range []struct {
			batches     int
			need, short *unit.Mass
		}{{need.P50(), &m.NeedP50, &m.ShortP50}, {need.P90(), &m.NeedP90, &m.ShortP90}} {
			*q.need = unit.Mass(q.batches) * s.PerBatch
			if !finite(float64(*q.need)) {
				return nil, fmt.Errorf("%s: %v kg a batch is beyond counting: check the units", s.Material, float64(s.PerBatch))
			}
			if q.batches > m.Batches {
				*q.short = *q.need - s.OnHand
			}
		}
		all = append(all, m)
	}
	slices.SortStableFunc(all, func(a, b Supply) int {
		return cmp.Or(cmp.Compare(a.Batches, b.Batches), cmp.Compare(a.Material, b.Material))
	})
	return all, nil
}

// RunsOut says when the last batch that the stock makes is done, if work goes on at that pace: the P10 moment is the
// early one, to order by. Whether the job needs so many batches at all is what Enough says.
func (s Supply) RunsOut(pace Pace, hours []Hour) (Finish, error) {
	return Finishes(Certain(s.Batches), pace, hours)
}

// Tomorrow gives the batches that a day of so much working time will take, which are no more than the job needs and no
// more than the pace allows, and compares the stocks with them: a stock suffices for the day if Enough is as near to 1
// as one wants it, or ShortP90 is 0.
func Tomorrow(need Distribution, pace Pace, worked time.Duration, stocks []Stock) (Distribution, []Supply, error) {
	room, err := pace.BatchesIn(worked)
	if err != nil {
		return Distribution{}, nil, err
	}
	day := need.Lesser(room)
	supplies, err := Supplies(day, stocks)
	return day, supplies, err
}

// wholeBelow is the highest whole number not above x, where an x that falls short of one by rounding alone counts as it.
func wholeBelow(x float64) int {
	if !(x > 0) {
		return 0
	}
	if x >= math.MaxInt32 {
		return math.MaxInt32
	}
	if nearest := math.Round(x); math.Abs(x-nearest) <= tie*x {
		return int(nearest)
	}
	return int(x)
}
