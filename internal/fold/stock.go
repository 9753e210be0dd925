package fold

import (
	"maps"
	"slices"

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

// Ledger of one material: what came, what batches took, what was spoiled and counted. Sand is kept at saturated and
// surface dry, so that its water is not counted as sand.
func (s *Site) Ledger(m event.Material) (stock.Ledger, error) {
	s.compute()
	if l, ok := s.known.ledgers[m]; ok {
		return l, nil
	}
	l, err := s.keep(m)
	if err == nil {
		if s.known.ledgers == nil {
			s.known.ledgers = map[event.Material]stock.Ledger{}
		}
		s.known.ledgers[m] = l
	}
	return l, err
}

func (s *Site) keep(m event.Material) (stock.Ledger, error) {
	gravity := s.gravity(m)
	var entries []stock.Entry
	if list := s.stock[m]; list != nil {
		for _, r := range *list {
			e := stock.Entry{At: r.When, Tie: r.Name.String()}
			switch b := r.Now.(type) {
			case event.StockReceived:
				e.Kind, e.Amount, e.Lot = stock.Received, MassOf(b.Amount, gravity), b.Lot
			case event.StockCounted:
				e.Kind, e.Amount = stock.Counted, MassOf(b.Amount, gravity)
			case event.StockSpoiled:
				e.Kind, e.Amount, e.Lot = stock.Spoiled, MassOf(b.Amount, gravity), b.Lot
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

// gravity of a material, as the first mix by name has it; 1 where none does.
func (s *Site) gravity(m event.Material) float64 {
	for _, name := range s.plan.MixNames() {
		if c, ok := s.plan.Mixes[name].Mix.Constituent(string(m)); ok && c.Gravity > 0 {
			return c.Gravity
		}
	}
	return 1
}
