package advice

import (
	"math"
	"slices"
	"strings"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/next"
	"hod/internal/view"
	"hod/internal/view/ahead"
)

// needs of materials, nine times in ten no more, by the forecast's draws of what the plan's coats still take; where it
// has none, what the batches take as designed. What is on hand is of now.
func (a *dayAsk) needs(p next.DayPlan, mixes []string) []DayNeed {
	taken, left := map[event.Coat]float64{}, map[event.Coat]float64{}
	for _, t := range p.Takes {
		taken[a.cells.All[t.Cell].Coat]++
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
	as := func(name event.Mix) event.Mix {
		for _, pair := range mixes {
			if old, other, ok := strings.Cut(pair, "="); ok && old == string(name) &&
				a.plan.Mixes[event.Mix(other)] != nil {
				return event.Mix(other)
			}
		}
		return name
	}
	drawn, ok := a.rest.NeedsOf(shares, as)
	if !ok {
		drawn = a.asDesigned(p, as)
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

// asDesigned is what the batches of a plan take as they are designed.
func (a *dayAsk) asDesigned(p next.DayPlan, as func(event.Mix) event.Mix) []ahead.PlanNeed {
	kg := map[string]float64{}
	var names []string
	for _, t := range p.Takes {
		m := a.plan.Mixes[as(a.cells.All[t.Cell].Mix.MixPlanned.Mix)]
		if m == nil {
			continue
		}
		for _, name := range ahead.MaterialsOf(m) {
			if _, known := kg[name]; !known {
				names = append(names, name)
			}
			kg[name] += a.ofBatch(m, name)
		}
	}
	slices.Sort(names)
	var all []ahead.PlanNeed
	for _, name := range names {
		n := ahead.PlanNeed{Material: name, Kg: view.Rounded(kg[name])}
		if bag := float64(a.site.BagOf(event.Material(name)).Mass); bag > 0 {
			n.BagKg = &bag
		}
		if l, err := a.site.Ledger(event.Material(name)); err == nil && a.site.Stocked(event.Material(name)) {
			n.OnHandKg = new(view.Rounded(float64(l.At(a.now).OnHand)))
		}
		all = append(all, n)
	}
	return all
}

func (a *dayAsk) ofBatch(m *fold.Mix, name string) float64 {
	sum := 0.0
	for _, c := range m.Mix.Constituents {
		if c.Name == name {
			sum += float64(float64(c.Mass) * a.site.DampOf(event.Material(name)).Factor)
		}
	}
	return math.Max(0, sum)
}
