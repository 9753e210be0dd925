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
		s.Section("BREAKS", nil)
		s.breaks(v.Breaks)
	}
	if len(v.Strength) > 0 {
		s.Section("AGE OF THE COATS", nil)
		s.strengths(v.Strength)
	}
	s.daySky(v.Weather)
	if v.Crew == "" { // these are the whole site's
		s.Section("STOCK", nil)
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
		s.Section("CAUTIONS", nil)
		for _, c := range v.Cautions {
			s.Para(0, 2, Say(c))
		}
	}
	return s.String()
}

// openDay is the sheet of a day. Of a day that is over, times are told from its end.
func openDay(v daily.Day, p Page) *Sheet {
	if p.Width == 0 || p.Width > dayWidth {
		p.Width = dayWidth
	}
	p.Colour = false
	s := Open(p, v.Units, v.AsOf)
	if v.EndedAt != nil {
		s.Now = v.EndedAt.Add(-time.Millisecond)
	}
	return s
}

func (s *Sheet) dayHead(v daily.Day) {
	if s.html {
		s.element("h1", 0, Join(" ", Say(v.Site), Say(date(v.Date))))
		s.element("p", 0, Say(v.Place))
	} else {
		s.paraMost(0, 2, 2, Join(", ", Say(v.Site), Say(v.Place)))
		s.Para(0, 2, Join(": ", Say("The day"), Say(date(v.Date))))
	}
	if v.Crew != "" {
		s.Para(0, 2,
			Sayf(
				"Crew %s alone: what it mixed, placed, tested and wrote, and what rests on that. Stock, what is left and the next day are in the whole site's.", v.Crew))
	}
	local := s.asOf.In(s.In)
	if v.EndedAt != nil {
		s.Para(0, 2, Sayf("As the day ended, by what was written until %s. Times are UTC%s.",
			local.Format("2 Jan 2006 15:04"), local.Format("-07:00")))
	} else {
		s.Para(0, 2, Sayf("As the record stood %s. Times are UTC%s.", local.Format("2 Jan 2006 15:04"),
			local.Format("-07:00")))
	}
	s.dayLateness(v)
	if v.Provisional != "" {
		s.Para(0, 2, Join(": ", Say("PROVISIONAL"), Say(v.Provisional)))
	}
	s.OwnCopy()
}

// dayLateness says how much of what the figures rest on was written after the day.
func (s *Sheet) dayLateness(v daily.Day) {
	n := 0
	for _, list := range [][]view.Entry{v.Changes, v.SetAside, v.Notes, v.Late} {
		for _, e := range list {
			if e.Late {
				n++
			}
		}
	}
	var before Text
	if v.LateBefore > 0 {
		before = Sayf("%s of earlier days was", Count(v.LateBefore, "entry", "entries"))
		if v.LateBefore > 1 {
			before = Sayf("%s of earlier days were", Count(v.LateBefore, "entry", "entries"))
		}
	}
	switch {
	case n > 0 && v.LateBefore > 0:
		s.Para(0, 2, append(Sayf("%s written after it had ended and marked LATE below; ", was(n)),
			append(before, Say(" written after it, too.")...)...))
	case n > 0:
		s.Para(0, 2, Sayf("%s written after it had ended and marked LATE below.", was(n)))
	case v.LateBefore > 0:
		s.Para(0, 2, append(before, Say(" written after it had ended.")...))
	}
}

func was(n int) string {
	if n == 1 {
		return "1 entry of it was"
	}
	return fmt.Sprintf("%d entries of it were", n)
}

