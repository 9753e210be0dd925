package picture

import (
	"math"
	"slices"
	"time"
)

// Sizes of charts, in units that are pixels on a phone.
const (
	chartWide = 360.0
	chartHigh = 220.0
	plotLeft  = 46.0
	plotRight = 354.0
	plotTop   = 26.0
	plotFoot  = 186.0
	letters   = 18.0
)

// plot is a chart's area with its two scales. What lies outside of them is drawn at their ends.
type plot struct {
	*canvas
	x, y     scale
	from, to time.Time
}

// timed begins a chart over time. Values are what the y axis must hold, with 0.
func timed(f Frame, title, says string, from, to time.Time, values []float64) *plot {
	top := 0.0
	for _, v := range values {
		if number(v) {
			top = max(top, v)
		}
	}
	if top <= 0 {
		top = 1
	}
	if !to.After(from) {
		to = from.Add(time.Hour)
	}
	p := &plot{canvas: begin(f, chartWide, chartHigh, title, says), from: from, to: to}
	p.x = scale{0, to.Sub(from).Hours(), plotLeft, plotRight}
	p.y = scale{0, top * 1.05, plotFoot, plotTop}
	return p
}

func (p *plot) at(t time.Time) float64 { return p.x.of(t.Sub(p.from).Hours()) }

// axes with the unit and round figures on the left, and hours or days beneath.
func (p *plot) axes(unit string) {
	p.text(0, 14, letters-2, "", "", unit)
	p.line("l", `stroke-width="1.5"`, [2]float64{plotLeft, plotTop}, [2]float64{plotLeft, plotFoot},
		[2]float64{plotRight, plotFoot})
	p.left()
	p.hours()
}

func (p *plot) left() {
	step := nice(p.y.to-p.y.from, 4)
	for v, n := math.Ceil(p.y.from/step)*step, 0; v <= p.y.to && n < 12; v, n = v+step, n+1 {
		y := p.y.of(v)
		p.text(plotLeft-5, y+6, letters-2, "", "end", decimal(v, step))
		p.line("l", `stroke-width="0.5" stroke-dasharray="1 4"`, [2]float64{plotLeft, y}, [2]float64{plotRight, y})
	}
}

// hours beneath the chart; of a longer time the days.
func (p *plot) hours() {
	long := p.to.Sub(p.from)
	in := p.frame.In
	if long <= 30*time.Hour {
		every := 2
		switch {
		case long > 15*time.Hour:
			every = 4
		case long <= 7*time.Hour:
			every = 1
		}
		first := p.from.In(in)
		t := time.Date(first.Year(), first.Month(), first.Day(), first.Hour(), 0, 0, 0, in)
		for last := -99.0; !t.After(p.to); t = t.Add(time.Hour) {
			if t.Before(p.from) || t.In(in).Hour()%every != 0 || p.at(t)-last < 26 {
				continue
			}
			last = p.at(t)
			p.tick(last, t.In(in).Format("15"))
		}
		return
	}
	days := int(math.Ceil(long.Hours() / 24))
	every := 1 + days/6
	first := p.from.In(in)
	t := time.Date(first.Year(), first.Month(), first.Day(), 0, 0, 0, 0, in)
	form := "Mon 2"
	if days > 12 {
		form = "2 Jan"
	}
	for last := -99.0; !t.After(p.to); t = t.AddDate(0, 0, every) {
		if t.Before(p.from) || p.at(t)-last < 60 || p.at(t) > plotRight-20 {
			continue
		}
		last = p.at(t)
		p.tick(last, t.Format(form))
	}
}

func (p *plot) tick(x float64, s string) {
	p.line("l", `stroke-width="1.5"`, [2]float64{x, plotFoot}, [2]float64{x, plotFoot + 5})
	p.text(x, plotFoot+24, letters-2, "", "middle", s)
}

// curve of values at instants, of a class; those that are no number break it.
func (p *plot) curve(class, more string, at []time.Time, values []float64) {
	var run [][2]float64
	flush := func() {
		if len(run) > 1 {
			p.line(class, more, run...)
		} else if len(run) == 1 {
			p.dot(run[0][0], run[0][1], 3, "in")
		}
		run = nil
	}
	for i, t := range at {
		if !number(values[i]) {
			flush()
			continue
		}
		run = straight(run, [2]float64{p.at(t), p.y.of(values[i])})
	}
	flush()
}

// straight adds a point to a run, in place of the last one where that lies on the line to it.
func straight(run [][2]float64, to [2]float64) [][2]float64 {
	if n := len(run); n > 1 {
		a, b := run[n-2], run[n-1]
		if span := to[0] - a[0]; span > 0 && math.Abs(a[1]+(to[1]-a[1])*(b[0]-a[0])/span-b[1]) < 0.15 {
			run[n-1] = to
			return run
		}
	}
	return append(run, to)
}

func (p *plot) dot(x, y, r float64, class string) {
	p.put(`<circle cx="%s" cy="%s" r="%s" class="%s"/>`, num(x), num(y), num(r), class)
}

// between is the area from one curve to another.
func (p *plot) between(class string, at []time.Time, low, high []float64) {
	var there, back [][2]float64
	for i, t := range at {
		if number(low[i]) && number(high[i]) {
			there = straight(there, [2]float64{p.at(t), p.y.of(high[i])})
			back = straight(back, [2]float64{p.at(t), p.y.of(low[i])})
		}
	}
	if len(there) < 2 {
		return
	}
	slices.Reverse(back)
	p.put(`<path d="%sz" class="%s"/>`, path(append(there, back...)), class)
}

// level is a line across with its words on it.
func (p *plot) level(v float64, class, s string) {
	y := p.y.of(v)
	p.line(class, `stroke-width="2.5" stroke-dasharray="7 4"`, [2]float64{plotLeft, y}, [2]float64{plotRight, y})
	if s == "" {
		return
	}
	at := y - 6
	if at < plotTop+8 { // above it there is no room
		at = y + letters
	}
	p.text(plotLeft+5, at, letters-2, "halo b", "", s)
}

// upright is a line at an instant with its words, kept inside the chart.
func (p *plot) upright(t time.Time, class, s string, row int) {
	if t.Before(p.from) || t.After(p.to) {
		return
	}
	x := p.at(t)
	dash := ` stroke-dasharray="7 4"`
	if class == "l" {
		dash = ""
	}
	p.line(class, `stroke-width="2.5"`+dash, [2]float64{x, plotTop}, [2]float64{x, plotFoot})
	if s == "" {
		return
	}
	anchor, dx := "start", 5.0
	if x+wide(s)*letters > plotRight {
		anchor, dx = "end", -5.0
	}
	p.text(x+dx, plotTop+16+float64(row)*20, letters-2, "halo b", anchor, s)
}

// spans of time in which something holds, as a band at the foot of the chart.
func (p *plot) spans(class, more string, spans [][2]time.Time, y, h float64) {
	for _, s := range spans {
		from, to := s[0], s[1]
		if from.Before(p.from) {
			from = p.from
		}
		if to.After(p.to) {
			to = p.to
		}
		if to.After(from) {
			p.rect(p.at(from), y, p.at(to)-p.at(from), h, class, more)
		}
	}
}
