package leaf_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/report"
	"hod/internal/report/leaf"
	"hod/internal/report/reporttest"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/drawing"
)

var (
	onServer = report.Page{In: reporttest.In, Now: reporttest.Now, Root: "/pages/"}
	asFile   = report.Page{In: reporttest.In, Now: reporttest.Now}
	now      = reporttest.Now
)

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// page is a page taken apart, with all its words between single spaces.
func page(t *testing.T, part string) (*reporttest.Element, string) {
	t.Helper()
	e := reporttest.Read(t, part)
	return e, strings.Join(strings.Fields(e.Words), " ")
}

// says sees that words are on a page, and others not.
func says(t *testing.T, words string, are, areNot []string) {
	t.Helper()
	for _, w := range are {
		if !strings.Contains(words, w) {
			t.Errorf("%q is not in\n%s", w, words)
		}
	}
	for _, w := range areNot {
		if strings.Contains(words, w) {
			t.Errorf("%q is in\n%s", w, words)
		}
	}
}

// links are the addresses to which a part leads, each once.
func links(e *reporttest.Element) []string {
	all := reporttest.Each(e.All("a"), "href")
	slices.Sort(all)
	return slices.Compact(all)
}

func TestTheFirstSentenceOfTheForemansPageIsTheEdgeToLookAtFirst(t *testing.T) {
	edge := drawing.EdgeGroup{
		Zone: "A3", Face: "outer", Coat: 1, Others: []string{"A2", "B1"}, State: "closing",
		TurnsAt: reporttest.At(14, 23), TurnsLatest: reporttest.At(14, 40), Joints: []string{"j7"},
	}
	with := func(state string, from, to *time.Time) *drawing.EdgeGroup {
		g := edge
		g.State, g.TurnsAt, g.TurnsLatest = state, from, to
		return &g
	}
	inside := edge
	inside.Inside = true
	planned := drawing.Map{Coats: []drawing.MapCoat{{Face: "outer", Coat: 1}}}
	for want, v := range map[string]drawing.Overview{
		"A3 at A2 and B1outer 1: closing; cold between 14:23 and 14:40, in 18–35 min.": {Worst: &edge},
		"Inside A3outer 1: closing; cold between 14:23 and 14:40, in 18–35 min.":       {Worst: &inside},
		"A3 at A2 and B1outer 1: live; cold at 14:23, in 18 min.": {Worst: with("live",
			reporttest.At(14, 23), nil)},
		"A3 at A2 and B1outer 1: when it turns cold is not known.": {Worst: with("live", nil,
			nil)},
		"may be cold already; cold for certain by 14:40, in 35 min.": {Worst: with(view.MayBeCold,
			reporttest.At(14, 1), reporttest.At(14, 40))},
		"A3 at A2 and B1outer 1: cold by now.": {Worst: with(view.MayBeCold,
			reporttest.At(14, 1), reporttest.At(14, 2))},
		"cold since 13:02, and no treatment is written. Treat it before placing there.": {Worst: with("cold",
			reporttest.At(13, 2), nil)},
		"No edge is open that may turn cold today.":                                  {Map: planned},
		"Nothing is planned yet, so nothing can turn cold.":                          {},
		"today.1 edge has been cold since before today: treat before placing there.": {Map: planned, OldEdges: 1},
		"in 18–35 min.11 edges have been cold since before today: treat before placing th": {
			Worst:    &edge,
			OldEdges: 11,
		},
	} {
		v.AsOf, v.Units = now, "metric"
		e, _ := page(t, leaf.Foreman(v, onServer))
		first := e.All("section", "id", "do")[0]
		says(t, strings.Join(strings.Fields(first.Words), " "), []string{want}, nil)
		if v.Worst != nil {
			same(t, "where it leads", links(first), []string{"/pages/joint/j7"})
		}
	}
	e, _ := page(t, leaf.Foreman(drawing.Overview{AsOf: now, Units: "metric", Worst: &edge}, onServer))
	same(t, "to count down to", reporttest.Each(e.All("section", "id", "do")[0].All("span")[1:], "data-turns"),
		[]string{"1784377380 1784378400"})
}

