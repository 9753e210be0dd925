package picture

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// ages of what lies in a zone, in minutes, by pattern: the youngest first.
var ages = []struct {
	under float64
	word  string
}{{60, "begun"}, {180, "covered"}, {1e18, "done"}}

// strip is where one batch lies, in metres or degrees from where the work began.
type strip struct {
	from, to float64
	batch    string
	age      time.Duration
}

// stripsOf placements, by where the work began, in the order in which it did; how far they reach, and whether that is
// in degrees.
func stripsOf(placements []view.PlacementLine, now time.Time) (starts map[string][]strip, names []string, far float64,
	degrees bool,
) {
	starts = map[string][]strip{}
	for _, k := range placements {
		l := k.Strip
		if l == nil {
			continue
		}
		var s strip
		switch {
		case l.BeginsM != nil && l.ReachesM != nil:
			s.from, s.to = *l.BeginsM, *l.ReachesM
		case l.BeginsDegrees != nil && l.ReachesDegrees != nil:
			s.from, s.to, degrees = *l.BeginsDegrees, *l.ReachesDegrees, true
		default:
			continue
		}
		if !number(s.from) || !number(s.to) || s.to < s.from {
			continue
		}
		s.batch, s.age = k.Batch, max(now.Sub(k.To), 0)
		if starts[l.Start] == nil {
			names = append(names, l.Start)
		}
		starts[l.Start] = append(starts[l.Start], s)
		far = max(far, s.to)
	}
	return starts, names, far, degrees
}

// Strips draws where each batch of a coat lies, from the side at which its crew began, with its age. Nothing where the
// record does not tell.
func Strips(f Frame, placements []view.PlacementLine, coat string, now time.Time) string {
	starts, names, far, degrees := stripsOf(placements, now)
	if len(names) == 0 || far <= 0 {
		return ""
	}
	const high = 110.0
	says := ""
	for _, name := range names {
		says += fmt.Sprintf("From %s: %d strips. ", name, len(starts[name]))
	}
	d := begin(f, chartWide, float64(len(names))*high+10, "Where each batch lies in "+coat+", by age",
		says+"Hatched: under 1 h; ruled: under 3 h; grey: older.")
	d.put(`<defs>`)
	for _, a := range ages {
		d.pattern(a.word)
	}
	d.put(`</defs>`)
	x := scale{0, far, 4, 356}
	for i, name := range names {
		y := float64(i) * high
		d.text(4, y+20, letters-1, "b", "", fit("from "+name, letters-1, 350))
		for _, s := range starts[name] {
			at := slices.IndexFunc(ages, func(a struct {
				under float64
				word  string
			},
			) bool {
				return s.age.Minutes() < a.under
			})
			a, b := x.of(s.from), x.of(s.to)
			d.rect(a, y+28, max(b-a, 1), 44, "c", d.filled(ages[max(at, 0)].word))
			number := s.batch
			if k := lastSlash(number); k >= 0 {
				number = number[k+1:]
			}
			if b-a > wide(number)*(letters-1)+4 {
				d.text((a+b)/2, y+56, letters-1, "halo b", "middle", number)
			}
		}
		unitName := f.System.Length(unit.Length(far))
		if degrees {
			unitName = short(far, 0) + "°"
		}
		d.text(4, y+92, letters-2, "", "", "0")
		d.text(356, y+92, letters-2, "", "end", unitName)
	}
	return d.end()
}

func lastSlash(s string) int {
	for i := len(s) - 1; i >= 0; i-- {
		if s[i] == '/' {
			return i
		}
	}
	return -1
}

// Temperature draws a probe's readings in a coat over time, with the gaps that count for nothing and when it was kept
// wet.
func Temperature(f Frame, c drawing.CureCourse) string {
	if len(c.Readings) == 0 {
		return ""
	}
	show, name := temperatureIn(f.System)
	var at []time.Time
	var values []float64
	for _, k := range c.Readings {
		at, values = append(at, k.At), append(values, show(k.C))
	}
	from, to := at[0], at[len(at)-1]
	p := timed(f, fmt.Sprintf("Temperature in coat %s by %s, %s", CoatName(drawing.MapCoat{Face: c.Face, Coat: c.Coat}),
		c.Probe, name),
		fmt.Sprintf("%d readings, %d gaps, %d spells wet or covered.", len(c.Readings), len(c.Gaps), len(c.Wet)),
		from.Add(-time.Hour), to.Add(time.Hour), values)
	for _, v := range values {
		if number(v) && v < p.y.from {
			p.y.from = v * 1.1
		}
	}
	p.put(`<defs>`)
	p.pattern("covered")
	p.put(`</defs>`)
	p.spans("", p.filled("covered"), c.Wet, plotFoot-16, 16)
	p.spans("dim", "", c.Gaps, plotTop, plotFoot-plotTop)
	p.axes(name)
	split := splitAt(at, values, c.Gaps)
	for _, run := range split {
		p.curve("l", `stroke-width="2.5"`, run.at, run.values)
	}
	var says []string
	if len(c.Wet) > 0 {
		says = append(says, "ruled: wet or covered")
	}
	if len(c.Gaps) > 0 {
		says = append(says, "grey: not read")
	}
	p.text(plotRight, 14, letters-3, "", "end", strings.Join(says, "; "))
	return p.end()
}

