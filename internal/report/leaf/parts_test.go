package leaf_test

import (
	"strings"
	"testing"

	"hod/internal/report/leaf"
	"hod/internal/report/reporttest"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
	"hod/internal/view/drawing"
)

func TestTheForemansPageListsEightEdgesAndCountsTheRest(t *testing.T) {
	v := drawing.Overview{AsOf: now, Units: "metric", Edges: []drawing.EdgeGroup{
		{
			Zone: "A2", Face: "outer", Coat: 1, Others: []string{"A4"}, State: "cold", Joints: []string{"j4"},
			TurnsAt: reporttest.At(13, 53),
		},
		{
			Zone: "A3", Face: "outer", Coat: 1, Others: []string{"A2", "B1"}, State: "closing", LengthM: 2.75,
			TurnsAt: reporttest.At(14, 23), TurnsLatest: reporttest.At(14, 40), Joints: []string{"j7", "j8"},
		},
		{Zone: "A4", Face: "outer", Coat: 1, Inside: true, State: "live"},
	}}
	e, _ := page(t, leaf.Foreman(v, onServer))
	rows := e.All("section", "id", "next")[0].All("li")
	same(t, "minutes", reporttest.Said(e.All("section", "id", "next")[0].All("span", "class", "min")),
		[]string{"cold", "18–35 min", "–"})
	same(t, "states", reporttest.Said(e.All("section", "id", "next")[0].All("b")), []string{"cold", "closing", "live"})
	same(t, "their tones", reporttest.Each(e.All("section", "id", "next")[0].All("b"), "class"),
		[]string{"urgent", "soon", "strong"})
	same(t, "where they lead", links(e.All("section", "id", "next")[0]), []string{"/pages/joint/j4", "/pages/joint/j7"})
	says(t, rows[1].Words, []string{"A3 outer 1 to A2 and B1", "14:23–14:40, 2.75 m"}, nil)
	says(t, rows[2].Words, []string{"inside A4 outer 1"}, []string{"min", " m"})
	for len(v.Edges) < 9 {
		v.Edges = append(v.Edges, v.Edges[0])
	}
	e, words := page(t, leaf.Foreman(v, onServer))
	same(t, "edges that are listed", len(e.All("section", "id", "next")[0].All("li")), 8)
	says(t, words, []string{"1 more edge"}, []string{"1 more edges"})
}

func TestTheForemansPageSaysWhetherFreshMortarDriesTooFast(t *testing.T) {
	over := reporttest.Conditions("metric")
	within := over
	within.OverLimit, within.FreshUncovered = new(false), nil
	unknown := over
	unknown.OverLimit = nil
	since := view.Drying{OverSince: reporttest.At(13, 10)}
	for _, c := range []struct {
		weather     *view.Conditions
		drying      view.Drying
		are, areNot []string
	}{
		{
			nil, since,
			[]string{"No weather was read yet, so how fast fresh mortar dries is not known."},
			[]string{"limit"},
		},
		{&unknown, since, []string{"Not known."}, []string{"Over the limit", "Within the limit"}},
		{&over, since, []string{
			"Over the limit since 13:10.", "1.24 kg/m²/h as read at 13:40, limit 0.5 kg/m²/h. Why",
			"A3 outer 1 and A4 outer 1 lie bare.", "Cover it, fog it or keep the wind off.",
		}, []string{"Within"}},
		{&over, view.Drying{}, []string{"Over the limit. 1.24 kg/m²/h"}, []string{"since"}},
		{
			&within,
			view.Drying{},
			[]string{"Within the limit.", "Nothing fresh lies bare."},
			[]string{"Over", "Cover it"},
		},
	} {
		e, _ := page(t, leaf.Foreman(drawing.Overview{AsOf: now, Units: "metric", Weather: c.weather, Drying: c.drying},
			onServer))
		section := e.All("section", "id", "drying")[0]
		says(t, strings.Join(strings.Fields(section.Words), " "), c.are, c.areNot)
		if c.weather != nil && c.weather.OverLimit != nil {
			same(t, "where it leads", links(section), []string{"/pages/why/drying"})
		}
	}
}

