package report_test

import (
	"flag"
	"strings"
	"testing"
	"time"

	"hod/internal/report"
	"hod/internal/report/reporttest"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// pages are all reports of the invented site.
var pages = []reporttest.Example{
	{Name: "board", Write: func(u string, p report.Page) string { return report.Board(reporttest.Board(u), p) }},
	{Name: "joints", Write: func(u string, p report.Page) string { return report.Joints(reporttest.Joints(u), p) }},
	{Name: "next", Write: func(u string, p report.Page) string { return report.Next(reporttest.Next(u), true, p) }},
	{Name: "next-refused", Write: func(u string, p report.Page) string {
		return report.Next(reporttest.NextRefused(u), false, p)
	}},
	{Name: "next-all", Write: func(u string, p report.Page) string {
		return report.NextAll(reporttest.NextAll(u), false,
			p)
	}},
	{Name: "forecast", Write: func(u string, p report.Page) string {
		return report.Forecast(reporttest.Forecast(u), p)
	}},
	{Name: "stock", Write: func(u string, p report.Page) string { return report.Stock(reporttest.Stock(u), p) }},
	{Name: "weather", Write: func(u string, p report.Page) string {
		return report.Weather(reporttest.Conditions(u), p)
	}},
	{Name: "weather-air-alone", Write: func(u string, p report.Page) string {
		return report.Weather(reporttest.AirAlone(u), p)
	}},
	{Name: "weather-too-old", Write: func(u string, p report.Page) string {
		return report.Weather(reporttest.TooOld(u), p)
	}},
	{Name: "zone", Write: func(u string, p report.Page) string { return report.Zone(reporttest.Zone(u), p) }},
	{Name: "flags", Write: func(u string, p report.Page) string {
		return report.Flags(daily.Flags{
			Site: "Heron Vault", AsOf: reporttest.Now, Units: u,
			Flags: reporttest.Flags(u),
		}, p)
	}},
	{Name: "flag", Write: func(u string, p report.Page) string { return report.Flag(reporttest.Flags(u)[0], p) }},
	{Name: "log", Write: func(u string, p report.Page) string { return report.Log(reporttest.Log(u), p) }},
	{Name: "list", Write: func(_ string, p report.Page) string {
		return report.List("Mixes", []string{"mix", "batch", "initial set", "w/cm", "revision"}, [][]string{
			{"shell", "42.6 kg cement, 42.6 kg sand, 15.8 kg water", "240 min at 23 °C", "0.400 at most", "2"},
			{"shell-rich", "42.6 kg cement, 31 kg sand, 14.1 kg water", "210 min at 23 °C", "0.380 at most", "1"},
		}, p)
	}},
}

var golden = reporttest.Folder{
	Path:   "../../testdata/report",
	Update: flag.Bool("update", false, "write the golden files anew"),
}

func TestGolden(t *testing.T) {
	golden.Texts(t, pages)
	t.Run("board as a web page", func(t *testing.T) {
		golden.Golden(t, "board-metric.html",
			report.Board(reporttest.Board("metric"), report.Page{HTML: true, In: reporttest.In, Now: reporttest.Now}))
	})
	t.Run("board in colour", func(t *testing.T) {
		golden.Golden(t, "board-metric-80-colour.txt",
			report.Board(reporttest.Board("metric"), report.Page{
				Width: 80, Colour: true, In: reporttest.In,
				Now: reporttest.Now,
			}))
	})
}

// Colour adds nothing that the words do not say.
func TestColourIsOnlyAdded(t *testing.T) {
	reporttest.ColourIsOnlyAdded(t, pages, func(name string, colour bool) {
		switch name {
		case "board", "joints", "flags", "log":
			if !colour {
				t.Errorf("%s was asked for colour and has none", name)
			}
		}
	})
}

func TestBoardIsOneScreen(t *testing.T) {
	b := reporttest.Board("metric")
	for range 12 {
		b.Zones = append(b.Zones, reporttest.Coats...)
		b.LiveEdges = append(b.LiveEdges, reporttest.Edges...)
		b.Flags = append(b.Flags, reporttest.Flags("metric")...)
		got := report.Board(b, report.Page{Width: 80, In: reporttest.In, Now: reporttest.Now})
		if n := strings.Count(got, "\n"); n > 24 {
			t.Fatalf("%d coats, %d edges and %d flags take %d lines; a screen has 24:\n%s", len(b.Zones),
				len(b.LiveEdges), len(b.Flags), n, got)
		}
		for _, want := range []string{"COLD", "CLOSING", "GRAVE", "OVER LIMIT", "more", "as likely as not"} {
			if !strings.Contains(got, want) {
				t.Fatalf("a full board no longer says %q:\n%s", want, got)
			}
		}
	}
}

// What is about to go wrong comes before what is going well.
func TestBoardOrder(t *testing.T) {
	got := report.Board(reporttest.Board("metric"), report.Page{Width: 80, In: reporttest.In, Now: reporttest.Now})
	at := -1
	for _, want := range []string{
		"Next cold: the open edge inside A3 outer 1, at 14:23, in 18 min.", "Look at:",
		"EDGES", "CLOSING  in 18 min", "COLD     since 12 min", "in 35–90 min", "14:40–15:35", "not known which placement", "11 old edges wait for treatment before placing: `hod joints --old`", "GRAVE f3", "ZONES", "A3 outer 1", "B1 outer 1", "LEFT", "WEATHER", "CREWS",
	} {
		i := strings.Index(got[at+1:], want)
		if i < 0 {
			t.Fatalf("%q is missing or stands too early:\n%s", want, got)
		}
		at += 1 + i
	}
}

// The first line names the edge that turns cold next, all its neighbours and the time, or says that none is to.
func TestTheFirstLineIsTheEdgeThatTurnsColdNext(t *testing.T) {
	edge := view.NextCold{
		Zone: "W6", Face: "outer", Coat: 1, Others: []string{"W3", "W5", "W7"},
		TurnsAt: reporttest.Clock(14, 40),
	}
	ranged := edge
	ranged.TurnsLatest = reporttest.At(15, 35)
	passed := ranged
	passed.TurnsAt = reporttest.Clock(14, 1)
	cold := reporttest.Edges[1]
	for want, v := range map[string]daily.Board{
		"Next cold: W6 outer 1 to W3, W5 and W7, at 14:40, in 35 min.": {
			NextCold: &edge,
		},
		"Next cold: W6 outer 1 to W3, W5 and W7, at 14:40–15:35, in 35–90 min.": {
			NextCold: &ranged,
		},
		"Next cold: W6 outer 1 to W3, W5 and W7, which may be cold already and surely is at 15:35, in 90 min.": {
			NextCold: &passed,
		},
		"1 edge turned cold today and nothing was written to treat it; no other is live.": {
			LiveEdges: []view.Joint{cold},
		},
		"No edge is live.": {OldEdges: 11},
	} {
		v.AsOf, v.Units = reporttest.Now, "metric"
		lines := strings.Split(report.Board(v, report.Page{Width: 120, In: reporttest.In, Now: reporttest.Now}), "\n")
		if lines[1] != want {
			t.Errorf("the board begins %q, not %q", lines[1], want)
		}
	}
}

func TestNothingOnTheBoard(t *testing.T) {
	got := report.Board(daily.Board{Site: "Heron Vault", AsOf: reporttest.Now, Units: "metric"},
		report.Page{In: reporttest.In, Now: reporttest.Now})
	for _, want := range []string{
		"Nothing pressing", "No edge is live", "No open flags", "No coats are planned",
		"not read",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("an empty board does not say %q:\n%s", want, got)
		}
	}
}

