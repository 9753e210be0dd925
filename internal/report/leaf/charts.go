package leaf

import (
	"fmt"
	"math"
	"strings"
	"time"

	"hod/internal/report"
	"hod/internal/report/picture"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// leafOf begins a page of pictures.
func leafOf(units string, asOf time.Time, p report.Page) *leaf {
	p.HTML = true
	return &leaf{Sheet: report.Open(p, units, asOf)}
}

// Charts are progress, control charts, thickness and stock, each with its numbers.
func Charts(v drawing.Charts, p report.Page) string {
	w := leafOf(v.Units, v.AsOf, p)
	w.put(`<header class="top"><h1>%s: charts</h1></header>`, esc(v.Site))
	w.put(`<div class="cols">`)
	w.charts(v)
	w.put(`</div>`)
	return w.b.String()
}

// charts are all of them, each a section.
func (w *leaf) charts(v drawing.Charts) {
	w.progress(v)
	w.thicknesses(v.Thickness)
	for i, c := range v.Control {
		w.control(fmt.Sprintf("ctl%d", i), c)
	}
	for i, l := range v.Stock {
		w.balance(fmt.Sprintf("bal%d", i), l)
	}
}

func (w *leaf) progress(v drawing.Charts) {
	w.section("progress", "Progress")
	defer w.endSection()
	drawn := picture.Progress(w.frame("prg"), v.Progress, v.PlannedM3, w.Now)
	if drawn == "" {
		w.put(`<p>Nothing is placed yet.</p>`)
		return
	}
	w.put(`%s`, drawn)
	g := grid{caption: "Placed by the end of each day", columns: []report.Column{
		{Name: "day"},
		{Name: "placed", Right: true},
		{Name: "of all", Right: true},
		{Name: "batches", Right: true},
	}}
	for _, d := range v.Progress {
		share := report.Text(nil)
		if v.PlannedM3 > 0 {
			share = report.Figure(report.Percent(d.PlacedM3 / v.PlannedM3))
		}
		g.row(report.Say(d.Date).To("day", d.Date), report.Figure(w.Volume(d.PlacedM3)), share,
			report.Figure(strings.Fields(report.Part(d.Batches))[0]))
	}
	w.grid("prgtable", g)
}

func (w *leaf) thicknesses(bars []drawing.ThicknessBar) {
	w.section("thickness", "Thickness")
	defer w.endSection()
	if len(bars) == 0 {
		w.put(`<p>Nothing is placed yet.</p>`)
		return
	}
	for i := 0; i < len(bars) && i < 4*picture.ThicknessMost; i += picture.ThicknessMost {
		if drawn := picture.Thickness(w.frame(fmt.Sprintf("thk%d", i)), bars[i:]); drawn != "" {
			w.put(`%s`, drawn)
		}
	}
	w.put(`<p class="note">Ticks are what gauges read. The mean is the volume placed over the area.</p>`)
	g := grid{caption: "Thickness of coats", columns: []report.Column{
		{Name: "coat"},
		{Name: "mean of design", Right: true},
		{Name: "gauges"},
		{Name: "state"},
	}}
	for _, b := range bars {
		var gauges []report.Text
		for _, m := range b.GaugeM {
			gauges = append(gauges, report.Figure(w.Thickness(m)))
		}
		g.row(report.Say(report.CoatName(b.Zone, b.Face, b.Coat)).To("zone", b.Zone),
			report.Figure(report.Against(w.Thickness(b.MeanM), w.Thickness(b.DesignM))), report.Join(", ", gauges...),
			report.Say(b.State))
	}
	w.grid("thktable", g)
}

// mostControl is how many batches one control chart draws: of more the newest.
const mostControl = 200

func (w *leaf) control(id string, c drawing.ControlChart) {
	all := len(c.Points)
	if all > mostControl {
		c.Points = c.Points[all-mostControl:]
	}
	w.section(id, fmt.Sprintf("Mix %s: %s", c.Mix, c.Figure))
	defer w.endSection()
	if drawn := picture.Control(w.frame(id+"p"), c); drawn != "" {
		w.put(`%s`, drawn)
	}
	if c.Mean != nil && c.Low != nil && c.High != nil {
		w.put(
			`<p class="note">Line: mean %s. Dashed: limits %s and %s. A square: chance alone is unlikely, so look for a cause; it is no verdict on the batch.</p>`, report.Thousandths(*c.Mean), report.Thousandths(*c.Low), report.Thousandths(*c.High))
	} else if c.Note != "" {
		w.put(`<p>No limits: %s.</p>`, esc(c.Note))
	}
	if all > mostControl {
		w.put(`<p>The newest %d of %d batches; mean and limits are of all.</p>`, mostControl, all)
	}
	w.put(`<details id="%ssrc"><summary>What it rests on</summary><p>%s.</p><p>%s.</p></details>`, id,
		esc(report.SentenceStart(c.Source)), esc(report.SentenceStart(c.Rules)))
	g := grid{
		caption: "Batches of mix " + c.Mix + ", " + c.Figure,
		columns: []report.Column{{Name: "batch"}, {Name: c.Figure, Right: true}, {Name: "rule"}},
	}
	for _, k := range c.Points {
		g.row(report.Say(k.Batch).To("event", k.Event), report.Figure(report.Thousandths(k.Value)), report.Say(k.Rule))
	}
	w.grid(id+"table", g)
}

func (w *leaf) balance(id string, l drawing.StockLine) {
	drawn := picture.Balance(w.frame(id+"p"), l, w.Now)
	if drawn == "" {
		return
	}
	w.section(id, "Stock: "+l.Material)
	w.put(`%s`, drawn)
	g := grid{caption: l.Material + " on hand", columns: []report.Column{
		{Name: "at"},
		{Name: "what"},
		{Name: "amount", Right: true},
		{Name: "balance", Right: true},
	}}
	for _, k := range l.Points {
		g.row(report.Figure(k.At.In(w.In).Format("2 Jan 15:04")), report.Say(k.What), report.Figure(w.Mass(k.AmountKg)),
			report.Figure(w.Mass(k.BalanceKg)))
	}
	w.grid(id+"table", g)
	w.endSection()
}

// WeatherLeaf is the weather with the day drawn: drying, air, humidity, wind and rain, with the hours in which nobody
// places.
func WeatherLeaf(v drawing.WeatherLeaf, p report.Page) string {
	p.HTML = true
	w := leafOf(v.Units, v.AsOf, p)
	if !v.Read {
		w.put(`<p>No weather was read yet.</p>`)
		return w.b.String()
	}
	w.put(`%s`, report.Weather(v.Conditions, p))
	w.put(`<div class="cols">`)
	w.dryingDrawn(v.Drying)
	w.sky(v.Drying)
	w.put(`</div>`)
	return w.b.String()
}

// sky is air, humidity, wind and rain over the day, with the hours in which nobody places.
func (w *leaf) sky(v view.Drying) {
	forbidden := unworkable(v)
	for i, s := range w.skySeries(v) {
		drawn := picture.Day(w.frame(fmt.Sprintf("sky%d", i)), s, forbidden, w.Now)
		if drawn == "" {
			continue
		}
		w.section(fmt.Sprintf("sky%d", i), s.Title)
		w.put(`%s`, drawn)
		g := grid{caption: s.Title + " over the day", columns: []report.Column{
			{Name: "at"},
			{Name: s.Unit, Right: true},
			{Name: ""},
		}}
		for k, t := range s.At {
			kind := "read"
			if s.Forecast[k] {
				kind = "forecast"
			}
			if !math.IsNaN(s.Values[k]) {
				g.row(report.Say(w.Clock(t)), report.Figure(report.Decimal(s.Values[k], 1)), report.Say(kind))
			}
		}
		w.grid(fmt.Sprintf("sky%dtable", i), g)
		w.endSection()
	}
}

// unworkable are the spans of forecast hours in which nobody places.
func unworkable(v view.Drying) [][2]time.Time {
	var all [][2]time.Time
	for _, k := range v.Points {
		if k.Unworkable == "" {
			continue
		}
		to := k.At.Add(time.Hour)
		if n := len(all); n > 0 && !k.At.After(all[n-1][1]) {
			all[n-1][1] = to
			continue
		}
		all = append(all, [2]time.Time{k.At, to})
	}
	return all
}

// skySeries are air, humidity, wind and rain in the site's units.
func (w *leaf) skySeries(v view.Drying) []picture.Series {
	of := func(title, unitName string, bars bool, read func(view.DryingPoint) *float64,
		show func(float64) float64,
	) picture.Series {
		s := picture.Series{Title: title, Unit: unitName, Bars: bars}
		for _, k := range v.Points {
			value := math.NaN()
			if x := read(k); x != nil {
				value = show(*x)
			}
			s.At, s.Values, s.Forecast = append(s.At, k.At), append(s.Values, value), append(s.Forecast, k.Forecast)
		}
		return s
	}
	same := func(x float64) float64 { return x }
	air, wind, rain := same, func(x float64) float64 { return x * 3.6 }, same
	names := [...]string{"°C", "km/h", "mm"}
	if w.System.String() == "us" {
		air, wind, rain = func(c float64) float64 { return c*9/5 + 32 }, func(x float64) float64 {
			return x * 2.236936
		}, func(mm float64) float64 { return mm / 25.4 }
		names = [...]string{"°F", "mph", "in"}
	}
	return []picture.Series{
		of("Air", names[0], false, func(k view.DryingPoint) *float64 { return k.AirC }, air),
		of("Humidity", "%", false, func(k view.DryingPoint) *float64 { return k.Humidity },
			func(x float64) float64 { return 100 * x }),
		of("Wind at the surface", names[1], false, func(k view.DryingPoint) *float64 { return k.WindMPS }, wind),
		of("Rain", names[2], true, func(k view.DryingPoint) *float64 { return k.RainMM }, rain),
	}
}

// StockLeaf is the stock with each material's balance drawn.
func StockLeaf(v drawing.StockLeaf, p report.Page) string {
	p.HTML = true
	w := leafOf(v.Units, v.AsOf, p)
	w.put(`%s`, report.Stock(v.Stock, p))
	w.put(`<div class="cols">`)
	for i, l := range v.Lines {
		w.balance(fmt.Sprintf("bal%d", i), l)
	}
	w.put(`</div>`)
	return w.b.String()
}

// ForecastLeaf is what is left, with how it goes down drawn.
func ForecastLeaf(v drawing.ForecastLeaf, p report.Page) string {
	p.HTML = true
	w := leafOf(v.Units, v.AsOf, p)
	w.put(`%s`, report.Forecast(v.Forecast, p))
	if drawn := picture.Fan(w.frame("fan"), v.Fan, outOf(v.Materials), w.Now); drawn != "" {
		w.section("fan", "How it goes down")
		w.put(`%s`, drawn)
		w.fanTable(v.Fan)
		w.endSection()
	}
	return w.b.String()
}

// ZoneLeaf is a zone with where its batches lie and how its coats cure drawn.
func ZoneLeaf(v drawing.ZoneLeaf, p report.Page) string {
	p.HTML = true
	w := leafOf(v.Units, v.AsOf, p)
	w.zoneLeaf(v, p)
	return w.b.String()
}

func (w *leaf) zoneLeaf(v drawing.ZoneLeaf, p report.Page) {
	w.put(`%s`, report.Zone(v.Zone, p))
	w.put(`<div class="cols">`)
	for i, c := range v.Coats {
		name := report.CoatName(c.Progress.Zone, c.Progress.Face, c.Progress.Coat)
		if drawn := picture.Strips(w.frame(fmt.Sprintf("st%d", i)), c.Placements, name, w.Now); drawn != "" {
			w.section(fmt.Sprintf("strips%d", i), "Where each batch lies, "+name)
			w.put(`%s`, drawn)
			w.put(`<p class="note">By age: hatched under 1 h, ruled under 3 h, grey older.</p>`)
			w.stripTable(fmt.Sprintf("strips%dtable", i), c)
			w.endSection()
		}
	}
	for i, c := range v.Cures {
		w.cureOf(fmt.Sprintf("cure%d", i), c)
	}
	w.put(`</div>`)
}

func (w *leaf) cureOf(id string, c drawing.CureCourse) {
	name := strings.TrimSpace(report.CoatName("", c.Face, c.Coat))
	w.section(id, fmt.Sprintf("Cure of %s by %s", name, c.Probe))
	if drawn := picture.Temperature(w.frame(id+"t"), c); drawn != "" {
		w.put(`%s`, drawn)
	}
	if drawn := picture.Maturity(w.frame(id+"m"), c); drawn != "" {
		w.put(`%s`, drawn)
	}
	if drawn := picture.Strength(w.frame(id+"s"), c); drawn != "" {
		w.put(`%s`, drawn)
	}
	if c.Note != "" {
		w.put(`<p>%s</p>`, esc(report.Sentence(c.Note)))
	}
	w.put(`<p><b>%s</b></p>`, esc(c.Caution))
	g := grid{caption: "Readings by " + c.Probe, columns: []report.Column{
		{Name: "at"},
		{Name: "temperature", Right: true},
		{Name: "maturity", Right: true},
	}}
	every := 1 + len(c.Readings)/48
	for i, k := range c.Readings {
		if i%every != 0 && i != len(c.Readings)-1 {
			continue
		}
		m := report.Text(nil)
		if k.MaturityCH != nil {
			m = report.Figure(report.Decimal(*k.MaturityCH, 0) + " °C·h")
		}
		g.row(report.Figure(k.At.In(w.In).Format("2 Jan 15:04")), report.Figure(w.Temperature(k.C)), m)
	}
	w.grid(id+"table", g)
	w.endSection()
}
