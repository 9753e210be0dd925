package report_test

import (
	"encoding/xml"
	"io"
	"math"
	"net/url"
	"path"
	"reflect"
	"strings"
	"testing"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/width"
	"pgregory.net/rapid"

	"hod/internal/report"
	"hod/internal/report/leaf"
	"hod/internal/report/summary"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
)

func TestClean(t *testing.T) {
	for _, c := range []struct{ what, in, want string }{
		{"plain words", "28.4 L in A3", "28.4 L in A3"},
		{"a colour", "a\x1b[31mred", "a�[31mred"},
		{"a window title", "\x1b]0;owned\x07", "�]0;owned�"},
		{"an escape in one byte", "a\u009b2Jb", "a�2Jb"},
		{"that byte without its encoding", "a\x9b2Jb", "a�2Jb"},
		{"backspaces", "no\b\byes", "no��yes"},
		{"nul and delete", "\x00\x7f", "��"},
		{"lines", "one\ntwo\r\nthree\vfour\ffive", "one two  three four five"},
		{"Unicode's lines", "one\u0085two\u2028three\u2029four", "one two three four"},
		{"a tab", "a\tb", "a b"},
		{"spaces of every width", "a\u00a0b\u2003c\u3000d\u202fe", "a b c d e"},
		{"right to left override", "A3\u202e3A\u202c", "A3�3A�"},
		{"isolates and marks of direction", "\u2066a\u2069\u200e\u200f\u061c", "�a����"},
		{"zero width", "A\u200b3\u2060\ufeff", "A�3��"},
		{"what honest text carries", "co\u00adop\u200c\u200d☀\ufe0f", "coop☀"},
		{"a hidden message in tags", "A3\U000e0041\U000e0042", "A3��"},
		{"fillers that show nothing", "\u115f\u3164\uffa0\u034f", "����"},
		{"private characters", "\ue000", "�"},
		{"an accent", "Zoe\u0308", "Zoe\u0308"},
		{"an accent without its letter", "\u0308a", "�a"},
		{"an accent on a space", "a \u0308", "a �"},
		{"a tower of accents", "a" + strings.Repeat("\u0301", 6), "a" + strings.Repeat("\u0301", 4) + "�\u0301"},
		{"a name from right to left", "שלמה", "שלמה"},
		{"a wide name", "佐藤", "佐藤"},
		{"a surrogate", "\xed\xa0\x80", "���"},
	} {
		if got := report.Clean(c.in); got != c.want {
			t.Errorf("%s: Clean(%q) = %q, want %q", c.what, c.in, got, c.want)
		}
	}
}

func TestCleanTwiceIsCleanOnce(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		once := report.Clean(hostile().Draw(t, "text"))
		if twice := report.Clean(once); twice != once {
			t.Fatalf("Clean changed what was clean:\n once %q\ntwice %q", once, twice)
		}
		if bad := strings.IndexFunc(once, unsafe); bad >= 0 || !utf8.ValidString(once) {
			t.Fatalf("%q is not clean at byte %d", once, bad)
		}
	})
}

// unsafe is written from Unicode's categories, apart from the code that it judges.
func unsafe(r rune) bool {
	return unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp, unicode.Co, unicode.Cs) || r != ' ' &&
		unicode.Is(unicode.Zs, r)
}

func hostile() *rapid.Generator[string] {
	pieces := rapid.SampledFrom([]string{
		"\x1b[2J", "\x1b]8;;http://x\x07", "\u009b31m", "\x9d", "\r", "\n", "\r\n", "\t", "\b", "\x00", "\x7f",
		"\u202e", "\u2066", "\u200b", "\u200d", "\ufeff", "\u2028", "\u0085", "\u00a0",
		"\u0301\u0301\u0301\u0301\u0301\u0301", "佐藤", "شيد", "☀\ufe0f", "👷", "\xff\xfe", "\U000e0041", "=1+1", "<b>",
		"12.5 kg", "1 1/2 in", "6 ft 8 in", "A3", "word", " ", strings.Repeat("x", 90), strings.Repeat("佐", 50), "COLD",
	})
	return rapid.OneOf(rapid.Just(""), rapid.String(), rapid.Map(rapid.SliceOfN(pieces, 1, 12),
		func(p []string) string { return strings.Join(p, "") }))
}

// columns is how many a line takes, by the width that Unicode gives its characters.
func columns(s string) int {
	n := 0
	for _, r := range s {
		switch k := width.LookupRune(r).Kind(); {
		case unicode.In(r, unicode.Mn, unicode.Me):
		case k == width.EastAsianWide, k == width.EastAsianFullwidth:
			n += 2
		default:
			n++
		}
	}
	return n
}

