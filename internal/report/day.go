package report

import (
	"fmt"
	"strings"
	"time"

	"hod/internal/view"
	"hod/internal/view/daily"
)

// dayWidth is that of a letter: it is mailed, printed and read aloud.
const dayWidth = 72

// DayAll is the end-of-day summary as plain text, at most 72 columns, without colour, with all of each list: what went
// wrong and what was done about it, then what was done, what is left, what tomorrow takes, and how far the record
// reached.
func DayAll(v daily.Day, p Page) string {
	s := openDay(v, p)
	s.dayHead(v)
	if v.Order != nil {
		s.dayOrder(*v.Order)
	}
	s.dayFlags(v)
	s.dayCrews(v.Crews)
	s.dayZones(v.Zones)
	s.dayTests(v.Date, v.Tests)
	if len(v.Breaks) > 0 {
		s.section("BREAKS", nil)
		s.breaks(v.Breaks)
	}
	if len(v.Strength) > 0 {
		s.section("AGE OF THE COATS", nil)
		s.strengths(v.Strength)
	}
	s.daySky(v.Weather)
	if v.Crew == "" { // these are the whole site's
		s.section("STOCK", nil)
		s.stock(v.Stock)
		s.dayLeft(v)
		s.tomorrow(v.Tomorrow)
	}
	s.dayEntries("CORRECTIONS", v.Changes, "Nothing was corrected.")
	s.dayEntries("SET ASIDE", v.SetAside, "Nothing is set aside.")
	if len(v.Notes) > 0 {
		s.dayEntries("NOTES", v.Notes, "")
	}
	if len(v.Late) > 0 {
		s.dayEntries("CAME LATE", v.Late, "")
	}
	s.dayRecord(v.Record)
	if len(v.Cautions) > 0 {
		s.section("CAUTIONS", nil)
		for _, c := range v.Cautions {
			s.para(0, 2, say(c))
		}
	}
	return s.String()
}

// openDay is the sheet of a day. Of a day that is over, times are told from its end.
func openDay(v daily.Day, p Page) *sheet {
	if p.Width == 0 || p.Width > dayWidth {
		p.Width = dayWidth
	}
	p.Colour = false
	s := open(p, v.Units, v.AsOf)
	if v.EndedAt != nil {
		s.now = v.EndedAt.Add(-time.Millisecond)
	}
	return s
}

func (s *sheet) dayHead(v daily.Day) {
	if s.html {
		s.element("h1", 0, join(" ", say(v.Site), say(date(v.Date))))
		s.element("p", 0, say(v.Place))
	} else {
		s.paraMost(0, 2, 2, join(", ", say(v.Site), say(v.Place)))
		s.para(0, 2, join(": ", say("The day"), say(date(v.Date))))
	}
	if v.Crew != "" {
		s.para(0, 2,
			sayf(
				"Crew %s alone: what it mixed, placed, tested and wrote, and what rests on that. Stock, what is left and the next day are in the whole site's.", v.Crew))
	}
	local := s.asOf.In(s.in)
	if v.EndedAt != nil {
		s.para(0, 2, sayf("As the day ended, by what was written until %s. Times are UTC%s.",
			local.Format("2 Jan 2006 15:04"), local.Format("-07:00")))
	} else {
		s.para(0, 2, sayf("As the record stood %s. Times are UTC%s.", local.Format("2 Jan 2006 15:04"),
			local.Format("-07:00")))
	}
	s.dayLateness(v)
	if v.Provisional != "" {
		s.para(0, 2, join(": ", say("PROVISIONAL"), say(v.Provisional)))
	}
	s.ownCopy()
}

// dayLateness says how much of what the figures rest on was written after the day.
func (s *sheet) dayLateness(v daily.Day) {
	n := 0
	for _, list := range [][]view.Entry{v.Changes, v.SetAside, v.Notes, v.Late} {
		for _, e := range list {
			if e.Late {
				n++
			}
		}
	}
	var before text
	if v.LateBefore > 0 {
		before = sayf("%s of earlier days was", count(v.LateBefore, "entry", "entries"))
		if v.LateBefore > 1 {
			before = sayf("%s of earlier days were", count(v.LateBefore, "entry", "entries"))
		}
	}
	switch {
	case n > 0 && v.LateBefore > 0:
		s.para(0, 2, append(sayf("%s written after it had ended and marked LATE below; ", was(n)),
			append(before, say(" written after it, too.")...)...))
	case n > 0:
		s.para(0, 2, sayf("%s written after it had ended and marked LATE below.", was(n)))
	case v.LateBefore > 0:
		s.para(0, 2, append(before, say(" written after it had ended.")...))
	}
}

