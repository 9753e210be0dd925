package picture

import (
	"fmt"
	"html"
	"math"
	"strconv"
	"strings"
	"time"

	"hod/internal/report/plainly"
	"hod/internal/unit"
)

// Frame says how a picture is to be seen.
type Frame struct {
	// unique on its page, of letters and digits; what the picture names inside begins with it
	ID     string
	In     *time.Location                 // the site's; nil is UTC
	System unit.System                    // in which figures are shown
	Link   func(kind, name string) string // the address of a zone or a joint; nil: nothing leads on
	Alone  bool                           // it stands in a file or on paper of its own and brings its style
}

// Style gives the classes of pictures their tones, light and dark. A page that holds pictures has it once.
const Style = `svg.pic{display:block;width:100%;height:auto;font-family:system-ui,"DejaVu Sans",sans-serif}
.pic text{fill:var(--ink)}.pic .on{fill:var(--paper)}.pic .l{stroke:var(--ink);fill:none}.pic .pa{fill:var(--paper)}.pic .in{fill:var(--ink)}
.pic .act{fill:var(--act)}.pic .soon{fill:var(--soon)}.pic .actl{stroke:var(--act);fill:none}.pic .soonl{stroke:var(--soon);fill:none}
.pic .band{fill:var(--band)}.pic .band2{fill:var(--band2)}.pic .bareband{fill:var(--bareband)}.pic .dim{fill:var(--dimfill)}.pic .bare{fill:var(--bare)}.pic .m{stroke:var(--ink)}
.pic .c{stroke:var(--ink);stroke-width:1.5}.pic .w{fill:var(--paper);stroke-dasharray:5 4}.pic .no{fill:var(--paper);stroke-dasharray:1 5}.pic .box,.pic .act,.pic .soon{stroke-width:1.5}.pic .eb,.pic .ec,.pic .es,.pic .el,.pic .em,.pic .eg,.pic .eh{fill:none;stroke:var(--ink);stroke-width:3}.pic .eb,.pic .ec{stroke:var(--act);stroke-width:10}.pic .eb{stroke-dasharray:10 4}.pic .es{stroke:var(--soon);stroke-width:8}.pic .el{stroke-width:5;stroke-dasharray:2 4}.pic .eg{stroke-width:7}.pic .eh{stroke:var(--paper);stroke-width:3.5}.pic .hit{fill-opacity:0}
.pic .n,.pic .halo{paint-order:stroke;stroke:var(--paper);stroke-width:3px;stroke-linejoin:round}.pic .n{font-size:21px;font-weight:700}.pic .n tspan{font-size:18px;font-weight:400}.pic .e{font-size:17px;font-weight:700;text-anchor:middle}.pic .box{fill:var(--paper);stroke:var(--ink)}
.pic .b{font-weight:700}.pic a:focus-visible .box,.pic a:focus-visible rect{stroke-width:4}
`

// Tones of a picture that stands alone, by the names that Style uses.
const tones = `svg.pic{--ink:#0b0b0c;--paper:#fff;--act:#8c1400;--soon:#0a3a8a;--bare:#f2c200;--band:#cfdcf5;--band2:#9db8e8;--bareband:#f8e08a;--dimfill:#d6d6da}`

// canvas is a picture being made.
type canvas struct {
	frame         Frame
	b             strings.Builder
	width, height float64
}

// begin opens a picture with its title and description, which stand in it in words.
func begin(f Frame, width, height float64, title, says string) *canvas {
	if f.In == nil {
		f.In = time.UTC
	}
	d := &canvas{frame: f, width: width, height: height}
	space := ""
	if f.Alone {
		space = ` xmlns="http://www.w3.org/2000/svg"`
	}
	role := "img"
	if f.Link != nil {
		role = "group" // what leads on inside it is to be reached
	}
	fmt.Fprintf(&d.b,
		`<svg%s class="pic" viewBox="0 0 %s %s" role="%s" aria-labelledby="%st %sd"><title id="%st">%s</title><desc id="%sd">%s</desc>`,
		space, num(width), num(height), role, f.ID, f.ID, f.ID, words(title), f.ID, words(says))
	if f.Alone {
		d.b.WriteString("<style>" + tones + Style + "</style>")
	}
	return d
}

func (d *canvas) end() string { return d.b.String() + "</svg>" }

// num is a length on paper: to a tenth, and never what no browser reads.
func num(x float64) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		x = 0
	}
	x = math.Round(min(max(x, -1e5), 1e5)*10) / 10
	if x == 0 {
		return "0" // and not -0
	}
	return strconv.FormatFloat(x, 'f', -1, 64)
}

