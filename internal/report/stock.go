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
	return s.String()
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
		if all := join(" ", said, say(m.Note)); !all.empty() {
			s.para(0, 2, join(": ", say(m.Material), all))
		}
	}
}
