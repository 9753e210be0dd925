package report

import (
	"math"

	"hod/internal/unit"
	"hod/internal/view"
)

// Stock is what is on hand, and what came and went.
func Stock(v view.Stock, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "stock")
	s.blank()
	s.stock(v)
	for _, m := range v.Materials {
		s.ledger(m)
	}
	return s.String()
}

// ledger is what came and went of one material, line by line, with the balance.
func (s *sheet) ledger(m view.MaterialStock) {
	if len(m.Ledger) == 0 {
		return
	}
	s.section("LEDGER", say(m.Material))
	t := table{columns: []column{
		{name: "at", right: true},
		{name: "what", least: 8},
		{name: "amount", right: true},
		{name: "balance", right: true},
		{name: "", least: 15},
		{name: "event", least: 6, drop: 1},
	}}
	for _, l := range m.Ledger {
		amount := s.massAndBags(l.AmountKg, l.AmountBags)
		var more []text
		switch l.What {
		case "drawn":
			more = append(more, say(count(l.Batches, "batch", "batches")))
			amount = "-" + amount
		case "spoiled":
			amount = "-" + amount
		}
		if l.Lot != "" {
			more = append(more, sayf("lot %s", l.Lot))
		}
		if d := l.DiscrepancyKg; d != nil && math.Abs(*d) > 1e-6 {
			words := "over"
			if *d < 0 {
				words = "missing"
			}
			more = append(more, sayf("%s %s", s.massAndBags(math.Abs(*d), size(l.DiscrepancyBags)), words))
		}
		more = append(more, say(l.Why))
		t.row(figure(l.At.In(s.in).Format("2 Jan 15:04")), say(l.What), figure(amount),
			figure(s.massAndBags(l.BalanceKg, l.BalanceBags)), join(", ", more...), say(l.Event).to("event", l.Event))
	}
	s.table(0, t)
}

// massAndBags is a mass, and how many bags that is where that is known.
func (s *sheet) massAndBags(kg float64, bags *float64) string {
	if bags == nil {
		return s.mass(kg)
	}
	return s.mass(kg) + ", " + bagsOf(*bags)
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
		return decimal(n, 0)
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
var inBags = say("in bags")

// someBags is a count of bags in such a row; none, as no mass, is left out.
func someBags(n *float64) text {
	if n == nil || bagCount(*n) == "0" {
		return nil
	}
	return figure(bagCount(*n))
}

func (s *sheet) stock(v view.Stock) {
	if len(v.Materials) == 0 {
		s.para(0, 2, say("No stock is written."))
		return
	}
	t := table{columns: []column{
		{name: "material", least: 10},
		{name: "on hand", right: true},
		{name: "received", right: true, drop: 3},
		{name: "used", right: true, drop: 2},
		{name: "used today", right: true, drop: 1},
		{name: "spoiled", right: true, drop: 4},
		{name: "last count", right: true, drop: 5},
	}}
	for _, m := range v.Materials {
		hand := figure(notKnown)
		if m.OnHandKg != nil {
			if hand = figure(s.mass(*m.OnHandKg)); *m.OnHandKg < 0 {
				hand[0].as = urgent
			}
		}
		t.row(say(m.Material), hand, figure(s.maybeMass(m.ReceivedKg)), figure(s.maybeMass(m.UsedKg)),
			figure(s.maybeMass(m.UsedTodayKg)),
			figure(s.maybeMass(m.SpoiledKg)), figure(s.maybeClock(m.CountedAt)))
		if m.OnHandBags != nil || someBags(m.ReceivedBags) != nil || someBags(m.UsedBags) != nil ||
			someBags(m.SpoiledBags) != nil {
			t.row(inBags, figure(maybe(m.OnHandBags, bagCount)), someBags(m.ReceivedBags), someBags(m.UsedBags),
				someBags(m.UsedTodayBags), someBags(m.SpoiledBags), nil)
		}
	}
	s.table(0, t)
	for _, m := range v.Materials {
		var said text
		off := 0.0
		if m.DiscrepancyKg != nil {
			off = *m.DiscrepancyKg
		}
		switch {
		case m.OnHandKg != nil && *m.OnHandKg < 0:
			said = say("more was used than the ledger had; count it.")
		case m.CountedAt != nil && off < -1e-6:
			said = sayf("the count at %s found %s less than the ledger.", s.clock(*m.CountedAt),
				s.massAndBags(math.Abs(off), size(m.DiscrepancyBags)))
		case m.CountedAt != nil && off > 1e-6:
			said = sayf("the count at %s found %s more than the ledger.", s.clock(*m.CountedAt),
				s.massAndBags(off, m.DiscrepancyBags))
		}
		if m.BagKg != nil && m.BagSaid != "" {
			said = join(" ", said, sayf("A bag is %s, %s.", s.mass(*m.BagKg), m.BagSaid))
		}
		if all := join(" ", said, say(sentence(m.Note))); !all.empty() {
			s.para(0, 2, join(": ", say(m.Material), all))
		}
	}
}
