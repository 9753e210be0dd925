package report

import (
	"slices"
	"strconv"

	"hod/internal/report/picture"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// OverviewWords is what the foreman's page shows, in words: who was heard when, what turns cold next, drying, what is
// left and what to settle.
func OverviewWords(v drawing.Overview, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "overview")
	s.edgesNext(v.Edges, v.OldEdges)
	s.crewsNow(v.Crews)
	s.section("DRYING", nil)
	if v.Weather == nil {
		s.para(0, 2, say("No weather was read yet."))
	} else {
		rate, limit := s.drying(*v.Weather)
		over := text(nil)
		if v.Weather.OverLimit != nil && *v.Weather.OverLimit {
			over = say("OVER LIMIT", urgent)
		}
		s.para(0, 2, join(": ", join(", ", figure(rate), figure("limit "+limit)), over))
	}
	s.section("LEFT", nil)
	switch {
	case v.Left.Done:
		s.para(0, 2, say("Every planned coat is finished."))
	case v.Left.Batches == nil:
		s.para(0, 2, say("Not known."))
	default:
		s.para(0, 2, sayf("%s.", left(*v.Left.Batches)))
	}
	s.section("TO SETTLE", sayf("%d grave, %d other", v.Settle.Grave, v.Settle.Other))
	s.para(0, 2, say("`hod flags` has them, `hod map` the shell; --json has all."))
	return s.String()
}

// edgesNext are the edges that turn next, the one that presses most first.
func (s *sheet) edgesNext(edges []drawing.EdgeGroup, old int32) {
	s.section("NEXT TO GO COLD", nil)
	if len(edges) == 0 {
		s.para(0, 2, say("No edge is open that may turn cold today."))
	}
	t := table{columns: []column{
		{name: "min", right: true},
		{name: "state", least: 8},
		{name: "at", right: true},
		{name: "where", least: 16},
		{name: "length", right: true, drop: 1},
	}}
	for _, g := range edges {
		where, long := coatName(g.Zone, g.Face, g.Coat)+" to "+andList(g.Others), text(nil)
		if g.Inside || len(g.Others) == 0 {
			where = "inside " + coatName(g.Zone, g.Face, g.Coat)
		}
		if g.LengthM > 0 {
			long = figure(s.length(g.LengthM))
		}
		within := ""
		if g.State != "cold" {
			within = picture.EdgeMinutes(g.TurnsAt, g.TurnsLatest, s.now)
		}
		t.row(figure(within), say(g.State, toneOf(g.State)), figure(s.clocks(g.TurnsAt, g.TurnsLatest)), say(where),
			long)
	}
	s.table(0, t)
	if old > 0 {
		s.para(0, 2, sayf("%s been cold since before today: `hod joints --old`.", count(old, "edge has", "edges have")))
	}
}

// toneOf a state is what colour adds to its word.
func toneOf(state string) style {
	switch state {
	case view.MayBeCold, "cold", view.MadeCold:
		return urgent
	case "closing", view.MadeLate:
		return soon
	}
	return plain
}

func (s *sheet) crewsNow(crews []drawing.CrewNow) {
	s.section("CREWS", nil)
	if len(crews) == 0 {
		s.para(0, 2, say("No crew is planned and none has written."))
	}
	t := table{columns: []column{
		{name: "crew", least: 6},
		{name: "heard", right: true},
		{name: "at", right: true},
		{name: "last", least: 16},
		{name: "today", right: true, drop: 1},
	}}
	for _, c := range crews {
		heard, last := say("never"), say("nothing yet")
		if c.HeardAt != nil {
			heard = figure(minutes(max(s.now.Sub(*c.HeardAt), 0)) + " ago")
		}
		if c.LastAt != nil {
			last = say(c.Last)
		}
		t.row(say(c.Crew), heard, figure(s.maybeClock(c.LastAt)), last, figure(count(c.Batches, "batch", "batches")))
	}
	s.table(0, t)
}

// MapWords is the shell laid flat in words: its zones in the cells where they lie, and what its edges are.
func MapWords(v drawing.Map, p Page) string {
	s := open(p, v.Units, v.AsOf)
	shown := "all coats"
	if v.Shown != nil {
		shown = picture.CoatName(*v.Shown)
	}
	s.head(v.Site, "map, "+shown)
	if len(v.Parts) == 0 {
		s.blank()
		s.para(0, 2, say("No zone is planned yet."))
	}
	for _, k := range v.Parts {
		s.blank()
		zones := table{columns: []column{
			{name: "zone", least: 6},
			{name: "row", right: true, drop: 2},
			{name: "column", right: true, drop: 2},
			{name: "state", least: 8},
			{name: "mean of design", right: true},
			{name: "coats done", right: true, drop: 1},
			{name: "last at", right: true, drop: 3},
		}}
		for _, z := range k.Zones {
			mean := text(nil)
			if z.DesignM > 0 {
				mean = figure(against(s.thickness(z.MeanM), s.thickness(z.DesignM)))
			}
			zones.row(say(z.Zone), figure(strconv.Itoa(int(z.Row))), figure(strconv.Itoa(int(z.Column))),
				join(", ", say(z.State), say(z.Surface)),
				mean, figure(strconv.Itoa(int(z.Done))+" of "+strconv.Itoa(int(z.Planned))),
				figure(s.maybeClock(z.LastAt)))
		}
		s.table(0, zones)
		s.mapEdges(k.Edges)
	}
	for _, n := range v.Notes {
		s.para(0, 2, say(sentence(n)))
	}
	return s.String()
}

