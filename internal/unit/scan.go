package unit

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode/utf8"
)

// degree stands for the degree sign between plain and normal, so that 8°5 is not read as 85. A person cannot type it.
const degree = '\x01'

// inASCII is what phones and paper produce, in the characters that the scanner knows.
var inASCII = map[rune]string{
	'’': "'", '‘': "'", '′': "'", 'ʹ': "'", '´': "'", '`': "'", '\'': "'",
	'”': `"`, '“': `"`, '″': `"`, '„': `"`,
	'\u00a0': " ", '\u2009': " ", '\u202f': " ", '\u2007': " ",
	'−': "-", '–': "-", '‐': "-", '‑': "-",
	'⁄': "/", '∕': "/",
	'·': "*", '⋅': "*", '×': "*",
	'²': "^2", '³': "^3",
	'°': string(degree), 'º': string(degree), '˚': string(degree),
	'℉': string(degree) + "F", '℃': string(degree) + "C",
}

// plain brings what phones and paper produce (’ ″ ½ ² ° − and unusual spaces) to the characters that the scanner
// knows, and refuses the rest: control characters and lookalikes do not get further than here.
func plain(s string) (text, msg string) {
	s = strings.TrimSpace(s)
	if s == "" {
		return "", "nothing is written"
	}
	if n := utf8.RuneCountInString(s); n > longest {
		return "", fmt.Sprintf("%d characters are too many to be one quantity, at most %d are read", n, longest)
	}
	if !scannable(s) {
		if s, msg = transcribed(s); msg != "" {
			return "", msg
		}
	}
	for {
		i := foldIndex(s, " per ")
		if i < 0 {
			return s, ""
		}
		s = s[:i] + "/" + s[i+len(" per "):]
	}
}

// scannable reports whether a text holds nothing that the scanner does not know as it stands.
func scannable(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c >= 0x7f || c == '\'' || c == ',' {
			return false
		}
	}
	return true
}

// transcribed is a text in the characters that the scanner knows.
func transcribed(s string) (text, msg string) {
	b := make([]byte, 0, len(s)+16)
	for i, r := range s {
		known, ok := inASCII[r]
		switch {
		case r == ',':
			return "", comma(s)
		case known == "'" && len(b) > 0 && b[len(b)-1] == '\'': // two are how a keyboard without " writes inches
			b[len(b)-1] = '"'
		case ok:
			b = append(b, known...)
		case fractions[r] != "": // spaces keep it from joining its neighbours' digits
			if n := len(b); n > 0 && b[n-1] >= '0' && b[n-1] <= '9' {
				b = append(b, ' ')
			}
			b = append(append(b, fractions[r]...), ' ')
		case r >= ' ' && r < 0x7f:
			b = append(b, byte(r))
		default:
			return "", fmt.Sprintf("the character %s at place %d is not one of a quantity",
				strconv.QuoteRune(r), utf8.RuneCountInString(s[:i])+1)
		}
	}
	return string(b), ""
}

// foldIndex is strings.Index in ASCII without regard to case; sub is lower case.
func foldIndex(s, sub string) int {
	for i := 0; i+len(sub) <= len(s); i++ {
		if strings.EqualFold(s[i:i+len(sub)], sub) {
			return i
		}
	}
	return -1
}

func comma(s string) string {
	return fmt.Sprintf("a comma can mean a decimal or thousands: write %s or %s",
		quote(strings.ReplaceAll(s, ",", ".")), quote(strings.ReplaceAll(s, ",", "")))
}

// fractions are those that have a character of their own.
var fractions = map[rune]string{
	'¼': "1/4", '½': "1/2", '¾': "3/4", '⅓': "1/3", '⅔': "2/3", '⅕': "1/5", '⅖': "2/5", '⅗': "3/5", '⅘': "4/5",
	'⅙': "1/6", '⅚': "5/6", '⅛': "1/8", '⅜': "3/8", '⅝': "5/8", '⅞': "7/8", '⅒': "1/10",
}

