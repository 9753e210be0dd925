package summary

import (
	"fmt"
	"strings"
	"time"

	"hod/internal/report"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// dayWidth is that of a letter: it is mailed, printed and read aloud.
const dayWidth = 72

// DayAll is the end-of-day summary as plain text, at most 72 columns, without colour, with all of each list: what went
// wrong and what was done about it, then what was done, what is left, what tomorrow takes, and how far the record
// reached.
func DayAll(v daily.Day, p report.Page) string {
	s := openDay(v, p)
	dayHead(s, v, false)
	if v.Order != nil {
		s.DayOrder(*v.Order)
	}
	dayFlags(s, v)
	dayCrews(s, v.Crews)
	dayZones(s, v.Zones)
	dayTests(s, v.Date, v.Tests)
	if len(v.Breaks) > 0 {
		s.Section("BREAKS", nil)
		s.Breaks(v.Breaks)
	}
	if len(v.Strength) > 0 {
		s.Section("AGE OF THE COATS", nil)
		s.Strengths(v.Strength)
	}
	daySky(s, v.Weather)
	if v.Crew == "" { // these are the whole site's
		s.Section("STOCK", nil)
		s.Stock(v.Stock)
		dayLeft(s, v)
		s.Tomorrow(v.Tomorrow)
	}
	dayEntries(s, "CORRECTIONS", v.Changes, "Nothing was corrected.")
	s.ExcludedSection(v.Excluded)
	dayEntries(s, "SET ASIDE", v.SetAside, "Nothing is set aside.")
	if len(v.Notes) > 0 {
		dayEntries(s, "NOTES", v.Notes, "")
	}
	if len(v.Late) > 0 {
		dayEntries(s, "CAME LATE", v.Late, "")
	}
	dayRecord(s, v.Record)
	if len(v.Cautions) > 0 {
		s.Section("CAUTIONS", nil)
		for _, c := range v.Cautions {
			s.Para(0, 2, report.Say(c))
		}
	}
	return s.String()
}

// openDay is the sheet of a day. Of a day that is over, times are told from its end.
func openDay(v daily.Day, p report.Page) *report.Sheet {
	if p.Width == 0 || p.Width > dayWidth {
		p.Width = dayWidth
	}
	p.Colour = false
	s := report.Open(p, v.Units, v.AsOf)
	if v.EndedAt != nil {
		s.Now = v.EndedAt.Add(-time.Millisecond)
	}
	return s
}

func dayHead(s *report.Sheet, v daily.Day, brief bool) {
	if s.HTML {
		s.Element("h1", 0, report.Join(" ", report.Say(v.Site), report.Say(report.Date(v.Date))))
		s.Element("p", 0, report.Say(v.Place))
	} else {
		s.ParaMost(0, 2, 2, report.Join(", ", report.Say(v.Site), report.Say(v.Place)))
		s.Para(0, 2, report.Join(": ", report.Say("The day"), report.Say(report.Date(v.Date))))
	}
	if v.Crew != "" {
		s.Para(0, 2,
			report.Sayf(
				"Crew %s alone: what it mixed, placed, tested and wrote, and what rests on that. Stock, what is left and the next day are in the whole site's.", v.Crew))
	}
	local := s.AsOf.In(s.In)
	if v.EndedAt != nil {
		s.Para(0, 2, report.Sayf("As the day ended, by what was written until %s. Times are UTC%s.",
			local.Format("2 Jan 2006 15:04"), local.Format("-07:00")))
	} else {
		s.Para(0, 2, report.Sayf("As the record stood %s. Times are UTC%s.", local.Format("2 Jan 2006 15:04"),
			local.Format("-07:00")))
	}
	dayLateness(s, v)
	if brief {
		s.Excluded(v.Excluded)
	}
	if v.Provisional != "" {
		s.Para(0, 2, report.Join(": ", report.Say("PROVISIONAL"), report.Say(v.Provisional)))
	}
	s.OwnCopy()
}

// dayLateness says how much of what the figures rest on was written after the day.
func dayLateness(s *report.Sheet, v daily.Day) {
	n := 0
	for _, list := range [][]view.Entry{v.Changes, v.SetAside, v.Notes, v.Late} {
		for _, e := range list {
			if e.Late {
				n++
			}
		}
	}
	var before report.Text
	if v.LateBefore > 0 {
		before = report.Sayf("%s of earlier days was", report.Count(v.LateBefore, "entry", "entries"))
		if v.LateBefore > 1 {
			before = report.Sayf("%s of earlier days were", report.Count(v.LateBefore, "entry", "entries"))
		}
	}
	switch {
	case n > 0 && v.LateBefore > 0:
		s.Para(0, 2, append(report.Sayf("%s written after it had ended and marked LATE below; ", was(n)),
			append(before, report.Say(" written after it, too.")...)...))
	case n > 0:
		s.Para(0, 2, report.Sayf("%s written after it had ended and marked LATE below.", was(n)))
	case v.LateBefore > 0:
		s.Para(0, 2, append(before, report.Say(" written after it had ended.")...))
	}
}

func was(n int) string {
	if n == 1 {
		return "1 entry of it was"
	}
	return fmt.Sprintf("%d entries of it were", n)
}

func dayFlags(s *report.Sheet, v daily.Day) {
	s.Section("WHAT WENT WRONG", nil)
	if len(v.Flags) == 0 {
		s.Para(0, 2, report.Say("No flags."))
	}
	for _, f := range v.Flags {
		s.Flag(f)
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
		s.Section("JOINTS", report.Sayf("%d made, %d of them surely live, %d not", v.JointsMade, v.JointsLive,
			v.JointsMade-v.JointsLive))
	} else if len(waiting) > 0 {
		s.Section("JOINTS", nil)
	}
	if len(waiting) > 0 {
		s.SetTests(v.SetTests, "that day")
	}
	for _, j := range bad {
		var by []string
		for _, t := range j.Treatments {
			by = append(by, t.Event)
		}
		done := report.Linked(strings.Join(j.Treated, ", "), by...)
		if len(j.Treated) == 0 {
			done = report.Say("no treatment written")
		}
		s.Para(0, 2, report.Join("; ", report.Lead(s.JointState(j), report.StateColumn, report.Say(report.Where(j))),
			report.Sayf("met %s with %s of initial set used", s.MaybeClock(j.MadeAt), s.Used(j)), done))
	}
	for _, j := range waiting {
		if j.Ended {
			s.Para(0, 2, report.Join(": ", report.Lead(s.JointState(j), report.StateColumn,
				report.Say(report.Where(j))), s.EndedFront(j)))
			continue
		}
		wait := report.Say("when it turns cold is not known")
		if j.TurnsAt != nil {
			wait = report.Sayf("turns cold at %s", s.Clocks(j.TurnsAt, j.TurnsLatest))
			if _, isRange := s.Turns(j); isRange {
				wait = append(wait, report.Say(", "+report.RangeOf(j))...)
			}
		}
		s.Para(0, 2, report.Join("; ", report.Lead(s.JointState(j), report.StateColumn, report.Say(report.Where(j))),
			report.Say("open"), wait))
	}
}

func dayCrews(s *report.Sheet, crews []daily.CrewDay) {
	s.Section("CREWS", nil)
	if len(crews) == 0 {
		s.Para(0, 2, report.Say("No crew wrote of this day."))
		return
	}
	for _, c := range crews {
		name := c.Crew
		if c.Name != "" && c.Name != c.Crew {
			name += " (" + c.Name + ")"
		}
		people := report.Text(nil)
		if c.People != nil {
			people = report.Say(report.Count(*c.People, "person", "people"))
		}
		s.Para(0, 2, report.Join(", ", report.Say(name), people, shift(s, c)))
		lost := report.Text(nil)
		if c.DiscardedM3 > 0 {
			lost = report.Say(s.Volume(c.DiscardedM3) + " discarded")
		}
		unplaced := report.Text(nil)
		if s.MaybeVolume(c.UnplacedM3) != "" {
			unplaced = report.Say(s.Volume(c.UnplacedM3) + " NOT ACCOUNTED FOR: neither placed nor discarded")
		}
		s.Para(2, 2, report.Join(", ", report.Say(report.Count(c.Batches, "batch", "batches")),
			report.Say(s.Volume(c.MixedM3)+" mixed"),
			report.Say(s.Volume(c.PlacedM3)+" placed"), lost, unplaced))
		if c.WCMMean != nil {
			s.Para(2, 2, report.Sayf("w/cm %s on the mean, %s at most", report.Thousandths(*c.WCMMean),
				report.Maybe(c.WCMMax, report.Thousandths)))
		}
	}
}

func shift(s *report.Sheet, c daily.CrewDay) report.Text {
	switch {
	case c.From != nil && c.To == nil:
		return report.Sayf("from %s, its end not written", s.Clock(*c.From))
	case c.From == nil && c.To != nil:
		return report.Sayf("to %s, its start not written", s.Clock(*c.To))
	}
	return report.Say(s.Clocks(c.From, c.To))
}

func dayZones(s *report.Sheet, zones []daily.CoatDay) {
	s.Section("ZONES", nil)
	if len(zones) == 0 {
		s.Para(0, 2, report.Say("Nothing was placed."))
		return
	}
	t := report.Table{Columns: []report.Column{
		{Name: "coat", Least: 10},
		{Name: "batches", Right: true, Drop: 1},
		{Name: "placed", Right: true},
		{Name: "grew by", Right: true},
		{Name: "left", Right: true, Drop: 2},
	}}
	for _, z := range zones {
		t.Row(report.Say(report.CoatName(z.Zone, z.Face, z.Coat)),
			report.Figure(strings.Fields(report.Part(z.Batches))[0]),
			report.Figure(s.Volume(z.PlacedM3)),
			report.Figure(s.Thickness(z.ThicknessM)), report.Figure(s.Volume(z.LeftM3)))
	}
	s.Table(0, t)
}

func dayTests(s *report.Sheet, date string, tests []daily.Test) {
	s.Section("TESTS", nil)
	if len(tests) == 0 {
		s.Para(0, 2, report.Say("No fresh test was written."))
		return
	}
	t := report.Table{Columns: []report.Column{
		{Name: "batch", Least: 10},
		{Name: "at", Right: true, Drop: 1},
		{Name: "unit weight", Right: true},
		{Name: "yield", Right: true, Drop: 2},
		{Name: "of design", Right: true, Drop: 3},
		{Name: "air", Right: true, Drop: 4},
		{Name: "mortar", Right: true, Drop: 6},
		{Name: "flow", Right: true, Drop: 7},
		{Name: "w/cm", Right: true, Drop: 5},
	}}
	var missed []report.Text
	for _, f := range tests {
		batch := report.OfDay(f.Batch, date)
		t.Row(report.Say(batch), report.Figure(s.Clock(f.At)), report.Figure(report.Maybe(f.UnitWeight, s.Density)),
			report.Figure(report.Maybe(f.YieldM3, s.Volume)),
			report.Figure(report.Maybe(f.RelativeYield, report.Thousandths)),
			report.Figure(report.Maybe(f.Air, s.Share)),
			report.Figure(report.Maybe(f.TemperatureC, s.Temperature)),
			report.Figure(report.Maybe(f.Flow, s.Share)), report.Figure(report.Maybe(f.WCM, report.Thousandths)))
		if f.Judgement != "" && f.Judgement != "within" {
			missed = append(missed, report.Join(": ", report.Say(batch), report.Say(f.Judgement)))
		}
	}
	s.Table(0, t)
	for _, m := range missed {
		s.Para(0, 2, m)
	}
	if len(missed) == 0 {
		s.Para(0, 2, report.Say("All within."))
	}
}

// daySky is the weather as it was read, and for how long nothing is known of what dried.
func daySky(s *report.Sheet, w daily.WeatherDay) {
	dayWeather(s, w)
	if m := w.UnjudgedMin; m > 0 {
		s.Para(0, 2,
			report.Sayf(
				"For %s something fresh lay uncovered and no reading of air, humidity and wind counted: how fast it dried is not known.", report.OfMinutes(m)))
	}
}

func dayWeather(s *report.Sheet, w daily.WeatherDay) {
	s.Section("WEATHER", nil)
	if w.Readings == 0 {
		s.Para(0, 2, report.Say("None was read."))
		return
	}
	air := ""
	if w.AirLowC != nil {
		air = "air " + s.Temperature(*w.AirLowC)
		if high := report.Named("to", w.AirHighC, s.Temperature); high != "to "+s.Temperature(*w.AirLowC) {
			air = report.Join(" ", report.Say(air), report.Say(high)).String()
		}
	}
	rain := "rain not read"
	if w.RainMM != nil {
		if rain = "no rain"; *w.RainMM > 0 {
			rain = "rain " + s.Rain(*w.RainMM)
		}
	}
	read := report.Join(", ", report.Say(air), report.Say(report.Named("humidity down to", w.HumidityLow, s.Share)),
		report.Say(report.Named("wind up to", w.WindHighMPS, s.Speed)), report.Say(rain)).String()
	s.Para(0, 2, report.Sayf("%s%s; %s.", strings.ToUpper(read[:1]), read[1:],
		report.Count(w.Readings, "reading", "readings")))
	if w.EvaporationMax == nil {
		s.Para(0, 2, report.Say("Evaporation not known: no reading had air, humidity and wind together."))
		return
	}
	at := ""
	if w.EvaporationAt != nil {
		at = " at " + s.Clock(*w.EvaporationAt)
	}
	s.Para(0, 2, report.Sayf("Evaporation up to %s%s, at the air's temperature; warmer fresh mortar dries faster.",
		s.Evaporation(*w.EvaporationMax), at))
}

func dayLeft(s *report.Sheet, v daily.Day) {
	s.Section("LEFT", nil)
	if b := v.BatchesLeft; b != nil && b.P90 > 0 {
		s.Para(0, 2, report.Say(fmt.Sprintf("%s.", report.Left(*b))))
	}
	if len(v.Left) == 0 {
		s.Para(0, 2, report.Say("No coat is left to place."))
	}
	s.Coats("coat", v.Left)
}

func dayEntries(s *report.Sheet, name string, all []view.Entry, none string) {
	s.Section(name, nil)
	if len(all) == 0 {
		s.Para(0, 2, report.Say(none))
		return
	}
	s.Entries(all, true)
	s.Legend(all)
}

func dayRecord(s *report.Sheet, ends []daily.DeviceEnd) {
	s.Section("THE RECORD REACHES TO", nil)
	if len(ends) == 0 {
		s.Para(0, 2, report.Say("No device has written."))
		return
	}
	t := report.Table{Columns: []report.Column{
		{Name: "device", Least: 8},
		{Name: "crew", Least: 8, Drop: 1},
		{Name: "event", Right: true},
		{Name: "written", Right: true},
	}}
	for _, e := range ends {
		t.Row(report.Say(e.Device), report.Say(e.Crew), report.Figure(fmt.Sprint(e.Seq)),
			report.Figure(s.Clock(e.LastAt)))
	}
	s.Table(0, t)
}
