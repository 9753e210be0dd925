package leaf

import (
	"slices"
	"strconv"

	"hod/internal/report"
	"hod/internal/report/picture"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// OverviewWords is what the foreman's page shows, in words: who was heard when, what turns cold next, drying, what is
// left and what to settle.
func OverviewWords(v drawing.Overview, p report.Page) string {
	s := report.Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "overview")
	s.Excluded(v.Excluded)
	edgesNext(s, v.Edges, v.OldEdges)
	crewsNow(s, v.Crews)
	s.Section("DRYING", nil)
	if v.Weather == nil {
		s.Para(0, 2, report.Say("No weather was read yet."))
	} else {
		rate, limit := s.Drying(*v.Weather)
		over := report.Text(nil)
		if v.Weather.OverLimit != nil && *v.Weather.OverLimit {
			over = report.Say("OVER LIMIT", report.Urgent)
		}
		s.Para(0, 2, report.Join(": ", report.Join(", ", report.Figure(rate), report.Figure("limit "+limit)), over))
	}
	s.Section("LEFT", nil)
	switch {
	case v.Left.Done:
		s.Para(0, 2, report.Say("Every planned coat is finished."))
	case v.Left.Batches == nil:
		s.Para(0, 2, report.Say("Not known."))
	default:
		s.Para(0, 2, report.Sayf("%s.", report.Left(*v.Left.Batches)))
	}
	s.Section("TO SETTLE", report.Sayf("%d grave, %d other", v.Settle.Grave, v.Settle.Other))
	s.Para(0, 2, report.Say("`hod flags` has them, `hod map` the shell; --json has all."))
	return s.String()
}

// edgesNext are the edges that turn next, the one that presses most first.
func edgesNext(s *report.Sheet, edges []drawing.EdgeGroup, old int32) {
	s.Section("NEXT TO GO COLD", nil)
	if len(edges) == 0 {
		s.Para(0, 2, report.Say("No edge is open that may turn cold today."))
	}
	t := report.Table{Columns: []report.Column{
		{Name: "min", Right: true},
		{Name: "state", Least: 8},
		{Name: "at", Right: true},
		{Name: "where", Least: 16},
		{Name: "length", Right: true, Drop: 1},
	}}
	for _, g := range edges {
		where, long := report.CoatName(g.Zone, g.Face, g.Coat)+" to "+report.AndList(g.Others), report.Text(nil)
		if g.Inside || len(g.Others) == 0 {
			where = "inside " + report.CoatName(g.Zone, g.Face, g.Coat)
		}
		if g.LengthM > 0 {
			long = report.Figure(s.Length(g.LengthM))
		}
		within := ""
		if g.State != "cold" {
			within = picture.EdgeMinutes(g.TurnsAt, g.TurnsLatest, s.Now)
		}
		t.Row(report.Figure(within), report.Say(g.State, toneOf(g.State)),
			report.Figure(s.Clocks(g.TurnsAt, g.TurnsLatest)), report.Say(where),
			long)
	}
	s.Table(0, t)
	if old > 0 {
		s.Para(0, 2, report.Sayf("%s been cold since before today: `hod joints --old`.",
			report.Count(old, "edge has", "edges have")))
	}
}

// toneOf a state is what colour adds to its word.
func toneOf(state string) report.Style {
	switch state {
	case view.MayBeCold, "cold", view.MadeCold:
		return report.Urgent
	case "closing", view.MadeLate:
		return report.Soon
	}
	return report.Plain
}

