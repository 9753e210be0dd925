package summary

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/report"
	"hod/internal/report/picture"
	"hod/internal/view"
	"hod/internal/view/handover"
)

// HandoverCoats is the shell coat by coat, with its maps: the first part of a record that is handed over, as a part of
// a page. Zones in full are ZoneLeaf's, what went into them HandoverWork's, and what became of it HandoverSettled's.
func HandoverCoats(v handover.Record, p report.Page) string {
	p.HTML, p.Root = true, ""
	s := report.Open(p, v.Units, v.AsOf)
	s.Element("h1", 0, report.Say("Coats"))
	s.Excluded(v.Excluded)
	s.Coats("coat", v.Lines)
	if len(v.Maps) > 0 {
		s.Para(0, 2,
			report.Sayf(
				"The shell laid flat, coat by coat. In a cell stands the thickness placed / planned, or its share. On an edge stand the "+
					"minutes until it is cold, from the soonest to the latest; %s is one %s, %s one %s.",
				picture.Mark(view.MadeLate), view.MadeLate, picture.Mark(view.MadeCold), view.MadeCold))
	}
	for i, m := range v.Maps {
		for k, part := range m.Parts {
			if m.Shown != nil {
				s.Element("h3", 0, report.Say(strings.TrimSpace(report.CoatName("", m.Shown.Face, m.Shown.Coat))))
			}
			f := picture.Frame{ID: fmt.Sprintf("c%dp%d", i, k), In: s.In, System: s.System}
			s.Lines = append(s.Lines, picture.Map(f, m, part))
		}
	}
	return s.String()
}

// HandoverWork is what was mixed and of what, what was tested and broken, and the weather, as a part of a page.
func HandoverWork(v handover.Record, p report.Page) string {
	p.HTML, p.Root = true, ""
	s := report.Open(p, v.Units, v.AsOf)
	s.Element("h1", 0, report.Say("Batches, tests, weather"))
	lots(s, v)
	batches(s, v.Batches)
	dayTests(s, "", v.Tests)
	s.Section("BREAKS", nil)
	if len(v.Breaks) == 0 {
		s.Para(0, 2, report.Say("No strength test was written."))
	} else {
		s.Breaks(v.Breaks)
	}
	s.Section("WEATHER AS IT WAS READ", nil)
	if len(v.Weather) == 0 {
		s.Para(0, 2, report.Say("None was read."))
	}
	t := report.Table{Columns: []report.Column{
		{Name: "date"},
		{Name: "air from", Right: true},
		{Name: "to", Right: true},
		{Name: "humidity down to", Right: true},
		{Name: "wind up to", Right: true},
		{Name: "rain", Right: true},
		{Name: "evaporation up to", Right: true},
		{Name: "not judged", Right: true},
		{Name: "readings", Right: true},
	}}
	for _, w := range v.Weather {
		unjudged := ""
		if w.UnjudgedMin > 0 {
			unjudged = report.OfMinutes(w.UnjudgedMin)
		}
		t.Row(report.Say(w.Date), report.Figure(report.Maybe(w.AirLowC, s.Temperature)),
			report.Figure(report.Maybe(w.AirHighC, s.Temperature)),
			report.Figure(report.Maybe(w.HumidityLow, s.Share)),
			report.Figure(report.Maybe(w.WindHighMPS, s.Speed)), report.Figure(report.Maybe(w.RainMM, s.Rain)),
			report.Figure(report.Maybe(w.EvaporationMax, s.Evaporation)), report.Figure(unjudged),
			report.Figure(fmt.Sprint(w.Readings)))
	}
	s.Table(0, t)
	return s.String()
}

// lots are the deliveries that named theirs, each with the first batch that it can be in: which of several lots on hand
// went into a batch is not written.
func lots(s *report.Sheet, v handover.Record) {
	s.Section("LOTS", nil)
	if len(v.Lots) == 0 {
		s.Para(0, 2, report.Say("No delivery named its lot."))
		return
	}
	t := report.Table{Columns: []report.Column{
		{Name: "material"},
		{Name: "lot"},
		{Name: "received", Right: true},
		{Name: "amount", Right: true},
		{Name: "event"},
		{Name: "can be in"},
	}}
	for _, l := range v.Lots {
		in := report.Say("no batch yet")
		if l.FirstBatch != "" {
			in = report.Sayf("%s and later", l.FirstBatch)
		}
		t.Row(report.Say(l.Material), report.Say(l.Lot), report.Figure(s.Clock(l.At)), report.Figure(s.Mass(l.MassKg)),
			report.Say(l.Event), in)
	}
	s.Table(0, t)
	s.Para(0, 2,
		report.Say(
			"A lot can be in each batch of the material from then on. Which of several on hand it was is not written."))
}

