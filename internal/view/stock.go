package view

import (
	"time"

	"hod/internal/fold"
	"hod/internal/trade/stock"
)

// Stock is what is on hand.
type Stock struct {
	Site      string          `json:"site"`
	AsOf      time.Time       `json:"as_of"`
	Units     string          `json:"units"`
	Materials []MaterialStock `json:"materials"`
}

// MaterialStock is one material's ledger.
type MaterialStock struct {
	Material    string     `json:"material"`
	OnHandKg    *float64   `json:"on_hand_kg,omitempty"` // nil: nobody has written what there is of it
	ReceivedKg  float64    `json:"received_kg"`
	UsedKg      float64    `json:"used_kg"`
	UsedTodayKg float64    `json:"used_today_kg"`
	SpoiledKg   float64    `json:"spoiled_kg"`
	CountedAt   *time.Time `json:"counted_at,omitempty"`
	// last count less the ledger; nil: nothing was counted against it
	DiscrepancyKg *float64 `json:"discrepancy_kg,omitempty"`
	Note          string   `json:"note,omitempty"`

	BagKg      *float64     `json:"bag_kg,omitempty"`   // of one bag; nil: it comes in no bags, as far as is known
	BagSaid    string       `json:"bag_said,omitempty"` // on what that rests
	OnHandBags *float64     `json:"on_hand_bags,omitempty"`
	Ledger     []LedgerLine `json:"ledger,omitempty"` // where one material is asked for

	// The kilograms above in bags; nil where these are, or where what a bag weighs is not known.
	ReceivedBags    *float64 `json:"received_bags,omitempty"`
	UsedBags        *float64 `json:"used_bags,omitempty"`
	UsedTodayBags   *float64 `json:"used_today_bags,omitempty"`
	SpoiledBags     *float64 `json:"spoiled_bags,omitempty"`
	DiscrepancyBags *float64 `json:"discrepancy_bags,omitempty"`
}

// InBags is a mass in bags; nil where it is not known, or what a bag weighs.
func InBags(kg, bag *float64) *float64 {
	if kg == nil || bag == nil || *bag <= 0 {
		return nil
	}
	return new(*kg / *bag)
}

// StockOf the site at an instant.
func StockOf(s *fold.Site, now time.Time, in *time.Location) Stock {
	return StockUntil(s, now, StartOfDay(now.In(in)), now)
}

// StockUntil an instant, with what was used since the start of a day.
func StockUntil(s *fold.Site, now, dayFrom, until time.Time) Stock {
	v := Stock{Site: SiteName(s), AsOf: now, Units: s.Plan().System.String()}
	for _, m := range s.Materials() {
		l, err := s.Ledger(m)
		if err != nil {
			v.Materials = append(v.Materials, MaterialStock{Material: string(m), Note: err.Error()})
			continue
		}
		b := l.At(until)
		through := until.Add(time.Nanosecond) // with what was written at that very instant, as the balance has it
		all := l.Between(time.Time{}, through)
		k := MaterialStock{
			Material: string(m), ReceivedKg: float64(all.Received), UsedKg: float64(all.Used),
			SpoiledKg:   float64(all.Spoiled),
			UsedTodayKg: float64(l.Between(dayFrom, through).Used), Note: l.Warning(until),
		}
		if b.Counted {
			k.CountedAt = Instant(b.CountedAt)
			for _, line := range l.Lines {
				if line.At.Equal(b.CountedAt) && line.Kind == stock.Counted && !line.Opens {
					k.DiscrepancyKg = Number(line.Discrepancy)
				}
			}
		}
		switch {
		case s.Stocked(m) && Begun(l, until):
			k.OnHandKg = Number(b.OnHand)
		case s.Stocked(m):
			k.Note = "nobody had written what there is of it by then; the first that was written is of " +
				l.Lines[0].At.In(dayFrom.Location()).Format("2 Jan 2006 15:04")
		default:
			k.Note = "nobody has written what there is of it"
		}
		if bag := s.BagOf(m); bag.Mass > 0 {
			k.BagKg, k.BagSaid = Number(bag.Mass), bag.Said
			k.OnHandBags, k.DiscrepancyBags = InBags(k.OnHandKg, k.BagKg), InBags(k.DiscrepancyKg, k.BagKg)
			k.ReceivedBags, k.UsedBags = InBags(&k.ReceivedKg, k.BagKg), InBags(&k.UsedKg, k.BagKg)
			k.UsedTodayBags, k.SpoiledBags = InBags(&k.UsedTodayKg, k.BagKg), InBags(&k.SpoiledKg, k.BagKg)
		}
		v.Materials = append(v.Materials, k)
	}
	return v
}

// Begun says whether anything of a ledger was written of by an instant: before that a balance of nought would be one
// that nobody read. A clock that was set back stands there, too.
func Begun(l stock.Ledger, at time.Time) bool { return len(l.Lines) > 0 && !l.Lines[0].At.After(at) }