func digits(s string) int {
	n := 0
	for n < len(s) && s[n] >= '0' && s[n] <= '9' {
		n++
	}
	return n
}

// most is beyond anything on a site in any unit; what is larger is a slip of the keyboard.
const most = 1e12

// number reads 2.5, .5, 1e3, 1/2, 1 1/2 or 1-1/2 at the start of t; n is its length, 0 where there is none.
func number(t string) (x float64, n int, msg string) {
	n, whole := plainNumber(t)
	if n == 0 {
		return 0, 0, ""
	}
	x, err := strconv.ParseFloat(t[:n], 64)
	if err != nil || x > most {
		return 0, n, quote(t[:n]) + " is too large to be meant"
	}
	if !whole {
		return x, n, ""
	}
	part, m, msg := over(t[n:])
	if m == 0 {
		return mixed(t, x, n)
	}
	if msg != "" {
		return 0, n, quote(t[:n+m]) + msg
	}
	return x / part, n + m, ""
}

// plainNumber is the length of a number without a fraction at the start of t, and whether it is a whole one, digits
// alone.
func plainNumber(t string) (n int, whole bool) {
	n, whole = digits(t), true
	if n < len(t) && t[n] == '.' {
		if f := digits(t[n+1:]); n+f > 0 {
			n, whole = n+1+f, false
		}
	}
	if n == 0 || n == len(t) || t[n] != 'e' && t[n] != 'E' {
		return n, whole
	}
	sign := n + 1
	if sign < len(t) && (t[sign] == '-' || t[sign] == '+') {
		sign++
	}
	if d := digits(t[sign:]); d > 0 {
		return sign + d, false
	}
	return n, whole
}

// mixed goes on after a whole number x, t[:n], with the fraction that may stand behind it: 1 1/2, 1-1/2.
func mixed(t string, x float64, n int) (float64, int, string) {
	at := n
	for at < len(t) && t[at] == ' ' {
		at++
	}
	if at == n && at < len(t) && t[at] == '-' {
		at++
	}
	top := digits(t[at:])
	if at == n || top == 0 {
		return x, n, ""
	}
	part, m, msg := over(t[at+top:])
	if m == 0 {
		return x, n, ""
	}
	end := at + top + m
	numerator, err := strconv.ParseFloat(t[at:at+top], 64)
	switch {
	case msg != "":
		return 0, n, quote(t[at:end]) + msg
	case err != nil || numerator >= part:
		return 0, n, fmt.Sprintf("%s after %s is not a part of one", quote(t[at:end]), quote(t[:n]))
	}
	return x + numerator/part, end, ""
}

// over reads the /2 of a fraction.
func over(t string) (denominator float64, n int, msg string) {
	if t == "" || t[0] != '/' {
		return 0, 0, ""
	}
	d := digits(t[1:])
	if d == 0 {
		return 0, 0, ""
	}
	n = 1 + d
	denominator, err := strconv.ParseFloat(t[1:n], 64)
	switch {
	case err != nil || denominator > most:
		return 0, n, " is too fine a fraction"
	case denominator == 0:
		return 0, n, " divides by zero"
	case n < len(t) && t[n] == '.' && digits(t[n+1:]) > 0:
		return 0, n, " is not a fraction of whole numbers"
	}
	return denominator, n, ""
}

// normal brings the writing of a unit to that of the tables; false where it cannot be one unit.
func normal(buf []byte, s string) ([]byte, bool) {
	for i := 0; i < len(s); i++ {
		switch c := s[i]; {
		case c >= 'A' && c <= 'Z':
			buf = append(buf, c+'a'-'A')
		case c >= 'a' && c <= 'z', c == '/', c == '\'', c == '"', c == '%', c == '#':
			buf = append(buf, c)
		case c >= '0' && c <= '9':
			if i == 0 || c != '2' && c != '3' || s[i-1] == ' ' || s[i-1] == '-' || s[i-1] == '.' {
				return buf, false
			}
			buf = append(buf, c)
		case c == '-':
			if i == 0 || i+1 == len(s) || !letter(s[i-1]) || !letter(s[i+1]) {
				return buf, false
			}
		case c == ' ', c == '.', c == '^', c == '*', c == '(', c == ')', c == degree:
		default:
			return buf, false
		}
	}
	return buf, len(buf) > 0
}