func TestTheForemansPageSaysWhenEachCrewWasHeard(t *testing.T) {
	e, words := page(t, leaf.Foreman(drawing.Overview{AsOf: now, Units: "metric", Crews: []drawing.CrewNow{
		{
			Crew: "north", HeardAt: reporttest.At(13, 58), LastAt: reporttest.At(13, 52), Last: "placed",
			LastEvent: "n2/171", Batches: 7,
		},
		{Crew: "quay", HeardAt: reporttest.At(13, 31)},
		{Crew: "west"},
	}}, onServer))
	says(t, words, []string{"Last word: north 7 min, quay 34 min, west never heard ago."}, nil)
	same(t, "what stands out", reporttest.Said(e.All("header")[0].All("b")), []string{"34 min", "never heard"})
	same(t, "crews", e.Rows("What each did last, and today"), [][]string{
		{"crew", "at", "last", "today"},
		{"north", "13:52", "placed", "7 batches"},
		{"quay", "", "nothing yet", "0 batches"},
		{"west", "", "nothing yet", "0 batches"},
	})
	same(t, "link to the last event", links(e.All("section", "id", "crews")[0]), []string{"/pages/event/n2/171"})
}

func TestTheForemansPageSaysWhatIsLeftOrWhyThatIsNotKnown(t *testing.T) {
	finish := reporttest.Clock(16, 10).AddDate(0, 0, 1)
	for _, c := range []struct {
		left        ahead.Forecast
		are, areNot []string
	}{
		{
			ahead.Forecast{Done: true},
			[]string{"Every planned coat is finished.", "Nothing more is to be mixed."},
			[]string{"Not known"},
		},
		{
			ahead.Forecast{Missing: []string{"no batch was weighed"}},
			[]string{"Not known. No batch was weighed."},
			[]string{"finished"},
		},
		{
			ahead.Forecast{Batches: &ahead.BatchesLeft{P50: 19, P90: 21}},
			[]string{"19 batches as likely as not, 21 nine times in ten. When is not known before crews have mixed"},
			[]string{"Done"},
		},
		{
			ahead.Forecast{Batches: &ahead.BatchesLeft{P50: 1, P90: 2}, Finish50: &finish},
			[]string{"1 batch as likely as not, 2 nine times in ten. Done Sun 16:10 as likely as not."},
			[]string{"When is not known"},
		},
		{
			ahead.Forecast{Materials: []ahead.MaterialNeed{{Material: "sand", RunsOut50: reporttest.At(17, 5)}}},
			[]string{"sand runs out 17:05, as likely as not."},
			nil,
		},
		{
			ahead.Forecast{Tomorrow: ahead.Tomorrow{Date: "2026-07-19", Batches: new(int32(15)), Suffices: true}},
			[]string{"Stock for Sun 19 Jul", "It suffices for 15 batches, nine times in ten."},
			[]string{"short"},
		},
		{ahead.Forecast{Tomorrow: ahead.Tomorrow{Batches: new(int32(15)), Materials: []ahead.MaterialNeed{
			{
				Material: "sand", Counted: true, OnHandKg: new(610.0), Need90Kg: 639, ShortKg: new(29.0),
				LastsBatches: new(int32(14)),
			},
			{Material: "lime", Need90Kg: 5},
		}}}, []string{
			"sand is short by 29 kg. It lasts 14 batches; that day may take 15.",
			"No stock was ever written of lime.",
		}, []string{"It suffices"}},
	} {
		_, words := page(t, leaf.Foreman(drawing.Overview{AsOf: now, Units: "metric", Left: c.left}, onServer))
		says(t, words, c.are, c.areNot)
	}
}

