package picture_test

import (
	"testing"
	"time"

	"hod/internal/report/picture"
	"hod/internal/report/reporttest"
	"hod/internal/view"
	"hod/internal/view/drawing"
)

// shell is six zones, three beside each other in two rows, of which one is not planned in the coat that is shown.
func shell() (drawing.Map, drawing.MapPart) {
	p := drawing.MapPart{Rows: 2, Columns: 3, Zones: []drawing.MapZone{
		{Zone: "A1", Row: 1, Column: 1, State: "done", MeanM: 0.012, DesignM: 0.015},
		{Zone: "A2", Row: 1, Column: 2, State: "under way", Surface: "drying", MeanM: 0.008, DesignM: 0.015, Grave: 2},
		{Zone: "A3", Row: 1, Column: 3, State: "under way", Surface: "covered", MeanM: 0.008, DesignM: 0.015},
		{Zone: "B1", Row: 2, Column: 1, State: "waiting", DesignM: 0.015},
		{Zone: "B2", Row: 2, Column: 2, State: "under way", DesignM: 0.015},
		{Zone: "B3", Row: 2, Column: 3, State: "not planned"},
	}, Edges: []drawing.MapEdge{
		{A: "A1", B: "A2", State: "closing", Joint: "j1", TurnsAt: reporttest.At(14, 23)},
		{
			A: "A2", B: "A3", State: "live", Joint: "j2", TurnsAt: reporttest.At(14, 40),
			TurnsLatest: reporttest.At(15, 35),
		},
		{A: "A1", B: "B1", State: "cold", Joint: "j3", TurnsAt: reporttest.At(12, 0)},
		{A: "A2", B: "B2", State: view.NotMet},
		{A: "A3", B: "B3", State: view.MadeCold, Joint: "j5"},
		{A: "A1", B: "B3", State: "live", Joint: "j6", TurnsAt: reporttest.At(14, 30)},
	}}
	return drawing.Map{
		AsOf: reporttest.Now, Shown: &drawing.MapCoat{Face: "outer", Coat: 1},
		Parts: []drawing.MapPart{p},
	}, p
}

func TestAZoneOnTheMapSaysItsStateAndItsThickness(t *testing.T) {
	v, p := shell()
	drawn := picture.Map(linked, v, p)
	same(t, "in words", says(t, drawn), "drying: A2. covered: A3. begun: B2. waits: B1. done: A1. no coat: B3."+
		" edges cold: A1 to B1. edges closing: A1 to A2.")
	same(t, "zones", reporttest.Said(reporttest.Read(t, drawn).All("text", "class", "n")), []string{
		"A1 done 12/15", "A2 drying 8/15", "A3 covered 8/15", "B1 waits", "B2 begun", "B3 no coat",
	})
	same(t, "links", reporttest.Each(reporttest.Read(t, drawn).All("a"), "href"), []string{
		"/pages/zone/A1", "/pages/zone/A2", "/pages/zone/A3", "/pages/zone/B1", "/pages/zone/B2", "/pages/zone/B3",
		"/pages/joint/j1", "/pages/joint/j2", "/pages/joint/j3", "/pages/joint/j5",
	})
	same(t, "who does not see it", reporttest.Each(reporttest.Read(t, drawn).All("a"), "aria-label")[1],
		"A2 drying 8/15: zone, under way, 8 mm of 15 mm, 2 grave to settle")
	if n := len(reporttest.Read(t, picture.Map(metric, v, p)).All("a")); n > 0 {
		t.Errorf("a map that leads nowhere has %d links", n)
	}
}

func TestAnEdgeOnTheMapSaysInHowManyMinutesItIsCold(t *testing.T) {
	v, p := shell()
	page := reporttest.Read(t, picture.Map(linked, v, p))
	labels := append(page.All("text", "class", "e on"), page.All("text", "class", "e")...)
	same(t, "labels", reporttest.Said(labels), []string{"18", "cold", "35–90", "✕"})
	same(t, "to count down to", reporttest.Each(labels, "data-turns"),
		[]string{"1784377380", "", "1784378400 1784381700", ""})
	same(t, "its name", reporttest.Each(page.All("a", "href", "/pages/joint/j2"), "aria-label"),
		[]string{"edge A2 to A3, live, cold in 35–90 min"})
	v.Shown = nil
	page = reporttest.Read(t, picture.Map(linked, v, p))
	same(t, "of all coats", reporttest.Said(append(page.All("text", "class", "e on"), page.All("text", "class",
		"e")...)), []string{"18", "cold", "35–90"})
}

