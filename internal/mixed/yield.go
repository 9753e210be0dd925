package mixed

import (
	"maps"
	"math"
	"slices"

	"hod/internal/event"
	"hod/internal/forecast"
	"hod/internal/planned"
	"hod/internal/unit"
)

// yieldState is what the weighed batches of one mortar yielded, as a share of what each should have by its own charges.
type yieldState struct {
	ratios map[event.Batch]float64
}

// Yield is what is known of a mix's yield.
type Yield struct {
	Weighed int         // batches that it was learned from
	Design  unit.Volume // of a batch as designed
	Mean    unit.Volume // expected
	Scale   unit.Volume // standard deviation from batch to batch
	Ratio   float64     // expected yield over design
	Wrong   string      // why nothing is known
}

// yieldsIs is what all weighed batches say, since the scatter from batch to batch is learned from all mixes together.
type yieldsIs struct {
	keys  []planned.YieldKey
	mixes []forecast.Mix
	known forecast.Yields
	at    map[planned.YieldKey]int
}

func (s *Mixing) forgetYield(b *Batch) {
	if b == nil || b.Mix == nil {
		return
	}
	if y := s.yields[b.Mix.Yields]; y != nil {
		if _, weighed := y.ratios[b.ID]; weighed {
			delete(y.ratios, b.ID)
			s.taught = nil
		}
	}
}

func (s *Mixing) learnYield(b *Batch) {
	st := s.yieldState(b.Mix)
	if b.Yield > 0 && b.Design > 0 {
		st.ratios[b.ID] = float64(b.Yield / b.Design)
		s.taught = nil
	}
}

func (s *Mixing) yieldState(m *planned.Mix) *yieldState { return s.yieldStateOf(m.Yields) }

func (s *Mixing) yieldStateOf(key planned.YieldKey) *yieldState {
	st := s.yields[key]
	if st == nil {
		st = &yieldState{ratios: map[event.Batch]float64{}}
		s.yields[key] = st
		s.taught = nil
	}
	return st
}

// YieldOf is what is known of the yield of a batch's own mortar.
func (s *Mixing) YieldOf(b *Batch) Yield {
	s.ComputeBatches()
	return s.YieldFor(b.Mix)
}

// YieldFor is what is known of the yield of a mix.
func (s *Mixing) YieldFor(m *planned.Mix) Yield {
	if m.Figures.Yield <= 0 {
		return Yield{Ratio: 1, Wrong: "no mix of that name has figures"}
	}
	s.ComputeFetched()
	s.yieldState(m)
	all := s.learned()
	i := all.at[m.Yields]
	y := Yield{Weighed: len(all.mixes[i].Logs), Design: m.Figures.Yield, Ratio: all.known.Ratio(i)}
	y.Mean = y.Design * unit.Volume(y.Ratio)
	y.Scale = y.Mean * unit.Volume(all.known.Scatter)
	return y
}

// learned is what all weighed batches of the site say.
func (s *Mixing) learned() *yieldsIs {
	if s.taught != nil {
		return s.taught
	}
	all := &yieldsIs{
		keys: slices.SortedFunc(maps.Keys(s.yields), planned.YieldKey.Compare),
		at:   map[planned.YieldKey]int{},
	}
	for i, k := range all.keys {
		st := s.yields[k]
		m := forecast.Mix{Name: string(k.Mix), Yield: 1}
		for _, id := range slices.SortedFunc(maps.Keys(st.ratios), compareBatches) {
			m.Logs = append(m.Logs, logStep(st.ratios[id]))
		}
		all.at[k] = i
		all.mixes = append(all.mixes, m)
	}
	all.known = forecast.YieldsOf(all.mixes)
	s.taught = all
	return all
}

// logStep is the natural logarithm of a ratio, rounded to a billionth so that two machines that differ in the last bit
// of a sum learn the same.
func logStep(ratio float64) float64 { return math.Round(math.Log(ratio)*1e9) / 1e9 }

// Mortars are the mixes for a forecast, each set of revisions that teach each other once, with the weighed batches of
// each; and which of them a mix is. Yields are in cubic metres of a batch as the mix holds now, or as it was last used.
func (s *Mixing) Mortars() (all []forecast.Mix, of func(*planned.Mix) int) {
	s.ComputeBatches()
	yields := map[planned.YieldKey]*planned.Mix{}
	for _, b := range s.Batches() {
		yields[b.Mix.Yields] = b.Mix
		s.yieldState(b.Mix)
	}
	for _, name := range s.Current.MixNames() {
		m := s.Current.Mixes[name]
		yields[m.Yields] = m
		s.yieldState(m)
	}
	learned := s.learned()
	at := map[planned.YieldKey]int{}
	for i, k := range learned.keys {
		m := yields[k]
		if m == nil || m.Figures.Yield <= 0 {
			continue
		}
		at[k] = len(all)
		all = append(all, forecast.Mix{
			Name: string(k.Mix), Revision: m.Revision, Yield: float64(m.Figures.Yield),
			Logs: learned.mixes[i].Logs,
		})
	}
	return all, func(m *planned.Mix) int {
		if i, ok := at[m.Yields]; ok {
			return i
		}
		return -1
	}
}
