package report_test

import (
	"flag"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/report"
	"hod/internal/report/summary"
	"hod/internal/view"
	"hod/internal/view/daily"
)

var update = flag.Bool("update", false, "write the golden files anew")

// pages are all reports of the invented site.
var pages = []struct {
	name  string
	write func(units string, p report.Page) string
}{
	{"board", func(u string, p report.Page) string { return report.Board(board(u), p) }},
	{"joints", func(u string, p report.Page) string { return report.Joints(joints(u), p) }},
	{"next", func(u string, p report.Page) string { return report.Next(nextView(u), true, p) }},
	{"next-refused", func(u string, p report.Page) string { return report.Next(nextRefused(u), false, p) }},
	{"next-all", func(u string, p report.Page) string { return report.NextAll(nextAll(u), false, p) }},
	{"forecast", func(u string, p report.Page) string { return report.Forecast(forecast(u), p) }},
	{"day", func(u string, p report.Page) string { return summary.Day(day(u), p) }},
	{"day-past", func(u string, p report.Page) string { return summary.Day(pastDay(u), p) }},
	{"day-all", func(u string, p report.Page) string { return summary.DayAll(day(u), p) }},
	{"day-past-all", func(u string, p report.Page) string { return summary.DayAll(pastDay(u), p) }},
	{"stock", func(u string, p report.Page) string { return report.Stock(stock(u), p) }},
	{"weather", func(u string, p report.Page) string { return report.Weather(conditions(u), p) }},
	{"weather-air-alone", func(u string, p report.Page) string { return report.Weather(airAlone(u), p) }},
	{"weather-too-old", func(u string, p report.Page) string { return report.Weather(tooOld(u), p) }},
	{"zone", func(u string, p report.Page) string { return report.Zone(zoneView(u), p) }},
	{"flags", func(u string, p report.Page) string {
		return report.Flags(daily.Flags{Site: "Heron Vault", AsOf: now, Units: u, Flags: flags(u)}, p)
	}},
	{"flag", func(u string, p report.Page) string { return report.Flag(flags(u)[0], p) }},
	{"log", func(u string, p report.Page) string { return report.Log(logView(u), p) }},
	{"list", func(_ string, p report.Page) string {
		return report.List("Mixes", []string{"mix", "batch", "initial set", "w/cm", "revision"}, [][]string{
			{"shell", "42.6 kg cement, 42.6 kg sand, 15.8 kg water", "240 min at 23 °C", "0.400 at most", "2"},
			{"shell-rich", "42.6 kg cement, 31 kg sand, 14.1 kg water", "210 min at 23 °C", "0.380 at most", "1"},
		}, p)
	}},
}

func TestGolden(t *testing.T) {
	for _, page := range pages {
		for _, units := range []string{"metric", "us"} {
			for width, suffix := range map[int]string{80: "80", 40: "40"} {
				name := page.name + "-" + units + "-" + suffix + ".txt"
				t.Run(name, func(t *testing.T) {
					golden(t, name, page.write(units, report.Page{Width: width, In: zone, Now: now}))
				})
			}
		}
	}
	for _, page := range pages {
		if page.name == "board" || page.name == "day" {
			t.Run(page.name+" as a web page", func(t *testing.T) {
				golden(t, page.name+"-metric.html", page.write("metric", report.Page{HTML: true, In: zone, Now: now}))
			})
		}
	}
	t.Run("board in colour", func(t *testing.T) {
		golden(t, "board-metric-80-colour.txt",
			report.Board(board("metric"), report.Page{Width: 80, Colour: true, In: zone, Now: now}))
	})
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("..", "..", "testdata", "report", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(strings.Split(string(want), "\n"), strings.Split(got, "\n")); diff != "" {
		t.Errorf("%s (-want +got; write anew with -update):\n%s", name, diff)
	}
}

var sgr = regexp.MustCompile("\x1b\\[[0-9;]*m")

// Colour adds nothing that the words do not say.
func TestColourIsOnlyAdded(t *testing.T) {
	for _, page := range pages {
		for _, width := range []int{40, 63, 80, 120} {
			bare := page.write("metric", report.Page{Width: width, In: zone, Now: now})
			coloured := page.write("metric", report.Page{Width: width, In: zone, Now: now, Colour: true})
			if diff := cmp.Diff(bare, sgr.ReplaceAllString(coloured, "")); diff != "" {
				t.Errorf("%s at %d columns says other words in colour (-bare +coloured):\n%s", page.name, width, diff)
			}
			switch page.name {
			case "board", "joints", "flags", "log":
				if bare == coloured {
					t.Errorf("%s at %d columns was asked for colour and has none", page.name, width)
				}
			case "day", "day-past", "day-all", "day-past-all":
				if bare != coloured {
					t.Errorf("the day is to be plain text; it has colour")
				}
			}
		}
	}
}

func TestBoardIsOneScreen(t *testing.T) {
	b := board("metric")
	for range 12 {
		b.Zones = append(b.Zones, coats...)
		b.LiveEdges = append(b.LiveEdges, edges...)
		b.Flags = append(b.Flags, flags("metric")...)
		got := report.Board(b, report.Page{Width: 80, In: zone, Now: now})
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
	got := report.Board(board("metric"), report.Page{Width: 80, In: zone, Now: now})
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
		TurnsAt: clock(14, 40),
	}
	ranged := edge
	ranged.TurnsLatest = at(15, 35)
	passed := ranged
	passed.TurnsAt = clock(14, 1)
	cold := edges[1]
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
		v.AsOf, v.Units = now, "metric"
		lines := strings.Split(report.Board(v, report.Page{Width: 120, In: zone, Now: now}), "\n")
		if lines[1] != want {
			t.Errorf("the board begins %q, not %q", lines[1], want)
		}
	}
}

func TestNothingOnTheBoard(t *testing.T) {
	got := report.Board(daily.Board{Site: "Heron Vault", AsOf: now, Units: "metric"}, report.Page{In: zone, Now: now})
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
	got := report.Board(board("metric"), report.Page{In: zone, Now: now.Add(20 * time.Minute)})
	for _, want := range []string{"20 min old", "1 edge MAY BE COLD", "MAY BE COLD  since 2 min", "in 15–70 min"} {
		if !strings.Contains(got, want) {
			t.Errorf("a board of 20 minutes ago does not say %q:\n%s", want, got)
		}
	}
	if got := report.Board(board("metric"), report.Page{In: zone, Now: now.Add(-time.Hour)}); !strings.Contains(got,
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
