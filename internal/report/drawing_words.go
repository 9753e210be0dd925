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
	s := Open(p, v.Units, v.AsOf)
	s.head(v.Site, "overview")
	s.edgesNext(v.Edges, v.OldEdges)
	s.crewsNow(v.Crews)
	s.Section("DRYING", nil)
	if v.Weather == nil {
		s.Para(0, 2, Say("No weather was read yet."))
	} else {
		rate, limit := s.Drying(*v.Weather)
		over := Text(nil)
		if v.Weather.OverLimit != nil && *v.Weather.OverLimit {
			over = Say("OVER LIMIT", Urgent)
		}
		s.Para(0, 2, Join(": ", Join(", ", Figure(rate), Figure("limit "+limit)), over))
	}
	s.Section("LEFT", nil)
	switch {
	case v.Left.Done:
		s.Para(0, 2, Say("Every planned coat is finished."))
	case v.Left.Batches == nil:
		s.Para(0, 2, Say("Not known."))
	default:
		s.Para(0, 2, Sayf("%s.", Left(*v.Left.Batches)))
	}
	s.Section("TO SETTLE", Sayf("%d grave, %d other", v.Settle.Grave, v.Settle.Other))
	s.Para(0, 2, Say("`hod flags` has them, `hod map` the shell; --json has all."))
	return s.String()
}

// edgesNext are the edges that turn next, the one that presses most first.
func (s *Sheet) edgesNext(edges []drawing.EdgeGroup, old int32) {
	s.Section("NEXT TO GO COLD", nil)
	if len(edges) == 0 {
		s.Para(0, 2, Say("No edge is open that may turn cold today."))
	}
	t := Table{Columns: []Column{
		{Name: "min", Right: true},
		{Name: "state", Least: 8},
		{Name: "at", Right: true},
		{Name: "where", Least: 16},
		{Name: "length", Right: true, Drop: 1},
	}}
	for _, g := range edges {
		where, long := CoatName(g.Zone, g.Face, g.Coat)+" to "+AndList(g.Others), Text(nil)
		if g.Inside || len(g.Others) == 0 {
			where = "inside " + CoatName(g.Zone, g.Face, g.Coat)
		}
		if g.LengthM > 0 {
			long = Figure(s.Length(g.LengthM))
		}
		within := ""
		if g.State != "cold" {
			within = picture.EdgeMinutes(g.TurnsAt, g.TurnsLatest, s.Now)
		}
		t.Row(Figure(within), Say(g.State, toneOf(g.State)), Figure(s.Clocks(g.TurnsAt, g.TurnsLatest)), Say(where),
			long)
	}
	s.Table(0, t)
	if old > 0 {
		s.Para(0, 2, Sayf("%s been cold since before today: `hod joints --old`.", Count(old, "edge has", "edges have")))
	}
}

// toneOf a state is what colour adds to its word.
func toneOf(state string) style {
	switch state {
	case view.MayBeCold, "cold", view.MadeCold:
		return Urgent
	case "closing", view.MadeLate:
		return soon
	}
	return plain
}

func (s *Sheet) crewsNow(crews []drawing.CrewNow) {
	s.Section("CREWS", nil)
	if len(crews) == 0 {
		s.Para(0, 2, Say("No crew is planned and none has written."))
	}
	t := Table{Columns: []Column{
		{Name: "crew", Least: 6},
		{Name: "heard", Right: true},
		{Name: "at", Right: true},
		{Name: "last", Least: 16},
		{Name: "today", Right: true, Drop: 1},
	}}
	for _, c := range crews {
		heard, last := Say("never"), Say("nothing yet")
		if c.HeardAt != nil {
			heard = Figure(Minutes(max(s.Now.Sub(*c.HeardAt), 0)) + " ago")
		}
		if c.LastAt != nil {
			last = Say(c.Last)
		}
		t.Row(Say(c.Crew), heard, Figure(s.MaybeClock(c.LastAt)), last, Figure(Count(c.Batches, "batch", "batches")))
	}
	s.Table(0, t)
}

// MapWords is the shell laid flat in words: its zones in the cells where they lie, and what its edges are.
func MapWords(v drawing.Map, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	shown := "all coats"
	if v.Shown != nil {
		shown = picture.CoatName(*v.Shown)
	}
	s.head(v.Site, "map, "+shown)
	if len(v.Parts) == 0 {
		s.Blank()
		s.Para(0, 2, Say("No zone is planned yet."))
	}
	for _, k := range v.Parts {
		s.Blank()
		zones := Table{Columns: []Column{
			{Name: "zone", Least: 6},
			{Name: "row", Right: true, Drop: 2},
			{Name: "column", Right: true, Drop: 2},
			{Name: "state", Least: 8},
			{Name: "mean of design", Right: true},
			{Name: "coats done", Right: true, Drop: 1},
			{Name: "last at", Right: true, Drop: 3},
		}}
		for _, z := range k.Zones {
			mean := Text(nil)
			if z.DesignM > 0 {
				mean = Figure(Against(s.Thickness(z.MeanM), s.Thickness(z.DesignM)))
			}
			zones.Row(Say(z.Zone), Figure(strconv.Itoa(int(z.Row))), Figure(strconv.Itoa(int(z.Column))),
				Join(", ", Say(z.State), Say(z.Surface)),
				mean, Figure(strconv.Itoa(int(z.Done))+" of "+strconv.Itoa(int(z.Planned))),
				Figure(s.MaybeClock(z.LastAt)))
		}
		s.Table(0, zones)
		s.mapEdges(k.Edges)
	}
	for _, n := range v.Notes {
		s.Para(0, 2, Say(Sentence(n)))
	}
	return s.String()
}

