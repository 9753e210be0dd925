package report

import (
	"math"

	"hod/internal/unit"
	"hod/internal/view"
)

// Stock is what is on hand, and what came and went.
func Stock(v view.Stock, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "stock")
	s.Blank()
	s.Stock(v)
	for _, m := range v.Materials {
		s.ledger(m)
	}
	return s.String()
}

// ledger is what came and went of one material, line by line, with the balance.
func (s *Sheet) ledger(m view.MaterialStock) {
	if len(m.Ledger) == 0 {
		return
	}
	s.Section("LEDGER", Say(m.Material))
	t := Table{Columns: []Column{
		{Name: "at", Right: true},
		{Name: "what", Least: 8},
		{Name: "amount", Right: true},
		{Name: "balance", Right: true},
		{Name: "", Least: 15},
		{Name: "event", Least: 6, Drop: 1},
	}}
	for _, l := range m.Ledger {
		amount := s.MassAndBags(l.AmountKg, l.AmountBags)
		var more []Text
		switch l.What {
		case "drawn":
			more = append(more, Say(Count(l.Batches, "batch", "batches")))
			amount = "-" + amount
		case "spoiled":
			amount = "-" + amount
		}
		if l.Lot != "" {
			more = append(more, Sayf("lot %s", l.Lot))
		}
		if d := l.DiscrepancyKg; d != nil && math.Abs(*d) > 1e-6 {
			words := "over"
			if *d < 0 {
				words = "missing"
			}
			more = append(more, Sayf("%s %s", s.MassAndBags(math.Abs(*d), size(l.DiscrepancyBags)), words))
		}
		more = append(more, Say(l.Why))
		t.Row(Figure(l.At.In(s.In).Format("2 Jan 15:04")), Say(l.What), Figure(amount),
			Figure(s.MassAndBags(l.BalanceKg, l.BalanceBags)), Join(", ", more...), Say(l.Event).To("event", l.Event))
	}
	s.Table(0, t)
}

// MassAndBags is a mass, and how many bags that is where that is known.
func (s *Sheet) MassAndBags(kg float64, bags *float64) string {
	if bags == nil {
		return s.Mass(kg)
	}
	return s.Mass(kg) + ", " + bagsOf(*bags)
}

// bagsOf is how many bags, with the word.
func bagsOf(n float64) string {
	if math.IsNaN(n) || math.IsInf(n, 0) || math.Abs(n) >= 1e15 {
		return bagCount(n) + " bags"
	}
	return unit.Bags(n)
}

// bagCount is how many bags, as a number alone.
func bagCount(n float64) string {
	if math.IsNaN(n) || math.IsInf(n, 0) || math.Abs(n) >= 1e15 {
		return Decimal(n, 0)
	}
	return unit.BagCount(n)
}

// size is a number without its sign.
func size(x *float64) *float64 {
	if x == nil {
		return nil
	}
	return new(math.Abs(*x))
}

// inBags names the row of a table that has in bags what the one above has as masses.
var inBags = Say("in bags")

// someBags is a count of bags in such a row; none, as no mass, is left out.
func someBags(n *float64) Text {
	if n == nil || bagCount(*n) == "0" {
		return nil
	}
	return Figure(bagCount(*n))
}

// Stock writes the balances, one line a material.
func (s *Sheet) Stock(v view.Stock) {
	if len(v.Materials) == 0 {
		s.Para(0, 2, Say("No stock is written."))
		return
	}
	t := Table{Columns: []Column{
		{Name: "material", Least: 10},
		{Name: "on hand", Right: true},
		{Name: "received", Right: true, Drop: 3},
		{Name: "used", Right: true, Drop: 2},
		{Name: "used today", Right: true, Drop: 1},
		{Name: "spoiled", Right: true, Drop: 4},
		{Name: "last count", Right: true, Drop: 5},
	}}
	for _, m := range v.Materials {
		hand := Figure(NotKnown)
		if m.OnHandKg != nil {
			if hand = Figure(s.Mass(*m.OnHandKg)); *m.OnHandKg < 0 {
				hand[0].as = Urgent
			}
		}
		t.Row(Say(m.Material), hand, Figure(s.maybeMass(m.ReceivedKg)), Figure(s.maybeMass(m.UsedKg)),
			Figure(s.maybeMass(m.UsedTodayKg)),
			Figure(s.maybeMass(m.SpoiledKg)), Figure(s.MaybeClock(m.CountedAt)))
		if m.OnHandBags != nil || someBags(m.ReceivedBags) != nil || someBags(m.UsedBags) != nil ||
			someBags(m.SpoiledBags) != nil {
			t.Row(inBags, Figure(Maybe(m.OnHandBags, bagCount)), someBags(m.ReceivedBags), someBags(m.UsedBags),
				someBags(m.UsedTodayBags), someBags(m.SpoiledBags), nil)
		}
	}
	s.Table(0, t)
	for _, m := range v.Materials {
		var said Text
		off := 0.0
		if m.DiscrepancyKg != nil {
			off = *m.DiscrepancyKg
		}
		switch {
		case m.OnHandKg != nil && *m.OnHandKg < 0:
			said = Say("more was used than the ledger had; count it.")
		case m.CountedAt != nil && off < -1e-6:
			said = Sayf("the count at %s found %s less than the ledger.", s.Clock(*m.CountedAt),
				s.MassAndBags(math.Abs(off), size(m.DiscrepancyBags)))
		case m.CountedAt != nil && off > 1e-6:
			said = Sayf("the count at %s found %s more than the ledger.", s.Clock(*m.CountedAt),
				s.MassAndBags(off, m.DiscrepancyBags))
		}
		if m.BagKg != nil && m.BagSaid != "" {
			said = Join(" ", said, Sayf("A bag is %s, %s.", s.Mass(*m.BagKg), m.BagSaid))
		}
		if all := Join(" ", said, Say(Sentence(m.Note))); !all.Empty() {
			s.Para(0, 2, Join(": ", Say(m.Material), all))
		}
	}
}