func TestTheForemansPageNamesThreeFlagsOfAKindAndCountsTheRest(t *testing.T) {
	flag := reporttest.Flags("metric")[2]
	flag.FullID = "water-limit-7"
	v := drawing.Overview{AsOf: now, Units: "metric", Settle: drawing.ToSettle{
		Grave: 5, Other: 2,
		Groups: []drawing.SettleGroup{{
			Code: "water-limit", Grave: true,
			Flags: []daily.Flag{flag, flag, flag, flag, flag},
		}},
	}}
	e, words := page(t, leaf.Foreman(v, onServer))
	says(t, words, []string{
		"To settle: 5 grave, 2 other", "grave water limit: batch quay/2026-07-18/3 has w/cm 0.412",
		"grave 2 more of water limit",
	}, []string{"To settle: nothing"})
	settle := e.All("section", "id", "settle")[0]
	same(t, "flags that are named", len(settle.All("a", "href", "/pages/flag/water-limit-7")), 3)
	same(t, "where it leads", links(settle), []string{"/pages/flag/water-limit-7", "/pages/flags"})
	_, words = page(t, leaf.Foreman(drawing.Overview{AsOf: now, Units: "metric"}, onServer))
	says(t, words, []string{"To settle: nothing"}, []string{"grave"})
}

func TestAnEventsPageLeadsToItsZonesItsChainAndTheFlagsThatRestOnIt(t *testing.T) {
	flag := reporttest.Flags("metric")[0]
	flag.FullID = "cold-joint-3"
	entry := reporttest.Log("metric").Entries[1]
	entry.Hash, entry.CorrectedBy = "4f2a", []string{"n2/140"}
	v := drawing.EventLeaf{
		AsOf: now, Units: "metric", Entry: entry, Zones: []string{"A2", "A1"},
		Chain: []view.Entry{entry}, Flags: []daily.Flag{flag},
	}
	e, words := page(t, leaf.Event(v, onServer))
	same(t, "what is told", reporttest.Said(e.All("dt")),
		[]string{"happened", "written", "by", "zone", "state", "hash"})
	told := reporttest.Said(e.All("dd"))
	says(t, told[0], []string{"10:48:00"}, nil)
	says(t, told[1], []string{"12:31:00"}, nil)
	same(t, "the rest", told[2:], []string{"Ilse Marrow, north", "A2, A1", "amended", "4f2a"})
	says(t, words, []string{"AMENDED:", "As it was written and corrected", "Flags that rest on it", "GRAVE cold-joint"},
		nil)
	says(t, strings.Join(links(e), " "), []string{
		"/pages/event/n2/140", "/pages/flag/cold-joint-3", "/pages/zone/A1",
		"/pages/zone/A2",
	}, nil)
	alone := drawing.EventLeaf{AsOf: now, Units: "metric", Entry: reporttest.Log("metric").Entries[3]}
	e, words = page(t, leaf.Event(alone, onServer))
	same(t, "of an event that stands alone", reporttest.Said(e.All("dt")),
		[]string{"happened", "written", "by", "state"})
	says(t, words, nil, []string{"corrected", "Flags", "AMENDED"})
}

func TestAJointsPageSaysWhatItRestsOn(t *testing.T) {
	v := drawing.JointLeaf{
		Site: "Heron Vault", AsOf: now, Units: "metric", Joint: reporttest.Edges[2],
		Limit: drawing.Limits{Closing: 0.8, Cold: 1, Source: "ASTM C1074", Formula: "te / initial set"},
	}
	e, words := page(t, leaf.Joint(v, onServer))
	says(t, words, []string{
		"31–62% of initial set used", "initial set 4 h at 23 °C", "material at 33.1 °C",
		"closing from 80%, cold from 100%", "ASTM C1074",
	}, []string{"Flags"})
	same(t, "where it leads", links(e), []string{
		"/pages/event/q1/70", "/pages/event/q1/74", "/pages/event/q1/79", "/pages/joint/j9", "/pages/zone/A3",
		"/pages/zone/B1",
	})
}

