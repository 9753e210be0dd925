package forecast

import (
	"cmp"
	"math"
	"slices"
)

// Supply is what the stock of one material does for the batches to come, each draw's batches taken in its order: not a
// mean batch, since the next coats may need all of it and the rest none.
type Supply struct {
	Need   []Share // kg that the batches asked about take, by draw
	Before []Share // kg that the batches before those take, by draw
	Short  []Share // kg that lack for those, by draw: what comes before them draws from the same stock
	Makes  []Share // batches with the material in them that the stock makes before the first that it does not, by draw
	Out    Instants
	Enough float64 // chance that the stock does for the batches asked about
	Ends   float64 // chance that it runs out before the work is done
	Mean   float64 // kg, of a batch that takes any
}

// Share is a value with the weight of the draw that it is of.
type Share struct{ Value, Weight float64 }

// SupplyOf a material of which so much (kg) is on hand, where one batch of each of Job.Mixes takes so much (kg): for
// the batches that begin until an instant, and from another on. Draws must be in order, as Ahead gives them.
func SupplyOf(draws []Draw, takes []float64, hand float64, from, until Wall) Supply {
	var s Supply
	var at []Wall
	var weights []float64
	taken, batches := 0.0, 0.0
	for _, d := range draws {
		need, before, drawn, through, makes, n := 0.0, 0.0, 0.0, 0.0, 0.0, 0
		out := Wall(math.Inf(1))
		for i := range d.Batches {
			b := &d.Batches[i]
			kg := 0.0
			if b.Mix >= 0 && b.Mix < len(takes) {
				kg = takes[b.Mix]
			}
			if kg <= 0 {
				continue
			}
			n++
			if drawn <= hand+least {
				if drawn += kg; drawn <= hand+least {
					makes++
				} else {
					out = b.At
				}
			} else {
				drawn += kg
			}
			if b.At < until {
				through = drawn
				if b.At >= from {
					need += kg
				} else {
					before += kg
				}
			}
		}
		taken, batches = taken+float64(d.Weight*drawn), batches+float64(d.Weight*float64(n))
		lacks := through - hand
		if need <= 0 || lacks <= least {
			lacks, s.Enough = 0, s.Enough+d.Weight
		}
		s.Need, s.Before = append(s.Need, Share{need, d.Weight}), append(s.Before, Share{before, d.Weight})
		s.Short, s.Makes = append(s.Short, Share{lacks, d.Weight}), append(s.Makes, Share{makes, d.Weight})
		if !math.IsInf(float64(out), 1) {
			s.Ends += d.Weight
		}
		at, weights = append(at, out), append(weights, d.Weight)
	}
	s.Out = instants(at, weights)
	if batches > 0 {
		s.Mean = taken / batches
	}
	return s
}

// least is the mass (kg) by which a stock may fall short and still do: less than a gram.
const least = 1e-3

// QuantileOf weighted values: the least that is not passed with that chance. The values are put in order.
func QuantileOf(of []Share, p float64) float64 {
	slices.SortFunc(of, func(a, b Share) int {
		return cmp.Or(cmp.Compare(a.Value, b.Value), cmp.Compare(a.Weight, b.Weight))
	})
	sum := 0.0
	for _, s := range of {
		if sum += s.Weight; sum >= p-1e-9 {
			return s.Value
		}
	}
	if n := len(of); n > 0 {
		return of[n-1].Value
	}
	return 0
}
