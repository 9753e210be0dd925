package summary_test

import (
	"flag"
	"testing"

	"hod/internal/report"
	"hod/internal/report/reporttest"
	"hod/internal/report/summary"
)

// pages are all reports of a day of the invented site.
var pages = []reporttest.Example{
	{Name: "day", Write: func(u string, p report.Page) string { return summary.Day(reporttest.Day(u), p) }},
	{Name: "day-past", Write: func(u string, p report.Page) string { return summary.Day(reporttest.PastDay(u), p) }},
	{Name: "day-all", Write: func(u string, p report.Page) string { return summary.DayAll(reporttest.Day(u), p) }},
	{Name: "day-past-all", Write: func(u string, p report.Page) string {
		return summary.DayAll(reporttest.PastDay(u), p)
	}},
}

var golden = reporttest.Folder{
	Path:   "../../../testdata/report/summary",
	Update: flag.Bool("update", false, "write the golden files anew"),
}

func TestGolden(t *testing.T) {
	golden.Texts(t, pages)
	t.Run("day as a web page", func(t *testing.T) {
		golden.Golden(t, "day-metric.html", summary.Day(reporttest.Day("metric"),
			report.Page{HTML: true, In: reporttest.In, Now: reporttest.Now}))
	})
}

// A day is plain text, to be sent and printed.
func TestTheDayHasNoColour(t *testing.T) {
	reporttest.ColourIsOnlyAdded(t, pages, func(name string, colour bool) {
		if colour {
			t.Errorf("%s is to be plain text; it has colour", name)
		}
	})
}