func TestTheStocksPageHasEachBalanceWithItsNumbers(t *testing.T) {
	v := drawing.StockLeaf{Stock: reporttest.Stock("metric"), Lines: []drawing.StockLine{
		{Material: "cement", Points: []drawing.StockPoint{
			{At: reporttest.Clock(7, 0), What: "received", AmountKg: 1000, BalanceKg: 1000},
			{At: reporttest.Clock(9, 0), What: "drawn", AmountKg: -200, BalanceKg: 800},
		}},
		{Material: "lime"},
	}}
	e, words := page(t, leaf.StockLeaf(v, onServer))
	rows := e.Rows("cement on hand")
	if len(rows) != 3 {
		t.Fatalf("two changes are told as %q", rows)
	}
	same(t, "when and what", [][]string{rows[1][:2], rows[2][:2]},
		[][]string{{"18 Jul 07:00", "received"}, {"18 Jul 09:00", "drawn"}})
	same(t, "balance", rows[2][3], "800 kg")
	says(t, words, []string{"Stock: cement"}, []string{"Stock: lime"})
}

func TestAZonesPageSaysWhereEachBatchLiesAndHowItsCoatCures(t *testing.T) {
	z := reporttest.Zone("metric")
	lies := z.Coats[0].Placements
	lies[0].Strip = &view.StripLine{Start: "A2", BeginsM: new(0.0), ReachesM: new(1.5)}
	lies[1].Strip = &view.StripLine{Start: "A2", BeginsDegrees: new(10.0), ReachesDegrees: new(25.0)}
	v := drawing.ZoneLeaf{Zone: z, Cures: []drawing.CureCourse{{
		Face: "outer", Coat: 1, Probe: "p1",
		Caution: "It permits no stripping.", Readings: []drawing.CurePoint{
			{At: reporttest.Clock(12, 0), C: 30, MaturityCH: new(40.0)},
			{At: reporttest.Clock(13, 0), C: 31},
		},
	}}}
	e, words := page(t, leaf.ZoneLeaf(v, onServer))
	same(t, "strips", e.Rows("Where each batch lies, as drawn"), [][]string{
		{"batch", "from", "begins", "reaches", "laid", "age", "event"},
		{"quay/2", "A2", "0 mm", "1.5 m", "11:02–11:31", "2 h 34 min", "q1/70"},
		{"quay/3", "A2", "10°", "25°", "12:05–12:40", "85 min", "q1/74"},
	})
	same(t, "readings", e.Rows("Readings by p1"), [][]string{
		{"at", "temperature", "maturity"},
		{"18 Jul 12:00", "30 °C", "40 °C·h"},
		{"18 Jul 13:00", "31 °C", ""},
	})
	says(t, words, []string{"Cure of outer 1 by p1", "It permits no stripping."}, nil)
	v.Cures = nil
	for i := range lies {
		lies[i].Strip = nil
	}
	_, words = page(t, leaf.ZoneLeaf(v, onServer))
	says(t, words, nil, []string{"Where each batch lies", "Cure of"})
}

func TestADayThatHasNotBegunHasNoPictures(t *testing.T) {
	v := drawing.DayLeaf{
		Day: reporttest.Day("metric"), At: reporttest.Clock(14, 5),
		Fan: []ahead.FanPoint{
			{At: reporttest.Clock(14, 5), P05: 17, P25: 18, P50: 19, P75: 20, P95: 22},
			{At: reporttest.Clock(22, 5)},
		},
	}
	e, _ := page(t, leaf.DayLeaf(v, onServer))
	same(t, "before it began", len(e.All("svg")), 0)
	v.Charts.AsOf = now
	e, _ = page(t, leaf.DayLeaf(v, onServer))
	same(t, "once it began", len(e.All("svg")), 1)
	same(t, "the fan", e.Rows("Batches left, as drawn"), [][]string{
		{"by", "5 %", "25 %", "50 %", "75 %", "95 %"},
		{"14:05", "17", "18", "19", "20", "22"},
		{"22:05", "0", "0", "0", "0", "0"},
	})
}