func (s *Sheet) dayFlags(v daily.Day) {
	s.Section("WHAT WENT WRONG", nil)
	if len(v.Flags) == 0 {
		s.Para(0, 2, Say("No flags."))
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
		s.Section("JOINTS", Sayf("%d made, %d of them surely live, %d not", v.JointsMade, v.JointsLive,
			v.JointsMade-v.JointsLive))
	} else if len(waiting) > 0 {
		s.Section("JOINTS", nil)
	}
	if len(waiting) > 0 {
		s.setTests(v.SetTests, "that day")
	}
	for _, j := range bad {
		done := list(j.Treated)
		if len(j.Treated) == 0 {
			done = Say("no treatment written")
		}
		s.Para(0, 2, Join("; ", lead(s.jointState(j), stateColumn, Say(Where(j))),
			Sayf("met %s with %s of initial set used", s.MaybeClock(j.MadeAt), s.Used(j)), done))
	}
	for _, j := range waiting {
		if j.Ended {
			s.Para(0, 2, Join(": ", lead(s.jointState(j), stateColumn, Say(Where(j))), s.endedFront(j)))
			continue
		}
		wait := Say("when it turns cold is not known")
		if j.TurnsAt != nil {
			wait = Sayf("turns cold at %s", s.Clocks(j.TurnsAt, j.TurnsLatest))
			if _, isRange := s.turns(j); isRange {
				wait = append(wait, Say(", "+rangeOf(j))...)
			}
		}
		s.Para(0, 2, Join("; ", lead(s.jointState(j), stateColumn, Say(Where(j))), Say("open"), wait))
	}
}

func (s *Sheet) dayCrews(crews []daily.CrewDay) {
	s.Section("CREWS", nil)
	if len(crews) == 0 {
		s.Para(0, 2, Say("No crew wrote of this day."))
		return
	}
	for _, c := range crews {
		name := c.Crew
		if c.Name != "" && c.Name != c.Crew {
			name += " (" + c.Name + ")"
		}
		people := Text(nil)
		if c.People != nil {
			people = Say(Count(*c.People, "person", "people"))
		}
		s.Para(0, 2, Join(", ", Say(name), people, s.shift(c)))
		lost := Text(nil)
		if c.DiscardedM3 > 0 {
			lost = Say(s.Volume(c.DiscardedM3) + " discarded")
		}
		unplaced := Text(nil)
		if s.maybeVolume(c.UnplacedM3) != "" {
			unplaced = Say(s.Volume(c.UnplacedM3) + " NOT ACCOUNTED FOR: neither placed nor discarded")
		}
		s.Para(2, 2, Join(", ", Say(Count(c.Batches, "batch", "batches")), Say(s.Volume(c.MixedM3)+" mixed"),
			Say(s.Volume(c.PlacedM3)+" placed"), lost, unplaced))
		if c.WCMMean != nil {
			s.Para(2, 2, Sayf("w/cm %s on the mean, %s at most", Thousandths(*c.WCMMean), maybe(c.WCMMax, Thousandths)))
		}
	}
}

func (s *Sheet) shift(c daily.CrewDay) Text {
	switch {
	case c.From != nil && c.To == nil:
		return Sayf("from %s, its end not written", s.Clock(*c.From))
	case c.From == nil && c.To != nil:
		return Sayf("to %s, its start not written", s.Clock(*c.To))
	}
	return Say(s.Clocks(c.From, c.To))
}

func (s *Sheet) dayZones(zones []daily.CoatDay) {
	s.Section("ZONES", nil)
	if len(zones) == 0 {
		s.Para(0, 2, Say("Nothing was placed."))
		return
	}
	t := table{columns: []Column{
		{Name: "coat", least: 10},
		{Name: "batches", Right: true, drop: 1},
		{Name: "placed", Right: true},
		{Name: "grew by", Right: true},
		{Name: "left", Right: true, drop: 2},
	}}
	for _, z := range zones {
		t.row(Say(CoatName(z.Zone, z.Face, z.Coat)), Figure(strings.Fields(Part(z.Batches))[0]),
			Figure(s.Volume(z.PlacedM3)),
			Figure(s.Thickness(z.ThicknessM)), Figure(s.Volume(z.LeftM3)))
	}
	s.table(0, t)
}

