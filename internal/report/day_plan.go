package report

import (
	"fmt"
	"strings"

	"hod/internal/unit"
	"hod/internal/view/advice"
)

// dayDetails of one plan: where to stop, until when each bay may be begun, what is begun already, breaks, covers and
// needs.
func (s *Sheet) dayDetails(p advice.DayPlan) {
	s.Section(fmt.Sprintf("PLAN %d", p.Number), nil)
	for _, b := range p.Bays {
		s.Para(0, 2, Sayf("%s: %s, from %s; begin it only if by %s, or it is not finished.",
			bayNames([]advice.DayBay{b}), Count(int(b.Batches), "batch", "batches"), s.clockOnly(b.Begins),
			s.clockOnly(b.BeginBy)))
	}
	s.dayBegun(p)
	if len(p.Rim) > 0 {
		var where []string
		for _, e := range p.Rim {
			where = append(where, nextEdge(e)+" "+s.Length(e.LengthM))
		}
		end := Sayf("End on purpose, %s: %s. Cut square while it can be cut, rough, clean and damp; "+
			"the detail of the joint is the engineer's.", s.Length(p.OnPurposeM), strings.Join(where, "; "))
		if p.ForbiddenM > 0 {
			end = Join(" ", end,
				Sayf("Of that %s where the plan permits no joint of itself: ask the engineer before the day.",
					s.Length(p.ForbiddenM)))
		}
		s.Para(0, 2, end)
	}
	breaks := make([]string, 0, len(p.Breaks))
	for _, b := range p.Breaks {
		breaks = append(breaks, fmt.Sprintf("%s %s to %s", b.Crew, s.clockOnly(b.From), s.clockOnly(b.To)))
	}
	if len(breaks) > 0 {
		s.Para(0, 2, Sayf("Breaks: %s.", strings.Join(breaks, ", ")))
	}
	s.dayCovers(p)
	s.dayNeeds(p)
}

// dayBegun says what becomes of coats that are begun and not finished.
func (s *Sheet) dayBegun(p advice.DayPlan) {
	var done, left []string
	for _, b := range p.Begun {
		one := fmt.Sprintf("%s, %s", CoatName(b.Zone, b.Face, b.Coat), Count(int(b.Batches), "batch", "batches"))
		if b.Finished {
			done = append(done, one)
		} else {
			left = append(left, one)
		}
	}
	if len(done) > 0 {
		s.Para(0, 2, Sayf("Under way, and finished that day: %s.", strings.Join(done, "; ")))
	}
	if len(left) > 0 {
		s.Para(0, 2, Sayf("Under way, and left as it is by this plan: %s. What is left is placed another day; "+
			"its edges are made ready before, as the engineer wants it.", strings.Join(left, "; ")))
	}
}

// dayCovers are the coats to be covered, by the hour in which the first of their mortar has set.
func (s *Sheet) dayCovers(p advice.DayPlan) {
	if len(p.Covers) == 0 {
		return
	}
	s.Para(0, 2, Say("Cover and wet at the latest when it has set, and keep moist for 7 days (ACI 308R, from memory):"))
	t := Table{Columns: []Column{
		{Name: "in the hour", Right: true},
		{Name: "what", Least: 14},
		{Name: "from", Right: true},
		{Name: "all by", Right: true},
		{Name: "moist until"},
	}}
	last := ""
	for _, c := range p.Covers {
		name := c.By.In(s.Now.Location()).Format("15") + ":00"
		if name == last {
			name = ""
		} else {
			last = name
		}
		t.Row(Figure(name), Say(CoatName(c.Zone, c.Face, c.Coat)), Figure(s.clockOnly(c.By)),
			Figure(s.clockOnly(c.All)),
			Say(c.Until.In(s.Now.Location()).Format("Mon 2 Jan 15:04")))
	}
	s.Table(2, t)
}

// dayNeeds are the materials that a plan takes, and those that do not suffice, each in a line of its own.
func (s *Sheet) dayNeeds(p advice.DayPlan) {
	var needs []string
	designed := false
	for _, n := range p.Needs {
		one := n.Material + " " + s.Mass(n.Kg)
		if n.Bags != nil {
			one += ", " + unit.Bags(*n.Bags)
		}
		designed = designed || n.AsDesigned
		needs = append(needs, one)
	}
	if len(needs) > 0 {
		what := "Needs, nine times in ten no more: %s."
		if designed {
			what = "Needs as designed, for the forecast says nothing of nine in ten yet: %s."
		}
		s.Para(0, 2, Sayf(what, strings.Join(needs, "; ")))
	}
	for _, n := range p.Needs {
		if n.ShortKg != nil {
			s.Para(0, 7, Join(" ", Say("SHORT", strong), Say(s.shortOf(n)+".")))
		}
	}
}

func (s *Sheet) shortOf(n advice.DayNeed) string {
	short := fmt.Sprintf("%s of %s lack: %s needed, nine times in ten no more, %s on hand", s.Mass(*n.ShortKg),
		n.Material,
		s.Mass(n.Kg), s.Mass(*n.OnHandKg))
	if n.AsDesigned {
		short = strings.Replace(short, ", nine times in ten no more", " as designed", 1)
	}
	if n.Bags != nil && n.Kg > 0 {
		short = fmt.Sprintf("%s (%s)", short, unit.Bags(*n.ShortKg**n.Bags/n.Kg))
	}
	return short
}

// ShortOfPlan says of a material of which a plan needs more than is on hand how much lacks.
func ShortOfPlan(n advice.DayNeed, p Page, units string) string {
	return Open(p, units, p.Now).shortOf(n)
}
