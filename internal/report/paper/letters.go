package paper

import (
	"fmt"
	"regexp"
	"strings"
	"unicode/utf8"

	"codeberg.org/go-pdf/fpdf"
	"github.com/go-fonts/dejavu/dejavusanscondensed"
	"github.com/go-fonts/dejavu/dejavusanscondensedbold"
	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
	"golang.org/x/text/unicode/bidi"
)

// family is the typeface's name in the file.
const family = "letters"

// perEm is in how many parts of its height a letter's width is told.
const perEm = 1000

// typeface knows which letters it has, and how wide they are.
type typeface struct {
	font   *sfnt.Font
	buffer sfnt.Buffer
	known  map[rune]float64 // in parts of perEm; below 0: it has none
}

func newTypeface(file []byte) (*typeface, error) {
	f, err := sfnt.Parse(file)
	if err != nil {
		return nil, fmt.Errorf("read the typeface: %w", err)
	}
	return &typeface{font: f, known: map[rune]float64{}}, nil
}

// wide is how wide a letter is; below 0 where there is none.
func (t *typeface) wide(c rune) float64 {
	wide, asked := t.known[c]
	if asked {
		return wide
	}
	wide = -1
	glyph, err := t.font.GlyphIndex(&t.buffer, c)
	if err == nil && glyph != 0 && c <= 0xFFFF { // the library's tables end there
		if a, err := t.font.GlyphAdvance(&t.buffer, glyph, fixed.I(perEm), font.HintingNone); err == nil {
			wide = float64(a) / 64
		}
	}
	t.known[c] = wide
	return wide
}

// letters is a document's typeface in its two weights.
type letters struct {
	plain, bold *typeface
	missing     map[rune]bool // letters that were asked for, and that it has not
}

func addLetters(f *fpdf.Fpdf) (*letters, error) {
	f.AddUTF8FontFromBytes(family, "", dejavusanscondensed.TTF)
	f.AddUTF8FontFromBytes(family, "B", dejavusanscondensedbold.TTF)
	l := &letters{missing: map[rune]bool{}}
	var err error
	if l.plain, err = newTypeface(dejavusanscondensed.TTF); err != nil {
		return nil, err
	}
	l.bold, err = newTypeface(dejavusanscondensedbold.TTF)
	return l, err
}

// shown is a text by letters that there are.
func (l *letters) shown(s string, bold bool) string {
	t := l.of(bold)
	return strings.Map(func(c rune) rune {
		switch {
		case c == '\u00a0':
			return ' '
		case t.wide(c) >= 0:
			return c
		}
		l.missing[c] = true
		return utf8.RuneError
	}, s)
}

func (l *letters) of(bold bool) *typeface {
	if bold {
		return l.bold
	}
	return l.plain
}

// wide is how wide a text is in letters of so many points, in millimetres.
func (l *letters) wide(s string, bold bool, size float64) float64 {
	t, sum := l.of(bold), 0.0
	for _, c := range l.shown(s, bold) {
		sum += max(t.wide(c), 0)
	}
	return sum / perEm * size * point
}

// seen is a line in the order in which the eye meets it: words from right to left are turned, with what stands between
// two of them; figures keep their order, and what stands around, such as the brackets about a name, keeps its place.
// Unicode's UAX 9 would draw these into the name, since a report says nowhere where a name ends.
func seen(s string) string {
	var b strings.Builder
	for s != "" {
		from, to := fromRight(s)
		b.WriteString(s[:from])
		if from < to {
			b.WriteString(turned(s[from:to]))
		}
		s = s[to:]
	}
	return b.String()
}

// fromRight finds the next words from right to left: from the first letter of them to the last, with nothing between
// but spaces, figures and hyphens. Both are the length of s where there are none.
func fromRight(s string) (from, to int) {
	from, to = len(s), len(s)
	for i, c := range s {
		p, _ := bidi.LookupRune(c)
		switch class := p.Class(); {
		case class == bidi.R || class == bidi.AL || from < i && class == bidi.NSM:
			if from == len(s) {
				from = i
			}
			to = i + utf8.RuneLen(c)
		case from < len(s) && class != bidi.EN && class != bidi.AN && c != ' ' && c != '-':
			return from, to
		}
	}
	return from, to
}

// turned is words in the order of the eye; a figure among them reads on from the left.
func turned(s string) string {
	s = bidi.ReverseString(s)
	return figures.ReplaceAllStringFunc(s, bidi.ReverseString)
}

var figures = regexp.MustCompile(`\p{Nd}+`)
