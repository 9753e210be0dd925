package reporttest

import (
	"encoding/xml"
	"io"
	"net/url"
	"path"
	"regexp"
	"strings"
	"testing"
	"unicode/utf8"

	"pgregory.net/rapid"

	"hod/internal/report"
)

// Colour is what a terminal reads as colour.
var Colour = regexp.MustCompile("\x1b\\[[0-9;]*m")

// Write writes a report of a view that it draws.
type Write func(t *rapid.T, p report.Page) string

// EachLineFits sees that no line is wider than its page, nor than the widest of its report where one is given, and that
// nothing but words and line ends goes out, whatever the record holds.
func EachLineFits(t *testing.T, drawn map[string]Write, widest map[string]int) {
	for name, write := range drawn {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				p := report.Page{
					Width:  rapid.SampledFrom([]int{0, 1, 40, 41, 57, 72, 80, 132}).Draw(t, "width"),
					Colour: rapid.Bool().Draw(t, "colour"), Now: Now, In: In,
				}
				got := write(t, p)
				if p.Colour {
					got = Colour.ReplaceAllString(got, "")
				}
				most := max(p.Width, 40)
				if p.Width == 0 {
					most = 80
				}
				if widest[name] > 0 {
					most = min(most, widest[name])
				}
				for line := range strings.Lines(got) {
					line = strings.TrimSuffix(line, "\n")
					if n := columns(line); n > most {
						t.Fatalf("a line has %d columns on a page of %d: %q", n, most, line)
					}
					if strings.ContainsFunc(line, Unsafe) || !utf8.ValidString(line) {
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

// TextOnAWebPage sees that of a part of a web page nothing is an element or an attribute but what the report itself
// writes, whatever the record holds.
func TextOnAWebPage(t *testing.T, drawn map[string]Write) {
	elements := map[string]bool{
		"h1": true, "h2": true, "p": true, "div": true, "table": true, "tr": true, "th": true,
		"td": true, "b": true, "part": true, "a": true, "caption": true, "thead": true, "tbody": true,
	}
	classes := map[string]bool{
		"in": true, "wide": true, "right": true, "strong": true, "urgent": true, "soon": true,
		"vh": true, "wide stack": true, "wide stack far": true, "words": true,
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
			return !strings.ContainsFunc(a.Value, Unsafe)
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
				got := write(t, report.Page{HTML: true, Now: Now, In: In, Root: "/pages/"})
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
							func(r rune) bool { return Unsafe(r) && r != '\u00a0' }) {
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
