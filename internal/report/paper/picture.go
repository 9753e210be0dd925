package paper

import (
	"math"
	"strconv"
	"strings"

	"golang.org/x/net/html"
)

const (
	// pictureUnit is a picture's own unit in millimetres, at most: its smallest words are then as large as the text
	// around it.
	pictureUnit = 0.205
	pictureGap  = 5.0
	mostHigh    = 165.0
)

// measure is the size of a picture on paper.
func (s *sheet) measure(n *html.Node) (wide, high float64) {
	_, _, w, h := viewBox(n)
	scale := min(pictureUnit, s.width/w, mostHigh/h)
	return w * scale, h * scale
}

func viewBox(n *html.Node) (x, y, w, h float64) {
	f := strings.Fields(attribute(n, "viewBox"))
	if len(f) != 4 {
		return 0, 0, 1, 1
	}
	return measure(f[0]), measure(f[1]), max(measure(f[2]), 1), max(measure(f[3]), 1)
}

// pictures sets those that follow each other beside each other, as long as there is room; how many they were.
func (s *sheet) pictures(all []block) int {
	n, wide, high := 0, 0.0, 0.0
	for n < len(all) && all[n].kind == drawn {
		w, h := s.measure(all[n].picture)
		if n > 0 && wide+pictureGap+w > s.width {
			break
		}
		if n > 0 {
			wide += pictureGap
		}
		wide, high, n = wide+w, max(high, h), n+1
	}
	s.room(high + 2)
	x := side
	for _, b := range all[:n] {
		w, _ := s.measure(b.picture)
		s.draw(b.picture, x, s.y+1)
		x += w + pictureGap
	}
	s.y += high + 2
	s.onPage = true
	return n
}

// canvas is where a picture lies on the page.
type canvas struct {
	*sheet
	left, top   float64 // of the picture's own 0, 0
	scale       float64 // millimetres of its unit
	definitions map[string]*html.Node
}

func (s *sheet) draw(n *html.Node, x, y float64) {
	left, top, w, _ := viewBox(n)
	wide, _ := s.measure(n)
	c := &canvas{sheet: s, scale: wide / w, definitions: map[string]*html.Node{}}
	c.left, c.top = x-left*c.scale, y-top*c.scale
	for d := range n.Descendants() {
		if d.Data == "pattern" {
			c.definitions[attribute(d, "id")] = d
		}
	}
	c.children(n)
	s.pdf.SetDashPattern(nil, 0)
}

func (c *canvas) children(n *html.Node) {
	for e := range n.ChildNodes() {
		if e.Type != html.ElementNode {
			continue
		}
		switch e.Data {
		case "rect":
			x, y, w, h := measure(attribute(e, "x")), measure(attribute(e, "y")), measure(attribute(e, "width")),
				measure(attribute(e, "height"))
			c.shape(e, [][]step{{{x, y}, {x + w, y}, {x + w, y + h}, {x, y + h}, {closes, 0}}})
		case "circle":
			c.shape(e, [][]step{ring(measure(attribute(e, "cx")), measure(attribute(e, "cy")),
				measure(attribute(e, "r")))})
		case "path":
			c.shape(e, steps(attribute(e, "d")))
		case "text":
			c.text(e)
		case "title", "desc", "style", "defs":
		default: // what leads on, and groups
			c.children(e)
		}
	}
}

// step is a point of an outline, or with closes as x the way back to its first.
type step struct{ x, y float64 }

const closes = math.MaxFloat64

// ring is a circle by so many points that no eye sees them.
func ring(x, y, r float64) []step {
	const n = 32
	var all []step
	for i := range n {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / n)
		all = append(all, step{x + r*cos, y + r*sin})
	}
	return append(all, step{closes, 0})
}