func letter(c byte) bool { return c|0x20 >= 'a' && c|0x20 <= 'z' }

// unit finds the longest unit of k at the start of t; n is its length, 0 where there is none. What a letter, an
// exponent or a division follows is not yet the whole unit: lb in lb/ft3.
func (k kind) unit(t string) (e entry, n int) {
	var store [40]byte
	for n = min(len(t), 32); n > 0; n-- {
		if last := t[n-1]; last == ' ' || last == '+' || last == '-' {
			continue
		}
		if n < len(t) {
			if c := t[n]; letter(t[n-1]) && letter(c) || strings.IndexByte("/^.*()%#\x01", c) >= 0 {
				continue
			}
		}
		name, ok := normal(store[:0], t[:n])
		if !ok {
			continue
		}
		if e, ok = k.lookup(string(name)); ok {
			return e, n
		}
	}
	return entry{}, 0
}

// written is the piece of t that was meant as a unit, for a message.
func written(t string) string {
	for i := 0; i < len(t); i++ {
		if t[i] == '+' || t[i] >= '0' && t[i] <= '9' && i > 0 && (t[i-1] == ' ' || t[i-1] == '-') {
			t = t[:i]
			break
		}
	}
	return strings.TrimRight(t, " -")
}

// sum reads "number unit" with further terms joined by + or, each in a smaller unit than the last, set side by side.
func (k kind) sum(t string) (v float64, msg string) {
	r := terms{kind: k, text: t}
	r.sign()
	for first := true; ; first = false {
		if msg := r.term(first); msg != "" {
			return 0, msg
		}
		if r.p == len(t) {
			return r.total()
		}
		if msg := r.joint(); msg != "" {
			return 0, msg
		}
	}
}

// terms is a sum that is being read.
type terms struct {
	kind kind
	text string
	p    int // how far it is read

	value    float64
	negative bool
	beside   bool  // the next term stands beside the last, without a +
	last     entry // the unit of the last term
	number   int   // where the last term's number begins
	length   int   // how long that number is
	unit     int   // where its unit begins
}

func (r *terms) blanks() {
	for r.p < len(r.text) && r.text[r.p] == ' ' {
		r.p++
	}
}

// sign reads the sign before the first term.
func (r *terms) sign() {
	r.blanks()
	if r.p < len(r.text) && (r.text[r.p] == '-' || r.text[r.p] == '+') {
		r.negative = r.text[r.p] == '-'
		r.p++
	}
}

// term reads a number with its unit, and adds it up.
func (r *terms) term(first bool) (msg string) {
	r.blanks()
	x, n, msg := number(r.text[r.p:])
	switch {
	case msg != "":
		return msg
	case n == 0 && r.p == len(r.text):
		return "the last number is missing"
	case n == 0 && first:
		return "it does not begin with a number"
	case n == 0:
		return quote(r.text[r.p:]) + " is not a number"
	}
	start := r.p
	r.p += n
	r.blanks()
	e, m := r.kind.unit(r.text[r.p:])
	if m == 0 {
		if e, msg = r.unsaid(x, start, n); msg != "" {
			return msg
		}
	} else if r.beside && e.factor >= r.last.factor {
		return fmt.Sprintf("%s follows without a +, and is not the smaller unit", quote(r.text[start:r.p+m]))
	}
	if !first && (r.kind == temperature || r.kind == difference) {
		return "temperatures are not added up: one reading is wanted"
	}
	if r.kind == temperature {
		r.value = celsius(e, x, r.negative)
	} else {
		// rounded before it is added: no fused multiply-add, the same on every processor
		r.value += float64(x * e.factor)
	}
	r.last, r.number, r.length, r.unit = e, start, n, r.p
	r.p += m
	r.blanks()
	return ""
}

