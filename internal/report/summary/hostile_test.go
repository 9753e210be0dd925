package summary_test

import (
	"testing"

	"pgregory.net/rapid"

	"hod/internal/report"
	"hod/internal/report/reporttest"
	"hod/internal/report/summary"
	"hod/internal/view/daily"
)

// drawn is each report of a day that nobody would make.
var drawn = map[string]reporttest.Write{
	"day": func(t *rapid.T, p report.Page) string {
		return summary.Day(reporttest.DrawView[daily.Day](t, "day"), p)
	},
	"day-all": func(t *rapid.T, p report.Page) string {
		return summary.DayAll(reporttest.DrawView[daily.Day](t, "day"), p)
	},
}

// No line is wider than its page, and nothing but words and line ends goes out, whatever the record holds.
func TestWhateverTheRecordHolds(t *testing.T) {
	reporttest.EachLineFits(t, drawn, map[string]int{"day": 72})
}

// Of a part of a web page nothing is an element or an attribute but what the report itself writes.
func TestWhateverTheRecordHoldsIsTextOnAWebPage(t *testing.T) { reporttest.TextOnAWebPage(t, drawn) }