func crewsNow(s *report.Sheet, crews []drawing.CrewNow) {
	s.Section("CREWS", nil)
	if len(crews) == 0 {
		s.Para(0, 2, report.Say("No crew is planned and none has written."))
	}
	t := report.Table{Columns: []report.Column{
		{Name: "crew", Least: 6},
		{Name: "heard", Right: true},
		{Name: "at", Right: true},
		{Name: "last", Least: 16},
		{Name: "today", Right: true, Drop: 1},
	}}
	for _, c := range crews {
		heard, last := report.Say("never"), report.Say("nothing yet")
		if c.HeardAt != nil {
			heard = report.Figure(report.Minutes(max(s.Now.Sub(*c.HeardAt), 0)) + " ago")
		}
		if c.LastAt != nil {
			last = report.Say(c.Last)
		}
		t.Row(report.Say(c.Crew), heard, report.Figure(s.MaybeClock(c.LastAt)), last,
			report.Figure(report.Count(c.Batches, "batch", "batches")))
	}
	s.Table(0, t)
}

// MapWords is the shell laid flat in words: its zones in the cells where they lie, and what its edges are.
func MapWords(v drawing.Map, p report.Page) string {
	s := report.Open(p, v.Units, v.AsOf)
	shown := "all coats"
	if v.Shown != nil {
		shown = picture.CoatName(*v.Shown)
	}
	s.Head(v.Site, "map, "+shown)
	if len(v.Parts) == 0 {
		s.Blank()
		s.Para(0, 2, report.Say("No zone is planned yet."))
	}
	for _, k := range v.Parts {
		s.Blank()
		zones := report.Table{Columns: []report.Column{
			{Name: "zone", Least: 6},
			{Name: "row", Right: true, Drop: 2},
			{Name: "column", Right: true, Drop: 2},
			{Name: "state", Least: 8},
			{Name: "mean of design", Right: true},
			{Name: "coats done", Right: true, Drop: 1},
			{Name: "last at", Right: true, Drop: 3},
		}}
		for _, z := range k.Zones {
			mean := report.Text(nil)
			if z.DesignM > 0 {
				mean = report.Figure(report.Against(s.Thickness(z.MeanM), s.Thickness(z.DesignM)))
			}
			zones.Row(report.Say(z.Zone), report.Figure(strconv.Itoa(int(z.Row))),
				report.Figure(strconv.Itoa(int(z.Column))),
				report.Join(", ", report.Say(z.State), report.Say(z.Surface)),
				mean, report.Figure(strconv.Itoa(int(z.Done))+" of "+strconv.Itoa(int(z.Planned))),
				report.Figure(s.MaybeClock(z.LastAt)))
		}
		s.Table(0, zones)
		mapEdges(s, k.Edges)
	}
	for _, n := range v.Notes {
		s.Para(0, 2, report.Say(report.Sentence(n)))
	}
	return s.String()
}

// mapEdges are the edges of a part where anything lies.
func mapEdges(s *report.Sheet, edges []drawing.MapEdge) {
	s.Section("EDGES", nil)
	t := report.Table{Columns: []report.Column{
		{Name: "edge", Least: 8},
		{Name: "state", Least: 8},
		{Name: "min", Right: true},
		{Name: "cold at", Right: true},
		{Name: "length", Right: true, Drop: 1},
	}}
	for _, e := range edges {
		if e.State == view.NotMet {
			continue
		}
		within, at := "", ""
		if slices.Contains([]string{"live", "closing", view.MayBeCold}, e.State) {
			within, at = picture.EdgeMinutes(e.TurnsAt, e.TurnsLatest, s.Now), s.Clocks(e.TurnsAt, e.TurnsLatest)
		}
		t.Row(report.Say(e.A+" to "+e.B), report.Say(e.State, toneOf(e.State)), report.Figure(within),
			report.Figure(at),
			report.Figure(s.Length(e.LengthM)))
	}
	if len(t.Rows) == 0 {
		s.Para(0, 2, report.Say("Nothing lies along an edge yet."))
	}
	s.Table(0, t)
}

