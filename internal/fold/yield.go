package fold

import (
	"maps"
	"slices"

	"hod/internal/event"
	"hod/internal/forecast"
	"hod/internal/unit"
)

// yieldState is what the weighed batches of one mix yielded, as a share of what each should have by its own charges.
type yieldState struct {
	ratios map[event.Batch]float64
	known  *Yield // nil when stale
}

// Yield is what is known of a mix's yield.
type Yield struct {
	forecast.Posterior
	Design unit.Volume // of a batch as designed
	Ratio  float64     // expected yield over design
	Wrong  string      // why nothing is known
}

func (s *Site) forgetYield(b *Batch) {
	if b == nil || b.Mix == nil {
		return
	}
	if y := s.yields[b.Mix.MixPlanned.Mix]; y != nil {
		delete(y.ratios, b.ID)
		y.known = nil
	}
}

func (s *Site) learnYield(b *Batch) {
	name := b.Mix.MixPlanned.Mix
	if s.yields[name] == nil {
		s.yields[name] = &yieldState{ratios: map[event.Batch]float64{}}
	}
	s.yields[name].known = nil // the design may have changed
	if b.Yield > 0 && b.Design > 0 {
		s.yields[name].ratios[b.ID] = float64(b.Yield / b.Design)
	}
}

// Yield of a mix, learned from its weighed batches with the design as prior. Batches of another size than designed count
// by their ratio.
func (s *Site) Yield(name event.Mix) Yield {
	s.compute()
	return s.yield(name)
}

func (s *Site) yield(name event.Mix) Yield {
	m := s.plan.Mixes[name]
	if m == nil || m.Figures.Yield <= 0 {
		return Yield{Ratio: 1, Wrong: "no mix of that name has figures"}
	}
	st := s.yields[name]
	if st == nil {
		st = &yieldState{ratios: map[event.Batch]float64{}}
		s.yields[name] = st
	}
	if st.known != nil && st.known.Design == m.Figures.Yield {
		return *st.known
	}
	y := Yield{Design: m.Figures.Yield, Ratio: 1}
	var yields []unit.Volume
	for _, id := range slices.SortedFunc(maps.Keys(st.ratios), compareBatches) {
		yields = append(yields, unit.Volume(st.ratios[id])*y.Design)
	}
	var err error
	if y.Posterior, err = forecast.Learn(forecast.DesignPrior(y.Design), yields); err != nil {
		y.Wrong = err.Error()
	} else {
		y.Ratio = float64(y.Mean / y.Design)
	}
	st.known = &y
	return y
}