func was(n int) string {
	if n == 1 {
		return "1 entry of it was"
	}
	return fmt.Sprintf("%d entries of it were", n)
}

func (s *sheet) dayFlags(v daily.Day) {
	s.section("WHAT WENT WRONG", nil)
	if len(v.Flags) == 0 {
		s.para(0, 2, say("No flags."))
	}
	for _, f := range v.Flags {
		s.flag(f)
	}
	var bad, waiting []view.Joint
	for _, j := range v.Joints {
		switch {
		case !j.Made:
			waiting = append(waiting, j)
		case j.State != "live":
			bad = append(bad, j)
		}
	}
	if v.JointsMade > 0 {
		s.section("JOINTS", sayf("%d made, %d of them surely live, %d not", v.JointsMade, v.JointsLive,
			v.JointsMade-v.JointsLive))
	} else if len(waiting) > 0 {
		s.section("JOINTS", nil)
	}
	if len(waiting) > 0 {
		s.setTests(v.SetTests, "that day")
	}
	for _, j := range bad {
		done := list(j.Treated)
		if len(j.Treated) == 0 {
			done = say("no treatment written")
		}
		s.para(0, 2, join("; ", lead(s.jointState(j), stateColumn, say(where(j))),
			sayf("met %s with %s of initial set used", s.maybeClock(j.MadeAt), s.used(j)), done))
	}
	for _, j := range waiting {
		if j.Ended {
			s.para(0, 2, join(": ", lead(s.jointState(j), stateColumn, say(where(j))), s.endedFront(j)))
			continue
		}
		wait := say("when it turns cold is not known")
		if j.TurnsAt != nil {
			wait = sayf("turns cold at %s", s.clocks(j.TurnsAt, j.TurnsLatest))
			if _, isRange := s.turns(j); isRange {
				wait = append(wait, say(", "+rangeOf(j))...)
			}
		}
		s.para(0, 2, join("; ", lead(s.jointState(j), stateColumn, say(where(j))), say("open"), wait))
	}
}

func (s *sheet) dayCrews(crews []daily.CrewDay) {
	s.section("CREWS", nil)
	if len(crews) == 0 {
		s.para(0, 2, say("No crew wrote of this day."))
		return
	}
	for _, c := range crews {
		name := c.Crew
		if c.Name != "" && c.Name != c.Crew {
			name += " (" + c.Name + ")"
		}
		people := text(nil)
		if c.People != nil {
			people = say(count(*c.People, "person", "people"))
		}
		s.para(0, 2, join(", ", say(name), people, s.shift(c)))
		lost := text(nil)
		if c.DiscardedM3 > 0 {
			lost = say(s.volume(c.DiscardedM3) + " discarded")
		}
		unplaced := text(nil)
		if s.maybeVolume(c.UnplacedM3) != "" {
			unplaced = say(s.volume(c.UnplacedM3) + " NOT ACCOUNTED FOR: neither placed nor discarded")
		}
		s.para(2, 2, join(", ", say(count(c.Batches, "batch", "batches")), say(s.volume(c.MixedM3)+" mixed"),
			say(s.volume(c.PlacedM3)+" placed"), lost, unplaced))
		if c.WCMMean != nil {
			s.para(2, 2, sayf("w/cm %s on the mean, %s at most", thousandths(*c.WCMMean), maybe(c.WCMMax, thousandths)))
		}
	}
}

func (s *sheet) shift(c daily.CrewDay) text {
	switch {
	case c.From != nil && c.To == nil:
		return sayf("from %s, its end not written", s.clock(*c.From))
	case c.From == nil && c.To != nil:
		return sayf("to %s, its start not written", s.clock(*c.To))
	}
	return say(s.clocks(c.From, c.To))
}

func (s *sheet) dayZones(zones []daily.CoatDay) {
	s.section("ZONES", nil)
	if len(zones) == 0 {
		s.para(0, 2, say("Nothing was placed."))
		return
	}
	t := table{columns: []column{
		{name: "coat", least: 10},
		{name: "batches", right: true, drop: 1},
		{name: "placed", right: true},
		{name: "grew by", right: true},
		{name: "left", right: true, drop: 2},
	}}
	for _, z := range zones {
		t.row(say(coatName(z.Zone, z.Face, z.Coat)), figure(strings.Fields(part(z.Batches))[0]),
			figure(s.volume(z.PlacedM3)),
			figure(s.thickness(z.ThicknessM)), figure(s.volume(z.LeftM3)))
	}
	s.table(0, t)
}