// steps of a path in the letters that pictures use: M, L, h, l, v and z.
func steps(d string) [][]step {
	var all [][]step
	var at step
	for _, part := range pathParts(d) {
		v := part.numbers
		last := len(all) - 1
		switch part.letter {
		case 'M':
			for i := 0; i+1 < len(v); i += 2 {
				at = step{v[i], v[i+1]}
				if i == 0 {
					all = append(all, []step{at})
				} else {
					all[len(all)-1] = append(all[len(all)-1], at)
				}
			}
			continue
		case 'z', 'Z':
			if last >= 0 {
				at = all[last][0]
				all[last] = append(all[last], step{closes, 0})
			}
			continue
		}
		if last < 0 {
			continue
		}
		for i := 0; i < len(v); i++ {
			switch part.letter {
			case 'h':
				at.x += v[i]
			case 'v':
				at.y += v[i]
			case 'l', 'L':
				if i+1 == len(v) {
					continue
				}
				if part.letter == 'L' {
					at = step{}
				}
				at = step{at.x + v[i], at.y + v[i+1]}
				i++
			default:
				continue
			}
			all[last] = append(all[last], at)
		}
	}
	return all
}

type pathPart struct {
	letter  byte
	numbers []float64
}

func pathParts(d string) []pathPart {
	var all []pathPart
	for i := 0; i < len(d); {
		switch c := d[i]; {
		case c >= 'A' && c <= 'Z', c >= 'a' && c <= 'z':
			all = append(all, pathPart{letter: c})
			i++
		case c == '-', c == '.', c >= '0' && c <= '9':
			end := i + 1
			for end < len(d) && (d[end] == '.' || d[end] >= '0' && d[end] <= '9') {
				end++
			}
			if x, err := strconv.ParseFloat(d[i:end], 64); err == nil && len(all) > 0 {
				p := &all[len(all)-1]
				p.numbers = append(p.numbers, x)
			}
			i = end
		default:
			i++
		}
	}
	return all
}

func (c *canvas) x(x float64) float64  { return c.left + x*c.scale }
func (c *canvas) y0(y float64) float64 { return c.top + y*c.scale }

// shape fills an outline and draws it.
func (c *canvas) shape(e *html.Node, outline [][]step) {
	p := penOf(styled(e))
	if p.pattern != "" {
		c.pattern(p.pattern, outline)
	}
	if p.fill >= 0 {
		c.pdf.SetFillColor(p.fill, p.fill, p.fill)
		c.outline(outline)
		c.pdf.DrawPath("F")
	}
	if p.stroke < 0 || p.wide <= 0 {
		return
	}
	c.pdf.SetDrawColor(p.stroke, p.stroke, p.stroke)
	c.pdf.SetLineWidth(p.wide * c.scale)
	dashes := make([]float64, len(p.dashes))
	for i, d := range p.dashes {
		dashes[i] = d * c.scale
	}
	c.pdf.SetDashPattern(dashes, 0)
	c.outline(outline)
	c.pdf.DrawPath("D")
}

func (c *canvas) outline(all [][]step) {
	for _, run := range all {
		for i, p := range run {
			switch {
			case p.x == closes:
				c.pdf.ClosePath()
			case i == 0:
				c.pdf.MoveTo(c.x(p.x), c.y0(p.y))
			default:
				c.pdf.LineTo(c.x(p.x), c.y0(p.y))
			}
		}
	}
}

// mostTiles bounds what a pattern is drawn of: no picture that can be read has more.
const mostTiles = 40_000