// Maturity draws how the maturity of a coat grew by a probe's readings; in a gap, which counts for nothing, it stands.
// Nothing where no maturity is known.
func Maturity(f Frame, c drawing.CureCourse) string {
	var at []time.Time
	var values []float64
	for _, k := range c.Readings {
		if k.MaturityCH != nil && number(*k.MaturityCH) {
			at, values = append(at, k.At), append(values, *k.MaturityCH)
		}
	}
	if len(at) < 2 {
		return ""
	}
	p := timed(f, fmt.Sprintf("Maturity of coat %s by %s, °C·h", CoatName(drawing.MapCoat{Face: c.Face, Coat: c.Coat}),
		c.Probe),
		fmt.Sprintf("%s °C·h by %s, over a datum of %s °C.", short(values[len(values)-1], 0),
			at[len(at)-1].In(zoned(f)).Format("Mon 2 Jan 15:04"), short(c.DatumC, 1)),
		at[0].Add(-time.Hour), at[len(at)-1].Add(time.Hour), values)
	p.spans("dim", "", c.Gaps, plotTop, plotFoot-plotTop)
	p.axes("°C·h")
	p.curve("l", `stroke-width="2.5"`, at, values)
	if len(c.Gaps) > 0 {
		p.text(plotRight, 14, letters-3, "", "end", "grey: not read, counts for nothing")
	}
	return p.end()
}

func temperatureIn(s unit.System) (func(float64) float64, string) {
	if s == unit.US {
		return func(c float64) float64 { return c*9/5 + 32 }, "°F"
	}
	return func(c float64) float64 { return c }, "°C"
}

type run struct {
	at     []time.Time
	values []float64
}

// splitAt cuts a course where a gap lies.
func splitAt(at []time.Time, values []float64, gaps [][2]time.Time) []run {
	var all []run
	var now run
	for i, t := range at {
		if i > 0 && slices.ContainsFunc(gaps, func(g [2]time.Time) bool {
			return !at[i-1].After(g[0]) &&
				!t.Before(g[1])
		}) {
			all, now = append(all, now), run{}
		}
		now.at, now.values = append(now.at, t), append(now.values, values[i])
	}
	return append(all, now)
}

// Strength draws a mix's own curve of strength over maturity with its band and breaks, and where the coat stands.
// Nothing where the breaks carry no curve.
func Strength(f Frame, c drawing.CureCourse) string {
	if len(c.Strength) < 2 {
		return ""
	}
	factor, name := 1e-6, "MPa"
	if f.System == unit.US {
		factor, name = 1/6894.757, "psi"
	}
	last := c.Strength[len(c.Strength)-1]
	most := 0.0
	for _, k := range c.Strength {
		if number(k.HighPa) {
			most = max(most, k.HighPa*factor)
		}
	}
	for _, k := range c.Breaks {
		most = max(most, k.Pa*factor)
	}
	if !(most > 0) || !number(most) {
		return ""
	}
	d := begin(f, chartWide, chartHigh, fmt.Sprintf("Strength over maturity of coat %s, by the mix's own breaks, %s",
		CoatName(drawing.MapCoat{Face: c.Face, Coat: c.Coat}), name),
		fmt.Sprintf(
			"%d breaks; the coat is at %s °C·h. The band is where the mean lies 95 %% of the time. No verdict on stripping or loading.", len(c.Breaks), short(c.Maturity, 0)))
	p := &plot{
		canvas: d, x: scale{0, last.MaturityCH, plotLeft, plotRight},
		y: scale{0, most * 1.05, plotFoot, plotTop},
	}
	var there, back, mid [][2]float64
	for _, k := range c.Strength {
		if !number(k.Pa) || !number(k.LowPa) || !number(k.HighPa) || !number(k.MaturityCH) {
			continue
		}
		x := p.x.of(k.MaturityCH)
		there, back, mid = append(there, [2]float64{x, p.y.of(k.HighPa * factor)}),
			append(back, [2]float64{x, p.y.of(k.LowPa * factor)}), append(mid, [2]float64{x, p.y.of(k.Pa * factor)})
	}
	slices.Reverse(back)
	if len(there) > 1 {
		p.put(`<path d="%sz" class="band"/>`, path(append(there, back...)))
		p.line("l", `stroke-width="3"`, mid...)
	}
	p.text(0, 14, letters-2, "", "", name)
	p.line("l", `stroke-width="1.5"`, [2]float64{plotLeft, plotTop}, [2]float64{plotLeft, plotFoot},
		[2]float64{plotRight, plotFoot})
	p.left()
	for _, k := range c.Breaks {
		if number(k.Pa) && number(k.MaturityCH) {
			p.dot(p.x.of(k.MaturityCH), p.y.of(k.Pa*factor), 5, "in")
		}
	}
	if number(c.Maturity) && c.Maturity > 0 {
		x := p.x.of(c.Maturity)
		p.line("actl", `stroke-width="2.5" stroke-dasharray="7 4"`, [2]float64{x, plotTop}, [2]float64{x, plotFoot})
		anchor := "start"
		if x > 250 {
			anchor = "end"
		}
		p.text(x, plotTop+14, letters-2, "halo b", anchor, "this coat")
	}
	p.text(plotRight, plotFoot+22, letters-2, "", "end", short(last.MaturityCH, 0)+" °C·h")
	p.text(plotLeft, plotFoot+22, letters-2, "", "", "0")
	return p.end()
}
