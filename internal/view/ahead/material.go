package ahead

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/forecast"
	"hod/internal/trade/mix"
	"hod/internal/unit"
	"hod/internal/view"
)

// MaterialNeed is one material against what is left to mix, or against what one day takes: drawn by the batches in the
// order in which their coats come, each by its own mix. Masses are as they are weighed, sand damp.
type MaterialNeed struct {
	Material   string  `json:"material"`
	PerBatchKg float64 `json:"per_batch_kg"` // of a batch that takes any
	// nil, as what follows from it, where no stock of it was ever written
	OnHandKg *float64 `json:"on_hand_kg,omitempty"`
	Need50Kg float64  `json:"need_p50_kg"`
	Need90Kg float64  `json:"need_p90_kg"`
	ShortKg  *float64 `json:"short_kg,omitempty"` // nine times in ten it lacks no more than this
	// batches that take it which the stock makes, as likely as not; nil: all that are left
	LastsBatches *int32 `json:"lasts_batches,omitempty"`
	RunsOut      string `json:"runs_out,omitempty"`
	Counted      bool   `json:"counted"` // false where no stock of it was ever written

	RunsOut05 *time.Time `json:"runs_out_p05,omitempty"` // one time in twenty by then
	RunsOut95 *time.Time `json:"runs_out_p95,omitempty"`
	// one time in ten by then; nil: later than the work, or than is looked ahead
	RunsOut10     *time.Time `json:"runs_out_p10,omitempty"`
	RunsOut50     *time.Time `json:"runs_out_p50,omitempty"`
	RunsOut90     *time.Time `json:"runs_out_p90,omitempty"`
	SufficesShare *float64   `json:"suffices_chance,omitempty"` // chance that what is on hand does
	// of one bag; nil: it comes in no bags, as far as is known
	BagKg      *float64 `json:"bag_kg,omitempty"`
	OnHandBags *float64 `json:"on_hand_bags,omitempty"`
	Need90Bags *float64 `json:"need_p90_bags,omitempty"`
	ShortBags  *int32   `json:"short_bags,omitempty"` // whole ones; nil: none, or it comes in none
	Damp       string   `json:"damp,omitempty"`       // at what moisture sand is reckoned

	PerBatchBags *float64 `json:"per_batch_bags,omitempty"`
	Need50Bags   *float64 `json:"need_p50_bags,omitempty"`
	// of one day: what is left for it as it begins, as likely as not
	Left50Kg   *float64 `json:"left_p50_kg,omitempty"`
	Left50Bags *float64 `json:"left_p50_bags,omitempty"`

	// of sand, of its dry mass, as last recorded; nil: nobody did, or it is none
	Moisture   *float64 `json:"moisture_share,omitempty"`
	DampFactor *float64 `json:"damp_factor,omitempty"` // of sand: weighed over designed
}

// MixBags is the bags of one material that the batches left of one mix take.
type MixBags struct {
	Material string  `json:"material"`
	BagKg    float64 `json:"bag_kg"`         // of one bag
	PerBatch float64 `json:"per_batch_bags"` // that one batch takes
	P05      float64 `json:"p05_bags"`
	P10      float64 `json:"p10_bags"`
	P25      float64 `json:"p25_bags"`
	P50      float64 `json:"p50_bags"`
	P75      float64 `json:"p75_bags"`
	P90      float64 `json:"p90_bags"`
	P95      float64 `json:"p95_bags"`
}

// bagsOf a mix that its batches left take, of each material of which it is known what a bag weighs.
func (o *Outlook) bagsOf(i int) []MixBags {
	if o.mixes[i] == nil {
		return nil
	}
	d := o.answer.Mixes[i]
	var all []MixBags
	for _, name := range MaterialsOf(o.mixes[i]) {
		bag := o.site.BagOf(event.Material(name)).Mass
		if bag <= 0 {
			continue
		}
		each := o.weighed(name)[i] / float64(bag)
		at := func(p float64) float64 { return each * float64(d.Quantile(p)) }
		all = append(all, MixBags{name, float64(bag), each, at(.05), at(.1), at(.25), at(.5), at(.75), at(.9), at(.95)})
	}
	return all
}

// MaterialsOf a mix by name, water left out.
func MaterialsOf(m *fold.Mix) []string {
	names := map[string]bool{}
	for _, c := range m.Mix.Constituents {
		if c.Kind != mix.Water && c.Mass > 0 {
			names[c.Name] = true
		}
	}
	return slices.Sorted(maps.Keys(names))
}

// weighed is what one batch of each mix takes of a material as it lies on the pile.
func (o *Outlook) weighed(name string) []float64 {
	takes, damp := o.perBatch(name), o.site.DampOf(event.Material(name)).Factor
	for i := range takes {
		takes[i] = view.Rounded(takes[i] * damp)
	}
	return takes
}

// everything is the whole rest of the job, not one day of it.
const everything = -1

func materialNamed(name string) event.Material { return event.Material(name) }

// materials that the batches of a day, or of all days, take.
func (o *Outlook) materials(day int) []MaterialNeed {
	names := map[string]bool{}
	for i, m := range o.mixes {
		if m == nil || o.answer.Mixes[i].Last() == 0 {
			continue
		}
		for _, name := range MaterialsOf(m) {
			names[name] = true
		}
	}
	var all []MaterialNeed
	for _, name := range slices.Sorted(maps.Keys(names)) {
		if v := o.need(name, day); v.Need90Kg > 0 || day == everything {
			all = append(all, v)
		}
	}
	return all
}

