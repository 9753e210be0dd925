package paper

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
)

// Size of the sheets.
type Size string

const (
	Letter Size = "letter"
	A4     Size = "a4"
)

// Sizes are those that can be asked for.
var Sizes = []string{string(Letter), string(A4)}

// SizeFor is the usual size where a job is measured in a system of units.
func SizeFor(units string) Size {
	if units == "us" {
		return Letter
	}
	return A4
}

// millimetres of a sheet, upright.
func (s Size) millimetres() fpdf.SizeType {
	if s == Letter {
		return fpdf.SizeType{Wd: 215.9, Ht: 279.4}
	}
	return fpdf.SizeType{Wd: 210, Ht: 297}
}

// Document is what is put on paper.
type Document struct {
	Size  Size
	Site  string
	Title string // of what it is: "day 2031-05-13", "record"
	// Digest of what it rests on, in the foot; empty: it has none.
	Digest string
	Made   time.Time // of the newest that it rests on, not of the printing: the same record gives the same bytes
	Parts  []Part
}

// Part begins on a page of its own.
type Part struct {
	Name   string // in the bookmarks
	Markup string
	Sign   []string // who signs beneath it
	Size   float64  // of the letters in points; 0: the usual
	Code   string   // a text to be drawn as a code for a camera, beneath it
}

// Paper is a document that was laid out.
type Paper struct {
	PDF   []byte
	Pages []int // of each part
}

// Make lays a document out.
func Make(d Document) (Paper, error) {
	s, pages, err := lay(d)
	if err != nil {
		return Paper{}, err
	}
	s.unset()
	s.feet(d)
	var b bytes.Buffer
	if err := s.pdf.Output(&b); err != nil {
		return Paper{}, fmt.Errorf("write the PDF: %w", err)
	}
	return Paper{b.Bytes(), pages}, nil
}

// lay sets the parts, and counts the pages of each.
func lay(d Document) (s *sheet, pages []int, err error) {
	if s, err = open(d); err != nil {
		return nil, nil, err
	}
	for _, part := range d.Parts {
		before := s.pdf.PageNo()
		if err := s.part(part); err != nil {
			return nil, nil, err
		}
		pages = append(pages, s.pdf.PageNo()-before)
	}
	return s, pages, nil
}

// Measures in millimetres, and of letters in points.
const (
	side, above, below = 15.0, 13.0, 20.0
	point              = 25.4 / 72
	usualLetters       = 9.0
	footLetters        = 7.0
	lineHigh           = 1.28 // of the letters
)

// sheet is a document while it is laid out.
type sheet struct {
	pdf     *fpdf.Fpdf
	letters *letters
	width   float64 // between the margins
	foot    float64 // where what is said ends
	y       float64
	size    float64 // of the letters, in points
	onPage  bool    // something stands on this page
}

func open(d Document) (*sheet, error) {
	size := d.Size.millimetres()
	f := fpdf.NewCustom(&fpdf.InitType{OrientationStr: "P", UnitStr: "mm", Size: size})
	f.SetAutoPageBreak(false, 0)
	f.SetMargins(0, 0, 0)
	f.SetCellMargin(0)
	f.SetCatalogSort(true)
	f.SetCreationDate(d.Made.UTC())
	f.SetModificationDate(d.Made.UTC())
	f.SetProducer("hod", true)
	f.SetTitle(strings.Trim(d.Site+": "+d.Title, ": "), true)
	f.SetLang("en")
	l, err := addLetters(f)
	if err != nil {
		return nil, err
	}
	f.SetFont(family, "", usualLetters)
	if err := f.Error(); err != nil {
		return nil, fmt.Errorf("begin the PDF: %w", err)
	}
	return &sheet{pdf: f, letters: l, width: size.Wd - 2*side, foot: size.Ht - below, size: usualLetters}, nil
}

func (s *sheet) page() {
	s.pdf.AddPage()
	s.y, s.onPage = above, false
}

func (s *sheet) line() float64 { return s.size * point * lineHigh }

// room tells whether so much of the page is left; where it is not, and something stands on the page, the next begins.
func (s *sheet) room(high float64) {
	if s.y+high > s.foot && s.onPage {
		s.page()
	}
}

func (s *sheet) part(p Part) error {
	all, err := blocks(p.Markup)
	if err != nil {
		return err
	}
	if s.size = usualLetters; p.Size > 0 {
		s.size = p.Size
	}
	s.page()
	if p.Name != "" {
		s.pdf.Bookmark(s.letters.shown(p.Name, false), 0, s.y)
	}
	for i := 0; i < len(all); i++ {
		i += s.block(all, i)
	}
	if p.Code != "" {
		if err := s.code(p.Code); err != nil {
			return err
		}
	}
	if len(p.Sign) > 0 {
		s.sign(p.Sign)
	}
	return nil
}

// block sets the ith, and says how many after it stand beside it.
func (s *sheet) block(all []block, i int) int {
	b := all[i]
	switch b.kind {
	case title, heading, smallHeading:
		s.heading(b, all[i+1:])
	case tabular:
		s.table(b.table)
	case drawn:
		return s.pictures(all[i:]) - 1
	default:
		inset := 0.0
		if b.inset {
			inset = 4
		}
		s.paragraph(b.text, inset, s.size)
		s.y += 0.7
	}
	return 0
}

