package fold

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/mixed"
	"hod/internal/mixplan"
	"hod/internal/trade/mix"
	"hod/internal/trade/stock"
	"hod/internal/unit"
)

// Materials that the site stocks or its mixes take, water left out, by name.
func (s *Site) Materials() []event.Material {
	s.compute()
	all := map[event.Material]bool{}
	for m, list := range s.stock.of {
		if len(*list) > 0 {
			all[m] = true
		}
	}
	for m := range s.Current.Materials {
		all[m] = true
	}
	for _, m := range s.Current.Mixes {
		for _, c := range m.Constituents {
			if c.Kind != event.Water {
				all[c.Name] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(all))
}

// Stocked reports whether anything stands that somebody wrote of a material's stock.
func (s *Site) Stocked(m event.Material) bool {
	s.compute()
	list := s.stock.of[m]
	return list != nil && slices.ContainsFunc(*list, func(r *history.Record) bool {
		return r.State != history.SetAside
	})
}

// StockEvents are the events that what is on hand of a material rests on, beside its batches: from the last count on,
// or from the first delivery where nobody counted.
func (s *Site) StockEvents(m event.Material) []event.Name {
	s.compute()
	list := s.stock.of[m]
	if list == nil {
		return nil
	}
	var stand []*history.Record
	for _, r := range *list {
		if r.State != history.SetAside {
			stand = append(stand, r)
		}
	}
	slices.SortFunc(stand, func(a, b *history.Record) int {
		return cmp.Or(a.When.Compare(b.When), cmp.Compare(a.Name.String(), b.Name.String()))
	})
	from := 0
	for i, r := range stand {
		if kind, _, _ := stocked(r.Now); kind == stock.Counted {
			from = i
		}
	}
	var names []event.Name
	for _, r := range stand[from:] {
		names = append(names, r.Name)
	}
	return names
}

// Ledger of one material: what came, what batches took, what was spoiled and counted. All of it is as it was weighed:
// sand comes damp, is counted damp, and leaves the pile damp.
func (s *Site) Ledger(m event.Material) (stock.Ledger, error) {
	s.compute()
	if l, ok := s.stock.ledgers[m]; ok {
		return l, nil
	}
	l, err := s.keep(m)
	if err == nil {
		s.stock.ledgers[m] = l
	}
	return l, err
}

func (s *Site) keep(m event.Material) (stock.Ledger, error) {
	var entries []stock.Entry
	if list := s.stock.of[m]; list != nil {
		for _, r := range *list {
			if r.State == history.SetAside {
				continue
			}
			e := stock.Entry{At: r.When, Tie: r.Name.String()}
			var amount event.Amount
			e.Kind, amount, e.Lot = stocked(r.Now)
			var err error
			if e.Amount, err = mixplan.Mass(amount, s.material(m, r.When)); err != nil {
				continue
			}
			entries = append(entries, e)
		}
	}
	for _, b := range s.Batches() {
		for _, c := range b.Batch.Charges {
			if event.Material(c.Name) != m {
				continue
			}
			entries = append(entries, stock.Entry{
				At: b.Ready, Tie: b.Mixed.Name.String(), Kind: stock.Used,
				Amount: c.Mass,
			})
		}
	}
	return stock.Keep(string(m), entries)
}

// stocked is what an event says of the stock.
func stocked(b event.Body) (kind stock.Kind, amount event.Amount, lot string) {
	switch b := b.(type) {
	case event.StockReceived:
		return stock.Received, b.Amount, b.Lot
	case event.StockCounted:
		return stock.Counted, b.Amount, ""
	case event.StockSpoiled:
		return stock.Spoiled, b.Amount, b.Lot
	default: // of all others nothing is on hand
		return 0, event.Amount{}, ""
	}
}

// settleStock sets aside what cannot be counted, and forgets the ledgers that rest on what is no longer so.
func (s *Site) settleStock() {
	if s.stock.stale || s.stock.byPlan != s.Current || s.stock.ledgers == nil {
		s.judgeStock()
	} else if s.stock.worked == s.Worked {
		return
	}
	s.stock.stale, s.stock.byPlan, s.stock.worked = false, s.Current, s.Worked
	s.stock.ledgers = map[event.Material]stock.Ledger{}
}

// judgeStock sets aside what was written by volume of a material of which nobody knows what a volume weighs.
func (s *Site) judgeStock() {
	for m, list := range s.stock.of {
		for _, r := range *list {
			_, amount, _ := stocked(r.Now)
			if _, err := mixplan.Mass(amount, s.material(m, r.When)); err != nil {
				r.Lacks(&history.Aside{Code: history.NoBulk, Why: err.Error()})
			} else {
				r.Stands()
			}
		}
	}
}

// material as the first mix by name had it at an instant that takes it, or takes it now; known by name alone where none
// does. What was measured of the material itself goes before what a mix says of it.
func (s *Site) material(m event.Material, at time.Time) event.Constituent {
	of := s.constituent(m, at)
	k := s.Current.Materials[m]
	if k.Bulk != nil {
		of.Bulk = k.Bulk
	}
	if k.Bag != nil {
		of.Bag = k.Bag
	}
	return of
}

// Material is what is known of a material at an instant.
func (s *Site) Material(m event.Material, at time.Time) event.Constituent {
	s.compute()
	return s.material(m, at)
}

func (s *Site) constituent(m event.Material, at time.Time) event.Constituent {
	for _, name := range s.Current.MixNames() {
		if c, ok := s.Current.MixAt(name, at).Constituent(m); ok {
			return c
		}
	}
	for _, name := range s.Current.MixNames() {
		if c, ok := s.Current.Mixes[name].Constituent(m); ok {
			return c
		}
	}
	return event.Constituent{Name: m}
}

// Bag is what one bag of a material weighs.
type Bag struct {
	Mass unit.Mass // 0: it comes in no bags, as far as is known
	Said string    // on what that rests, in words
}

// BagOf a material: as was said of it or of it in a mix, or as it was last written down by the bag (40x94lb). What
// nobody said is not known: a bag of cement is 94 lb in one place and 20, 25, 35 or 50 kg in others.
func (s *Site) BagOf(m event.Material) Bag {
	s.compute()
	if k := s.Current.Materials[m]; k.Bag != nil {
		return Bag{k.Bag.SI, "as planned"}
	}
	for _, name := range s.Current.MixNames() {
		if c, ok := s.Current.Mixes[name].Constituent(m); ok && c.Bag != nil {
			return Bag{c.Bag.SI, "as mix " + string(name) + " has it"}
		}
	}
	if list := s.stock.of[m]; list != nil {
		for _, r := range slices.Backward(sorted(*list)) {
			if _, amount, _ := stocked(r.Now); r.State != history.SetAside {
				if bag, ok := bagIn(amount); ok {
					return Bag{bag, "as written in " + r.Name.String()}
				}
			}
		}
	}
	return Bag{}
}

// bagIn is the bag of an amount that was written as so many bags of so much each.
func bagIn(a event.Amount) (unit.Mass, bool) {
	n, each, ok := strings.Cut(strings.ToLower(a.Entered), "x")
	if !ok || a.ByVolume || strings.TrimSpace(n) == "" {
		return 0, false
	}
	bag, err := unit.ParseMass(strings.TrimSpace(each))
	return bag, err == nil && bag > 0
}

// Damp is what a material weighs as it leaves the pile, over what mixes say of it: sand is designed saturated and
// surface dry, and weighed with the water in it.
type Damp struct {
	Factor   float64     // weighed over designed
	Moisture *unit.Share // total, of its dry mass, as it was last recorded; nil: nobody did, or it is no sand
	Said     string      // on what that rests; empty where it is no sand
}

// DampOf a material by the moisture that the last batch recorded which took it.
func (s *Site) DampOf(m event.Material) Damp {
	isSand := false
	for _, name := range s.Plan().MixNames() {
		c, ok := s.Current.Mixes[name].Constituent(m)
		isSand = isSand || ok && c.Kind == event.Sand
	}
	if !isSand {
		return Damp{Factor: 1}
	}
	var last *mixed.Batch
	factor, moisture := 1.0, unit.Share(0)
	for _, b := range s.Batches() {
		if last != nil && !b.Ready.After(last.Ready) {
			continue
		}
		for _, c := range b.Batch.Charges {
			if event.Material(c.Name) != m || c.Moisture == nil {
				continue
			}
			if sand, err := mix.SandFromWeighed(c.Mass, c.Absorption, *c.Moisture); err == nil && sand.SSD > 0 {
				last, factor, moisture = b, float64(sand.Weighed/sand.SSD), *c.Moisture
			}
		}
	}
	if last == nil {
		return Damp{Factor: 1, Said: "taken as saturated and surface dry: no batch recorded its moisture"}
	}
	return Damp{factor, &moisture, fmt.Sprintf("damp, at the moisture of %s recorded with batch %s",
		s.Current.System.Share(moisture), last.ID)}
}