func TestTheMapsPageHasTheNumbersOfTheMap(t *testing.T) {
	v := drawing.Map{
		Site: "Heron Vault", AsOf: now, Units: "metric", Shown: &drawing.MapCoat{Face: "outer", Coat: 1},
		Coats: []drawing.MapCoat{{Face: "outer", Coat: 1}, {Face: "inner", Coat: 1}},
		Parts: []drawing.MapPart{{Rows: 1, Columns: 3, Zones: []drawing.MapZone{
			{Zone: "A1", Row: 1, Column: 1, State: "done", MeanM: 0.012, DesignM: 0.015, LastAt: reporttest.At(9, 40)},
			{Zone: "A2", Row: 1, Column: 2, State: "under way", Surface: "bare", MeanM: 0.008, DesignM: 0.015},
			{Zone: "A3", Row: 1, Column: 3, State: "waiting", DesignM: 0.015},
		}, Edges: []drawing.MapEdge{
			{A: "A1", B: "A2", State: "closing", Joint: "j1", TurnsAt: reporttest.At(14, 23), LengthM: 3.4},
			{A: "A2", B: "A3", State: view.NotMet},
			{
				A: "A1", B: "A3", State: "live", Joint: "j3", TurnsAt: reporttest.At(14, 40),
				TurnsLatest: reporttest.At(15, 35), LengthM: 2.75,
			},
		}}},
	}
	e, words := page(t, leaf.Map(v, 0, onServer))
	same(t, "zones", e.Rows("Zones on the map"), [][]string{
		{"zone", "state", "mean of design", "last at"},
		{"A1", "done", "12 of 15 mm", "09:40"},
		{"A2", "bare, under way", "8 of 15 mm", ""},
		{"A3", "waits", "0 of 15 mm", ""},
	})
	same(t, "edges", e.Rows("Edges on the map"), [][]string{
		{"edge", "state", "min", "cold at", "length"},
		{"A1 to A2", "closing", "18", "14:23", "3.4 m"},
		{"A1 to A3", "live", "35–90", "14:40–15:35", "2.75 m"},
	})
	says(t, words, []string{"Edges of zones that lie apart on the map: A1 to A3, live, 35–90 min."}, nil)
	same(t, "where it leads", links(e), []string{
		"/pages/joint/j1", "/pages/joint/j3", "/pages/map?coat=all#map", "/pages/map?coat=inner-1#map",
		"/pages/map?coat=outer-1#map", "/pages/zone/A1", "/pages/zone/A2", "/pages/zone/A3",
	})
	same(t, "the coat that is shown", reporttest.Said(e.All("a", "aria-current", "true")), []string{"outer 1"})
	file, _ := page(t, leaf.Map(v, 0, asFile))
	same(t, "as a file it leads nowhere", len(links(file)), 0)
	_, none := page(t, leaf.Map(v, 3, onServer))
	says(t, none, []string{"There is no such bay."}, []string{"A1"})
	_, none = page(t, leaf.Map(drawing.Map{AsOf: now, Units: "metric"}, 0, onServer))
	says(t, none, []string{"No zone is planned yet."}, nil)
}

func TestWhyShowsEachFigureInTheSitesUnitsAndLeadsToItsEvents(t *testing.T) {
	v := drawing.Why{AsOf: now, Units: "metric", Title: "Drying", Figures: []drawing.WhyFigure{
		{Name: "air", Value: new(30.0), Unit: "°C", At: reporttest.At(13, 40)},
		{Name: "wind", Words: "not read"},
		{Name: "humidity", Value: new(0.28), Unit: "1"},
		{Name: "night", Value: new(0.0), Unit: "°C"},
		{Name: "pace", Value: new(2.0), Unit: "batches/h"},
	}, Events: []string{"n2/131", "q1/70"}, Missing: []string{"sun"}, Zone: "A3", Source: "ACI 305R"}
	e, words := page(t, leaf.Why(v, onServer))
	same(t, "figures", e.Rows("Figures"), [][]string{
		{"figure", "value", "at", ""},
		{"air", "30 °C", "13:40", ""},
		{"wind", "", "", "not read"},
		{"humidity", "28%", "", ""},
		{"night", "0 °C", "", ""},
		{"pace", "2 batches/h", "", ""},
	})
	says(t, words, []string{"Not known: Sun", "sourceACI 305R"}, []string{"formula", "limit", "Caution"})
	same(t, "where it leads", links(e), []string{"/pages/event/n2/131", "/pages/event/q1/70", "/pages/zone/A3"})
	v.Units = "us"
	e, _ = page(t, leaf.Why(v, asFile))
	same(t, "air in US units", e.Rows("Figures")[1][1], "86 °F")
	same(t, "as a file it leads nowhere", len(links(e)), 0)
}

func TestTheZonesPageLeadsToEachZoneAndToWhatItsThicknessRestsOn(t *testing.T) {
	e, words := page(t, leaf.ZoneList(drawing.ZoneList{
		Site: "Heron Vault", AsOf: now, Units: "metric",
		Lines: []view.CoatLine{
			{
				Zone: "A1", Face: "outer", Coat: 1, State: "under way", Complete: new(0.8), MeanThicknessM: 0.012,
				DesignM: 0.015, PlacedM3: 0.1, LeftM3: 0.025, LastPlacedAt: reporttest.At(13, 31),
			},
			{Zone: "B1", Coat: 2, State: "waiting", Complete: new(0.0), DesignM: 0.015, LeftM3: 0.15},
		},
	}, onServer))
	same(t, "coats", e.Rows("Zones and their coats"), [][]string{
		{"coat", "state", "mean of design", "placed", "left", "last at"},
		{"A1 outer 1", "under way 80%", "12 of 15 mm", "100 L", "25 L", "13:31"},
		{"B1 2", "waiting", "0 of 15 mm", "0 L", "150 L", ""},
	})
	same(t, "where it leads", links(e), []string{
		"/pages/why/coat/A1/outer/1", "/pages/why/coat/B1/any/2", "/pages/zone/A1", "/pages/zone/B1",
	})
	says(t, words, nil, []string{"No zone"})
	_, words = page(t, leaf.ZoneList(drawing.ZoneList{AsOf: now, Units: "metric"}, onServer))
	says(t, words, []string{"No zone with a coat is planned yet."}, nil)
}