func (s *Sheet) dayTests(date string, tests []daily.Test) {
	s.Section("TESTS", nil)
	if len(tests) == 0 {
		s.Para(0, 2, Say("No fresh test was written."))
		return
	}
	t := table{columns: []Column{
		{Name: "batch", least: 10},
		{Name: "at", Right: true, drop: 1},
		{Name: "unit weight", Right: true},
		{Name: "yield", Right: true, drop: 2},
		{Name: "of design", Right: true, drop: 3},
		{Name: "air", Right: true, drop: 4},
		{Name: "mortar", Right: true, drop: 6},
		{Name: "flow", Right: true, drop: 7},
		{Name: "w/cm", Right: true, drop: 5},
	}}
	var missed []Text
	for _, f := range tests {
		batch := ofDay(f.Batch, date)
		t.row(Say(batch), Figure(s.Clock(f.At)), Figure(maybe(f.UnitWeight, s.density)),
			Figure(maybe(f.YieldM3, s.Volume)),
			Figure(maybe(f.RelativeYield, Thousandths)), Figure(maybe(f.Air, s.Share)),
			Figure(maybe(f.TemperatureC, s.Temperature)),
			Figure(maybe(f.Flow, s.Share)), Figure(maybe(f.WCM, Thousandths)))
		if f.Judgement != "" && f.Judgement != "within" {
			missed = append(missed, Join(": ", Say(batch), Say(f.Judgement)))
		}
	}
	s.table(0, t)
	for _, m := range missed {
		s.Para(0, 2, m)
	}
	if len(missed) == 0 {
		s.Para(0, 2, Say("All within."))
	}
}

// daySky is the weather as it was read, and for how long nothing is known of what dried.
func (s *Sheet) daySky(w daily.WeatherDay) {
	s.dayWeather(w)
	if m := w.UnjudgedMin; m > 0 {
		s.Para(0, 2,
			Sayf(
				"For %s something fresh lay uncovered and no reading of air, humidity and wind counted: how fast it dried is not known.", OfMinutes(m)))
	}
}

func (s *Sheet) dayWeather(w daily.WeatherDay) {
	s.Section("WEATHER", nil)
	if w.Readings == 0 {
		s.Para(0, 2, Say("None was read."))
		return
	}
	air := ""
	if w.AirLowC != nil {
		air = "air " + s.Temperature(*w.AirLowC)
		if high := named("to", w.AirHighC, s.Temperature); high != "to "+s.Temperature(*w.AirLowC) {
			air = Join(" ", Say(air), Say(high)).String()
		}
	}
	rain := "rain not read"
	if w.RainMM != nil {
		if rain = "no rain"; *w.RainMM > 0 {
			rain = "rain " + s.rain(*w.RainMM)
		}
	}
	read := Join(", ", Say(air), Say(named("humidity down to", w.HumidityLow, s.Share)),
		Say(named("wind up to", w.WindHighMPS, s.speed)), Say(rain)).String()
	s.Para(0, 2, Sayf("%s%s; %s.", strings.ToUpper(read[:1]), read[1:], Count(w.Readings, "reading", "readings")))
	if w.EvaporationMax == nil {
		s.Para(0, 2, Say("Evaporation not known: no reading had air, humidity and wind together."))
		return
	}
	at := ""
	if w.EvaporationAt != nil {
		at = " at " + s.Clock(*w.EvaporationAt)
	}
	s.Para(0, 2, Sayf("Evaporation up to %s%s.", s.Evaporation(*w.EvaporationMax), at))
}

func (s *Sheet) dayLeft(v daily.Day) {
	s.Section("LEFT", nil)
	if b := v.BatchesLeft; b != nil && b.P90 > 0 {
		s.Para(0, 2, Say(fmt.Sprintf("%s.", left(*b))))
	}
	if len(v.Left) == 0 {
		s.Para(0, 2, Say("No coat is left to place."))
	}
	s.coats("coat", v.Left)
}

func (s *Sheet) dayEntries(name string, all []view.Entry, none string) {
	s.Section(name, nil)
	if len(all) == 0 {
		s.Para(0, 2, Say(none))
		return
	}
	s.Entries(all, true)
	s.Legend(all)
}

func (s *Sheet) dayRecord(ends []daily.DeviceEnd) {
	s.Section("THE RECORD REACHES TO", nil)
	if len(ends) == 0 {
		s.Para(0, 2, Say("No device has written."))
		return
	}
	t := table{columns: []Column{
		{Name: "device", least: 8},
		{Name: "crew", least: 8, drop: 1},
		{Name: "event", Right: true},
		{Name: "written", Right: true},
	}}
	for _, e := range ends {
		t.row(Say(e.Device), Say(e.Crew), Figure(fmt.Sprint(e.Seq)), Figure(s.Clock(e.LastAt)))
	}
	s.table(0, t)
}
