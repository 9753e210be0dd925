package report

import (
	"fmt"
	"slices"
	"strings"

	"hod/internal/report/picture"
	"hod/internal/view"
	"hod/internal/view/handover"
)

// HandoverCoats is the shell coat by coat, with its maps: the first part of a record that is handed over, as a part of
// a page. Zones in full are ZoneLeaf's, what went into them HandoverWork's, and what became of it HandoverSettled's.
func HandoverCoats(v handover.Record, p Page) string {
	p.HTML, p.Root = true, ""
	s := Open(p, v.Units, v.AsOf)
	s.element("h1", 0, Say("Coats"))
	s.coats("coat", v.Lines)
	if len(v.Maps) > 0 {
		s.Para(0, 2,
			Sayf(
				"The shell laid flat, coat by coat. In a cell stands the thickness placed / planned, or its share. On an edge stand the "+
					"minutes until it is cold, from the soonest to the latest; %s is one %s, %s one %s.",
				picture.Mark(view.MadeLate), view.MadeLate, picture.Mark(view.MadeCold), view.MadeCold))
	}
	for i, m := range v.Maps {
		for k, part := range m.Parts {
			if m.Shown != nil {
				s.element("h3", 0, Say(strings.TrimSpace(CoatName("", m.Shown.Face, m.Shown.Coat))))
			}
			f := picture.Frame{ID: fmt.Sprintf("c%dp%d", i, k), In: s.In, System: s.System}
			s.Lines = append(s.Lines, picture.Map(f, m, part))
		}
	}
	return s.String()
}

// HandoverWork is what was mixed and of what, what was tested and broken, and the weather, as a part of a page.
func HandoverWork(v handover.Record, p Page) string {
	p.HTML, p.Root = true, ""
	s := Open(p, v.Units, v.AsOf)
	s.element("h1", 0, Say("Batches, tests, weather"))
	s.lots(v)
	s.batches(v.Batches)
	s.dayTests("", v.Tests)
	s.Section("BREAKS", nil)
	if len(v.Breaks) == 0 {
		s.Para(0, 2, Say("No strength test was written."))
	} else {
		s.breaks(v.Breaks)
	}
	s.Section("WEATHER AS IT WAS READ", nil)
	if len(v.Weather) == 0 {
		s.Para(0, 2, Say("None was read."))
	}
	t := table{columns: []Column{
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
			unjudged = OfMinutes(w.UnjudgedMin)
		}
		t.row(Say(w.Date), Figure(maybe(w.AirLowC, s.Temperature)), Figure(maybe(w.AirHighC, s.Temperature)),
			Figure(maybe(w.HumidityLow, s.Share)),
			Figure(maybe(w.WindHighMPS, s.speed)), Figure(maybe(w.RainMM, s.rain)),
			Figure(maybe(w.EvaporationMax, s.Evaporation)), Figure(unjudged), Figure(fmt.Sprint(w.Readings)))
	}
	s.table(0, t)
	return s.String()
}

// lots are the deliveries that named theirs, each with the first batch that it can be in: which of several lots on hand
// went into a batch is not written.
func (s *Sheet) lots(v handover.Record) {
	s.Section("LOTS", nil)
	if len(v.Lots) == 0 {
		s.Para(0, 2, Say("No delivery named its lot."))
		return
	}
	t := table{columns: []Column{
		{Name: "material"},
		{Name: "lot"},
		{Name: "received", Right: true},
		{Name: "amount", Right: true},
		{Name: "event"},
		{Name: "can be in"},
	}}
	for _, l := range v.Lots {
		in := Say("no batch yet")
		if l.FirstBatch != "" {
			in = Sayf("%s and later", l.FirstBatch)
		}
		t.row(Say(l.Material), Say(l.Lot), Figure(s.Clock(l.At)), Figure(s.Mass(l.MassKg)), Say(l.Event), in)
	}
	s.table(0, t)
	s.Para(0, 2,
		Say("A lot can be in each batch of the material from then on. Which of several on hand it was is not written."))
}

// batches are a table for each mix, with a column for each of its constituents.
func (s *Sheet) batches(all []handover.Batch) {
	s.Section("BATCHES", nil)
	if len(all) == 0 {
		s.Para(0, 2, Say("No batch was written."))
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
		s.element("h3", 0, Say(strings.TrimSpace("mix "+mix)))
		s.batchesOf(of[mix])
	}
}

func (s *Sheet) batchesOf(all []handover.Batch) {
	var names []string
	for _, b := range all {
		for _, c := range b.Charges {
			if !slices.Contains(names, c.Constituent) {
				names = append(names, c.Constituent)
			}
		}
	}
	t := table{columns: []Column{{Name: "batch"}, {Name: "event"}, {Name: "ready", Right: true}}}
	for _, n := range names {
		t.columns = append(t.columns, Column{Name: Clean(n), Right: true})
	}
	t.columns = append(t.columns, Column{Name: "w/cm", Right: true}, Column{Name: "yield", Right: true},
		Column{Name: "by design", Right: true}, Column{Name: "into", least: 10})
	var wrong []Text
	for _, b := range all {
		cells := []Text{Say(b.Batch), Say(b.Event), Figure(s.MaybeClock(b.Ready))}
		for _, n := range names {
			cell := Text(nil)
			for _, c := range b.Charges {
				if c.Constituent == n {
					cell = Join(" + ", cell, Figure(s.Mass(c.MassKg)))
				}
			}
			cells = append(cells, cell)
		}
		cells = append(cells, Figure(maybe(b.WCM, Thousandths)), Figure(maybe(b.YieldM3, s.Volume)),
			Figure(maybe(b.DesignM3, s.Volume)), s.into(b))
		t.row(cells...)
		if b.Wrong != "" {
			wrong = append(wrong, Join(": ", Say(b.Batch), Say("no figures"), Say(b.Wrong)))
		}
	}
	s.table(0, t)
	for _, w := range wrong {
		s.Para(0, 2, w)
	}
}

// into is where a batch went.
func (s *Sheet) into(b handover.Batch) Text {
	var all []Text
	for _, k := range b.Into {
		all = append(all, Figure(s.Share(k.Share)+" "+CoatName(k.Zone, k.Face, k.Coat)))
	}
	if b.Discarded > 1e-9 {
		all = append(all, Join(" ", Figure(s.Share(b.Discarded)), Say("thrown away")))
	}
	if b.Left > 1e-9 {
		all = append(all, Join(" ", Figure(s.Share(b.Left)), Say("NOT ACCOUNTED FOR")))
	}
	return Join(", ", all...)
}

// HandoverSettled is what needed somebody, with its answers, and what was put right, as a part of a page.
func HandoverSettled(v handover.Record, p Page) string {
	p.HTML, p.Root = true, ""
	s := Open(p, v.Units, v.AsOf)
	s.element("h1", 0, Say("Flags and corrections"))
	s.Section("FLAGS WITH THEIR ANSWERS", nil)
	if len(v.Flags.Flags) == 0 {
		s.Para(0, 2, Say("No flags."))
	}
	for _, f := range v.Flags.Flags {
		s.flag(f)
	}
	for _, l := range []struct {
		name, none string
		all        []view.Entry
	}{{"CORRECTIONS", "Nothing was corrected.", v.Corrections}, {"SET ASIDE", "Nothing is set aside.", v.SetAside}} {
		s.dayEntries(l.name, l.all, l.none)
	}
	return s.String()
}
