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

// Needs are what plans are reckoned with that take materials: the forecast's own draws of what coats still take, and
// what is on hand. They do not touch the record any more.
type Needs struct {
	draws []forecast.Draw // none where the forecast has no answer
	coats []fold.CoatIs   // of the draws
	plan  *fold.Plan
	of    map[string]stocked
}

// stocked is what the record says of a material.
type stocked struct {
	damp   float64
	bag    *float64 // kg
	onHand *float64 // kg; nil: nobody has written what there is
}

// PlanNeed is what the batches of a plan take of one material.
type PlanNeed struct {
	Material string
	Kg       float64
	BagKg    *float64
	OnHandKg *float64 // nil: nobody has written what there is
}

// Needs are gathered of all materials that the plan has.
func (o *Outlook) Needs() *Needs {
	n := &Needs{coats: o.coats, plan: o.site.Plan(), of: map[string]stocked{}}
	if o.err == nil {
		n.draws = o.answer.Draws
	}
	for _, m := range n.plan.Mixes {
		for _, name := range MaterialsOf(m) {
			material := event.Material(name)
			is := stocked{damp: o.site.DampOf(material).Factor}
			if bag := float64(o.site.BagOf(material).Mass); bag > 0 {
				is.bag = &bag
			}
			if l, err := o.site.Ledger(material); err == nil && o.site.Stocked(material) && view.Begun(l, o.now) {
				is.onHand = new(view.Rounded(float64(l.At(o.now).OnHand)))
			}
			n.of[name] = is
		}
	}
	return n
}

// Drawn is what a plan takes, nine times in ten no more, that places shares of what coats still take; as is the mix
// that is used in the place of one. False where the forecast has no draws: then nobody can say what nine in ten are.
func (n *Needs) Drawn(shares map[event.Coat]float64, as func(event.Mix) event.Mix) ([]PlanNeed, bool) {
	if len(n.draws) == 0 {
		return nil, false
	}
	kg := map[string][]float64{}
	for i, c := range n.coats {
		share := shares[c.CoatPlanned.Coat]
		m := n.plan.Mixes[as(c.Mix)]
		if share == 0 || m == nil {
			continue
		}
		for _, name := range MaterialsOf(m) {
			if kg[name] == nil {
				kg[name] = make([]float64, len(n.coats))
			}
			kg[name][i] = share * n.ofBatch(m, name)
		}
	}
	var all []PlanNeed
	for _, name := range slices.Sorted(maps.Keys(kg)) {
		var of []forecast.Share
		for _, d := range n.draws {
			sum := 0.0
			for _, b := range d.Batches {
				if b.Coat >= 0 && b.Coat < len(n.coats) {
					sum += kg[name][b.Coat]
				}
			}
			of = append(of, forecast.Share{Value: sum, Weight: d.Weight})
		}
		all = append(all, n.need(name, forecast.QuantileOf(of, 0.9)))
	}
	return all, true
}

// Designed is what so many batches of mixes take as they are designed.
func (n *Needs) Designed(batches map[event.Mix]int) []PlanNeed {
	kg := map[string]float64{}
	for _, name := range slices.Sorted(maps.Keys(batches)) {
		m := n.plan.Mixes[name]
		if m == nil {
			continue
		}
		for _, of := range MaterialsOf(m) {
			kg[of] += float64(batches[name]) * n.ofBatch(m, of)
		}
	}
	var all []PlanNeed
	for _, name := range slices.Sorted(maps.Keys(kg)) {
		all = append(all, n.need(name, kg[name]))
	}
	return all
}

func (n *Needs) need(name string, kg float64) PlanNeed {
	is := n.of[name]
	return PlanNeed{Material: name, Kg: view.Rounded(kg), BagKg: is.bag, OnHandKg: is.onHand}
}

// ofBatch is what a batch of a mix takes of a material as it lies on the pile, kg.
func (n *Needs) ofBatch(m *fold.Mix, name string) float64 {
	sum := 0.0
	for _, c := range m.Mix.Constituents {
		if c.Kind != mix.Water && c.Name == name {
			sum += float64(c.Mass)
		}
	}
	return view.Rounded(sum * n.of[name].damp)
}