func TestTheLogSaysWhatIsLeftOutAndLeadsToTheOtherPages(t *testing.T) {
	v := drawing.LogLeaf{
		Log: view.Log{Site: "Heron Vault", AsOf: now, Units: "metric"}, Page: 2, Pages: 3, Found: 250,
		LeftOut: 1, Crews: []string{"north", "quay"}, Query: view.LogQuery{Crew: "quay", Zone: "A3"},
	}
	e, words := page(t, leaf.LogLeaf(v, onServer))
	says(t, words, []string{
		"250 entries, the newest first; page 2 of 3. Left out: 1 entry that do not match.",
		"Zone A3 alone.",
	}, []string{"Nothing is left out"})
	same(t, "steps", links(e.All("nav")[0]),
		[]string{"/pages/log?crew=quay&page=3&zone=A3", "/pages/log?crew=quay&zone=A3"})
	same(t, "crews", reporttest.Each(e.All("details", "id", "by-crew")[0].All("a"), "href"),
		[]string{"/pages/log?zone=A3", "/pages/log?crew=north&zone=A3", "/pages/log?crew=quay&zone=A3"})
	same(t, "the crew that is shown", reporttest.Said(e.All("details", "id", "by-crew")[0].
		All("a", "aria-current", "true")), []string{"quay"})
	v.Pages, v.Page, v.LeftOut, v.Found = 1, 1, 0, 1
	e, words = page(t, leaf.LogLeaf(v, asFile))
	says(t, words, []string{"1 entry, the newest first. Nothing is left out."}, []string{"page 1"})
	same(t, "as a file it leads nowhere", len(links(e)), 0)
}

func TestADayLeadsToTheDaysBesideItAndToNoneThatIsToCome(t *testing.T) {
	for date, want := range map[string][2][]string{
		"2026-07-18": {{"/pages/day/2026-07-17"}, {"Fri 17 Jul"}},
		"2026-07-17": {{"/pages/day/2026-07-16", "/pages/day/2026-07-18"}, {"Thu 16 Jul", "today"}},
		"2026-07-01": {{"/pages/day/2026-06-30", "/pages/day/2026-07-02"}, {"Tue 30 Jun", "Thu 2 Jul"}},
	} {
		e, _ := page(t, leaf.DaySteps(date, now, onServer, "above"))
		same(t, date, [2][]string{reporttest.Each(e.All("a"), "href"), reporttest.Said(e.All("a"))}, want)
	}
	same(t, "as a file", leaf.DaySteps("2026-07-18", now, asFile, "above"), "")
	same(t, "of no date", leaf.DaySteps("yesterday", now, onServer, "above"), "")
}

func TestOfJointsMadeInTimeThoseBeyondTwoHundredAreCounted(t *testing.T) {
	v := view.Joints{Site: "Heron Vault", AsOf: now, Units: "metric"}
	for i := range 200 {
		v.Joints = append(v.Joints, view.Joint{
			ID: fmt.Sprintf("j%d", i), Kind: "edge", Zone: "A1", Other: "A2",
			Coat:  1,
			State: "live", Made: true, MadeAt: reporttest.At(9, 0),
		})
	}
	_, words := page(t, leaf.Joints(v, onServer))
	says(t, words, nil, []string{"Left out"})
	v.Joints = append(v.Joints, v.Joints[0])
	_, words = page(t, leaf.Joints(v, onServer))
	says(t, words, []string{"Left out: 1 joint made in time; each is on the page of its zone."}, nil)
}

