package report

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
)

// Style is what colour adds to a word. The word says it already.
type Style int

const (
	Plain Style = iota
	strong
	Urgent
	Soon
)

// sgr is the terminal's own language (ECMA-48, select graphic rendition). The colours are those that can be read on
// black and on white: no yellow, no light green.
var sgr = [...]string{strong: "\x1b[1m", Urgent: "\x1b[1;31m", Soon: "\x1b[1;35m"}

const sgrEnd = "\x1b[0m"

// held is the space inside a figure, at which no line ends. Clean leaves none, so every one is ours.
const held = '\u00a0'

type span struct {
	s  string
	as Style
	To string // on a web page, the address under the pages' root that it leads to
}

// Text is a run of words on the way to a line. It is made by say and sayf, and thereby clean.
type Text []span

// Say is a text, cleaned, plain or with one emphasis.
func Say(s string, as ...Style) Text {
	t := Text{{s: Clean(s), as: Plain}}
	if len(as) > 0 {
		t[0].as = as[0]
	}
	return t
}

// Sayf is Say of what a format makes.
func Sayf(format string, args ...any) Text { return Say(fmt.Sprintf(format, args...)) }

// To makes t lead to the page of a thing, where it is on a web page that has one: a zone, joint, flag, event or day by
// its name.
func (t Text) To(kind, name string) Text {
	if name == "" || strings.Trim(name, "./") == "" { // nothing that a browser takes for a way upwards
		return t
	}
	t = slices.Clone(t)
	for i := range t {
		t[i].To = Address(kind, name)
	}
	return t
}

// Address of the page of a thing, under the root of the pages.
func Address(kind, name string) string {
	if kind == "event" {
		device, seq, _ := strings.Cut(name, "/")
		return "event/" + url.PathEscape(device) + "/" + url.PathEscape(seq)
	}
	if kind == "why" { // its name has parts
		parts := strings.Split(name, "/")
		for i := range parts {
			parts[i] = url.PathEscape(parts[i])
		}
		return kind + "/" + strings.Join(parts, "/")
	}
	return kind + "/" + url.PathEscape(name)
}

// WhyCoat is the name of the page of what a coat's figures rest on.
func WhyCoat(zone, face string, number int32) string {
	if face == "" {
		face = "any"
	}
	return fmt.Sprintf("coat/%s/%s/%d", zone, face, number)
}

// Events are names of events, each leading to its own.
func Events(names []string) Text {
	parts := make([]Text, len(names))
	for i, n := range names {
		parts[i] = Say(n).To("event", n)
	}
	return Join(", ", parts...)
}

// Figure is a text that stays on one line.
func Figure(s string, as ...Style) Text {
	t := Say(s, as...)
	t[0].s = strings.ReplaceAll(t[0].s, " ", string(held))
	return t
}

// Empty reports whether nothing would be seen of it.
func (t Text) Empty() bool {
	return !slices.ContainsFunc(t, func(s span) bool { return strings.Trim(s.s, " "+string(held)) != "" })
}

// String is the text alone.
func (t Text) String() string {
	var b strings.Builder
	for _, s := range t {
		b.WriteString(s.s)
	}
	return strings.ReplaceAll(b.String(), string(held), " ")
}

func (t Text) columns() int {
	n := 0
	for _, s := range t {
		n += columns(s.s)
	}
	return n
}

// columns that s takes on a terminal.
func columns(s string) int {
	n := 0
	for _, r := range s {
		n += runeColumns(r)
	}
	return n
}

// runeColumns follows Unicode's UAX 11: wide and fullwidth characters take two columns; marks stand on their letter.
// Those that UAX 11 calls ambiguous take one, as outside of East Asian settings.
func runeColumns(r rune) int {
	if r < utf8.RuneSelf {
		return 1
	}
	if unicode.In(r, unicode.Mn, unicode.Me) {
		return 0
	}
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return 2
	}
	return 1
}

// Join puts sep between those that are not empty.
func Join(sep string, parts ...Text) Text {
	var all Text
	for _, p := range parts {
		if p.Empty() {
			continue
		}
		if len(all) > 0 {
			all = append(all, span{s: sep, as: Plain})
		}
		all = append(all, p...)
	}
	return all
}

// Listed joins words as a person would read them: a, b, c.
func Listed(words []string) Text {
	parts := make([]Text, len(words))
	for i, w := range words {
		parts[i] = Say(w)
	}
	return Join(", ", parts...)
}

// words of t at which a line may end. A number and the unit after it are one.
func (t Text) words() []Text {
	var all []Text
	var word Text
	end := func() {
		if len(word) > 0 {
			all, word = append(all, word), nil
		}
	}
	for _, s := range t {
		for i, piece := range strings.Split(s.s, " ") {
			if i > 0 {
				end()
			}
			if piece != "" {
				word = append(word, span{piece, s.as, s.To})
			}
		}
	}
	end()
	var out []Text
	at := func(i int) string {
		if i < 0 || i >= len(all) {
			return ""
		}
		return all[i].String()
	}
	for i, w := range all {
		if i > 0 && together(at(i-1), at(i), at(i+1)) {
			last := len(out) - 1
			out[last] = append(append(out[last], span{s: string(held), as: Plain}), w...)
		} else {
			out = append(out, w)
		}
	}
	return out
}

