package fold

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"

	"hod/internal/event"
	"hod/internal/forecast"
	"hod/internal/unit"
)

// yieldKey names the mortars whose yields teach each other: the revisions of one mix that state the same air, yield and
// properties of their constituents. How much of each goes in does not matter, since what is learned is a ratio to the design;
// a revision of air or gravities is another design, and neither learns from the other.
type yieldKey struct {
	mix  event.Mix
	sums string
}

func (k yieldKey) compare(o yieldKey) int {
	return cmp.Or(cmp.Compare(k.mix, o.mix), cmp.Compare(k.sums, o.sums))
}

func yieldKeyOf(b event.MixPlanned) yieldKey {
	var all strings.Builder
	say := func(name string, q float64, said bool) {
		if said {
			fmt.Fprintf(&all, "%s %g;", name, q)
		}
	}
	if b.Air != nil {
		say("air", float64(b.Air.SI), true)
	}
	if b.DesignYield != nil {
		say("yield", float64(b.DesignYield.SI), true)
	}
	for _, c := range slices.SortedFunc(slices.Values(b.Constituents), func(x, y event.Constituent) int { return cmp.Compare(x.Name, y.Name) }) {
		fmt.Fprintf(&all, "%s %d;", c.Name, c.Kind)
		say("gravity", c.Gravity, c.Gravity > 0)
		if c.Absorption != nil {
			say("absorption", float64(c.Absorption.SI), true)
		}
		if c.Solids != nil {
			say("solids", float64(c.Solids.SI), true)
		}
		if c.Bulk != nil {
			say("bulk", float64(c.Bulk.SI), true)
		}
	}
	return yieldKey{b.Mix, all.String()}
}

// yieldState is what the weighed batches of one mortar yielded, as a share of what each should have by its own charges.
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
	if y := s.yields[b.Mix.Yields]; y != nil {
		delete(y.ratios, b.ID)
		y.known = nil
	}
}

func (s *Site) learnYield(b *Batch) {
	name := b.Mix.Yields
	if s.yields[name] == nil {
		s.yields[name] = &yieldState{ratios: map[event.Batch]float64{}}
	}
	s.yields[name].known = nil // the design may have changed
	if b.Yield > 0 && b.Design > 0 {
		s.yields[name].ratios[b.ID] = float64(b.Yield / b.Design)
	}
}

// Yield of a mix as it holds now, learned from its weighed batches with the design as prior. Batches of another size than
// designed count by their ratio.
func (s *Site) Yield(name event.Mix) Yield {
	s.compute()
	m := s.plan.Mixes[name]
	if m == nil {
		return Yield{Ratio: 1, Wrong: "no mix of that name has figures"}
	}
	return s.yield(m)
}

// YieldOf is what is known of the yield of a batch's own mortar.
func (s *Site) YieldOf(b *Batch) Yield {
	s.compute()
	return s.yield(b.Mix)
}

func (s *Site) yield(m *Mix) Yield {
	if m.Figures.Yield <= 0 {
		return Yield{Ratio: 1, Wrong: "no mix of that name has figures"}
	}
	st := s.yields[m.Yields]
	if st == nil {
		st = &yieldState{ratios: map[event.Batch]float64{}}
		s.yields[m.Yields] = st
	}
	if st.known == nil {
		st.known = learned(st.ratios)
	}
	y := *st.known // of a design of one cubic metre
	y.Design = m.Figures.Yield
	y.Mean *= y.Design
	y.Scale *= y.Design
	return y
}

// learned is what ratios of yield to design say of a design of one cubic metre.
func learned(ratios map[event.Batch]float64) *Yield {
	y := Yield{Design: 1, Ratio: 1}
	var yields []unit.Volume
	for _, id := range slices.SortedFunc(maps.Keys(ratios), compareBatches) {
		yields = append(yields, unit.Volume(ratios[id]))
	}
	var err error
	if y.Posterior, err = forecast.Learn(forecast.DesignPrior(1), yields); err != nil {
		y.Wrong = err.Error()
	} else {
		y.Ratio = float64(y.Mean)
	}
	return &y
}