// batches are a table for each mix, with a column for each of its constituents.
func batches(s *report.Sheet, all []handover.Batch) {
	s.Section("BATCHES", nil)
	if len(all) == 0 {
		s.Para(0, 2, report.Say("No batch was written."))
		return
	}
	var mixes []string
	of := map[string][]handover.Batch{}
	for _, b := range all {
		mix := b.Mix
		if b.Revision > 0 {
			mix = fmt.Sprintf("%s revision %d", b.Mix, b.Revision)
		}
		if of[mix] == nil {
			mixes = append(mixes, mix)
		}
		of[mix] = append(of[mix], b)
	}
	for _, mix := range mixes {
		s.Element("h3", 0, report.Say(strings.TrimSpace("mix "+mix)))
		batchesOf(s, of[mix])
	}
}

func batchesOf(s *report.Sheet, all []handover.Batch) {
	var names []string
	for _, b := range all {
		for _, c := range b.Charges {
			if !slices.Contains(names, c.Constituent) {
				names = append(names, c.Constituent)
			}
		}
	}
	t := report.Table{Columns: []report.Column{{Name: "batch"}, {Name: "event"}, {Name: "ready", Right: true}}}
	for _, n := range names {
		t.Columns = append(t.Columns, report.Column{Name: report.Clean(n), Right: true})
	}
	t.Columns = append(t.Columns, report.Column{Name: "w/cm", Right: true}, report.Column{Name: "yield", Right: true},
		report.Column{Name: "by design", Right: true}, report.Column{Name: "into", Least: 10})
	var wrong []report.Text
	for _, b := range all {
		cells := []report.Text{report.Say(b.Batch), report.Say(b.Event), report.Figure(s.MaybeClock(b.Ready))}
		for _, n := range names {
			cell := report.Text(nil)
			for _, c := range b.Charges {
				if c.Constituent == n {
					cell = report.Join(" + ", cell, report.Figure(s.Mass(c.MassKg)))
				}
			}
			cells = append(cells, cell)
		}
		cells = append(cells, report.Figure(report.Maybe(b.WCM, report.Thousandths)),
			report.Figure(report.Maybe(b.YieldM3, s.Volume)),
			report.Figure(report.Maybe(b.DesignM3, s.Volume)), into(s, b))
		t.Row(cells...)
		if b.Wrong != "" {
			wrong = append(wrong, report.Join(": ", report.Say(b.Batch), report.Say("no figures"), report.Say(b.Wrong)))
		}
	}
	s.Table(0, t)
	for _, w := range wrong {
		s.Para(0, 2, w)
	}
}

// into is where a batch went.
func into(s *report.Sheet, b handover.Batch) report.Text {
	var all []report.Text
	for _, k := range b.Into {
		all = append(all, report.Figure(s.Share(k.Share)+" "+report.CoatName(k.Zone, k.Face, k.Coat)))
	}
	if b.Discarded > 1e-9 {
		all = append(all, report.Join(" ", report.Figure(s.Share(b.Discarded)), report.Say("thrown away")))
	}
	if b.Left > 1e-9 {
		all = append(all, report.Join(" ", report.Figure(s.Share(b.Left)), report.Say("NOT ACCOUNTED FOR")))
	}
	return report.Join(", ", all...)
}

// HandoverSettled is what needed somebody, with its answers, and what was put right, as a part of a page.
func HandoverSettled(v handover.Record, p report.Page) string {
	p.HTML, p.Root = true, ""
	s := report.Open(p, v.Units, v.AsOf)
	s.Element("h1", 0, report.Say("Flags and corrections"))
	s.Section("FLAGS WITH THEIR ANSWERS", nil)
	if len(v.Flags.Flags) == 0 {
		s.Para(0, 2, report.Say("No flags."))
	}
	for _, f := range v.Flags.Flags {
		s.Flag(f)
	}
	s.ExcludedSection(v.Excluded)
	for _, l := range []struct {
		name, none string
		all        []view.Entry
	}{{"CORRECTIONS", "Nothing was corrected.", v.Corrections}, {"SET ASIDE", "Nothing is set aside.", v.SetAside}} {
		dayEntries(s, l.name, l.all, l.none)
	}
	return s.String()
}