// fill draws every field of a view: hostile words, figures that no site has, times of all ages.
func fill(t *rapid.T, v reflect.Value, depth int) {
	switch v.Kind() {
	case reflect.Struct:
		if v.Type() == reflect.TypeFor[time.Time]() {
			if rapid.IntRange(0, 9).Draw(t, "no time") > 0 {
				v.Set(reflect.ValueOf(now.Add(time.Duration(rapid.Int64().Draw(t, "time") >> rapid.IntRange(0,
					40).Draw(t, "how far")))))
			}
			return
		}
		for i := range v.NumField() {
			fill(t, v.Field(i), depth)
		}
	case reflect.Array:
		for i := range v.Len() {
			fill(t, v.Index(i), depth)
		}
	case reflect.Int:
		v.SetInt(rapid.Int64Range(-3, 1e9).Draw(t, "count"))
	case reflect.Pointer:
		if rapid.Bool().Draw(t, "set") {
			v.Set(reflect.New(v.Type().Elem()))
			fill(t, v.Elem(), depth)
		}
	case reflect.Slice:
		n := rapid.IntRange(0, 4-depth).Draw(t, "length")
		v.Set(reflect.MakeSlice(v.Type(), n, n))
		for i := range n {
			fill(t, v.Index(i), depth+1)
		}
	case reflect.String:
		v.SetString(rapid.OneOf(rapid.SampledFrom([]string{
			"live", "closing", "cold", "edge", "inside", "below", "done",
			"waiting", "under way", "set aside", "us", "metric", "2026-07-18",
		}), hostile()).Draw(t, "text"))
	case reflect.Float64:
		v.SetFloat(rapid.OneOf(rapid.Float64(), rapid.Float64Range(0, 100),
			rapid.SampledFrom([]float64{
				0, -1, 1e-9, 0.0437, 999.96, 1e14, 1e300, math.NaN(), math.Inf(1),
				math.Inf(-1),
			})).Draw(t, "figure"))
	case reflect.Int32:
		v.SetInt(int64(rapid.Int32().Draw(t, "count")))
	case reflect.Bool:
		v.SetBool(rapid.Bool().Draw(t, "whether"))
	default:
		t.Fatalf("a view has a field of a kind that this test does not fill: %v", v.Type())
	}
}

func drawView[V any](t *rapid.T, name string) V {
	var v V
	rapid.Custom(func(t *rapid.T) bool {
		fill(t, reflect.ValueOf(&v).Elem(), 0)
		return true
	}).Draw(t, name)
	return v
}

// drawn is each report of a view that nobody would make.
var drawn = map[string]func(t *rapid.T, p report.Page) string{
	"board":  func(t *rapid.T, p report.Page) string { return report.Board(drawView[daily.Board](t, "board"), p) },
	"joints": func(t *rapid.T, p report.Page) string { return report.Joints(drawView[view.Joints](t, "joints"), p) },
	"forecast": func(t *rapid.T, p report.Page) string {
		return report.Forecast(drawView[ahead.Forecast](t, "forecast"), p)
	},
	"day":     func(t *rapid.T, p report.Page) string { return summary.Day(drawView[daily.Day](t, "day"), p) },
	"day-all": func(t *rapid.T, p report.Page) string { return summary.DayAll(drawView[daily.Day](t, "day"), p) },
	"stock":   func(t *rapid.T, p report.Page) string { return report.Stock(drawView[view.Stock](t, "stock"), p) },
	"weather": func(t *rapid.T, p report.Page) string {
		return report.Weather(drawView[view.Conditions](t, "weather"), p)
	},
	"zone":  func(t *rapid.T, p report.Page) string { return report.Zone(drawView[view.Zone](t, "zone"), p) },
	"flags": func(t *rapid.T, p report.Page) string { return report.Flags(drawView[daily.Flags](t, "flags"), p) },
	"flag":  func(t *rapid.T, p report.Page) string { return report.Flag(drawView[daily.Flag](t, "flag"), p) },
	"log":   func(t *rapid.T, p report.Page) string { return report.Log(drawView[view.Log](t, "log"), p) },
	"overview": func(t *rapid.T, p report.Page) string {
		return leaf.OverviewWords(drawView[drawing.Overview](t, "overview"), p)
	},
	"map": func(t *rapid.T, p report.Page) string { return leaf.MapWords(drawView[drawing.Map](t, "map"), p) },
	"charts": func(t *rapid.T, p report.Page) string {
		return leaf.ChartsWords(drawView[drawing.Charts](t, "charts"), p)
	},
	"list": func(t *rapid.T, p report.Page) string {
		words := rapid.SliceOfN(hostile(), 0, 5)
		return report.List(hostile().Draw(t, "title"), words.Draw(t, "names"),
			rapid.SliceOfN(words, 0, 4).Draw(t, "rows"), p)
	},
}