func (s *sheet) dayTests(date string, tests []daily.Test) {
	s.section("TESTS", nil)
	if len(tests) == 0 {
		s.para(0, 2, say("No fresh test was written."))
		return
	}
	t := table{columns: []column{
		{name: "batch", least: 10},
		{name: "at", right: true, drop: 1},
		{name: "unit weight", right: true},
		{name: "yield", right: true, drop: 2},
		{name: "of design", right: true, drop: 3},
		{name: "air", right: true, drop: 4},
		{name: "mortar", right: true, drop: 6},
		{name: "flow", right: true, drop: 7},
		{name: "w/cm", right: true, drop: 5},
	}}
	var missed []text
	for _, f := range tests {
		batch := ofDay(f.Batch, date)
		t.row(say(batch), figure(s.clock(f.At)), figure(maybe(f.UnitWeight, s.density)),
			figure(maybe(f.YieldM3, s.volume)),
			figure(maybe(f.RelativeYield, thousandths)), figure(maybe(f.Air, s.share)),
			figure(maybe(f.TemperatureC, s.temperature)),
			figure(maybe(f.Flow, s.share)), figure(maybe(f.WCM, thousandths)))
		if f.Judgement != "" && f.Judgement != "within" {
			missed = append(missed, join(": ", say(batch), say(f.Judgement)))
		}
	}
	s.table(0, t)
	for _, m := range missed {
		s.para(0, 2, m)
	}
	if len(missed) == 0 {
		s.para(0, 2, say("All within."))
	}
}

// daySky is the weather as it was read, and for how long nothing is known of what dried.
func (s *sheet) daySky(w daily.WeatherDay) {
	s.dayWeather(w)
	if m := w.UnjudgedMin; m > 0 {
		s.para(0, 2,
			sayf(
				"For %s something fresh lay uncovered and no reading of air, humidity and wind counted: how fast it dried is not known.", ofMinutes(m)))
	}
}

func (s *sheet) dayWeather(w daily.WeatherDay) {
	s.section("WEATHER", nil)
	if w.Readings == 0 {
		s.para(0, 2, say("None was read."))
		return
	}
	air := ""
	if w.AirLowC != nil {
		air = "air " + s.temperature(*w.AirLowC)
		if high := named("to", w.AirHighC, s.temperature); high != "to "+s.temperature(*w.AirLowC) {
			air = join(" ", say(air), say(high)).String()
		}
	}
	rain := "rain not read"
	if w.RainMM != nil {
		if rain = "no rain"; *w.RainMM > 0 {
			rain = "rain " + s.rain(*w.RainMM)
		}
	}
	read := join(", ", say(air), say(named("humidity down to", w.HumidityLow, s.share)),
		say(named("wind up to", w.WindHighMPS, s.speed)), say(rain)).String()
	s.para(0, 2, sayf("%s%s; %s.", strings.ToUpper(read[:1]), read[1:], count(w.Readings, "reading", "readings")))
	if w.EvaporationMax == nil {
		s.para(0, 2, say("Evaporation not known: no reading had air, humidity and wind together."))
		return
	}
	at := ""
	if w.EvaporationAt != nil {
		at = " at " + s.clock(*w.EvaporationAt)
	}
	s.para(0, 2, sayf("Evaporation up to %s%s.", s.evaporation(*w.EvaporationMax), at))
}

func (s *sheet) dayLeft(v daily.Day) {
	s.section("LEFT", nil)
	if b := v.BatchesLeft; b != nil && b.P90 > 0 {
		s.para(0, 2, say(fmt.Sprintf("%s.", left(*b))))
	}
	if len(v.Left) == 0 {
		s.para(0, 2, say("No coat is left to place."))
	}
	s.coats("coat", v.Left)
}

func (s *sheet) dayEntries(name string, all []view.Entry, none string) {
	s.section(name, nil)
	if len(all) == 0 {
		s.para(0, 2, say(none))
		return
	}
	s.entries(all, true)
	s.legend(all)
}

func (s *sheet) dayRecord(ends []daily.DeviceEnd) {
	s.section("THE RECORD REACHES TO", nil)
	if len(ends) == 0 {
		s.para(0, 2, say("No device has written."))
		return
	}
	t := table{columns: []column{
		{name: "device", least: 8},
		{name: "crew", least: 8, drop: 1},
		{name: "event", right: true},
		{name: "written", right: true},
	}}
	for _, e := range ends {
		t.row(say(e.Device), say(e.Crew), figure(fmt.Sprint(e.Seq)), figure(s.clock(e.LastAt)))
	}
	s.table(0, t)
}
