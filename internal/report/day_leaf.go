package report

import (
	"time"

	"hod/internal/report/picture"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// DayLeaf is a day as the inside of a web page: all of its lists, and its pictures. Without a root it is fit to be a
// file of its own.
func DayLeaf(v drawing.DayLeaf, p Page) string {
	p.HTML = true
	w := leafOf(v.Units, v.AsOf, p)
	w.put(`%s`, DayAll(v.Day, p))
	if v.Charts.AsOf.IsZero() { // the day has not begun
		return w.b.String()
	}
	w.now = v.At // the pictures are of then
	w.put(`<div class="cols">`)
	w.mapSection(v.Map, "now", true)
	w.dryingDrawn(v.Drying)
	w.sky(v.Drying)
	if drawn := picture.Fan(w.frame("fan"), v.Fan, nil, w.now); drawn != "" {
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
	drawn := picture.Drying(w.frame("dry"), v, w.now)
	if drawn == "" {
		return
	}
	w.section("drying", "Drying")
	w.put(`%s`, drawn)
	w.put(`<p class="note">The band is what the formula may be off by: %s either way.</p>`, esc(w.share(v.Spread)))
	w.dryingTable(v)
	w.endSection()
}

// stripTable says where each batch of a coat lies, as the picture above it draws it.
func (w *leaf) stripTable(id string, c view.ZoneCoat) {
	g := grid{caption: "Where each batch lies, as drawn", columns: []column{
		{name: "batch"},
		{name: "from"},
		{name: "begins", right: true},
		{name: "reaches", right: true},
		{name: "laid", right: true},
		{name: "age", right: true},
		{name: "event", plain: true},
	}}
	date := w.asOf.In(w.in).Format(time.DateOnly)
	for _, p := range c.Placements {
		if p.Strip == nil {
			continue
		}
		from, to := "", ""
		switch l := p.Strip; {
		case l.BeginsM != nil && l.ReachesM != nil:
			from, to = w.length(*l.BeginsM), w.length(*l.ReachesM)
		case l.BeginsDegrees != nil && l.ReachesDegrees != nil:
			from, to = decimal(*l.BeginsDegrees, 0)+"°", decimal(*l.ReachesDegrees, 0)+"°"
		}
		g.row(say(ofDay(p.Batch, date)), say(p.Strip.Start), figure(from), figure(to), figure(w.clocks(&p.From, &p.To)),
			figure(minutes(max(w.now.Sub(p.To), 0))), say(p.Name).to("event", p.Name))
	}
	w.grid(id, g)
}