// units are those that package unit shows and people write after a number.
var units = setOf(`kg g t lb oz fl L mL gal m³ ft³ yd³ m mm cm in ft m² mm² ft² in² °C °F K F° km/h mph m/s kn kg/m³ lb/ft³
	MPa kPa Pa psi kN N lbf % kg/m²/h lb/ft²/h kg/m² L/min gal/min mL/100 oz/cwt s min h d °C·h °F·h minutes hours days batch
	batches bag bags reading readings people m³/h batches/h`)

func setOf(words string) map[string]bool {
	set := map[string]bool{}
	for w := range strings.FieldsSeq(words) {
		set[w] = true
	}
	return set
}

// together says whether word belongs on the line of before: 12.5 kg, 1 1/2 in, 18 fl oz, 1 h 30 min, 6 ft 8 in.
func together(before, word, after string) bool {
	bare := strings.TrimRight(word, ".,;:!?)")
	switch {
	case before == "w/cm" && number(word), before == "fl" && bare == "oz", before == "fl" && bare == "oz/cwt",
		before == "mL/100" && bare == "kg":
		return true
	case number(before) && (units[bare] || fraction(bare)):
		return true
	case number(word):
		after = strings.TrimRight(after, ".,;:!?)")
		switch before {
		case "d":
			return after == "h"
		case "h":
			return after == "min"
		case "min":
			return after == "s"
		case "ft":
			return after == "in" || fraction(after)
		}
	}
	return false
}

func number(s string) bool {
	s = strings.TrimLeft(s, "(<>=~+-±")
	return s != "" && digit(s[0]) && digit(s[len(s)-1])
}

func fraction(s string) bool {
	top, bottom, ok := strings.Cut(s, "/")
	return ok && number(top) && number(bottom)
}

func digit(c byte) bool { return '0' <= c && c <= '9' }

// wrap lays t into lines, the first of them so wide, the others so. A word wider than its line is cut where it must be.
func (t Text) wrap(first, rest int) []Text {
	var lines []Text
	var line Text
	room, used := first, 0
	next := func() {
		lines = append(lines, line)
		line, used, room = nil, 0, rest
	}
	for _, w := range t.words() {
		n := w.columns()
		if used > 0 && used+1+n > room {
			next()
		}
		if used > 0 {
			line, used = append(line, span{s: " ", as: Plain}), used+1
		}
		if n <= room {
			line, used = append(line, w...), used+n
			continue
		}
		for _, s := range w {
			from := 0
			for i, r := range s.s {
				if c := runeColumns(r); c > 0 && used+c > room {
					line = append(line, span{s.s[from:i], s.as, s.To})
					next()
					from = i
				}
				used += runeColumns(r)
			}
			line = append(line, span{s.s[from:], s.as, s.To})
		}
	}
	if len(line) > 0 {
		lines = append(lines, line)
	}
	return lines
}

// cut keeps what fits into so many lines; three dots say that there was more, and no figure is cut in two.
func cut(lines []Text, most, room int) []Text {
	if len(lines) <= most {
		return lines
	}
	lines = lines[:most:most]
	words := lines[most-1].words()
	for len(words) > 1 && columnsOf(words)+4 > room && words[len(words)-1].columns() < room/2 {
		words = words[:len(words)-1]
	}
	last := Join(" ", words...)
	if last.columns()+4 > room {
		last = last.wrap(room-4, room-4)[0]
	}
	lines[most-1] = append(last, span{s: " ...", as: Plain})
	return lines
}

// most of t: its first so many bytes, so that a page does not lay out a megabyte to show a line of it.
func (t Text) most(bytes int) Text {
	for i, s := range t {
		if bytes -= len(s.s); bytes < 0 {
			end := len(s.s) + bytes
			for !utf8.RuneStart(s.s[end]) {
				end--
			}
			return append(slices.Clone(t[:i]), span{s.s[:end], s.as, s.To})
		}
	}
	return t
}

func columnsOf(words []Text) int {
	n := len(words) - 1
	for _, w := range words {
		n += w.columns()
	}
	return n
}

// line is t as it goes out.
func (t Text) line(colour bool) string {
	var b strings.Builder
	for i := 0; i < len(t); i++ {
		as, s := t[i].as, t[i].s
		for i+1 < len(t) && t[i+1].as == as {
			i++
			s += t[i].s
		}
		s = strings.ReplaceAll(s, string(held), " ")
		if i == len(t)-1 {
			s = strings.TrimRight(s, " ")
		}
		if s == "" {
			continue
		}
		if colour && as != Plain {
			s = sgr[as] + s + sgrEnd
		}
		b.WriteString(s)
	}
	return b.String()
}

// SentenceStart is Sentence without its full stop.
func SentenceStart(s string) string { return strings.TrimSuffix(Sentence(s), ".") }
