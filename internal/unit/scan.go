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
	clean := true
	for i := 0; i < len(s) && clean; i++ {
		clean = s[i] >= ' ' && s[i] < 0x7f && s[i] != '\'' && s[i] != ','
	}
	if !clean {
		b := make([]byte, 0, len(s)+16)
		for i, r := range s {
			switch r {
			case ',':
				return "", comma(s)
			case '’', '‘', '′', 'ʹ', '´', '`', '\'':
				if n := len(b); n > 0 && b[n-1] == '\'' { // two of them are how a keyboard without " writes inches
					b[n-1] = '"'
				} else {
					b = append(b, '\'')
				}
			case '”', '“', '″', '„':
				b = append(b, '"')
			case '\u00a0', '\u2009', '\u202f', '\u2007':
				b = append(b, ' ')
			case '−', '–', '‐', '‑':
				b = append(b, '-')
			case '⁄', '∕':
				b = append(b, '/')
			case '·', '⋅', '×':
				b = append(b, '*')
			case '²':
				b = append(b, "^2"...)
			case '³':
				b = append(b, "^3"...)
			case '°', 'º', '˚':
				b = append(b, degree)
			case '℉':
				b = append(b, degree, 'F')
			case '℃':
				b = append(b, degree, 'C')
			default:
				if f := fraction(r); f != "" { // spaces keep it from joining its neighbours' digits
					if n := len(b); n > 0 && b[n-1] >= '0' && b[n-1] <= '9' {
						b = append(b, ' ')
					}
					b = append(append(b, f...), ' ')
				} else if r >= ' ' && r < 0x7f {
					b = append(b, byte(r))
				} else {
					return "", fmt.Sprintf("the character %s at place %d is not one of a quantity",
						strconv.QuoteRune(r), utf8.RuneCountInString(s[:i])+1)
				}
			}
		}
		s = string(b)
	}
	for {
		i := foldIndex(s, " per ")
		if i < 0 {
			return s, ""
		}
		s = s[:i] + "/" + s[i+len(" per "):]
	}
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

func fraction(r rune) string {
	switch r {
	case '¼':
		return "1/4"
	case '½':
		return "1/2"
	case '¾':
		return "3/4"
	case '⅓':
		return "1/3"
	case '⅔':
		return "2/3"
	case '⅕':
		return "1/5"
	case '⅖':
		return "2/5"
	case '⅗':
		return "3/5"
	case '⅘':
		return "4/5"
	case '⅙':
		return "1/6"
	case '⅚':
		return "5/6"
	case '⅛':
		return "1/8"
	case '⅜':
		return "3/8"
	case '⅝':
		return "5/8"
	case '⅞':
		return "7/8"
	case '⅒':
		return "1/10"
	}
	return ""
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
	n = digits(t)
	whole := true
	if n < len(t) && t[n] == '.' {
		if f := digits(t[n+1:]); n+f > 0 {
			n, whole = n+1+f, false
		}
	}
	if n == 0 {
		return 0, 0, ""
	}
	if n < len(t) && (t[n] == 'e' || t[n] == 'E') {
		sign := n + 1
		if sign < len(t) && (t[sign] == '-' || t[sign] == '+') {
			sign++
		}
		if d := digits(t[sign:]); d > 0 {
			n, whole = sign+d, false
		}
	}
	x, err := strconv.ParseFloat(t[:n], 64)
	if err != nil || x > most {
		return 0, n, quote(t[:n]) + " is too large to be meant"
	}
	if !whole {
		return x, n, ""
	}
	part, m, msg := over(t[n:])
	if m > 0 { // x/m
		if msg != "" {
			return 0, n, quote(t[:n+m]) + msg
		}
		return x / part, n + m, ""
	}
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
	part, m, msg = over(t[at+top:])
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
	var last entry
	p, lastNumber, lastUnit, beside := 0, 0, 0, false // beside: this term follows without a +
	negative := false
	for first := true; ; first = false {
		for p < len(t) && t[p] == ' ' {
			p++
		}
		if first && p < len(t) && (t[p] == '-' || t[p] == '+') {
			negative = t[p] == '-'
			for p++; p < len(t) && t[p] == ' '; p++ {
			}
		}
		x, n, msg := number(t[p:])
		if msg != "" {
			return 0, msg
		}
		if n == 0 {
			switch {
			case p == len(t):
				return 0, "the last number is missing"
			case first:
				return 0, "it does not begin with a number"
			}
			return 0, quote(t[p:]) + " is not a number"
		}
		start := p
		for p += n; p < len(t) && t[p] == ' '; p++ {
		}
		e, m := k.unit(t[p:])
		if m == 0 {
			if small, ok := k.implied(last); ok && beside && !k.power(t, lastNumber, lastUnit, start+n) &&
				x*small.factor < last.factor && (p == len(t) || t[p] == '+') {
				e = small
			} else if beside && k.foreign(t[lastUnit:start+n]) { // the 2 of ft2 where a length is wanted
				return 0, k.unknown("", t[lastUnit:])
			} else {
				return 0, k.unknown(t[start:start+n], t[p:])
			}
		} else if beside && e.factor >= last.factor {
			return 0, fmt.Sprintf("%s follows without a +, and is not the smaller unit", quote(t[start:p+m]))
		}
		if !first && (k == temperature || k == difference) {
			return 0, "temperatures are not added up: one reading is wanted"
		}
		if k == temperature {
			v = celsius(e, x, negative)
		} else {
			v += float64(x * e.factor) // rounded before it is added: no fused multiply-add, the same on every processor
		}
		last, lastNumber, lastUnit = e, start, p
		for p += m; p < len(t) && t[p] == ' '; p++ {
		}
		beside = true
		switch {
		case p == len(t):
			switch {
			case k == temperature:
				if v < -Zero {
					return 0, "nothing is colder than -273.15C"
				}
			case negative && k == difference:
				v = -v
			case negative && v != 0:
				return 0, k.article() + " is not below zero"
			}
			if math.IsInf(v, 0) || math.IsNaN(v) {
				return 0, "it is too large to be meant"
			}
			return v, ""
		case t[p] == '+':
			beside = false
			p++
		case t[p] == '-':
			if k != length || e.factor != float64(Foot) {
				return 0, "a minus or a range is not one value: write the value itself"
			}
			p++ // the dash of 6'-8"
		case t[p] >= '0' && t[p] <= '9' || t[p] == '.':
		default:
			return 0, k.unknown(t[start:start+n], t[lastUnit:])
		}
	}
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

// meant is the unit of k that people shorten to name, which is one of another kind.
func (k kind) meant(other kind, name string) string {
	pounds := name == "lb" || name == "lbs" || name == "pound" || name == "pounds"
	switch {
	case k == volume && other == mass && (name == "oz" || name == "ounce" || name == "ounces"):
		return "floz"
	case k == mass && other == volume && (name == "floz" || name == "fluidounces"):
		return "oz"
	case k == mass && other == force && name == "lbf":
		return "lb"
	case k == force && name == "kg":
		return "kgf"
	case k == density && pounds:
		return "lb/ft3"
	case k == density && name == "kg":
		return "kg/m3"
	case k == pressure && (pounds || name == "lbf"):
		return "psi"
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