// words of a stranger, fit to stand in the picture.
func words(s string) string { return html.EscapeString(plainly.Clean(s)) }

func (d *canvas) put(form string, args ...any) { fmt.Fprintf(&d.b, form, args...) }

// rect of a class, with what more it says.
func (d *canvas) rect(x, y, w, h float64, class, more string) {
	if w < 0 || h < 0 {
		return
	}
	d.put(`<rect x="%s" y="%s" width="%s" height="%s"%s%s/>`, num(x), num(y), num(w), num(h), classed(class),
		spaced(more))
}

// line through points, of a class.
func (d *canvas) line(class, more string, points ...[2]float64) {
	if len(points) > 0 {
		d.put(`<path d="%s"%s%s/>`, path(points), classed(class), spaced(more))
	}
}

func path(points [][2]float64) string {
	var b strings.Builder
	for i, p := range points {
		if i == 0 {
			b.WriteString("M")
		} else {
			b.WriteString(" ")
		}
		b.WriteString(num(p[0]) + " " + num(p[1]))
	}
	return b.String()
}

// text at a place; anchor is start, middle or end.
func (d *canvas) text(x, y, size float64, class, anchor, s string) {
	at := ""
	if anchor != "" && anchor != "start" {
		at = ` text-anchor="` + anchor + `"`
	}
	d.put(`<text x="%s" y="%s" font-size="%s"%s%s>%s</text>`, num(x), num(y), num(size), classed(class), at, words(s))
}

func classed(class string) string {
	if class == "" {
		return ""
	}
	return ` class="` + class + `"`
}

func spaced(more string) string {
	if more == "" {
		return ""
	}
	return " " + more
}

// link opens an element that leads on, with its name for who does not see it; close it with unlink.
func (d *canvas) link(kind, name, label string) bool {
	if d.frame.Link == nil || name == "" {
		return false
	}
	d.put(`<a href="%s" aria-label="%s">`, html.EscapeString(d.frame.Link(kind, name)), words(label))
	return true
}

func (d *canvas) unlink(open bool) {
	if open {
		d.put(`</a>`)
	}
}

// wide is how wide a text is about, in em, by its letters: enough to keep two texts apart.
func wide(s string) float64 {
	n := 0.0
	for _, r := range s {
		switch {
		case strings.ContainsRune("iljtf.,:;'|!()[] ", r):
			n += 0.36
		case r == 'm' || r == 'w' || r == 'M' || r == 'W':
			n += 0.95
		case r >= 'A' && r <= 'Z':
			n += 0.72
		case r > 0x2E80:
			n += 1.05
		default:
			n += 0.63
		}
	}
	return n
}

// fit cuts a text that is wider than there is room for, with three dots.
func fit(s string, size, room float64) string {
	s = plainly.Clean(s)
	if wide(s)*size <= room {
		return s
	}
	runes := []rune(s)
	for len(runes) > 1 && wide(string(runes)+"…")*size > room {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// number tells whether a figure is one that can be drawn; no site has one beyond.
func number(x float64) bool { return math.Abs(x) < 1e12 }

// scale brings values to a length on paper.
type scale struct{ from, to, at, end float64 }

func (s scale) of(x float64) float64 {
	if !(s.to > s.from) {
		return s.at
	}
	return s.at + (min(max(x, s.from), s.to)-s.from)/(s.to-s.from)*(s.end-s.at)
}

// nice is a round step that cuts a range into at most so many parts.
func nice(span float64, most int) float64 {
	if !(span > 0) || !number(span) {
		return 1
	}
	raw := span / float64(most)
	ten := math.Pow(10, math.Floor(math.Log10(raw)))
	for _, m := range []float64{1, 2, 2.5, 5, 10} {
		if m*ten >= raw {
			return m * ten
		}
	}
	return 10 * ten
}

// decimal is a figure with as few decimals as a step needs.
func decimal(x, step float64) string {
	if x == 0 {
		return "0"
	}
	if step >= 1000 { // five figures have no room beside an axis
		return short(x/1000, 1) + "k"
	}
	digits := 0
	for digits < 4 && math.Abs(step-math.Round(step)) > 1e-9 {
		step *= 10
		digits++
	}
	return strconv.FormatFloat(x, 'f', digits, 64)
}

func short(x float64, digits int) string {
	if !number(x) {
		return "not known"
	}
	s := strconv.FormatFloat(x, 'f', digits, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}
