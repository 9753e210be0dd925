package leaf

import (
	"strings"
	"time"

	"hod/internal/report"
	"hod/internal/report/picture"
	"hod/internal/report/summary"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// DayLeaf is a day as the inside of a web page: all of its lists, and its pictures. Without a root it is fit to be a
// file of its own.
func DayLeaf(v drawing.DayLeaf, p report.Page) string {
	p.HTML = true
	w := leafOf(v.Units, v.AsOf, p)
	w.put(`%s`, summary.DayAll(v.Day, p))
	if v.Charts.AsOf.IsZero() { // the day has not begun
		return w.b.String()
	}
	w.Now = v.At // the pictures are of then
	w.put(`<div class="cols">`)
	w.mapSection(v.Map, "now", true)
	w.dryingDrawn(v.Drying)
	w.sky(v.Drying)
	if drawn := picture.Fan(w.frame("fan"), v.Fan, nil, w.Now); drawn != "" {
		w.section("fan", "How what is left goes down")
		w.put(`%s`, drawn)
		w.fanTable(v.Fan)
		w.endSection()
	}
	w.charts(v.Charts)
	w.put(`</div>`)
	return w.b.String()
}

// dryingDrawn is how fast bare mortar dries over the day, as a picture with its numbers.
func (w *leaf) dryingDrawn(v view.Drying) {
	drawn := picture.Drying(w.frame("dry"), v, w.Now)
	if drawn == "" {
		return
	}
	w.section("drying", "Drying")
	w.put(`%s`, drawn)
	w.put(`<p class="note">The band is what the formula may be off by: %s either way.</p>`, esc(w.Share(v.Spread)))
	w.dryingTable(v)
	w.endSection()
}

// stripTable says where each batch of a coat lies, as the picture above it draws it.
func (w *leaf) stripTable(id string, c view.ZoneCoat) {
	g := grid{caption: "Where each batch lies, as drawn", columns: []report.Column{
		{Name: "batch"},
		{Name: "from"},
		{Name: "begins", Right: true},
		{Name: "reaches", Right: true},
		{Name: "laid", Right: true},
		{Name: "age", Right: true},
		{Name: "event"},
	}}
	today := "/" + w.Now.In(w.In).Format(time.DateOnly) + "/"
	for _, p := range c.Placements {
		if p.Strip == nil {
			continue
		}
		from, to := "", ""
		switch l := p.Strip; {
		case l.BeginsM != nil && l.ReachesM != nil:
			from, to = w.Length(*l.BeginsM), w.Length(*l.ReachesM)
		case l.BeginsDegrees != nil && l.ReachesDegrees != nil:
			from, to = report.Decimal(*l.BeginsDegrees, 0)+"°", report.Decimal(*l.ReachesDegrees, 0)+"°"
		}
		g.row(report.Say(strings.Replace(p.Batch, today, "/", 1)), report.Say(p.Strip.Start), report.Figure(from),
			report.Figure(to), report.Figure(w.Clocks(&p.From, &p.To)),
			report.Figure(report.Minutes(max(w.Now.Sub(p.To), 0))), report.Say(p.Name).To("event", p.Name))
	}
	w.grid(id, g)
}
