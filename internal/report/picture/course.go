package picture

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"hod/internal/unit"
	"hod/internal/view/drawing"
)

// Series is one figure over time: as read, and as forecast.
type Series struct {
	Title, Unit string
	At          []time.Time
	Values      []float64
	Forecast    []bool
	Bars        bool // amounts of an hour, as rain is
}

// Day draws one figure of the weather over the day, with the hours in which nobody places hatched. Nothing where there
// is no figure.
func Day(f Frame, s Series, forbidden [][2]time.Time, now time.Time) string {
	if len(s.Values) == 0 || !slices.ContainsFunc(s.Values, number) {
		return ""
	}
	low, high := math.Inf(1), math.Inf(-1)
	for _, v := range s.Values {
		if number(v) {
			low, high = min(low, v), max(high, v)
		}
	}
	says := fmt.Sprintf("From %s to %s %s.", short(low, 2), short(high, 2), s.Unit)
	for _, k := range forbidden {
		says += fmt.Sprintf(" Nobody places from %s to %s.", k[0].In(zoned(f)).Format("15:04"),
			k[1].In(zoned(f)).Format("15:04"))
	}
	from, to := s.At[0], s.At[len(s.At)-1]
	if now.After(to) {
		to = now
	}
	if now.Before(from) {
		from = now
	}
	p := timed(f, s.Title+" over the day, "+s.Unit, says, from.Add(-10*time.Minute), to.Add(30*time.Minute), s.Values)
	if low < 0 {
		p.y.from = low * 1.05
	}
	p.put(
		`<defs><pattern id="%sno" width="7" height="7" patternUnits="userSpaceOnUse" patternTransform="rotate(45)"><rect width="7" height="7" class="pa"/><rect width="2.5" height="7" class="act"/></pattern></defs>`, f.ID)
	p.spans("", `fill="url(#`+f.ID+`no)" fill-opacity="0.5"`, forbidden, plotTop, plotFoot-plotTop)
	p.axes(s.Unit)
	var readAt, toldAt []time.Time
	var read, told []float64
	for i, t := range s.At {
		if s.Bars {
			if number(s.Values[i]) && s.Values[i] > 0 {
				y := p.y.of(s.Values[i])
				p.rect(p.at(t)-5, y, 10, plotFoot-y, "band2", "")
			}
			continue
		}
		if s.Forecast[i] {
			told, toldAt = append(told, s.Values[i]), append(toldAt, t)
		} else {
			read, readAt = append(read, s.Values[i]), append(readAt, t)
		}
	}
	if n := len(read); n > 0 && len(told) > 0 {
		told, toldAt = append([]float64{read[n-1]}, told...), append([]time.Time{readAt[n-1]}, toldAt...)
	}
	p.curve("l", `stroke-width="3"`, readAt, read)
	p.curve("l", `stroke-width="3" stroke-dasharray="3 5"`, toldAt, told)
	p.upright(now, "actl", now.In(zoned(f)).Format("15:04"), 0)
	return p.end()
}

// Progress draws what was placed by the end of each day against what all coats need.
func Progress(f Frame, days []drawing.ProgressDay, planned float64, now time.Time) string {
	if len(days) == 0 {
		return ""
	}
	first := days[0].At.AddDate(0, 0, -1)
	at, values := []time.Time{first}, []float64{0}
	for _, d := range days {
		end := d.At
		if end.After(now) {
			end = now
		}
		at, values = append(at, end), append(values, d.PlacedM3)
	}
	last := values[len(values)-1]
	says := fmt.Sprintf("%s placed by now", f.System.Volume(unit.Volume(last)))
	if planned > 0 {
		says += fmt.Sprintf(" of %s that all coats need, %s %%", f.System.Volume(unit.Volume(planned)),
			short(100*last/planned, 0))
	}
	factor, name := volumeIn(f.System)
	for i := range values {
		values[i] *= factor
	}
	p := timed(f, "Mortar placed, by the end of each day, "+name, says+".", first, at[len(at)-1].Add(time.Hour),
		append(slices.Clone(values), planned*factor))
	p.axes(name)
	p.level(planned*factor, "l", "all coats")
	p.curve("l", `stroke-width="3.5"`, at, values)
	for i := range at {
		if number(values[i]) {
			p.dot(p.at(at[i]), p.y.of(values[i]), 5, "in")
		}
	}
	return p.end()
}