// heading stays with the beginning of what it is of.
func (s *sheet) heading(b block, next []block) {
	scale, gap := map[kind]float64{title: 1.5, heading: 1.15, smallHeading: 1}[b.kind], 2.6
	if b.kind == title || !s.onPage {
		gap = 0.5
	}
	for i := range b.text {
		b.text[i].bold = true
	}
	size := s.size * scale
	lines := s.lines(b.text, s.width, size)
	high := float64(len(lines)) * size * point * lineHigh
	s.room(gap + high + s.first(next))
	if s.onPage {
		s.y += gap
	}
	s.put(lines, side, size)
	if b.kind == heading {
		s.rule(s.y+0.3, 0.2)
		s.y += 0.6
	}
	s.y += 0.6
}

// first is how high the least of what follows a heading is.
func (s *sheet) first(next []block) float64 {
	if len(next) == 0 {
		return 0
	}
	switch b := next[0]; b.kind {
	case title, heading, smallHeading:
		return s.line() + s.first(next[1:])
	case tabular:
		return s.firstRow(b.table)
	case drawn:
		_, high := s.measure(b.picture)
		return min(high, s.foot-above-20)
	}
	return 2 * s.line()
}

func (s *sheet) paragraph(text []run, inset, size float64) {
	s.put(s.lines(text, s.width-inset, size), side+inset, size)
}

// put sets lines one under the other, over as many pages as they take. No line stands alone at a page's end or head.
func (s *sheet) put(lines [][]run, x, size float64) {
	high := size * point * lineHigh
	for i, l := range lines {
		need := high
		if i == 0 || i == len(lines)-2 {
			need = high * float64(min(len(lines)-i, 2))
		}
		s.room(need)
		s.write(l, x, s.y+size*point, size)
		s.y += high
		s.onPage = true
	}
}

// write a line of runs from x on, its letters standing on y.
func (s *sheet) write(l []run, x, y, size float64) {
	for _, r := range l {
		x += s.words(r.words, r.bold, x, y, size, 0)
	}
}

// words at a place, in a tone of grey; how wide they are.
func (s *sheet) words(words string, bold bool, x, y, size float64, grey int) float64 {
	shown := seen(s.letters.shown(words, bold))
	if strings.TrimSpace(shown) != "" {
		s.font(bold, size)
		// The library thinks that a page's tone is the last that it set anywhere, and then says none: so both are said.
		s.pdf.SetTextColor(grey, grey, grey)
		s.pdf.SetFillColor(grey, grey, grey)
		s.pdf.Text(x, y, shown)
	}
	return s.wide(words, bold, size)
}

func (s *sheet) font(bold bool, size float64) {
	style := ""
	if bold {
		style = "B"
	}
	s.pdf.SetFont(family, style, size)
}

func (s *sheet) rule(y, wide float64) {
	s.pdf.SetDrawColor(0, 0, 0)
	s.pdf.SetDashPattern(nil, 0)
	s.pdf.SetLineWidth(wide)
	s.pdf.Line(side, y, side+s.width, y)
}

// sign sets a line to sign for each, and one for the date.
func (s *sheet) sign(who []string) {
	const high = 13.0
	s.room(high*float64((len(who)+1)/2) + 2)
	half := s.width / 2
	for i, name := range who {
		if i%2 == 0 {
			s.y += high
		}
		x := side + half*float64(i%2)
		s.pdf.SetDrawColor(0, 0, 0)
		s.pdf.SetDashPattern(nil, 0)
		s.pdf.SetLineWidth(0.25)
		s.pdf.Line(x, s.y-4, x+half*0.62, s.y-4)
		s.pdf.Line(x+half*0.66, s.y-4, x+half*0.94, s.y-4)
		s.words(name, false, x, s.y-0.8, footLetters, 0)
		s.words("date", false, x+half*0.66, s.y-0.8, footLetters, 0)
	}
	s.onPage = true
}

// unset says of which letters the typeface has none.
func (s *sheet) unset() {
	if n := len(s.letters.missing); n > 0 {
		s.size = usualLetters
		s.paragraph(
			[]run{{words: fmt.Sprintf(
				"%d different letters of names or notes are not in this typeface and stand as \ufffd; the record has them.", n)}}, 0, footLetters)
	}
}

// feet of all pages, once it is known how many there are.
func (s *sheet) feet(d Document) {
	pages := s.pdf.PageNo()
	y := s.foot + 6.5
	for n := 1; n <= pages; n++ {
		s.pdf.SetPage(n)
		s.rule(s.foot+3, 0.2)
		of := fmt.Sprintf("page %d of %d", n, pages)
		wide := s.wide(of, true, footLetters)
		s.words(of, true, side+s.width-wide, y, footLetters, 0)
		left := s.lines([]run{{words: strings.Trim(d.Site+"; "+d.Title, "; ")}}, s.width-wide-4, footLetters)
		if len(left) > 0 {
			s.write(left[0], side, y, footLetters)
		}
		if d.Digest != "" {
			s.words("digest "+d.Digest, false, side, y+3.4, footLetters, 0)
		}
	}
	s.pdf.SetPage(pages)
}