// No line is wider than its page, and nothing but words and line ends goes out, whatever the record holds.
func TestWhateverTheRecordHolds(t *testing.T) {
	for name, write := range drawn {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				p := report.Page{
					Width:  rapid.SampledFrom([]int{0, 1, 40, 41, 57, 72, 80, 132}).Draw(t, "width"),
					Colour: rapid.Bool().Draw(t, "colour"), Now: now, In: zone,
				}
				got := write(t, p)
				if p.Colour {
					got = sgr.ReplaceAllString(got, "")
				}
				most := max(p.Width, 40)
				if p.Width == 0 {
					most = 80
				}
				if name == "day" {
					most = min(most, 72)
				}
				for line := range strings.Lines(got) {
					line = strings.TrimSuffix(line, "\n")
					if n := columns(line); n > most {
						t.Fatalf("a line has %d columns on a page of %d: %q", n, most, line)
					}
					if strings.ContainsFunc(line, unsafe) || !utf8.ValidString(line) {
						t.Fatalf("a line is not clean: %q", line)
					}
					if strings.HasSuffix(line, " ") {
						t.Fatalf("a line ends in a space: %q", line)
					}
					if strings.Contains(line, "NaN") || strings.Contains(line, "Inf ") {
						t.Fatalf("a line shows what is not a number: %q", line)
					}
				}
				if !strings.HasSuffix(got, "\n") {
					t.Fatalf("%q does not end its last line", got)
				}
			})
		})
	}
}

// Of a part of a web page nothing is an element or an attribute but what the report itself writes.
func TestWhateverTheRecordHoldsIsTextOnAWebPage(t *testing.T) {
	elements := map[string]bool{
		"h1": true, "h2": true, "p": true, "div": true, "table": true, "tr": true, "th": true,
		"td": true, "b": true, "part": true, "a": true, "caption": true, "thead": true, "tbody": true,
	}
	classes := map[string]bool{
		"in": true, "wide": true, "right": true, "strong": true, "urgent": true, "soon": true,
		"vh": true, "wide stack": true, "words": true,
	}
	allowed := func(a xml.Attr) bool {
		switch a.Name.Local {
		case "class":
			return classes[a.Value]
		case "scope":
			return a.Value == "col"
		case "tabindex":
			return a.Value == "0"
		case "data-of":
			return !strings.ContainsFunc(a.Value, unsafe)
		case "href":
			at, err := url.Parse(a.Value)
			return err == nil && strings.HasPrefix(a.Value, "/pages/") && at.Host == "" && at.Scheme == "" &&
				path.Clean(at.Path) != "/"
		}
		return false
	}
	for name, write := range drawn {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				got := write(t, report.Page{HTML: true, Now: now, In: zone, Root: "/pages/"})
				d := xml.NewDecoder(strings.NewReader("<part>" + got + "</part>"))
				for {
					token, err := d.Token()
					if err == io.EOF {
						return
					}
					if err != nil {
						t.Fatalf("%v in\n%s", err, got)
					}
					switch token := token.(type) {
					case xml.StartElement:
						if !elements[token.Name.Local] {
							t.Fatalf("an element %s in\n%s", token.Name.Local, got)
						}
						for _, a := range token.Attr {
							if !allowed(a) {
								t.Fatalf("an attribute %s=%q in\n%s", a.Name.Local, a.Value, got)
							}
						}
					case xml.CharData:
						if strings.ContainsFunc(strings.ReplaceAll(string(token), "\n", ""),
							func(r rune) bool { return unsafe(r) && r != '\u00a0' }) {
							t.Fatalf("text that is not clean: %q", token)
						}
					case xml.EndElement:
					default:
						t.Fatalf("a %T in\n%s", token, got)
					}
				}
			})
		})
	}
}

// A book in a name costs a page, not a screen of the board.
func TestHostileBoardStaysAScreen(t *testing.T) {
	b := board("metric")
	b.Site = strings.Repeat("Heron ", 20_000)
	b.Flags[0].Text = strings.Repeat("\x1b[31mA3\n", 20_000)
	b.Flags[1].Subject = strings.Repeat("x", 100_000)
	got := report.Board(b, report.Page{Width: 80, In: zone, Now: now})
	if n := strings.Count(got, "\n"); n > 24 {
		t.Errorf("the board has %d lines; a screen has 24:\n%.3000s", n, got)
	}
}