// volumeIn is by what m³ are multiplied to be shown, and the unit.
func volumeIn(s unit.System) (float64, string) {
	if s == unit.US {
		return 35.3147, "ft³"
	}
	return 1, "m³"
}

// Control draws one figure of a mix's batches in their order with its limits; a point that a rule names is a square.
func Control(f Frame, c drawing.ControlChart) string {
	n := len(c.Points)
	if n == 0 {
		return ""
	}
	low, high := math.Inf(1), math.Inf(-1)
	hold := func(x *float64) {
		if x != nil && number(*x) {
			low, high = min(low, *x), max(high, *x)
		}
	}
	odd := 0
	for i := range c.Points {
		hold(&c.Points[i].Value)
		if c.Points[i].Rule != "" {
			odd++
		}
	}
	hold(c.Low)
	hold(c.High)
	hold(c.Limit)
	if low > high {
		return ""
	}
	says := fmt.Sprintf("%d batches", n)
	if c.Mean != nil && c.Low != nil && c.High != nil {
		says += fmt.Sprintf(", mean %s, limits %s and %s; %d by which a rule says that it is not chance alone",
			short(*c.Mean, 3), short(*c.Low, 3), short(*c.High, 3), odd)
	}
	d := begin(f, chartWide, chartHigh, fmt.Sprintf("Mix %s: %s, batch by batch", c.Mix, c.Figure), says+".")
	room := max((high-low)*0.12, math.Abs(high)*0.002, 1e-6)
	p := &plot{
		canvas: d, x: scale{0, float64(max(n-1, 1)), plotLeft + 14, plotRight - 6},
		y: scale{low - room, high + room, plotFoot, plotTop},
	}
	p.text(0, 14, letters-2, "", "", c.Figure)
	p.line("l", `stroke-width="1.5"`, [2]float64{plotLeft + 8, plotTop}, [2]float64{plotLeft + 8, plotFoot},
		[2]float64{plotRight, plotFoot})
	step := nice(p.y.to-p.y.from, 4)
	for v, n := math.Ceil(p.y.from/step)*step, 0; v <= p.y.to && n < 12; v, n = v+step, n+1 {
		p.text(plotLeft+3, p.y.of(v)+6, letters-3, "", "end", decimal(v, step))
	}
	across := func(x *float64, class, more, says string) {
		if x == nil || !number(*x) {
			return
		}
		p.line(class, more, [2]float64{plotLeft + 8, p.y.of(*x)}, [2]float64{plotRight, p.y.of(*x)})
		p.text(plotRight, p.y.of(*x)-4, letters-3, "halo", "end", says)
	}
	across(c.Mean, "l", `stroke-width="1.5"`, "")
	across(c.Low, "l", `stroke-width="2" stroke-dasharray="7 4"`, "")
	across(c.High, "l", `stroke-width="2" stroke-dasharray="7 4"`, "")
	across(c.Limit, "actl", `stroke-width="2.5"`, "the mix's limit")
	var run [][2]float64
	for i, k := range c.Points {
		if number(k.Value) {
			run = append(run, [2]float64{p.x.of(float64(i)), p.y.of(k.Value)})
		}
	}
	p.line("l", `stroke-width="1.2"`, run...)
	for i, k := range c.Points {
		switch x, y := p.x.of(float64(i)), p.y.of(k.Value); {
		case !number(k.Value):
		case k.Rule != "":
			p.rect(x-6, y-6, 12, 12, "act", "")
		default:
			p.dot(x, y, 3.5, "in")
		}
	}
	p.text(plotLeft+14, plotFoot+22, letters-2, "", "", "1")
	p.text(plotRight, plotFoot+22, letters-2, "", "end", fmt.Sprintf("batch %d", n))
	return p.end()
}

// ThicknessMost is how many coats one picture of thickness holds.
const ThicknessMost = 14

