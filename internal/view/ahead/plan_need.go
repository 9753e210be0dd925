package ahead

import (
	"maps"
	"slices"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/forecast"
	"hod/internal/trade/mix"
	"hod/internal/view"
)

// PlanNeed is what the batches of a plan take of one material: nine times in ten no more, by the forecast's own draws.
type PlanNeed struct {
	Material string
	Kg       float64
	BagKg    *float64
	OnHandKg *float64 // nil: nobody has written what there is
}

// NeedsOf a plan that places shares of what coats still take; as is the mix that is used in the place of one. False
// where the forecast has no draws: then nobody can say what nine in ten are.
func (o *Outlook) NeedsOf(shares map[event.Coat]float64, as func(event.Mix) event.Mix) ([]PlanNeed, bool) {
	if o.err != nil || len(o.answer.Draws) == 0 {
		return nil, false
	}
	share, mixes := make([]float64, len(o.coats)), make([]*fold.Mix, len(o.coats))
	names, plan := map[string]bool{}, o.site.Plan()
	for i, c := range o.coats {
		if share[i] = shares[c.CoatPlanned.Coat]; share[i] == 0 {
			continue
		}
		if mixes[i] = plan.Mixes[as(c.Mix)]; mixes[i] == nil {
			return nil, false
		}
		for _, name := range MaterialsOf(mixes[i]) {
			names[name] = true
		}
	}
	var all []PlanNeed
	for _, name := range slices.Sorted(maps.Keys(names)) {
		kg := make([]float64, len(o.coats))
		for i, m := range mixes {
			if m != nil {
				kg[i] = share[i] * o.ofBatch(m, name)
			}
		}
		all = append(all, o.planNeed(name, kg))
	}
	return all, true
}

// ofBatch is what a batch of a mix takes of a material as it lies on the pile, kg.
func (o *Outlook) ofBatch(m *fold.Mix, name string) float64 {
	sum := 0.0
	for _, c := range m.Mix.Constituents {
		if c.Kind != mix.Water && c.Name == name {
			sum += float64(c.Mass)
		}
	}
	return view.Rounded(sum * o.site.DampOf(event.Material(name)).Factor)
}

// planNeed of one material, where a batch of each coat counts with so many kg.
func (o *Outlook) planNeed(name string, kg []float64) PlanNeed {
	v := PlanNeed{Material: name}
	var of []forecast.Share
	for _, d := range o.answer.Draws {
		sum := 0.0
		for _, b := range d.Batches {
			if b.Coat >= 0 && b.Coat < len(kg) {
				sum += kg[b.Coat]
			}
		}
		of = append(of, forecast.Share{Value: sum, Weight: d.Weight})
	}
	v.Kg = view.Rounded(forecast.QuantileOf(of, 0.9))
	if bag := float64(o.site.BagOf(event.Material(name)).Mass); bag > 0 {
		v.BagKg = &bag
	}
	if l, err := o.site.Ledger(event.Material(name)); err == nil && o.site.Stocked(event.Material(name)) &&
		view.Begun(l, o.now) {
		v.OnHandKg = new(view.Rounded(float64(l.At(o.now).OnHand)))
	}
	return v
}