// unsaid is the unit of a term x that names none, n characters from start: the one that nobody writes, or none.
func (r *terms) unsaid(x float64, start, n int) (entry, string) {
	small, ok := r.kind.implied(r.last)
	switch {
	case ok && r.beside && !r.kind.power(r.text, r.number, r.unit, start+n) && x*small.factor < r.last.factor &&
		(r.p == len(r.text) || r.text[r.p] == '+'):
		return small, ""
	case r.beside && r.kind.foreign(r.text[r.unit:start+n]): // the 2 of ft2 where a length is wanted
		return entry{}, r.kind.unknown("", r.text[r.unit:])
	}
	return entry{}, r.kind.unknown(r.text[start:start+n], r.text[r.p:])
}

// joint reads what lies between two terms.
func (r *terms) joint() (msg string) {
	c := r.text[r.p]
	r.beside = c != '+'
	switch {
	case c == '+':
		r.p++
	case c == '-' && (r.kind != length || r.last.factor != float64(Foot)):
		return "a minus or a range is not one value: write the value itself"
	case c == '-': // the dash of 6'-8"
		r.p++
	case c >= '0' && c <= '9' || c == '.':
	default:
		return r.kind.unknown(r.text[r.number:r.number+r.length], r.text[r.unit:])
	}
	return ""
}

// total is the value once all of the text is read.
func (r *terms) total() (v float64, msg string) {
	v = r.value
	switch {
	case r.kind == temperature && v < -Zero:
		return 0, "nothing is colder than -273.15C"
	case r.kind == temperature:
	case r.negative && r.kind == difference:
		v = -v
	case r.negative && v != 0:
		return 0, r.kind.article() + " is not below zero"
	}
	if math.IsInf(v, 0) || math.IsNaN(v) {
		return 0, "it is too large to be meant"
	}
	return v, ""
}

func celsius(e entry, x float64, negative bool) float64 {
	if negative {
		x = -x
	}
	switch {
	case e.factor == fahrenheitDegree:
		return float64(Fahrenheit(x))
	case e.name[0] == 'k':
		return x - Zero
	}
	return x
}

// power says whether the number that ends at end is the exponent of the unit before it, as in 5/8 ft2, rather than the
// inches of 6ft2: it is glued to the unit, which then is one of another kind, and no whole number stands glued before.
func (k kind) power(t string, number, unit, end int) bool {
	return k.foreign(t[unit:end]) && strings.IndexByte(t[unit:end], ' ') < 0 && digits(t[number:]) != unit-number
}

// implied is the unit that nobody writes: the inches of 6f8, the minutes of 1h30, the seconds of 4min30.
func (k kind) implied(last entry) (entry, bool) {
	switch {
	case k == length && last.factor == float64(Foot):
		return entry{"in", float64(Inch), us}, true
	case k == duration && last.factor == hour:
		return entry{"min", 60, neither}, true
	case k == duration && last.factor == 60:
		return entry{"s", 1, neither}, true
	}
	return entry{}, false
}

// foreign says whether t is a unit of some other kind.
func (k kind) foreign(t string) bool {
	_, _, ok := k.home(t)
	return ok
}

func (k kind) home(t string) (kind, string, bool) {
	var store [72]byte
	b, ok := normal(store[:0], strings.TrimSpace(t))
	if !ok {
		return 0, "", false
	}
	name := string(b)
	// of degrees more often than of feet
	if name == "f" && k != length && k != area && k != volume && k != temperature {
		return temperature, name, true
	}
	for other := range kinds {
		if other == k || other == difference {
			continue
		}
		if _, ok := other.lookup(name); ok {
			return other, name, true
		}
	}
	return 0, name, false
}

