package leaf

import (
	"strings"

	"hod/internal/report"
	"hod/internal/unit"
	"hod/internal/view/drawing"
)

// Why is what a figure rests on as the inside of a web page.
func Why(v drawing.Why, p report.Page) string {
	w := leafOf(v.Units, v.AsOf, p)
	w.put(`<header class="top"><h1>%s</h1><p>what it rests on</p></header>`, esc(v.Title))
	g := grid{caption: "Figures", columns: []report.Column{
		{Name: "figure"},
		{Name: "value", Right: true},
		{Name: "at", Right: true},
		{},
	}}
	for _, f := range v.Figures {
		value, at, words := report.Text(nil), report.Text(nil), report.Text(nil)
		if f.Value != nil {
			value = report.Figure(w.inUnit(*f.Value, f.Unit))
		}
		if f.At != nil {
			at = report.Figure(w.Clock(*f.At))
		}
		if f.Words != "" {
			words = report.Say(f.Words)
		}
		g.row(report.Say(f.Name), value, at, words)
	}
	if len(g.rows) > 0 {
		w.tableOf(g)
	}
	for _, m := range v.Missing {
		w.put(`<p>Not known: %s</p>`, esc(report.Sentence(m)))
	}
	w.put(`<dl>`)
	pair := func(name, html string) {
		if html != "" {
			w.put(`<dt>%s</dt><dd>%s</dd>`, name, html)
		}
	}
	pair("formula", esc(v.Formula))
	pair("limit", esc(v.Limit))
	pair("source", esc(v.Source))
	pair("events", report.Events(v.Events).HTML(w.Root))
	w.put(`</dl>`)
	if v.Caution != "" {
		w.put(`<p><b>Caution:</b> %s</p>`, esc(v.Caution))
	}
	if w.Root != "" {
		switch {
		case v.Zone != "":
			w.put(`<p>%s</p>`, report.Say("Zone "+v.Zone+" in full").To("zone", v.Zone).HTML(w.Root))
		case v.Page != "":
			w.put(`<p><a class="big" href="%s%s">More: %s</a></p>`, esc(w.Root), esc(v.Page), esc(v.Page))
		}
	}
	return w.b.String()
}

// inUnit is a figure in the site's system.
func (w *leaf) inUnit(x float64, in string) string {
	switch in {
	case "kg/m²/h":
		return w.Evaporation(x)
	case "lb/ft²/h":
		return w.EvaporationLb(x)
	case "°C":
		return w.Temperature(x)
	case "m/s":
		return w.System.Speed(unit.Speed(x))
	case "1":
		return w.Share(x)
	case "m":
		return w.Length(x)
	case "thickness":
		return w.Thickness(x)
	case "m²":
		return w.System.Area(unit.Area(x))
	case "m³":
		return w.Volume(x)
	case "kg":
		return w.Mass(x)
	}
	return strings.TrimSpace(strings.TrimSuffix(report.Decimal(x, 1), ".0") + " " + in)
}

// why leads to what a figure rests on, where the pages have a root.
func (w *leaf) why(word, says string) string {
	if w.Root == "" {
		return ""
	}
	return " " + report.Say(says).To("why", word).HTML(w.Root)
}
