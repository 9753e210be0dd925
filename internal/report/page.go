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
	// of a summary: all of each list follows as an annex, and no flag brings it
	Annex bool
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

// Sheet is a page being written.
type Sheet struct {
	width  int
	colour bool
	In     *time.Location
	Now    time.Time
	AsOf   time.Time
	System unit.System
	Lines  []string
	HTML   bool // each of lines is then an element
	Annex  bool
	Root   string
	// heading of the part that is being written, on a web page.
	heading string
	copy    *Copy
}

// Open begins a sheet of a page, in the units and at the instant of a view.
func Open(p Page, units string, asOf time.Time) *Sheet {
	s := &Sheet{
		width: p.Width, colour: p.Colour, In: p.In, Now: p.Now, AsOf: asOf, HTML: p.HTML, Root: p.Root,
		copy: p.Copy, Annex: p.Annex,
	}
	if s.width == 0 {
		s.width = usualWidth
	}
	s.width = max(s.width, leastWidth)
	if s.In == nil {
		s.In = time.UTC
	}
	// A reader's clock that is behind the view's is not to make edges younger.
	if s.Now.Before(asOf) {
		s.Now = asOf
	}
	// A system that this version does not know is shown in SI, in which the view is.
	s.System, _ = unit.ParseSystem(units)
	return s
}

// apart is an empty sheet of the same page, to see how long a part becomes.
func (s *Sheet) apart() *Sheet {
	part := *s
	part.Lines = nil
	return &part
}

func (s *Sheet) add(part *Sheet) { s.Lines = append(s.Lines, part.Lines...) }

func (s *Sheet) String() string { return strings.Join(s.Lines, "\n") + "\n" }

func (s *Sheet) put(t Text) {
	if s.HTML {
		s.Element("p", 0, t)
		return
	}
	s.Lines = append(s.Lines, t.line(s.colour))
}

// Blank ends a paragraph on a page of text.
func (s *Sheet) Blank() {
	if s.HTML {
		return
	}
	if n := len(s.Lines); n > 0 && s.Lines[n-1] != "" {
		s.Lines = append(s.Lines, "")
	}
}

// Para writes t from column indent; its further lines stand hang columns further in.
func (s *Sheet) Para(indent, hang int, t Text) {
	if s.HTML {
		s.Element("p", indent, t)
		return
	}
	s.paraLines(indent, hang, t.wrap(s.width-indent, s.width-indent-hang))
}

// ParaMost is para of at most so many lines.
func (s *Sheet) ParaMost(indent, hang, most int, t Text) {
	if s.HTML {
		s.Element("p", indent, t.most(mostHTML))
		return
	}
	room := s.width - indent - hang
	lines := t.most((most+1)*s.width*16).wrap(s.width-indent, room)
	s.paraLines(indent, hang, cut(lines, most, room))
}

func (s *Sheet) paraLines(indent, hang int, lines []Text) {
	for i, l := range lines {
		pad := indent
		if i > 0 {
			pad += hang
		}
		s.put(append(Text{{s: strings.Repeat(" ", pad), as: Plain}}, l...))
	}
}

// Named writes "name  t", t in a column of its own.
func (s *Sheet) Named(indent, column int, name string, t Text) {
	if t.Empty() {
		return
	}
	s.Para(indent, column, Lead(Say(name), column, t))
}

// Lead puts t at a column after head, or as near to it as head allows.
func Lead(head Text, column int, t Text) Text {
	gap := span{s: strings.Repeat(string(held), max(column-head.columns(), 1)), as: Plain}
	return slices.Concat(head, Text{gap}, t)
}

// Section begins one: a heading in capitals, and what there is to say of it as a whole.
func (s *Sheet) Section(name string, of Text) {
	if s.HTML {
		s.heading = name
		s.Element("h2", 0, Say(name))
		if !of.Empty() {
			s.Element("p", 0, of)
		}
		return
	}
	s.Blank()
	s.Para(0, 2, Join(": ", Say(name, strong), of))
}

// Head names the site and the page, the instant, and once for all times the offset of the zone.
func (s *Sheet) Head(site, page string) {
	left := Join(" ", Say(site, strong), Say(page))
	if site == "" {
		left = Say(page, strong)
	}
	local := s.AsOf.In(s.In)
	right := Figure(local.Format("Mon 2 Jan 2006 15:04"))
	right = Join(", ", right, Figure("UTC"+local.Format("-07:00")))
	if s.HTML {
		s.heading = page
		s.Element("h1", 0, Join(" ", Say(site), Say(page)))
		s.Element("p", 0, right)
	} else if gap := s.width - left.columns() - right.columns(); gap >= 2 {
		s.put(Join(strings.Repeat(" ", gap), left, right))
	} else {
		s.ParaMost(0, 2, 1, left)
		s.Para(0, 2, right)
	}
	if old := s.Now.Sub(s.AsOf); old >= 2*time.Minute {
		s.Para(0, 2, Join(" ", Say("This is"), Figure(Minutes(old)+" old:", strong),
			Say("what came in since is not in it.")))
	}
	s.OwnCopy()
}
