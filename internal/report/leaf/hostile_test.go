package leaf_test

import (
	"encoding/xml"
	"io"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/report"
	"hod/internal/report/leaf"
	"hod/internal/report/reporttest"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// leaves are the pages that have pictures.
var leaves = map[string]reporttest.Write{
	"foreman": func(t *rapid.T, p report.Page) string {
		return leaf.Foreman(reporttest.DrawView[drawing.Overview](t, "overview"), p)
	},
	"map": func(t *rapid.T, p report.Page) string {
		return leaf.Map(reporttest.DrawView[drawing.Map](t, "map"), 0, p)
	},
	"bay": func(t *rapid.T, p report.Page) string {
		return leaf.Map(reporttest.DrawView[drawing.Map](t, "map"), 1, p)
	},
	"charts": func(t *rapid.T, p report.Page) string {
		return leaf.Charts(reporttest.DrawView[drawing.Charts](t, "charts"), p)
	},
	"weather": func(t *rapid.T, p report.Page) string {
		return leaf.WeatherLeaf(reporttest.DrawView[drawing.WeatherLeaf](t, "w"), p)
	},
	"stock": func(t *rapid.T, p report.Page) string {
		return leaf.StockLeaf(reporttest.DrawView[drawing.StockLeaf](t, "s"), p)
	},
	"forecast": func(t *rapid.T, p report.Page) string {
		return leaf.ForecastLeaf(reporttest.DrawView[drawing.ForecastLeaf](t, "f"), p)
	},
	"zone": func(t *rapid.T, p report.Page) string {
		return leaf.ZoneLeaf(reporttest.DrawView[drawing.ZoneLeaf](t, "z"), p)
	},
	"log": func(t *rapid.T, p report.Page) string {
		return leaf.LogLeaf(reporttest.DrawView[drawing.LogLeaf](t, "l"), p)
	},
	"why": func(t *rapid.T, p report.Page) string { return leaf.Why(reporttest.DrawView[drawing.Why](t, "y"), p) },
	"event": func(t *rapid.T, p report.Page) string {
		return leaf.Event(reporttest.DrawView[drawing.EventLeaf](t, "e"), p)
	},
	"joints": func(t *rapid.T, p report.Page) string {
		return leaf.Joints(reporttest.DrawView[view.Joints](t, "j"), p)
	},
	"joint": func(t *rapid.T, p report.Page) string {
		return leaf.Joint(reporttest.DrawView[drawing.JointLeaf](t, "j"), p)
	},
	"zones": func(t *rapid.T, p report.Page) string {
		return leaf.ZoneList(reporttest.DrawView[drawing.ZoneList](t, "l"), p)
	},
	"day": func(t *rapid.T, p report.Page) string {
		return leaf.DayLeaf(reporttest.DrawView[drawing.DayLeaf](t, "d"), p)
	},
	"whole": func(t *rapid.T, p report.Page) string {
		return leaf.Record(reporttest.DrawView[drawing.Whole](t, "r"), p)
	},
}

// inWords are those that a terminal shows too.
var inWords = map[string]reporttest.Write{
	"overview": func(t *rapid.T, p report.Page) string {
		return leaf.OverviewWords(reporttest.DrawView[drawing.Overview](t, "overview"), p)
	},
	"map": func(t *rapid.T, p report.Page) string {
		return leaf.MapWords(reporttest.DrawView[drawing.Map](t, "map"), p)
	},
	"charts": func(t *rapid.T, p report.Page) string {
		return leaf.ChartsWords(reporttest.DrawView[drawing.Charts](t, "charts"), p)
	},
}

// No line is wider than its page, and nothing but words and line ends goes out, whatever the record holds.
func TestWhateverTheRecordHolds(t *testing.T) { reporttest.EachLineFits(t, inWords, nil) }

// Of a part of a web page nothing is an element or an attribute but what the report itself writes.
func TestWhateverTheRecordHoldsIsTextOnAWebPage(t *testing.T) { reporttest.TextOnAWebPage(t, inWords) }

var (
	plainNumber = regexp.MustCompile(`^-?\d+(\.\d+)?$`)
	drawnPath   = regexp.MustCompile(`^[-MLhvlz0-9. ]+$`)
	ids         = regexp.MustCompile(`^[A-Za-z][-A-Za-z0-9]*$`)
	elements    = setOf(`part h1 h2 h3 p div section header nav table thead tbody caption tr th td b span strong small time br a ul ol li dl dt dd details summary
		svg title desc defs pattern rect path text tspan circle g`)
	words = setOf(`class id aria-labelledby aria-label aria-current aria-hidden role scope tabindex href datetime rel focusable viewBox patternUnits patternTransform
		text-anchor fill stroke-dasharray data-of data-turns data-since pointer-events`)
	figures = setOf(`x y width height rx cx cy r font-size stroke-width fill-opacity`)
)

func setOf(s string) map[string]bool {
	all := map[string]bool{}
	for _, w := range strings.Fields(s) {
		all[w] = true
	}
	return all
}

// Nothing but known elements goes out, no figure that is none, no address but of these pages, and all text is clean,
// whatever the record holds.
func TestWhateverTheRecordHoldsIsTextAndPicturesOnItsPages(t *testing.T) {
	for name, write := range leaves {
		t.Run(name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				got := write(t, report.Page{
					Now: reporttest.Now, In: reporttest.In,
					Root: rapid.SampledFrom([]string{"", "/pages/"}).Draw(t,
						"root"),
				})
				d := xml.NewDecoder(strings.NewReader("<part>" + strings.ReplaceAll(got, "<br>", "<br/>") + "</part>"))
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
							if !fits(a) {
								t.Fatalf("an attribute %s=%q of %s in\n%s", a.Name.Local, a.Value, token.Name.Local,
									got)
							}
						}
					case xml.CharData:
						if strings.ContainsFunc(strings.ReplaceAll(string(token), "\n", ""),
							func(r rune) bool { return reporttest.Unsafe(r) && r != '\u00a0' }) {
							t.Fatalf("text that is not clean: %q", token)
						}
						if s := string(token); strings.Contains(s, "NaN") || strings.Contains(s, "Inf ") {
							t.Fatalf("text shows what is not a number: %q in\n%s", s, got)
						}
					}
				}
			})
		})
	}
}

func fits(a xml.Attr) bool {
	switch name := a.Name.Local; {
	case figures[name]:
		return plainNumber.MatchString(a.Value)
	case name == "d":
		return drawnPath.MatchString(a.Value)
	case name == "id":
		return ids.MatchString(a.Value)
	case name == "href":
		at, err := url.Parse(a.Value)
		return err == nil && strings.HasPrefix(a.Value, "/pages/") && at.Host == "" && at.Scheme == ""
	case name == "class", name == "fill", name == "role", name == "tabindex", name == "data-turns",
		name == "data-since":
		return !strings.ContainsAny(a.Value, "<>\"'{};")
	}
	return words[a.Name.Local]
}
