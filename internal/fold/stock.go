package fold

import (
	"cmp"
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/mix"
	"hod/internal/stock"
)

// Materials that the site stocks or its mixes take, water left out, by name.
func (s *Site) Materials() []event.Material {
	s.compute()
	all := map[event.Material]bool{}
	for m, list := range s.stock {
		if len(*list) > 0 {
			all[m] = true
		}
	}
	for _, m := range s.plan.Mixes {
		for _, c := range m.Constituents {
			if c.Kind != event.Water {
				all[c.Name] = true
			}
		}
	}
	return slices.Sorted(maps.Keys(all))
}

// Stocked says whether anybody ever wrote of a material's stock.
func (s *Site) Stocked(m event.Material) bool { return s.stock[m] != nil && len(*s.stock[m]) > 0 }

// StockEvents are the events that what is on hand of a material rests on, beside its batches: from the last count on, or
// from the first delivery where nobody counted.
func (s *Site) StockEvents(m event.Material) []event.Name {
	s.compute()
	list := s.stock[m]
	if list == nil {
		return nil
	}
	var stand []*Record
	for _, r := range *list {
		if r.State != SetAside {
			stand = append(stand, r)
		}
	}
	slices.SortFunc(stand, func(a, b *Record) int {
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

// Ledger of one material: what came, what batches took, what was spoiled and counted. Sand is kept at saturated and
// surface dry, so that its water is not counted as sand.
func (s *Site) Ledger(m event.Material) (stock.Ledger, error) {
	s.compute()
	if l, ok := s.known.ledgers[m]; ok {
		return l, nil
	}
	l, err := s.keep(m)
	if err == nil {
		s.known.ledgers[m] = l
	}
	return l, err
}

func (s *Site) keep(m event.Material) (stock.Ledger, error) {
	var entries []stock.Entry
	if list := s.stock[m]; list != nil {
		for _, r := range *list {
			if r.State == SetAside {
				continue
			}
			e := stock.Entry{At: r.When, Tie: r.Name.String()}
			var amount event.Amount
			e.Kind, amount, e.Lot = stocked(r.Now)
			var err error
			if e.Amount, err = MassOf(amount, s.material(m, r.When)); err != nil {
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
			used := c.Mass
			if c.Kind == mix.Sand && c.Moisture != nil {
				if sand, err := mix.SandFromWeighed(c.Mass, c.Absorption, *c.Moisture); err == nil {
					used = sand.SSD
				}
			}
			entries = append(entries, stock.Entry{At: b.Ready, Tie: b.Mixed.Name.String(), Kind: stock.Used, Amount: used})
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
	}
	return 0, event.Amount{}, ""
}

// judgeStock sets aside what was written by volume of a material of which nobody knows what a volume weighs.
func (s *Site) judgeStock() {
	for m, list := range s.stock {
		for _, r := range *list {
			_, amount, _ := stocked(r.Now)
			if _, err := MassOf(amount, s.material(m, r.When)); err != nil {
				r.lacks(&Aside{NoBulk, err.Error()})
			} else {
				r.stands()
			}
		}
	}
}

// material as the first mix by name had it at an instant that takes it, or takes it now; known by name alone where none does.
func (s *Site) material(m event.Material, at time.Time) event.Constituent {
	for _, name := range s.plan.MixNames() {
		if c, ok := s.plan.MixAt(name, at).Constituent(m); ok {
			return c
		}
	}
	for _, name := range s.plan.MixNames() {
		if c, ok := s.plan.Mixes[name].Constituent(m); ok {
			return c
		}
	}
	return event.Constituent{Name: m}
}
