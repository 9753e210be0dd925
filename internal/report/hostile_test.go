package report_test

import (
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/report"
	"hod/internal/report/reporttest"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
)

// drawn is each report of a view that nobody would make.
var drawn = map[string]reporttest.Write{
	"board": func(t *rapid.T, p report.Page) string {
		return report.Board(reporttest.DrawView[daily.Board](t, "board"), p)
	},
	"joints": func(t *rapid.T, p report.Page) string {
		return report.Joints(reporttest.DrawView[view.Joints](t, "joints"), p)
	},
	"forecast": func(t *rapid.T, p report.Page) string {
		return report.Forecast(reporttest.DrawView[ahead.Forecast](t, "forecast"), p)
	},
	"stock": func(t *rapid.T, p report.Page) string {
		return report.Stock(reporttest.DrawView[view.Stock](t, "stock"), p)
	},
	"weather": func(t *rapid.T, p report.Page) string {
		return report.Weather(reporttest.DrawView[view.Conditions](t, "weather"), p)
	},
	"zone": func(t *rapid.T, p report.Page) string {
		return report.Zone(reporttest.DrawView[view.Zone](t, "zone"), p)
	},
	"flags": func(t *rapid.T, p report.Page) string {
		return report.Flags(reporttest.DrawView[daily.Flags](t, "flags"), p)
	},
	"flag": func(t *rapid.T, p report.Page) string {
		return report.Flag(reporttest.DrawView[daily.Flag](t, "flag"), p)
	},
	"log": func(t *rapid.T, p report.Page) string { return report.Log(reporttest.DrawView[view.Log](t, "log"), p) },
	"list": func(t *rapid.T, p report.Page) string {
		words := rapid.SliceOfN(reporttest.Hostile(), 0, 5)
		return report.List(reporttest.Hostile().Draw(t, "title"), words.Draw(t, "names"),
			rapid.SliceOfN(words, 0, 4).Draw(t, "rows"), p)
	},
}

// No line is wider than its page, and nothing but words and line ends goes out, whatever the record holds.
func TestWhateverTheRecordHolds(t *testing.T) { reporttest.EachLineFits(t, drawn, nil) }

// Of a part of a web page nothing is an element or an attribute but what the report itself writes.
func TestWhateverTheRecordHoldsIsTextOnAWebPage(t *testing.T) { reporttest.TextOnAWebPage(t, drawn) }

// A book in a name costs a page, not a screen of the board.
func TestHostileBoardStaysAScreen(t *testing.T) {
	b := reporttest.Board("metric")
	b.Site = strings.Repeat("Heron ", 20_000)
	b.Flags[0].Text = strings.Repeat("\x1b[31mA3\n", 20_000)
	b.Flags[1].Subject = strings.Repeat("x", 100_000)
	got := report.Board(b, report.Page{Width: 80, In: reporttest.In, Now: reporttest.Now})
	if n := strings.Count(got, "\n"); n > 24 {
		t.Errorf("the board has %d lines; a screen has 24:\n%.3000s", n, got)
	}
}