// ChartsWords are the figures over the days in words: each chart's last state and what its limits are.
func ChartsWords(v drawing.Charts, p report.Page) string {
	s := report.Open(p, v.Units, v.AsOf)
	s.Head(v.Site, "charts")
	s.Section("PROGRESS", report.Sayf("all coats need %s", s.Volume(v.PlannedM3)))
	days := report.Table{Columns: []report.Column{
		{Name: "by the end of", Least: 10},
		{Name: "placed", Right: true},
		{Name: "of all", Right: true},
		{Name: "batches", Right: true},
	}}
	for _, d := range v.Progress {
		of := report.Text(nil)
		if v.PlannedM3 > 0 {
			of = report.Figure(report.Percent(d.PlacedM3 / v.PlannedM3))
		}
		days.Row(report.Say(d.Date), report.Figure(s.Volume(d.PlacedM3)), of,
			report.Figure(report.Decimal(d.Batches, 1)))
	}
	if len(days.Rows) == 0 {
		s.Para(0, 2, report.Say("Nothing is placed yet."))
	}
	s.Table(0, days)
	for _, c := range v.Control {
		controlWords(s, c)
	}
	s.Section("THICKNESS", nil)
	thick := report.Table{Columns: []report.Column{
		{Name: "coat", Least: 8},
		{Name: "mean of design", Right: true},
		{Name: "gauges", Least: 8},
		{Name: "state", Drop: 1},
	}}
	for _, b := range v.Thickness {
		var gauges []report.Text
		for _, m := range b.GaugeM {
			gauges = append(gauges, report.Figure(s.Thickness(m)))
		}
		thick.Row(report.Say(report.CoatName(b.Zone, b.Face, b.Coat)),
			report.Figure(report.Against(s.Thickness(b.MeanM), s.Thickness(b.DesignM))),
			report.Join(", ", gauges...), report.Say(b.State))
	}
	if len(thick.Rows) == 0 {
		s.Para(0, 2, report.Say("Nothing is placed yet."))
	}
	s.Table(0, thick)
	stockWords(s, v.Stock)
	s.Para(0, 2, report.Say("Each point is in --json."))
	return s.String()
}

func controlWords(s *report.Sheet, c drawing.ControlChart) {
	s.Section("MIX "+c.Mix+", "+c.Figure, report.Say(report.Count(len(c.Points), "batch", "batches")))
	if c.Mean == nil || c.Low == nil || c.High == nil {
		s.Para(0, 2, report.Sayf("No limits: %s.", c.Note))
		return
	}
	s.Para(0, 2, report.Sayf("Mean %s, limits %s and %s.", report.Thousandths(*c.Mean), report.Thousandths(*c.Low),
		report.Thousandths(*c.High)))
	odd := report.Table{Columns: []report.Column{
		{Name: "batch", Least: 12},
		{Name: c.Figure, Right: true},
		{Name: "rule", Least: 16},
		{Name: "event", Least: 6},
	}}
	for _, k := range c.Points {
		if k.Rule != "" {
			odd.Row(report.Say(k.Batch), report.Figure(report.Thousandths(k.Value)), report.Say(k.Rule),
				report.Say(k.Event))
		}
	}
	if len(odd.Rows) == 0 {
		s.Para(0, 2, report.Say("No point is outside, and no run rule is broken."))
	}
	s.Table(2, odd)
	s.Para(0, 2, report.Sayf("%s. %s.", report.SentenceStart(c.Source), report.SentenceStart(c.Rules)))
}

func stockWords(s *report.Sheet, lines []drawing.StockLine) {
	s.Section("STOCK OVER TIME", nil)
	t := report.Table{Columns: []report.Column{
		{Name: "material", Least: 8},
		{Name: "at", Right: true},
		{Name: "what"},
		{Name: "amount", Right: true},
		{Name: "on hand", Right: true},
	}}
	for _, l := range lines {
		for _, k := range l.Points {
			t.Row(report.Say(l.Material), report.Figure(s.Clock(k.At)), report.Say(k.What),
				report.Figure(s.Mass(k.AmountKg)),
				report.Figure(s.Mass(k.BalanceKg)))
		}
	}
	if len(t.Rows) == 0 {
		s.Para(0, 2, report.Say("No stock is written."))
	}
	s.Table(0, t)
}
