package report

import (
	"slices"
	"strings"
	"time"

	"hod/internal/unit"
)

// Page says where a report is to be read.
type Page struct {
	Width  int            // columns; 0 means 80, and fewer than 40 are taken as 40
	Colour bool           // may be added to the words
	In     *time.Location // the site's; nil is UTC
	Now    time.Time      // the reader's instant, from which what is left is counted; zero is that of the view
	// written as a part of a web page: headings, paragraphs and tables, all text escaped; no width
	HTML bool
	// of a web page: the address under which the pages of zones, joints and events lie; empty: nothing leads on
	Root string
	Crew string // whose device it is read on, who is "you"; empty: no crew's
	Copy *Copy  // of what the view was made, where it is one device's own copy of the record
}

const (
	usualWidth = 80
	leastWidth = 40
	// narrow pages put columns closer together.
	narrow = 60
)

// sheet is a page being written.
type sheet struct {
	width  int
	colour bool
	in     *time.Location
	now    time.Time
	asOf   time.Time
	system unit.System
	lines  []string
	html   bool // each of lines is then an element
	root   string
	// heading of the part that is being written, on a web page.
	heading string
	copy    *Copy
}

func open(p Page, units string, asOf time.Time) *sheet {
	s := &sheet{
		width: p.Width, colour: p.Colour, in: p.In, now: p.Now, asOf: asOf, html: p.HTML, root: p.Root,
		copy: p.Copy,
	}
	if s.width == 0 {
		s.width = usualWidth
	}
	s.width = max(s.width, leastWidth)
	if s.in == nil {
		s.in = time.UTC
	}
	// A reader's clock that is behind the view's is not to make edges younger.
	if s.now.Before(asOf) {
		s.now = asOf
	}
	// A system that this version does not know is shown in SI, in which the view is.
	s.system, _ = unit.ParseSystem(units)
	return s
}

// apart is an empty sheet of the same page, to see how long a part becomes.
func (s *sheet) apart() *sheet {
	part := *s
	part.lines = nil
	return &part
}

func (s *sheet) add(part *sheet) { s.lines = append(s.lines, part.lines...) }

func (s *sheet) String() string { return strings.Join(s.lines, "\n") + "\n" }

func (s *sheet) put(t text) {
	if s.html {
		s.element("p", 0, t)
		return
	}
	s.lines = append(s.lines, t.line(s.colour))
}

func (s *sheet) blank() {
	if s.html {
		return
	}
	if n := len(s.lines); n > 0 && s.lines[n-1] != "" {
		s.lines = append(s.lines, "")
	}
}

// para writes t from column indent; its further lines stand hang columns further in.
func (s *sheet) para(indent, hang int, t text) {
	if s.html {
		s.element("p", indent, t)
		return
	}
	s.paraLines(indent, hang, t.wrap(s.width-indent, s.width-indent-hang))
}

// paraMost is para of at most so many lines.
func (s *sheet) paraMost(indent, hang, most int, t text) {
	if s.html {
		s.element("p", indent, t.most(mostHTML))
		return
	}
	room := s.width - indent - hang
	lines := t.most((most+1)*s.width*16).wrap(s.width-indent, room)
	s.paraLines(indent, hang, cut(lines, most, room))
}

func (s *sheet) paraLines(indent, hang int, lines []text) {
	for i, l := range lines {
		pad := indent
		if i > 0 {
			pad += hang
		}
		s.put(append(text{{s: strings.Repeat(" ", pad), as: plain}}, l...))
	}
}

// named writes "name  t", t in a column of its own.
func (s *sheet) named(indent, column int, name string, t text) {
	if t.empty() {
		return
	}
	s.para(indent, column, lead(say(name), column, t))
}

// lead puts t at a column after head, or as near to it as head allows.
func lead(head text, column int, t text) text {
	gap := span{s: strings.Repeat(string(held), max(column-head.columns(), 1)), as: plain}
	return slices.Concat(head, text{gap}, t)
}

// section begins one: a heading in capitals, and what there is to say of it as a whole.
func (s *sheet) section(name string, of text) {
	if s.html {
		s.heading = name
		s.element("h2", 0, say(name))
		if !of.empty() {
			s.element("p", 0, of)
		}
		return
	}
	s.blank()
	s.para(0, 2, join(": ", say(name, strong), of))
}

// head names the site and the page, the instant, and once for all times the offset of the zone.
func (s *sheet) head(site, page string) {
	left := join(" ", say(site, strong), say(page))
	if site == "" {
		left = say(page, strong)
	}
	local := s.asOf.In(s.in)
	right := figure(local.Format("Mon 2 Jan 2006 15:04"))
	right = join(", ", right, figure("UTC"+local.Format("-07:00")))
	if s.html {
		s.heading = page
		s.element("h1", 0, join(" ", say(site), say(page)))
		s.element("p", 0, right)
	} else if gap := s.width - left.columns() - right.columns(); gap >= 2 {
		s.put(join(strings.Repeat(" ", gap), left, right))
	} else {
		s.paraMost(0, 2, 1, left)
		s.para(0, 2, right)
	}
	if old := s.now.Sub(s.asOf); old >= 2*time.Minute {
		s.para(0, 2, join(" ", say("This is"), figure(minutes(old)+" old:", strong),
			say("what came in since is not in it.")))
	}
	s.ownCopy()
}