// mapEdges are the edges of a part where anything lies.
func (s *Sheet) mapEdges(edges []drawing.MapEdge) {
	s.Section("EDGES", nil)
	t := Table{Columns: []Column{
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
		t.Row(Say(e.A+" to "+e.B), Say(e.State, toneOf(e.State)), Figure(within), Figure(at),
			Figure(s.Length(e.LengthM)))
	}
	if len(t.rows) == 0 {
		s.Para(0, 2, Say("Nothing lies along an edge yet."))
	}
	s.Table(0, t)
}

// ChartsWords are the figures over the days in words: each chart's last state and what its limits are.
func ChartsWords(v drawing.Charts, p Page) string {
	s := Open(p, v.Units, v.AsOf)
	s.head(v.Site, "charts")
	s.Section("PROGRESS", Sayf("all coats need %s", s.Volume(v.PlannedM3)))
	days := Table{Columns: []Column{
		{Name: "by the end of", Least: 10},
		{Name: "placed", Right: true},
		{Name: "of all", Right: true},
		{Name: "batches", Right: true},
	}}
	for _, d := range v.Progress {
		of := Text(nil)
		if v.PlannedM3 > 0 {
			of = Figure(Percent(d.PlacedM3 / v.PlannedM3))
		}
		days.Row(Say(d.Date), Figure(s.Volume(d.PlacedM3)), of, Figure(Decimal(d.Batches, 1)))
	}
	if len(days.rows) == 0 {
		s.Para(0, 2, Say("Nothing is placed yet."))
	}
	s.Table(0, days)
	for _, c := range v.Control {
		s.controlWords(c)
	}
	s.Section("THICKNESS", nil)
	thick := Table{Columns: []Column{
		{Name: "coat", Least: 8},
		{Name: "mean of design", Right: true},
		{Name: "gauges", Least: 8},
		{Name: "state", Drop: 1},
	}}
	for _, b := range v.Thickness {
		var gauges []Text
		for _, m := range b.GaugeM {
			gauges = append(gauges, Figure(s.Thickness(m)))
		}
		thick.Row(Say(CoatName(b.Zone, b.Face, b.Coat)), Figure(Against(s.Thickness(b.MeanM), s.Thickness(b.DesignM))),
			Join(", ", gauges...), Say(b.State))
	}
	if len(thick.rows) == 0 {
		s.Para(0, 2, Say("Nothing is placed yet."))
	}
	s.Table(0, thick)
	s.stockWords(v.Stock)
	s.Para(0, 2, Say("Each point is in --json."))
	return s.String()
}

func (s *Sheet) controlWords(c drawing.ControlChart) {
	s.Section("MIX "+c.Mix+", "+c.Figure, Say(Count(len(c.Points), "batch", "batches")))
	if c.Mean == nil || c.Low == nil || c.High == nil {
		s.Para(0, 2, Sayf("No limits: %s.", c.Note))
		return
	}
	s.Para(0, 2, Sayf("Mean %s, limits %s and %s.", Thousandths(*c.Mean), Thousandths(*c.Low), Thousandths(*c.High)))
	odd := Table{Columns: []Column{
		{Name: "batch", Least: 12},
		{Name: c.Figure, Right: true},
		{Name: "rule", Least: 16},
		{Name: "event", Least: 6},
	}}
	for _, k := range c.Points {
		if k.Rule != "" {
			odd.Row(Say(k.Batch), Figure(Thousandths(k.Value)), Say(k.Rule), Say(k.Event))
		}
	}
	if len(odd.rows) == 0 {
		s.Para(0, 2, Say("No point is outside, and no run rule is broken."))
	}
	s.Table(2, odd)
	s.Para(0, 2, Sayf("%s. %s.", SentenceStart(c.Source), SentenceStart(c.Rules)))
}

func (s *Sheet) stockWords(lines []drawing.StockLine) {
	s.Section("STOCK OVER TIME", nil)
	t := Table{Columns: []Column{
		{Name: "material", Least: 8},
		{Name: "at", Right: true},
		{Name: "what"},
		{Name: "amount", Right: true},
		{Name: "on hand", Right: true},
	}}
	for _, l := range lines {
		for _, k := range l.Points {
			t.Row(Say(l.Material), Figure(s.Clock(k.At)), Say(k.What), Figure(s.Mass(k.AmountKg)),
				Figure(s.Mass(k.BalanceKg)))
		}
	}
	if len(t.rows) == 0 {
		s.Para(0, 2, Say("No stock is written."))
	}
	s.Table(0, t)
}
