package report

import (
	"math"

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
		amount := s.massAndBags(l.AmountKg, m.BagKg)
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
			more = append(more, sayf("%s %s", s.mass(math.Abs(*d)), words))
		}
		more = append(more, say(l.Why))
		t.row(figure(l.At.In(s.in).Format("2 Jan 15:04")), say(l.What), figure(amount), figure(s.massAndBags(l.BalanceKg, m.BagKg)), join(", ", more...), say(l.Event))
	}
	s.table(0, t)
}

// massAndBags is a mass, and how many bags that is where it comes in bags.
func (s *sheet) massAndBags(kg float64, bag *float64) string {
	if bag == nil || *bag <= 0 {
		return s.mass(kg)
	}
	return s.mass(kg) + ", " + bags(kg / *bag)
}

func bags(n float64) string {
	digits := 1
	if math.Abs(n) >= 99.95 || math.Abs(n-math.Round(n)) < 0.05 {
		digits = 0
	}
	if number := decimal(n, digits); number != "1" {
		return number + " bags"
	}
	return "1 bag"
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
			if hand = figure(s.massAndBags(*m.OnHandKg, m.BagKg)); *m.OnHandKg < 0 {
				hand[0].as = urgent
			}
		}
		t.row(say(m.Material), hand, figure(s.maybeMass(m.ReceivedKg)), figure(s.maybeMass(m.UsedKg)), figure(s.maybeMass(m.UsedTodayKg)),
			figure(s.maybeMass(m.SpoiledKg)), figure(s.maybeClock(m.CountedAt)))
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
			said = sayf("the count at %s found %s less than the ledger.", s.clock(*m.CountedAt), s.mass(math.Abs(off)))
		case m.CountedAt != nil && off > 1e-6:
			said = sayf("the count at %s found %s more than the ledger.", s.clock(*m.CountedAt), s.mass(off))
		}
		if m.BagKg != nil && m.OnHandKg != nil {
			said = join(" ", said, sayf("A bag is %s, %s.", s.mass(*m.BagKg), m.BagSaid))
		}
		if all := join(" ", said, say(m.Note)); !all.empty() {
			s.para(0, 2, join(": ", say(m.Material), all))
		}
	}
}