// mapEdges are the edges of a part where anything lies.
func (s *sheet) mapEdges(edges []drawing.MapEdge) {
	s.section("EDGES", nil)
	t := table{columns: []column{
		{name: "edge", least: 8},
		{name: "state", least: 8},
		{name: "min", right: true},
		{name: "cold at", right: true},
		{name: "length", right: true, drop: 1},
	}}
	for _, e := range edges {
		if e.State == view.NotMet {
			continue
		}
		within, at := "", ""
		if slices.Contains([]string{"live", "closing", view.MayBeCold}, e.State) {
			within, at = picture.EdgeMinutes(e.TurnsAt, e.TurnsLatest, s.now), s.clocks(e.TurnsAt, e.TurnsLatest)
		}
		t.row(say(e.A+" to "+e.B), say(e.State, toneOf(e.State)), figure(within), figure(at),
			figure(s.length(e.LengthM)))
	}
	if len(t.rows) == 0 {
		s.para(0, 2, say("Nothing lies along an edge yet."))
	}
	s.table(0, t)
}

// ChartsWords are the figures over the days in words: each chart's last state and what its limits are.
func ChartsWords(v drawing.Charts, p Page) string {
	s := open(p, v.Units, v.AsOf)
	s.head(v.Site, "charts")
	s.section("PROGRESS", sayf("all coats need %s", s.volume(v.PlannedM3)))
	days := table{columns: []column{
		{name: "by the end of", least: 10},
		{name: "placed", right: true},
		{name: "of all", right: true},
		{name: "batches", right: true},
	}}
	for _, d := range v.Progress {
		of := text(nil)
		if v.PlannedM3 > 0 {
			of = figure(percent(d.PlacedM3 / v.PlannedM3))
		}
		days.row(say(d.Date), figure(s.volume(d.PlacedM3)), of, figure(decimal(d.Batches, 1)))
	}
	if len(days.rows) == 0 {
		s.para(0, 2, say("Nothing is placed yet."))
	}
	s.table(0, days)
	for _, c := range v.Control {
		s.controlWords(c)
	}
	s.section("THICKNESS", nil)
	thick := table{columns: []column{
		{name: "coat", least: 8},
		{name: "mean of design", right: true},
		{name: "gauges", least: 8},
		{name: "state", drop: 1},
	}}
	for _, b := range v.Thickness {
		var gauges []text
		for _, m := range b.GaugeM {
			gauges = append(gauges, figure(s.thickness(m)))
		}
		thick.row(say(coatName(b.Zone, b.Face, b.Coat)), figure(against(s.thickness(b.MeanM), s.thickness(b.DesignM))),
			join(", ", gauges...), say(b.State))
	}
	if len(thick.rows) == 0 {
		s.para(0, 2, say("Nothing is placed yet."))
	}
	s.table(0, thick)
	s.stockWords(v.Stock)
	s.para(0, 2, say("Each point is in --json."))
	return s.String()
}

func (s *sheet) controlWords(c drawing.ControlChart) {
	s.section("MIX "+c.Mix+", "+c.Figure, say(count(len(c.Points), "batch", "batches")))
	if c.Mean == nil || c.Low == nil || c.High == nil {
		s.para(0, 2, sayf("No limits: %s.", c.Note))
		return
	}
	s.para(0, 2, sayf("Mean %s, limits %s and %s.", thousandths(*c.Mean), thousandths(*c.Low), thousandths(*c.High)))
	odd := table{columns: []column{
		{name: "batch", least: 12},
		{name: c.Figure, right: true},
		{name: "rule", least: 16},
		{name: "event", least: 6},
	}}
	for _, k := range c.Points {
		if k.Rule != "" {
			odd.row(say(k.Batch), figure(thousandths(k.Value)), say(k.Rule), say(k.Event))
		}
	}
	if len(odd.rows) == 0 {
		s.para(0, 2, say("No point is outside, and no run rule is broken."))
	}
	s.table(2, odd)
	s.para(0, 2, sayf("%s. %s.", sentenceStart(c.Source), sentenceStart(c.Rules)))
}

func (s *sheet) stockWords(lines []drawing.StockLine) {
	s.section("STOCK OVER TIME", nil)
	t := table{columns: []column{
		{name: "material", least: 8},
		{name: "at", right: true},
		{name: "what"},
		{name: "amount", right: true},
		{name: "on hand", right: true},
	}}
	for _, l := range lines {
		for _, k := range l.Points {
			t.row(say(l.Material), figure(s.clock(k.At)), say(k.What), figure(s.mass(k.AmountKg)),
				figure(s.mass(k.BalanceKg)))
		}
	}
	if len(t.rows) == 0 {
		s.para(0, 2, say("No stock is written."))
	}
	s.table(0, t)
}
