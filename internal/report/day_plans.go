package report

import (
	"fmt"
	"strings"
	"time"

	"hod/internal/view/advice"
)

// DayPlans are plans of a day as a table to choose from, with one of them in full, the first where none is said; with
// who places what when by it, where that is asked for.
func DayPlans(v advice.DayPlans, number int, plan bool, p Page) string {
	shown := max(0, min(number, len(v.Plans))-1)
	s := Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "plans of "+v.Date)
	if v.Ordered != nil {
		s.DayOrder(*v.Ordered)
	}
	for _, why := range v.Missing {
		s.Para(0, 2, Say("- "+why))
	}
	if len(v.Missing) > 0 {
		return s.String()
	}
	if len(v.Closed) > 0 {
		s.Section("NOT TO BE PLACED IN", nil)
		for _, c := range v.Closed {
			s.Para(0, 13, Join(" ", Figure(s.clockOnly(c.From)+" to "+s.clockOnly(c.To)),
				Say(c.Why+" ("+c.Source+").")))
		}
	}
	if len(v.Plans) > 0 {
		s.dayTable(v)
		s.dayDetails(v.Plans[shown])
		s.dayIfs(v)
	}
	if plan && len(v.Plans) > 0 {
		s.Section("AS EXPECTED", Sayf("by plan %d", v.Plans[shown].Number))
		t := Table{Columns: []Column{
			{Name: "from", Right: true},
			{Name: "to", Right: true},
			{Name: "crew"},
			{Name: "where", Least: 14},
		}}
		for _, k := range v.Plans[shown].Takes {
			t.Row(Figure(s.clockOnly(k.From)), Figure(s.clockOnly(k.To)), Say(k.Crew),
				Say(CoatName(k.Zone, k.Face, k.Coat)))
		}
		s.Table(0, t)
	}
	for _, n := range v.Notes {
		s.Para(0, 2, Say(n))
	}
	s.Named(0, nextColumn, "rests", s.nextBasis(v.Basis, ""))
	s.nextLimits()
	return s.String()
}

func (s *Sheet) clockOnly(t time.Time) string { return t.In(s.Now.Location()).Format("15:04") }

// inHundred is a chance that something does not come about, or does, as the trials carry it: never 0 and never 100 of a
// hundred.
func inHundred(n, of int32) string {
	switch {
	case of == 0:
		return "?"
	case n == of:
		return fmt.Sprintf(">%.0f %%", 100*(1-3/float64(of)))
	case n == 0:
		return fmt.Sprintf("<%.0f %%", 100*3/float64(of))
	}
	return fmt.Sprintf("%.0f %%", 100*float64(n)/float64(of))
}

func (s *Sheet) dayTable(v advice.DayPlans) {
	s.Section("PLANS", Say("what is begun is finished; `hod tomorrow --choose N` makes one the day's order"))
	t := Table{Columns: []Column{
		{Name: "", Right: true},
		{Name: "key"},
		{Name: "start", Right: true},
		{Name: "crews"},
		{Name: "mix"},
		{Name: "bays", Least: 12},
		{Name: "batches", Right: true},
		{Name: "no edge cold", Right: true},
		{Name: "done in time", Right: true},
		{Name: "on purpose", Right: true},
		{Name: "last", Right: true},
	}}
	for _, p := range v.Plans {
		mix := "as it is"
		if len(p.Mixes) > 0 {
			mix = strings.Join(p.Mixes, " ")
		}
		t.Row(Figure(fmt.Sprint(p.Number)), Figure(p.Key), Figure(s.clockOnly(p.Start)),
			Say(strings.Join(p.Crews, " ")), Say(mix),
			Say(bayNames(p.Bays)), Figure(fmt.Sprint(p.Batches)),
			Figure(inHundred(p.Trials-p.Cold, p.Trials)), Figure(inHundred(p.Done, p.Trials)),
			Figure(s.metresOrNone(p.OnPurposeM)), Figure(s.clockOnly(p.LastTo)))
	}
	s.Table(0, t)
}

func (s *Sheet) metresOrNone(m float64) string {
	if m < 0.005 {
		return "none"
	}
	return s.Length(m)
}

// bayNames are the zones of each bay, in brief where there are many.
func bayNames(bays []advice.DayBay) string {
	var all []string
	for _, b := range bays {
		name := strings.Join(b.Zones, " ")
		if n := len(b.Zones); n > 3 {
			name = b.Zones[0] + "…" + b.Zones[n-1]
		}
		all = append(all, name)
	}
	return strings.Join(all, "; ")
}

func (s *Sheet) dayIfs(v advice.DayPlans) {
	var all []string
	for _, k := range v.Ifs {
		one := fmt.Sprintf("%s: no edge cold %s, done in time %s", k.What,
			inHundred(k.Trials-k.Cold, k.Trials), inHundred(k.Done, k.Trials))
		switch {
		case k.Best == 0:
			one += ", and none of these plans is done in nine of ten trials"
		case k.Best > 1:
			one += fmt.Sprintf(", and plan %d is then the best of these", k.Best)
		}
		all = append(all, one)
	}
	if len(all) > 0 {
		s.Para(0, 2, Sayf("What would change plan 1: %s.", strings.Join(all, "; ")))
	}
}

// DayOrder is the plan that is a day's order, and what came of it.
func (s *Sheet) DayOrder(o advice.DayOrder) {
	s.Para(0, 7, Join(" ", Say("ORDER", strong), Sayf("of %s (%s): from %s, %s, %s: %s; %s to be ended on purpose.",
		o.Date, o.Event, s.clockOnly(o.Start),
		strings.Join(o.Crews, ", "), Count(int(o.Batches), "batch", "batches"), bayNames(o.Bays),
		s.metresOrNone(o.OnPurposeM))))
	if c := o.Came; c != nil {
		came := fmt.Sprintf("Of it came: %s in its zones", Count(int(c.Batches), "batch", "batches"))
		if c.Elsewhere > 0 {
			came += fmt.Sprintf(", %d elsewhere", c.Elsewhere)
		}
		came += fmt.Sprintf("; %s made, %s ended on purpose", Count(int(c.Cold), "cold joint", "cold joints"),
			Count(int(c.Ended), "front", "fronts"))
		if len(c.Untouched) > 0 {
			came += "; nothing placed in " + AndList(c.Untouched)
		}
		if o.Trials > 0 {
			came += fmt.Sprintf(". Stated: no edge cold %s, done in time %s", inHundred(o.Trials-o.Cold, o.Trials),
				inHundred(o.Done, o.Trials))
		}
		s.Para(7, 2, Say(came+"."))
	}
}