func TestTheChartsHaveTheirNumbersAndSayWhyThereAreNoLimits(t *testing.T) {
	v := drawing.Charts{
		Site: "Heron Vault", AsOf: now, Units: "metric", PlannedM3: 4,
		Progress: []drawing.ProgressDay{
			{Date: "2026-07-17", At: reporttest.Clock(0, 0), PlacedM3: 0.6, Batches: 11},
			{Date: "2026-07-18", At: reporttest.Clock(24, 0), PlacedM3: 1, Batches: 22},
		},
		Control: []drawing.ControlChart{{
			Mix: "shell", Figure: "w/cm", Note: "two batches are too few",
			Points: []drawing.ControlPoint{{Batch: "north/2026-07-18/1", Event: "n2/9", Value: 0.38}},
		}},
	}
	e, words := page(t, leaf.Charts(v, onServer))
	progress := e.Rows("Placed by the end of each day")
	if len(progress) != 3 {
		t.Fatalf("of two days the table is %q", progress)
	}
	same(t, "days", [][]string{progress[1][:1], progress[1][2:], progress[2][:1], progress[2][2:]},
		[][]string{{"2026-07-17"}, {"15%", "11"}, {"2026-07-18"}, {"25%", "22"}})
	same(t, "batches", e.Rows("Batches of mix shell, w/cm"),
		[][]string{{"batch", "w/cm"}, {"north/2026-07-18/1", "0.380"}})
	says(t, words, []string{"No limits: two batches are too few."}, []string{"Line: mean", "The newest 200"})
	same(t, "where it leads", links(e), []string{
		"/pages/day/2026-07-17", "/pages/day/2026-07-18", "/pages/event/n2/9",
	})
	c := &v.Control[0]
	c.Mean, c.Low, c.High = new(0.38), new(0.36), new(0.4)
	c.Points = slices.Repeat(c.Points, 201)
	v.Progress = nil
	e, words = page(t, leaf.Charts(v, onServer))
	says(t, words, []string{
		"Nothing is placed yet.", "Line: mean 0.380. Dashed: limits 0.360 and 0.400.",
		"The newest 200 of 201 batches; mean and limits are of all.",
	}, []string{"No limits"})
	same(t, "batches that are listed", len(e.Rows("Batches of mix shell, w/cm")), 201)
}

func TestTheWeathersPageTellsTheHoursInWhichNobodyPlaces(t *testing.T) {
	v := drawing.WeatherLeaf{
		Conditions: reporttest.Conditions("metric"), Read: true,
		Drying: view.Drying{LimitKgM2H: 0.5, Spread: 0.25, Points: []view.DryingPoint{
			{At: reporttest.Clock(14, 0), AirC: new(30.0), WindMPS: new(5.0)},
			{At: reporttest.Clock(15, 0), AirC: new(33.0), Forecast: true, Unworkable: "hot"},
			{At: reporttest.Clock(16, 0), AirC: new(34.0), Forecast: true, Unworkable: "hot"},
		}},
	}
	e, words := page(t, leaf.WeatherLeaf(v, onServer))
	says(t, words, []string{
		"From 30 to 34 °C. Nobody places from 15:00 to 17:00.",
		"The band is what the formula may be off by: 25% either way.",
	}, []string{"No weather was read yet"})
	same(t, "air", e.Rows("Air over the day"), [][]string{
		{"at", "°C", ""},
		{"14:00", "30.0", "read"},
		{"15:00", "33.0", "forecast"},
		{"16:00", "34.0", "forecast"},
	})
	same(t, "wind, which is forecast of no hour", e.Rows("Wind at the surface over the day"),
		[][]string{{"at", "km/h", ""}, {"14:00", "18.0", "read"}})
	same(t, "rain, of which nothing is known", e.Rows("Rain over the day"), [][]string(nil))
	_, words = page(t, leaf.WeatherLeaf(drawing.WeatherLeaf{}, onServer))
	same(t, "before anything was read", words, "No weather was read yet.")
}

func TestTheWholeRecordLeadsNowhereAndSaysWhatIsLeftOut(t *testing.T) {
	v := drawing.Whole{
		Site: "Heron Vault", Place: "Brackwater", AsOf: now, Units: "metric", LeftOut: 12,
		Zones: []drawing.ZoneLeaf{{Zone: reporttest.Zone("metric")}}, Joints: reporttest.Joints("metric"),
		Log: reporttest.Log("metric"), Stock: reporttest.Stock("metric"),
	}
	e, words := page(t, leaf.Record(v, onServer))
	says(t, words, []string{
		"Brackwater; record as of ",
		"Of the log the 12 oldest entries are left out here; hod export writes all.",
	}, nil)
	same(t, "links", len(links(e)), 0)
	v.LeftOut = 0
	_, words = page(t, leaf.Record(v, onServer))
	says(t, words, nil, []string{"left out here"})
}