// Thickness draws the mean thickness of coats against their design, with what gauges read as ticks.
func Thickness(f Frame, bars []drawing.ThicknessBar) string {
	bars = slices.DeleteFunc(slices.Clone(bars), func(b drawing.ThicknessBar) bool {
		return !(b.DesignM > 0) ||
			!number(b.MeanM) || !number(b.DesignM)
	})
	if len(bars) == 0 {
		return ""
	}
	bars = bars[:min(len(bars), ThicknessMost)]
	thin := 0
	most := 1.3
	for _, b := range bars {
		most = max(most, min(b.MeanM/b.DesignM*1.05, 3))
		if b.MeanM < b.DesignM {
			thin++
		}
	}
	const row = 34.0
	d := begin(f, chartWide, float64(len(bars))*row+28, "Mean thickness against design, coat by coat",
		fmt.Sprintf("%d coats, %d of them thinner than their design by now. The mark is the design.", len(bars), thin))
	x := scale{0, most, 130, 354}
	for i, b := range bars {
		y := float64(i)*row + 24
		name := b.Zone + " " + CoatName(drawing.MapCoat{Face: b.Face, Coat: b.Coat})
		linked := d.link("zone", b.Zone, name)
		d.text(0, y+20, letters-2, "", "", fit(name, letters-2, 126))
		d.unlink(linked)
		w := max(x.of(b.MeanM/b.DesignM)-130, 1)
		class := "dim"
		if b.State != "done" {
			class = "band"
		}
		d.rect(130, y, w, 24, class, "")
		d.rect(130, y, w, 24, "l", `stroke-width="1.5"`)
		for _, g := range b.GaugeM {
			if number(g) {
				at := x.of(g / b.DesignM)
				d.line("l", `stroke-width="2"`, [2]float64{at, y + 2}, [2]float64{at, y + 22})
			}
		}
		d.text(136, y+18, letters-2, "b halo", "", f.System.Thickness(unit.Length(b.MeanM)))
	}
	d.line("l", `stroke-width="3" stroke-dasharray="5 3"`, [2]float64{x.of(1), 20},
		[2]float64{x.of(1), float64(len(bars))*row + 24})
	d.text(x.of(1), 16, letters-2, "b", "middle", "design")
	return d.end()
}

// Balance draws what was on hand of a material over time: a step down for what was drawn, a triangle for a delivery, a
// ring for a count.
func Balance(f Frame, l drawing.StockLine, now time.Time) string {
	if len(l.Points) == 0 {
		return ""
	}
	factor, name := massIn(f.System)
	var at []time.Time
	var values []float64
	for i, k := range l.Points {
		if i > 0 { // flat until it changes
			at, values = append(at, k.At), append(values, l.Points[i-1].BalanceKg*factor)
		}
		at, values = append(at, k.At), append(values, k.BalanceKg*factor)
	}
	last := l.Points[len(l.Points)-1]
	at, values = append(at, now), append(values, last.BalanceKg*factor)
	in, deliveries := 0, "deliveries"
	for _, k := range l.Points {
		if k.What == "received" {
			in++
		}
	}
	if in == 1 {
		deliveries = "delivery"
	}
	p := timed(f, fmt.Sprintf("%s on hand over time, %s", l.Material, name),
		fmt.Sprintf("%s now; %d %s, each a triangle; a ring is a count.",
			f.System.Mass(unit.Mass(last.BalanceKg)), in, deliveries), at[0].Add(-time.Hour),
		at[len(at)-1].Add(time.Hour), values)
	if low := slices.MinFunc(values, cmp.Compare[float64]); low < 0 && number(low) {
		p.y.from = low * 1.05
	}
	p.axes(name)
	p.curve("l", `stroke-width="3"`, at, values)
	for _, k := range l.Points {
		x, y := p.at(k.At), p.y.of(k.BalanceKg*factor)
		switch {
		case !number(k.BalanceKg):
		case k.What == "received":
			p.put(`<path d="M%s %sl8 14h-16z" class="in"/>`, num(x), num(y-7))
		case k.What == "counted":
			p.put(`<circle cx="%s" cy="%s" r="6" class="box"/>`, num(x), num(y))
		}
	}
	return p.end()
}

func massIn(s unit.System) (float64, string) {
	if s == unit.US {
		return 1 / 0.45359237, "lb"
	}
	return 1, "kg"
}
