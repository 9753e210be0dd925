package view

import (
	"cmp"
	"maps"
	"math"
	"slices"

	"hod/internal/event"
	"hod/internal/forecast"
	"hod/internal/mix"
)

// MaterialNeed is one material against what is left to mix.
type MaterialNeed struct {
	Material     string   `json:"material"`
	PerBatchKg   float64  `json:"per_batch_kg"`
	OnHandKg     *float64 `json:"on_hand_kg,omitempty"` // nil, as what follows from it, where no stock of it was ever written
	Need50Kg     float64  `json:"need_p50_kg"`
	Need90Kg     float64  `json:"need_p90_kg"`
	ShortKg      *float64 `json:"short_kg,omitempty"`      // of the 90 % figure
	LastsBatches *int32   `json:"lasts_batches,omitempty"` // whole batches that the stock makes
	RunsOut      string   `json:"runs_out,omitempty"`
	Counted      bool     `json:"counted"` // false where no stock of it was ever written
}

// everything is the whole rest of the job, not one day of it.
const everything = -1

func materialNamed(name string) event.Material { return event.Material(name) }

// materials that the batches of a day, or of all days, take: by what the coats in their order need.
func (o *outlook) materials(day int) []MaterialNeed {
	names := map[string]bool{}
	for i, m := range o.mixes {
		if m == nil || o.answer.Mixes[i].Last() == 0 {
			continue
		}
		for _, c := range m.Mix.Constituents {
			if c.Kind != mix.Water && c.Mass > 0 {
				names[c.Name] = true
			}
		}
	}
	var all []MaterialNeed
	for _, name := range slices.Sorted(maps.Keys(names)) {
		v := MaterialNeed{Material: name, Counted: o.site.Stocked(event.Material(name))}
		hand := 0.0
		if l, err := o.site.Ledger(event.Material(name)); err == nil {
			hand = float64(l.At(o.now).OnHand)
		}
		o.need(&v, o.perBatch(name), hand, day)
		if v.Need90Kg > 0 || day == everything {
			all = append(all, v)
		}
	}
	return all
}

// weighed is a value with its weight.
type weighed struct{ x, weight float64 }

func quantile(of []weighed, p float64) float64 {
	slices.SortStableFunc(of, func(a, b weighed) int { return cmp.Compare(a.x, b.x) })
	sum := 0.0
	for _, w := range of {
		if sum += w.weight; sum >= p-1e-9 {
			return w.x
		}
	}
	return 0
}

func (o *outlook) need(v *MaterialNeed, per []float64, hand float64, day int) {
	var need, through, lasts, out []weighed
	batches, total := 0.0, 0.0
	for _, d := range o.answer.Draws {
		kg, drawn, count, ends := 0.0, 0.0, 0, math.Inf(1)
		for _, b := range d.Batches {
			if drawn += per[b.Mix]; drawn <= hand {
				count++
			} else {
				ends = min(ends, float64(b.At))
			}
			total, batches = total+d.Weight*per[b.Mix], batches+d.Weight
			if day == everything || b.At.Day() == day {
				kg += per[b.Mix]
			}
			if day != everything && b.At.Day() > day {
				drawn -= per[b.Mix]
			}
		}
		need, through = append(need, weighed{kg, d.Weight}), append(through, weighed{drawn, d.Weight})
		lasts, out = append(lasts, weighed{float64(count), d.Weight}), append(out, weighed{ends, d.Weight})
	}
	v.Need50Kg, v.Need90Kg = quantile(need, .5), quantile(need, .9)
	if batches > 0 {
		v.PerBatchKg = total / batches
	}
	if v.Counted {
		v.OnHandKg, v.ShortKg, v.LastsBatches = new(hand), new(max(0, quantile(through, .9)-hand)), new(int32(quantile(lasts, .5)))
		if v.PerBatchKg > 0 && math.IsInf(quantile(out, .5), 1) {
			v.LastsBatches = new(int32(max(0, hand/v.PerBatchKg)))
		}
	}
	if at := quantile(out, .5); v.Counted && o.answer.Paced && at < 1e12 && !math.IsInf(at, 1) {
		v.RunsOut = forecast.Wall(at).In(o.in).Format("Mon 2 Jan 15:04")
	}
}
