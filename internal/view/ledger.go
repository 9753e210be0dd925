package view

import (
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/stock"
)

// LedgerLine is one thing that happened to a material: a delivery, a count, a loss, or what batches drew in one day up
// to the next of these.
type LedgerLine struct {
	At       time.Time `json:"at"`   // of what was drawn: of the last batch
	What     string    `json:"what"` // received, counted, spoiled, drawn
	AmountKg float64   `json:"amount_kg"`
	Entered  string    `json:"entered,omitempty"` // as it was typed
	Lot      string    `json:"lot,omitempty"`
	Why      string    `json:"why,omitempty"`
	Batches  int32     `json:"batches,omitempty"` // that drew it
	// of a count: found less the ledger; nil where it opens the ledger
	DiscrepancyKg *float64 `json:"discrepancy_kg,omitempty"`
	BalanceKg     float64  `json:"balance_kg"` // after it
	Event         string   `json:"event,omitempty"`

	// The kilograms above in bags; nil where these are, or where what a bag weighs is not known.
	AmountBags      *float64 `json:"amount_bags,omitempty"`
	DiscrepancyBags *float64 `json:"discrepancy_bags,omitempty"`
	BalanceBags     *float64 `json:"balance_bags,omitempty"`
}

// StockOfMaterial is what is on hand of one material, with its ledger; false if the site has no such material.
func StockOfMaterial(s *fold.Site, now time.Time, in *time.Location, name event.Material) (Stock, bool) {
	v := StockOf(s, now, in)
	for _, k := range v.Materials {
		if k.Material == string(name) {
			k.Ledger = LedgerLines(s, now, in, name)
			for i := range k.Ledger {
				l := &k.Ledger[i]
				l.AmountBags, l.DiscrepancyBags, l.BalanceBags = InBags(&l.AmountKg, k.BagKg), InBags(l.DiscrepancyKg,
					k.BagKg), InBags(&l.BalanceKg, k.BagKg)
			}
			v.Materials = []MaterialStock{k}
			return v, true
		}
	}
	return v, false
}

// LedgerLines until an instant, oldest first.
func LedgerLines(s *fold.Site, until time.Time, in *time.Location, name event.Material) []LedgerLine {
	l, err := s.Ledger(name)
	if err != nil {
		return nil
	}
	day := func(t time.Time) string { return t.In(in).Format(time.DateOnly) }
	var all []LedgerLine
	for _, k := range l.Lines {
		if k.At.After(until) {
			break
		}
		if k.Kind == stock.Used {
			if n := len(all); n > 0 && all[n-1].What == drawn && day(all[n-1].At) == day(k.At) {
				last := &all[n-1]
				last.At, last.BalanceKg = k.At.UTC(), float64(k.OnHand)
				last.AmountKg += float64(k.Amount)
				last.Batches++
				continue
			}
			all = append(all, LedgerLine{
				At: k.At.UTC(), What: drawn, AmountKg: float64(k.Amount), Batches: 1,
				BalanceKg: float64(k.OnHand),
			})
			continue
		}
		v := LedgerLine{
			At: k.At.UTC(), What: k.Kind.String(), AmountKg: float64(k.Amount), Lot: k.Lot,
			BalanceKg: float64(k.OnHand), Event: k.Tie,
		}
		if k.Kind == stock.Counted && !k.Opens {
			v.DiscrepancyKg = Number(k.Discrepancy)
		}
		v.Entered, v.Why = enteredIn(s, k.Tie)
		all = append(all, v)
	}
	return all
}

const drawn = "drawn"

// enteredIn are the words in which an amount of stock was typed, and why it was spoiled.
func enteredIn(s *fold.Site, name string) (entered, why string) {
	n, err := event.ParseName(name)
	if err != nil {
		return "", ""
	}
	r, ok := s.Record(n)
	if !ok {
		return "", ""
	}
	switch b := r.Now.(type) {
	case event.StockReceived:
		return b.Amount.Entered, ""
	case event.StockCounted:
		return b.Amount.Entered, ""
	case event.StockSpoiled:
		return b.Amount.Entered, b.Why
	default: // of all others nothing is on hand
		return "", ""
	}
}