func TestOfAllCoatsAZoneSaysHowManyAreDone(t *testing.T) {
	p := drawing.MapPart{Rows: 1, Columns: 2, Zones: []drawing.MapZone{
		{Zone: "A1", Row: 1, Column: 1, State: "under way", Done: 1, Planned: 3},
		{Zone: "A2", Row: 1, Column: 2, State: "waiting", Planned: 1},
	}}
	drawn := picture.Map(metric, drawing.Map{AsOf: reporttest.Now}, p)
	same(t, "zones", texts(t, drawn), []string{"A1 begun 1 of 3", "A2 waits"})
	same(t, "title", reporttest.Said(reporttest.Read(t, drawn).All("title")),
		[]string{"The shell laid flat, all coats"})
}

func TestTheMinutesOfAnEdgeAreWholeAndNeverBelowNone(t *testing.T) {
	for _, c := range []struct {
		from, to *time.Time
		want     string
	}{
		{nil, nil, ""},
		{nil, reporttest.At(15, 0), ""},
		{reporttest.At(14, 23), nil, "18"},
		{reporttest.At(14, 0), nil, "0"},
		{reporttest.At(14, 0), reporttest.At(14, 20), "0–15"},
		{reporttest.At(14, 23), reporttest.At(14, 23), "18"},
	} {
		if got := picture.EdgeMinutes(c.from, c.to, reporttest.Now); got != c.want {
			t.Errorf("from %v to %v: %q, want %q", c.from, c.to, got, c.want)
		}
	}
	late := reporttest.Now.Add(18*time.Minute + 59*time.Second)
	if got := picture.EdgeMinutes(&late, nil, reporttest.Now); got != "18" {
		t.Errorf("18 min 59 s are told as %q min: never more than there is", got)
	}
}

func TestZonesTouchThatLieBesideOrOverEachOther(t *testing.T) {
	at := func(row, column int32) drawing.MapZone { return drawing.MapZone{Zone: "z", Row: row, Column: column} }
	for _, c := range []struct {
		a, b drawing.MapZone
		want bool
	}{
		{at(1, 1), at(1, 2), true},
		{at(2, 1), at(1, 1), true},
		{at(1, 1), at(2, 2), false},
		{at(1, 1), at(1, 3), false},
		{at(1, 1), at(1, 1), false},
		{at(1, 1), drawing.MapZone{Row: 1, Column: 2}, false},
	} {
		if got := picture.Touch(c.a, c.b); got != c.want {
			t.Errorf("%v and %v touch: %v", c.a, c.b, got)
		}
	}
}

func TestBaysHoldEachZoneOnceAndTheEdgesBetweenThem(t *testing.T) {
	p := drawing.MapPart{Rows: 7, Columns: 5, Zones: []drawing.MapZone{
		{Zone: "a", Row: 1, Column: 4},
		{Zone: "b", Row: 1, Column: 5},
		{Zone: "c", Row: 6, Column: 4},
		{Zone: "d", Row: 7, Column: 4},
	}, Edges: []drawing.MapEdge{{A: "a", B: "b"}, {A: "a", B: "c"}}}
	bays := picture.Bays(p)
	var got [][]string
	var among, across []int
	for _, b := range bays {
		var names []string
		for _, z := range b.Part.Zones {
			names = append(names, z.Zone)
		}
		got, among, across = append(got, names), append(among, len(b.Part.Edges)), append(across, len(b.Across))
	}
	same(t, "zones", got, [][]string{{"a", "c"}, {"b"}, {"d"}})
	same(t, "edges in a bay", among, []int{1, 0, 0})
	same(t, "edges to another", across, []int{1, 1, 0})
	same(t, "laid from 1", []int32{bays[1].Part.Zones[0].Column, bays[2].Part.Zones[0].Row}, []int32{1, 1})
}