// pattern lays the rectangles of a pattern over an outline, and shows them inside it alone.
func (c *canvas) pattern(id string, outline [][]step) {
	n := c.definitions[id]
	if n == nil {
		return
	}
	low, high := bounds(outline)
	w, h := measure(attribute(n, "width")), measure(attribute(n, "height"))
	turned := strings.HasPrefix(attribute(n, "patternTransform"), "rotate(45")
	if !(w > 0 && h > 0 && high.x > low.x && high.y > low.y) || (high.x-low.x)/w*(high.y-low.y)/h > mostTiles {
		return
	}
	c.pdf.RawWriteStr("q")
	c.outline(outline)
	c.pdf.RawWriteStr("W n")
	turn := func(p step, by float64) step {
		if !turned {
			return p
		}
		sin, cos := math.Sincos(by)
		return step{p.x*cos - p.y*sin, p.x*sin + p.y*cos}
	}
	from, to := step{math.Inf(1), math.Inf(1)}, step{math.Inf(-1), math.Inf(-1)}
	for _, p := range []step{low, {high.x, low.y}, high, {low.x, high.y}} { // the box as the pattern sees it
		p = turn(p, -math.Pi/4)
		from, to = step{min(from.x, p.x), min(from.y, p.y)}, step{max(to.x, p.x), max(to.y, p.y)}
	}
	for e := range n.ChildNodes() {
		if e.Data != "rect" {
			continue
		}
		grey := max(penOf(styled(e)).fill, 0)
		c.pdf.SetFillColor(grey, grey, grey)
		rw, rh := measure(attribute(e, "width")), measure(attribute(e, "height"))
		for y := math.Floor(from.y/h) * h; y < to.y; y += h {
			if rw >= w { // a stripe is one, not one a tile
				c.tile(step{math.Floor(from.x/w) * w, y}, to.x-math.Floor(from.x/w)*w, rh, turn)
				continue
			}
			for x := math.Floor(from.x/w) * w; x < to.x; x += w {
				c.tile(step{x, y}, rw, rh, turn)
			}
		}
	}
	c.pdf.RawWriteStr("Q")
}

func (c *canvas) tile(at step, w, h float64, turn func(step, float64) step) {
	var run []step
	for _, p := range []step{at, {at.x + w, at.y}, {at.x + w, at.y + h}, {at.x, at.y + h}} {
		run = append(run, turn(p, math.Pi/4))
	}
	c.outline([][]step{append(run, step{closes, 0})})
	c.pdf.DrawPath("F")
}

func bounds(outline [][]step) (low, high step) {
	low, high = step{math.Inf(1), math.Inf(1)}, step{math.Inf(-1), math.Inf(-1)}
	for _, run := range outline {
		for _, p := range run {
			if p.x != closes {
				low, high = step{min(low.x, p.x), min(low.y, p.y)}, step{max(high.x, p.x), max(high.y, p.y)}
			}
		}
	}
	return low, high
}

// text and the parts of it that have a place of their own.
func (c *canvas) text(e *html.Node) {
	for n := range e.ChildNodes() {
		switch {
		case n.Type == html.TextNode:
			c.label(e, n.Data, styled(e))
		case n.Data == "tspan" && n.FirstChild != nil:
			c.label(n, n.FirstChild.Data, styled(n))
		}
	}
}

func (c *canvas) label(at *html.Node, words string, style map[string]string) {
	size := measure(style["font-size"]) * c.scale / point
	if size <= 0 {
		size = 16 * c.scale / point
	}
	bold := measure(style["font-weight"]) >= 600 || style["font-weight"] == "bold"
	x, y := c.x(measure(attribute(at, "x"))), c.y0(measure(attribute(at, "y")))
	switch style["text-anchor"] {
	case "middle":
		x -= c.wide(words, bold, size) / 2
	case "end":
		x -= c.wide(words, bold, size)
	}
	p := penOf(style)
	if p.stroke >= 0 && p.wide > 0 { // what keeps the words apart from what lies under them
		c.pdf.SetDrawColor(p.stroke, p.stroke, p.stroke)
		c.pdf.SetLineWidth(p.wide * c.scale)
		c.pdf.SetDashPattern(nil, 0)
		c.pdf.SetTextRenderingMode(1)
		c.words(words, bold, x, y, size, 255)
		c.pdf.SetTextRenderingMode(0)
	}
	c.words(words, bold, x, y, size, max(p.fill, 0))
}