// A view grows old between its making and its reading; the time left is the reader's.
func TestOldBoard(t *testing.T) {
	got := report.Board(reporttest.Board("metric"),
		report.Page{In: reporttest.In, Now: reporttest.Now.Add(20 * time.Minute)})
	for _, want := range []string{"20 min old", "1 edge MAY BE COLD", "MAY BE COLD  since 2 min", "in 15–70 min"} {
		if !strings.Contains(got, want) {
			t.Errorf("a board of 20 minutes ago does not say %q:\n%s", want, got)
		}
	}
	if got := report.Board(reporttest.Board("metric"),
		report.Page{In: reporttest.In, Now: reporttest.Now.Add(-time.Hour)}); !strings.Contains(got,
		"in 18 min") {
		t.Errorf("a reader's slow clock gave an edge more time:\n%s", got)
	}
}

func TestTimes(t *testing.T) {
	lisbon, err := time.LoadLocation("Europe/Lisbon")
	if err != nil {
		t.Skip("no time zones on this machine")
	}
	// Summer time ended on 25 October 2026 at 02:00 there.
	asOf := time.Date(2026, 10, 25, 12, 0, 0, 0, time.UTC)
	v := view.Log{
		Site: "Heron Vault", AsOf: asOf,
		Entries: []view.Entry{{
			Name: "n2/1", At: asOf.Add(-30 * time.Minute), LoggedAt: asOf, Text: "after",
			State: "holds",
		}},
	}
	s := view.Stock{Site: "Heron Vault", AsOf: asOf, Materials: []view.MaterialStock{}}
	for _, ago := range []time.Duration{time.Hour, 12 * time.Hour, 48 * time.Hour, 400 * 24 * time.Hour} {
		c := asOf.Add(-ago)
		s.Materials = append(s.Materials, view.MaterialStock{Material: "sand", OnHandKg: new(1.0), CountedAt: &c})
	}
	got := report.Log(v, report.Page{In: lisbon, Now: asOf}) + report.Stock(s, report.Page{In: lisbon, Now: asOf})
	for _, want := range []string{
		"Sun 25 Oct 2026 12:00, UTC+00:00", "11:30", "11:00\n", "01:00 +01:00\n",
		"23 Oct 13:00 +01:00\n", "20 Sep 2025 13:00 +01:00\n",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("the times do not show %q:\n%s", want, got)
		}
	}
}

func TestAChanceOnAWebPageIsAFigureAndNoRowOfLetters(t *testing.T) {
	v := reporttest.Forecast("metric")
	page := report.Forecast(v, report.Page{HTML: true, In: reporttest.In, Now: reporttest.Now})
	if !strings.Contains(page, "as likely as not") || strings.Contains(page, "##") {
		t.Errorf("the page has rows of letters, or no chances:\n%s", page)
	}
	if !strings.Contains(report.Forecast(v, report.Page{In: reporttest.In, Now: reporttest.Now, Width: 80}), "####") {
		t.Error("the terminal has no bars")
	}
}