func TestThicknessIsToldWithWhatGaugesRead(t *testing.T) {
	v := drawing.Charts{AsOf: now, Units: "metric", Thickness: []drawing.ThicknessBar{
		{
			Zone: "A1", Face: "outer", Coat: 1, State: "done", MeanM: 0.012, DesignM: 0.01,
			GaugeM: []float64{0.011, 0.013},
		},
		{Zone: "A2", Face: "outer", Coat: 1, State: "under way", MeanM: 0.008, DesignM: 0.01},
	}}
	e, _ := page(t, leaf.Charts(v, onServer))
	same(t, "coats", e.Rows("Thickness of coats"), [][]string{
		{"coat", "mean of design", "gauges", "state"},
		{"A1 outer 1", "12 of 10 mm", "11 mm, 13 mm", "done"},
		{"A2 outer 1", "8 of 10 mm", "", "under way"},
	})
}

// large is a part of 61 zones, one more than a map shows by their names: 11 rows of 6 but for the last row's five.
func large() drawing.Map {
	p := drawing.MapPart{Rows: 11, Columns: 6}
	for i := range int32(61) {
		p.Zones = append(p.Zones, drawing.MapZone{
			Zone: "Z" + string('a'+i%6) + string('a'+i/6),
			Row:  i/6 + 1, Column: i%6 + 1, State: "waiting",
		})
	}
	return drawing.Map{Site: "Heron Vault", AsOf: now, Units: "metric", Parts: []drawing.MapPart{p}}
}

func TestALargeShellIsShownByItsBays(t *testing.T) {
	e, _ := page(t, leaf.Map(large(), 0, onServer))
	bays := e.Rows("Bays")
	// Two rows of bays by two; the last one is cut at the last zone.
	same(t, "bays", len(bays), 5)
	same(t, "the second", bays[2][:2], []string{"bay 2", "Zea to Zff"})
	_, words := page(t, leaf.Map(large(), 2, onServer))
	says(t, words, []string{"Bay 2", "bay before", "all bays", "bay after"}, []string{"Zaa"})
	e, words = page(t, leaf.Map(large(), 4, onServer))
	says(t, words, []string{"bay before"}, []string{"bay after"})
	says(t, strings.Join(links(e), " "), []string{"/pages/map?coat=all&bay=3", "/pages/zone/Zeg"}, []string{"bay=5"})
	_, words = page(t, leaf.Map(large(), 5, onServer))
	says(t, words, []string{"There is no such bay."}, nil)
}