func (o *Outlook) need(name string, day int) MaterialNeed {
	of := event.Material(name)
	v := MaterialNeed{Material: name, Counted: o.site.Stocked(of), Damp: o.site.DampOf(of).Said}
	if d := o.site.DampOf(of); d.Said != "" {
		v.DampFactor, v.Moisture = &d.Factor, view.Maybe(d.Moisture)
	}
	hand := 0.0
	if l, err := o.site.Ledger(of); err == nil {
		hand = view.Rounded(float64(l.At(o.now).OnHand))
		v.Counted = v.Counted && view.Begun(l, o.now)
	}
	from, until := forecast.Wall(math.Inf(-1)), forecast.Wall(math.Inf(1))
	if day != everything {
		from, until = forecast.WallDay(day), forecast.WallDay(day+1)
	}
	s := forecast.SupplyOf(o.answer.Draws, o.weighed(name), hand, from, until)
	v.PerBatchKg, v.Need50Kg, v.Need90Kg = view.Rounded(s.Mean), forecast.QuantileOf(s.Need, 0.5),
		forecast.QuantileOf(s.Need, 0.9)
	bag := o.site.BagOf(of).Mass
	if bag > 0 {
		v.BagKg = new(float64(bag))
	}
	v.PerBatchBags, v.Need50Bags, v.Need90Bags = view.InBags(&v.PerBatchKg, v.BagKg), view.InBags(&v.Need50Kg, v.BagKg),
		view.InBags(&v.Need90Kg, v.BagKg)
	if !v.Counted {
		return v
	}
	v.OnHandKg, v.ShortKg, v.SufficesShare = new(hand), new(forecast.QuantileOf(s.Short, 0.9)), new(min(1, s.Enough))
	if day != everything {
		v.Left50Kg = new(max(0, hand-forecast.QuantileOf(s.Before, 0.5)))
	}
	v.OnHandBags, v.Left50Bags = view.InBags(v.OnHandKg, v.BagKg), view.InBags(v.Left50Kg, v.BagKg)
	if bag > 0 {
		if n := int32(math.Ceil(*v.ShortKg/float64(bag) - 1e-6)); n > 0 {
			v.ShortBags = &n
		}
	}
	if s.Ends >= 0.5-1e-9 {
		v.LastsBatches = new(int32(forecast.QuantileOf(s.Makes, 0.5)))
	}
	if o.answer.Paced {
		at := func(p float64) *time.Time {
			if w, reached := s.Out.Quantile(p); reached {
				t := w.In(o.in).UTC()
				return &t
			}
			return nil
		}
		v.RunsOut05, v.RunsOut10, v.RunsOut50, v.RunsOut90, v.RunsOut95 = at(.05), at(.1), at(.5), at(.9), at(.95)
		if t := v.RunsOut50; t != nil {
			v.RunsOut = t.In(o.in).Format("Mon 2 Jan 15:04")
		}
	}
	return v
}

// lasts says in words how long a stock does.
func (m MaterialNeed) lasts() string {
	if m.LastsBatches == nil {
		return "does for what is left as likely as not"
	}
	return fmt.Sprintf("lasts %d batches that take it", *m.LastsBatches)
}

// handWords is what is on hand, in bags, too.
func (m MaterialNeed) handWords(sys unit.System, kg float64) string {
	if m.BagKg == nil {
		return sys.Mass(unit.Mass(kg))
	}
	return sys.Mass(unit.Mass(kg)) + ", " + unit.Bags(kg / *m.BagKg)
}

// shortWords is what lacks, in whole bags, too.
func (m MaterialNeed) shortWords(sys unit.System) string {
	if m.ShortBags == nil {
		return sys.Mass(unit.Mass(*m.ShortKg))
	}
	return sys.Mass(unit.Mass(*m.ShortKg)) + ", " + unit.Bags(float64(*m.ShortBags))
}

// OfNeed is the stock as a share of what is needed nine times in ten, by what is left for a day as it begins where that
// is known, else by what is on hand; false where no stock of it was ever written, or nothing is needed.
func (n MaterialNeed) OfNeed() (float64, bool) {
	hand := n.OnHandKg
	if n.Left50Kg != nil {
		hand = n.Left50Kg
	}
	if hand == nil || n.Need90Kg <= 0 {
		return 0, false
	}
	return max(*hand, 0) / n.Need90Kg, true
}

// Short reports whether nine times in ten it lacks something.
func (n MaterialNeed) Short() bool { return n.ShortKg != nil && *n.ShortKg > 0 }

// MostPressing are the materials of which any is needed: what is short, then what was never counted, then the rest,
// each in the order in which they came.
func MostPressing(needs []MaterialNeed) []MaterialNeed {
	weight := func(n MaterialNeed) int {
		_, known := n.OfNeed()
		switch {
		case n.Short():
			return 0
		case !known:
			return 1
		}
		return 2
	}
	all := slices.DeleteFunc(slices.Clone(needs), func(n MaterialNeed) bool { return !(n.Need90Kg > 0) })
	slices.SortStableFunc(all, func(a, b MaterialNeed) int { return cmp.Compare(weight(a), weight(b)) })
	return all
}