// unknown explains that rest, after number, does not begin with a unit of k.
func (k kind) unknown(number, rest string) string {
	text := written(rest)
	switch {
	case rest == "":
		return quote(number) + " has no unit: " + k.offer(number) + " would do"
	case rest[0] >= '0' && rest[0] <= '9' || rest[0] == '.':
		return fmt.Sprintf("%s and %s stand side by side with no unit between them", quote(number), quote(rest))
	case rest[0] == '-':
		return "a range or a difference is not one value: write the value itself"
	case rest[0] == '+' || text == "":
		return quote(number) + " has no unit before the +: " + k.offer(number) + " would do"
	}
	other, name, ok := k.home(text)
	if ok {
		msg := fmt.Sprintf("%s is a unit of %s, not of %s", quote(text), other.noun(), k.noun())
		if meant := k.meant(other, name); meant != "" {
			msg += "; did you mean " + number + meant + "?"
		}
		return msg
	}
	if strings.HasPrefix(name, "ton") && k == mass {
		return "a ton is 2000 lb, 2240 lb or 1000 kg to different people: write 2000lb or 1t"
	}
	msg := quote(text) + " is not a unit of " + k.noun()
	if near := k.nearest(name); near != "" {
		msg += "; did you mean " + number + near + "?"
	}
	return msg
}

func (k kind) offer(number string) string {
	number = strings.TrimSpace(number)
	units := k.common()
	s := number + units[0]
	for i, u := range units[1:] {
		if i+2 == len(units) {
			s += " or " + number + u
		} else {
			s += ", " + number + u
		}
	}
	return s
}

// slips are the units that people shorten to one of another kind: what is meant by a name where a kind is wanted.
var slips = map[kind]map[string]string{
	volume: {"oz": "floz", "ounce": "floz", "ounces": "floz"},
	mass:   {"floz": "oz", "fluidounces": "oz", "lbf": "lb"},
	force:  {"kg": "kgf"},
	density: {
		"lb": "lb/ft3", "lbs": "lb/ft3", "pound": "lb/ft3", "pounds": "lb/ft3", "kg": "kg/m3",
	},
	pressure: {"lb": "psi", "lbs": "psi", "pound": "psi", "pounds": "psi", "lbf": "psi"},
}

// meant is the unit of k that people shorten to name, which is one of another kind.
func (k kind) meant(other kind, name string) string {
	switch {
	case slips[k][name] != "":
		return slips[k][name]
	case k == volume && other == length:
		return k.cube(name, "3")
	case k == area && other == length:
		return k.cube(name, "2")
	}
	return ""
}

func (k kind) cube(name, power string) string {
	e, _ := length.plain(name)
	for _, short := range []string{"ft", "in", "yd", "m", "cm", "mm"} {
		if s, _ := length.plain(short); s.factor == e.factor {
			if _, ok := k.plain(short + power); ok {
				return short + power
			}
		}
	}
	return ""
}

// nearest is the listed unit that is one slip of a finger away from name.
func (k kind) nearest(name string) string {
	if len(name) < 2 {
		return ""
	}
	for _, e := range k.units() {
		if len(e.name) > 1 && slip(name, e.name) {
			return e.name
		}
	}
	return ""
}

// slip says whether a and b differ by one letter changed, added, left out, or two neighbours swapped.
func slip(a, b string) bool {
	if len(a) > len(b) {
		a, b = b, a
	}
	if len(b)-len(a) > 1 {
		return false
	}
	i := 0
	for i < len(a) && a[i] == b[i] {
		i++
	}
	if len(a) < len(b) {
		return a[i:] == b[i+1:]
	}
	return i == len(a) || a[i+1:] == b[i+1:] ||
		i+1 < len(a) && a[i] == b[i+1] && a[i+1] == b[i] && a[i+2:] == b[i+2:]
}