func TestInWordsAMapAndTheOverviewHaveTheSameFigures(t *testing.T) {
	terminal := asFile
	terminal.Width = 100
	m := drawing.Map{Site: "Heron Vault", AsOf: now, Units: "metric", Parts: []drawing.MapPart{{
		Rows: 1, Columns: 2,
		Zones: []drawing.MapZone{{
			Zone: "A1", Row: 1, Column: 2, State: "under way", Surface: "bare", MeanM: 0.012,
			DesignM: 0.015, Done: 1, Planned: 3,
		}},
		Edges: []drawing.MapEdge{
			{A: "A1", B: "A2", State: "closing", TurnsAt: reporttest.At(14, 23), LengthM: 3.4},
			{A: "A1", B: "A4", State: "cold", TurnsAt: reporttest.At(13, 23), LengthM: 3.5},
			{A: "A1", B: "A3", State: view.NotMet, LengthM: 3.6},
		},
	}}}
	words := strings.Join(strings.Fields(leaf.MapWords(m, terminal)), " ")
	says(t, words, []string{
		"map, all coats", "A1 1 2 under way, bare 12 of 15 mm 1 of 3",
		"A1 to A2 closing 18 14:23 3.4 m", "A1 to A4 cold 3.5 m",
	}, []string{"A1 to A3", "Nothing lies"})
	m.Parts[0].Edges = nil
	says(t, leaf.MapWords(m, terminal), []string{"Nothing lies along an edge yet."}, nil)
	o := drawing.Overview{Site: "Heron Vault", AsOf: now, Units: "metric", OldEdges: 1, Edges: []drawing.EdgeGroup{
		{
			Zone: "A3", Face: "outer", Coat: 1, Others: []string{"B1"}, State: "live", TurnsAt: reporttest.At(14, 40),
			TurnsLatest: reporttest.At(15, 35), LengthM: 2.75,
		},
	}, Crews: []drawing.CrewNow{{Crew: "north", HeardAt: reporttest.At(13, 58), Batches: 1}, {Crew: "west"}}}
	words = strings.Join(strings.Fields(leaf.OverviewWords(o, terminal)), " ")
	says(t, words, []string{
		"35–90 live 14:40–15:35 A3 outer 1 to B1 2.75 m",
		"1 edge has been cold since before today", "north 7 min ago nothing yet 1 batch", "west never",
		"No weather was read yet.", "Not known.", "0 grave, 0 other",
	}, []string{"No edge is open"})
	o.Edges, o.Left.Done = nil, true
	says(t, leaf.OverviewWords(o, terminal), []string{"No edge is open", "Every planned coat is finished."},
		[]string{"Not known."})
}

func TestInWordsAChartTellsTheBatchThatARuleNames(t *testing.T) {
	terminal := asFile
	terminal.Width = 100
	c := drawing.ControlChart{
		Mix: "shell", Figure: "w/cm", Mean: new(0.38), Low: new(0.36), High: new(0.4),
		Points: []drawing.ControlPoint{
			{Batch: "north/2026-07-18/1", Event: "n2/9", Value: 0.38},
			{Batch: "north/2026-07-18/2", Event: "n2/12", Value: 0.41, Rule: "beyond a limit"},
		},
	}
	v := drawing.Charts{
		AsOf: now, Units: "metric", PlannedM3: 4, Control: []drawing.ControlChart{c},
		Progress: []drawing.ProgressDay{{Date: "2026-07-18", At: reporttest.Clock(24, 0), PlacedM3: 1, Batches: 22}},
	}
	words := strings.Join(strings.Fields(leaf.ChartsWords(v, terminal)), " ")
	says(t, words, []string{
		"Mean 0.380, limits 0.360 and 0.400.", "0.410 beyond a limit n2/12", "25% 22.0",
		"No stock is written.",
	}, []string{"n2/9", "No limits", "No point is outside"})
	v.Control[0].Points = c.Points[:1]
	says(t, leaf.ChartsWords(v, terminal), []string{"No point is outside, and no run rule is broken."}, nil)
	v.Control[0].Mean, v.Control[0].Note = nil, "too few batches"
	says(t, leaf.ChartsWords(v, terminal), []string{"No limits: too few batches."}, []string{"Mean"})
}

func TestEachUnitOfAFigureIsShownInBothSystems(t *testing.T) {
	for in, want := range map[string][2]string{
		"kg/m²/h":   {"1.24 kg/m²/h", "0.254 lb/ft²/h"},
		"lb/ft²/h":  {"1.24 lb/ft²/h", "1.24 lb/ft²/h"},
		"batches":   {"1.2 batches", "1.2 batches"},
		"1":         {"124%", "124%"},
		"thickness": {"1240 mm", "48.8 in"},
		"m":         {"1.24 m", "4 ft 13/16 in"},
	} {
		for i, units := range []string{"metric", "us"} {
			e, _ := page(t, leaf.Why(drawing.Why{
				AsOf: now, Units: units,
				Figures: []drawing.WhyFigure{{Name: "x", Value: new(1.24), Unit: in}},
			}, asFile))
			same(t, in+" in "+units, e.Rows("Figures")[1][1], want[i])
		}
	}
}
