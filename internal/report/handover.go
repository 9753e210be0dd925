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
	s := open(p, v.Units, v.AsOf)
	s.element("h1", 0, say("Coats"))
	s.coats("coat", v.Lines)
	if len(v.Maps) > 0 {
		s.para(0, 2,
			sayf(
				"The shell laid flat, coat by coat. In a cell stands the thickness placed / planned, or its share. On an edge stand the "+
					"minutes until it is cold, from the soonest to the latest; %s is one %s, %s one %s.",
				picture.Mark(view.MadeLate), view.MadeLate, picture.Mark(view.MadeCold), view.MadeCold))
	}
	for i, m := range v.Maps {
		for k, part := range m.Parts {
			if m.Shown != nil {
				s.element("h3", 0, say(strings.TrimSpace(coatName("", m.Shown.Face, m.Shown.Coat))))
			}
			f := picture.Frame{ID: fmt.Sprintf("c%dp%d", i, k), In: s.in, System: s.system}
			s.lines = append(s.lines, picture.Map(f, m, part))
		}
	}
	return s.String()
}

// HandoverWork is what was mixed and of what, what was tested and broken, and the weather, as a part of a page.
func HandoverWork(v handover.Record, p Page) string {
	p.HTML, p.Root = true, ""
	s := open(p, v.Units, v.AsOf)
	s.element("h1", 0, say("Batches, tests, weather"))
	s.lots(v)
	s.batches(v.Batches)
	s.dayTests("", v.Tests)
	s.section("BREAKS", nil)
	if len(v.Breaks) == 0 {
		s.para(0, 2, say("No strength test was written."))
	} else {
		s.breaks(v.Breaks)
	}
	s.section("WEATHER AS IT WAS READ", nil)
	if len(v.Weather) == 0 {
		s.para(0, 2, say("None was read."))
	}
	t := table{columns: []column{
		{name: "date"},
		{name: "air from", right: true},
		{name: "to", right: true},
		{name: "humidity down to", right: true},
		{name: "wind up to", right: true},
		{name: "rain", right: true},
		{name: "evaporation up to", right: true},
		{name: "not judged", right: true},
		{name: "readings", right: true},
	}}
	for _, w := range v.Weather {
		unjudged := ""
		if w.UnjudgedMin > 0 {
			unjudged = ofMinutes(w.UnjudgedMin)
		}
		t.row(say(w.Date), figure(maybe(w.AirLowC, s.temperature)), figure(maybe(w.AirHighC, s.temperature)),
			figure(maybe(w.HumidityLow, s.share)),
			figure(maybe(w.WindHighMPS, s.speed)), figure(maybe(w.RainMM, s.rain)),
			figure(maybe(w.EvaporationMax, s.evaporation)), figure(unjudged), figure(fmt.Sprint(w.Readings)))
	}
	s.table(0, t)
	return s.String()
}

// lots are the deliveries that named theirs, each with the first batch that it can be in: which of several lots on hand
// went into a batch is not written.
func (s *sheet) lots(v handover.Record) {
	s.section("LOTS", nil)
	if len(v.Lots) == 0 {
		s.para(0, 2, say("No delivery named its lot."))
		return
	}
	t := table{columns: []column{
		{name: "material"},
		{name: "lot"},
		{name: "received", right: true},
		{name: "amount", right: true},
		{name: "event"},
		{name: "can be in"},
	}}
	for _, l := range v.Lots {
		in := say("no batch yet")
		if l.FirstBatch != "" {
			in = sayf("%s and later", l.FirstBatch)
		}
		t.row(say(l.Material), say(l.Lot), figure(s.clock(l.At)), figure(s.mass(l.MassKg)), say(l.Event), in)
	}
	s.table(0, t)
	s.para(0, 2,
		say("A lot can be in each batch of the material from then on. Which of several on hand it was is not written."))
}

// batches are a table for each mix, with a column for each of its constituents.
func (s *sheet) batches(all []handover.Batch) {
	s.section("BATCHES", nil)
	if len(all) == 0 {
		s.para(0, 2, say("No batch was written."))
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
		s.element("h3", 0, say(strings.TrimSpace("mix "+mix)))
		s.batchesOf(of[mix])
	}
}

func (s *sheet) batchesOf(all []handover.Batch) {
	var names []string
	for _, b := range all {
		for _, c := range b.Charges {
			if !slices.Contains(names, c.Constituent) {
				names = append(names, c.Constituent)
			}
		}
	}
	t := table{columns: []column{{name: "batch"}, {name: "event"}, {name: "ready", right: true}}}
	for _, n := range names {
		t.columns = append(t.columns, column{name: Clean(n), right: true})
	}
	t.columns = append(t.columns, column{name: "w/cm", right: true}, column{name: "yield", right: true},
		column{name: "by design", right: true}, column{name: "into", least: 10})
	var wrong []text
	for _, b := range all {
		cells := []text{say(b.Batch), say(b.Event), figure(s.maybeClock(b.Ready))}
		for _, n := range names {
			cell := text(nil)
			for _, c := range b.Charges {
				if c.Constituent == n {
					cell = join(" + ", cell, figure(s.mass(c.MassKg)))
				}
			}
			cells = append(cells, cell)
		}
		cells = append(cells, figure(maybe(b.WCM, thousandths)), figure(maybe(b.YieldM3, s.volume)),
			figure(maybe(b.DesignM3, s.volume)), s.into(b))
		t.row(cells...)
		if b.Wrong != "" {
			wrong = append(wrong, join(": ", say(b.Batch), say("no figures"), say(b.Wrong)))
		}
	}
	s.table(0, t)
	for _, w := range wrong {
		s.para(0, 2, w)
	}
}

// into is where a batch went.
func (s *sheet) into(b handover.Batch) text {
	var all []text
	for _, k := range b.Into {
		all = append(all, figure(s.share(k.Share)+" "+coatName(k.Zone, k.Face, k.Coat)))
	}
	if b.Discarded > 1e-9 {
		all = append(all, join(" ", figure(s.share(b.Discarded)), say("thrown away")))
	}
	if b.Left > 1e-9 {
		all = append(all, join(" ", figure(s.share(b.Left)), say("NOT ACCOUNTED FOR")))
	}
	return join(", ", all...)
}

// HandoverSettled is what needed somebody, with its answers, and what was put right, as a part of a page.
func HandoverSettled(v handover.Record, p Page) string {
	p.HTML, p.Root = true, ""
	s := open(p, v.Units, v.AsOf)
	s.element("h1", 0, say("Flags and corrections"))
	s.section("FLAGS WITH THEIR ANSWERS", nil)
	if len(v.Flags.Flags) == 0 {
		s.para(0, 2, say("No flags."))
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