func TestStripsLieWhereEachBatchDoesByAge(t *testing.T) {
	line := func(batch string, from, to float64, ended time.Time) view.PlacementLine {
		return view.PlacementLine{
			Batch: batch, To: ended,
			Strip: &view.StripLine{Start: "A2", BeginsM: &from, ReachesM: &to},
		}
	}
	all := []view.PlacementLine{
		line("quay/2026-07-18/2", 0, 2, clock(10, 0)),
		line("quay/2026-07-18/3", 2, 3, clock(12, 0)),
		line("quay/2026-07-18/4", 3, 4, clock(13, 30)),
		{Batch: "quay/2026-07-18/5"},
	}
	drawn := picture.Strips(metric, all, "A3 outer 1", reporttest.Now)
	same(t, "in words", says(t, drawn),
		"From A2: 3 strips. Hatched: under 1 h; ruled: under 3 h; grey: older.")
	strips := reporttest.Read(t, drawn).All("rect", "class", "c")
	// 4 m are 352 wide.
	same(t, "where they begin", reporttest.Each(strips, "x"), []string{"4", "180", "268"})
	same(t, "how far they reach", reporttest.Each(strips, "width"), []string{"176", "88", "88"})
	same(t, "ages", reporttest.Each(strips, "fill"), []string{"url(#pdone)", "url(#pcovered)", "url(#pbegun)"})
	same(t, "what stands there", texts(t, drawn), []string{"from A2", "2", "3", "4", "0", "4 m"})
	same(t, "where the record does not tell", picture.Strips(metric, all[3:], "A3 outer 1", reporttest.Now), "")
}

func TestTheKeyOfAMapHasTheStatesThatOccur(t *testing.T) {
	_, p := shell()
	zones, edges := picture.Words(p)
	same(t, "zones", zones, []string{"drying", "covered", "begun", "waits", "done", "no coat"})
	same(t, "edges", edges, []string{"cold", "closing", "live", view.MadeCold})
	// A cell in its pattern, a cell that waits, a thick line for what is cold, one with a gap for what was made.
	for word, want := range map[string][]string{"done": {"c"}, "waits": {"c w"}} {
		cells := reporttest.Read(t, picture.Key(metric, word)).All("rect", "width", "34")
		same(t, word, reporttest.Each(cells, "class"), want)
	}
	for word, want := range map[string][]string{"cold": {"ec"}, view.MadeCold: {"eg", "eh"}, "live": {"el"}} {
		same(t, word, reporttest.Each(reporttest.Read(t, picture.Key(metric, word)).All("path"), "class"), want)
	}
}

func TestAnOverviewLeadsToEachBayWithItsNumberAndWhatItHolds(t *testing.T) {
	p := drawing.MapPart{Rows: 7, Columns: 5, Zones: []drawing.MapZone{
		{Zone: "a", Row: 1, Column: 4, State: "done"},
		{Zone: "b", Row: 1, Column: 5, State: "waiting"},
		{Zone: "c", Row: 6, Column: 4, State: "done"},
		{Zone: "d", Row: 7, Column: 4, State: "under way"},
	}, Edges: []drawing.MapEdge{{A: "a", B: "b", State: "closing"}, {A: "c", B: "d", State: "live"}}}
	drawn := picture.Overview(linked, drawing.Map{}, p, func(n int) string { return string(rune('0' + n)) })
	same(t, "in words", says(t, drawn), "4 zones in 3 bays. begun: d. waits: b. done: a, c. edges closing: a to b.")
	page := reporttest.Read(t, drawn)
	same(t, "links", reporttest.Each(page.All("a"), "href"), []string{"/pages/bay/1", "/pages/bay/2", "/pages/bay/3"})
	same(t, "their names", reporttest.Each(page.All("a"), "aria-label"),
		[]string{"bay 1, 2 done, 1 edges closing", "bay 2, 1 waits, 1 edges closing", "bay 3, 1 begun"})
	same(t, "numbers", texts(t, drawn), []string{"1", "2", "3"})
	// Of the edges only the one that presses is drawn: between the fourth column and the fifth of 22 each.
	same(t, "what presses", reporttest.Each(page.All("path", "class", "es"), "d"), []string{"M92 4 92 26"})
	same(t, "what does not", len(page.All("path", "class", "el")), 0)
}
