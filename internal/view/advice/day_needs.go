package advice

import (
	"strings"

	"hod/internal/event"
	"hod/internal/trade/next"
	"hod/internal/view"
)

// needs of materials, nine times in ten no more, by the forecast's draws of what the plan's coats still take; where it
// has none, what the batches take as designed. What is on hand is of now.
func (a *dayAsk) needs(p next.DayPlan, mixes []string) []DayNeed {
	as := func(name event.Mix) event.Mix {
		for _, pair := range mixes {
			if old, other, ok := strings.Cut(pair, "="); ok && old == string(name) &&
				a.plan.Mixes[event.Mix(other)] != nil {
				return event.Mix(other)
			}
		}
		return name
	}
	taken, left, batches := map[event.Coat]float64{}, map[event.Coat]float64{}, map[event.Mix]int{}
	for _, t := range p.Takes {
		c := a.cells.All[t.Cell]
		taken[c.Coat]++
		batches[as(c.Mix.MixPlanned.Mix)]++
	}
	for i, c := range a.cells.All {
		if !a.Cells[i].Placed {
			left[c.Coat]++
		}
	}
	shares := map[event.Coat]float64{}
	for coat, n := range taken {
		shares[coat] = view.Rounded(n / left[coat])
	}
	drawn, ok := a.stock.Drawn(shares, as)
	if !ok {
		drawn = a.stock.Designed(batches)
	}
	var all []DayNeed
	for _, n := range drawn {
		d := DayNeed{Material: n.Material, Kg: n.Kg, OnHandKg: n.OnHandKg, AsDesigned: !ok}
		if n.BagKg != nil {
			d.Bags = new(view.Rounded(n.Kg / *n.BagKg))
		}
		if n.OnHandKg != nil && *n.OnHandKg < n.Kg {
			d.ShortKg = new(view.Rounded(n.Kg - *n.OnHandKg))
		}
		all = append(all, d)
	}
	return all
}
