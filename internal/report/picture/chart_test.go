package picture_test

import (
	"math"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/report/picture"
	"hod/internal/report/reporttest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/drawing"
)

// A chart's plot is 308 wide, from 46 on, and 160 high, from 186 up to 26; above the largest value 5 % are left.

var (
	metric = picture.Frame{ID: "p", In: reporttest.In}
	us     = picture.Frame{ID: "p", In: reporttest.In, System: unit.US}
	linked = picture.Frame{
		ID: "p", In: reporttest.In,
		Link: func(kind, name string) string { return "/pages/" + kind + "/" + name },
	}
	clock = reporttest.Clock
)

func same(t *testing.T, what string, got, want any) {
	t.Helper()
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("%s (-want +got):\n%s", what, diff)
	}
}

// says is what a picture tells who does not see it.
func says(t *testing.T, drawn string) string {
	t.Helper()
	return strings.Join(reporttest.Said(reporttest.Read(t, drawn).All("desc")), "|")
}

func texts(t *testing.T, drawn string) []string {
	t.Helper()
	return reporttest.Said(reporttest.Read(t, drawn).All("text"))
}

func has(t *testing.T, drawn, text string) bool {
	t.Helper()
	for _, is := range texts(t, drawn) {
		if is == text {
			return true
		}
	}
	return false
}

func TestProgressIsDrawnAgainstWhatAllCoatsNeed(t *testing.T) {
	days := []drawing.ProgressDay{
		{Date: "2026-07-17", At: clock(0, 0), PlacedM3: 0.5},
		{Date: "2026-07-18", At: clock(24, 0), PlacedM3: 1},
	}
	drawn := picture.Progress(metric, days, 4, reporttest.Now)
	same(t, "in words", says(t, drawn), "1 m³ placed by now of 4 m³ that all coats need, 25 %.")
	// The axis holds 4 × 1.05: 0, 0.5 and 1 m³ lie 0, 19.05 and 38.1 above the foot.
	same(t, "the days", reporttest.Each(reporttest.Read(t, drawn).All("circle"), "cy"), []string{"186", "167", "147.9"})
	if !has(t, drawn, "all coats") || !has(t, drawn, "m³") || has(t, drawn, "ft³") {
		t.Errorf("%q does not name the line and the unit", texts(t, drawn))
	}
	if drawn := picture.Progress(us, days, 4, reporttest.Now); !has(t, drawn, "ft³") || has(t, drawn, "m³") {
		t.Errorf("in US units it is %q", texts(t, drawn))
	}
	if unplanned := says(t, picture.Progress(metric, days, 0, reporttest.Now)); unplanned != "1 m³ placed by now." {
		t.Errorf("of nothing that is planned it says %q", unplanned)
	}
	same(t, "before anything is placed", picture.Progress(metric, nil, 4, reporttest.Now), "")
}

func TestAControlChartMarksTheBatchThatARuleNames(t *testing.T) {
	c := drawing.ControlChart{
		Mix: "shell", Figure: "w/cm", Mean: new(1.0), Low: new(0.95), High: new(1.05),
		Points: []drawing.ControlPoint{{Value: 1}, {Value: 1.02}, {Value: 0.9, Rule: "beyond a limit"}},
	}
	drawn := picture.Control(metric, c)
	same(t, "in words", says(t, drawn),
		"3 batches, mean 1, limits 0.95 and 1.05; 1 by which a rule says that it is not chance alone.")
	page := reporttest.Read(t, drawn)
	// From 0.9 to 1.05 with 12 % of room at either end: 0.9 lies 160 × 0.018/0.186 = 15.5 above the foot, at 170.5.
	squares := page.All("rect", "class", "act")
	same(t, "squares", [][]string{reporttest.Each(squares, "x"), reporttest.Each(squares, "y")},
		[][]string{{"342"}, {"164.5"}})
	// The first batch lies at 60, the third at 348.
	same(t, "dots", reporttest.Each(page.All("circle"), "cx"), []string{"60", "204"})
	if has(t, drawn, "the mix's limit") {
		t.Error("a mix without a limit has one drawn")
	}
	c.Limit = new(1.04)
	if !has(t, picture.Control(metric, c), "the mix's limit") {
		t.Error("the mix's limit is not drawn")
	}
	c.Mean, c.Low, c.High = nil, nil, nil
	same(t, "without limits", says(t, picture.Control(metric, c)), "3 batches.")
	same(t, "without batches", picture.Control(metric, drawing.ControlChart{}), "")
}

func TestThicknessIsDrawnAgainstTheDesign(t *testing.T) {
	bars := []drawing.ThicknessBar{
		{Zone: "A1", Face: "outer", Coat: 1, State: "done", MeanM: 0.012, DesignM: 0.010},
		{
			Zone: "A2", Face: "outer", Coat: 1, State: "under way", MeanM: 0.008, DesignM: 0.010,
			GaugeM: []float64{0.007, 0.009},
		},
		{Zone: "A3", Face: "outer", Coat: 1, State: "under way", MeanM: 0.008},
	}
	drawn := picture.Thickness(linked, bars)
	same(t, "in words", says(t, drawn),
		"2 coats, 1 of them thinner than their design by now. The mark is the design.")
	page := reporttest.Read(t, drawn)
	// 224 are 1.3 designs: 1.2 are 206.8 and 0.8 are 137.8; gauges of 0.7 and 0.9 stand at 130 + 120.6 and 155.1.
	same(t, "done", reporttest.Each(page.All("rect", "class", "dim"), "width"), []string{"206.8"})
	same(t, "under way", reporttest.Each(page.All("rect", "class", "band"), "width"), []string{"137.8"})
	same(t, "gauges and the design", reporttest.Each(page.All("path"), "d"),
		[]string{"M250.6 60 250.6 80", "M285.1 60 285.1 80", "M302.3 20 302.3 92"})
	same(t, "links", reporttest.Each(page.All("a"), "href"), []string{"/pages/zone/A1", "/pages/zone/A2"})
	same(t, "what stands there", texts(t, drawn),
		[]string{"A1 outer 1", "12 mm", "A2 outer 1", "8 mm", "design"})
	if n := len(reporttest.Read(t, picture.Thickness(metric, bars)).All("a")); n > 0 {
		t.Errorf("a picture that leads nowhere has %d links", n)
	}
	same(t, "without a design", picture.Thickness(metric, bars[2:]), "")
}

func TestABalanceGoesDownInStepsWithATriangleForADeliveryAndARingForACount(t *testing.T) {
	l := drawing.StockLine{Material: "cement", Points: []drawing.StockPoint{
		{At: clock(7, 0), What: "received", BalanceKg: 1000},
		{At: clock(9, 0), What: "drawn", BalanceKg: 800},
		{At: clock(11, 0), What: "counted", BalanceKg: 600},
	}}
	drawn := picture.Balance(metric, l, clock(13, 0))
	same(t, "in words", says(t, drawn), "600 kg now; 1 delivery, each a triangle; a ring is a count.")
	page := reporttest.Read(t, drawn)
	// From 06:00 to 14:00 an hour is 38.5; of 1050 kg, 600 lie 91.4 above the foot.
	ring := page.All("circle")
	same(t, "rings", [][]string{reporttest.Each(ring, "cx"), reporttest.Each(ring, "cy")},
		[][]string{{"238.5"}, {"94.6"}})
	same(t, "triangles", reporttest.Each(page.All("path", "class", "in"), "d"), []string{"M84.5 26.6l8 14h-16z"})
	same(t, "steps", reporttest.Each(page.All("path", "class", "l", "stroke-width", "3"), "d"),
		[]string{"M84.5 33.6 161.5 33.6 161.5 64.1 238.5 64.1 238.5 94.6 315.5 94.6"})
	same(t, "of nothing written", picture.Balance(metric, drawing.StockLine{Material: "lime"}, clock(13, 0)), "")
}

func TestDryingIsDrawnWithItsLimitInTheSitesUnits(t *testing.T) {
	v := view.Drying{LimitKgM2H: 0.5, LimitLbFt2H: 0.1, Spread: 0.25, Points: []view.DryingPoint{
		{At: clock(12, 0), RateKgM2H: 0.4, RateLbFt2H: 0.08, LowKgM2H: 0.3, HighKgM2H: 0.5},
		{At: clock(15, 0), RateKgM2H: 1.2, RateLbFt2H: 0.24, LowKgM2H: 0.9, HighKgM2H: 1.5, Forecast: true},
	}}
	const rest = " The line is as read, its dotted part as forecast; the band is what the formula may be off by, 25 % either way."
	for _, c := range []struct {
		frame       picture.Frame
		words, line string
	}{
		{metric, "At most 1.2 kg/m²/h, forecast; the limit is 0.5.", "limit 0.5 kg/m²/h"},
		{us, "At most 0.24 lb/ft²/h, forecast; the limit is 0.1.", "limit 0.1 lb/ft²/h"},
	} {
		drawn := picture.Drying(c.frame, v, reporttest.Now)
		same(t, "in words", says(t, drawn), c.words+rest)
		if !has(t, drawn, c.line) || !has(t, drawn, "14:05") {
			t.Errorf("neither %q nor the time of day is in %q", c.line, texts(t, drawn))
		}
	}
	// 1.5 × 1.05 are 160 high: the limit of 0.5 lies 50.8 above the foot, at 135.2.
	level := reporttest.Read(t, picture.Drying(metric, v, reporttest.Now)).All("path", "stroke-dasharray", "7 4",
		"class", "l")
	same(t, "the limit", reporttest.Each(level, "d"), []string{"M46 135.2 354 135.2"})
	v.Points = nil
	same(t, "of no figure", picture.Drying(metric, v, reporttest.Now), "")
}

func TestTheFanGoesFromTheBatchesNowToNone(t *testing.T) {
	fan := []ahead.FanPoint{
		{At: clock(14, 5), P05: 17, P25: 18, P50: 19, P75: 20, P95: 22},
		{At: clock(22, 5)},
	}
	out := []picture.Out{
		{Material: "sand", At: clock(18, 5)},
		{Material: "lime", At: clock(19, 5)},
		{Material: "fibre", At: clock(20, 5)},
		{Material: "cement", At: clock(21, 5)},
	}
	drawn := picture.Fan(metric, fan, out, reporttest.Now)
	want := "From 19 batches now (nine times in ten 17 to 22) to none, nine times in ten by Sat 18 Jul 22:05." +
		" sand runs out Sat 18:05, as likely as not. lime runs out Sat 19:05, as likely as not." +
		" fibre runs out Sat 20:05, as likely as not. cement runs out Sat 21:05, as likely as not."
	same(t, "in words", says(t, drawn), want)
	for material, is := range map[string]bool{"sand": true, "lime": true, "fibre": true, "cement": false} {
		if has(t, drawn, material+" out") != is {
			t.Errorf("that %s runs out is in the picture: %v; only the first three are to be", material, !is)
		}
	}
	// Half of the eight hours is half of 308.
	same(t, "when they run out", reporttest.Each(reporttest.Read(t, drawn).All("path", "class", "actl"), "d")[0],
		"M200 26 200 186")
	same(t, "of one instant", picture.Fan(metric, fan[:1], nil, reporttest.Now), "")
}

func TestAGapIsNoLineAndMaturityStandsInIt(t *testing.T) {
	c := drawing.CureCourse{Face: "outer", Coat: 1, Probe: "p1", DatumC: -10, Readings: []drawing.CurePoint{
		{At: clock(7, 0), C: 20, MaturityCH: new(0.0)},
		{At: clock(8, 0), C: 25, MaturityCH: new(32.5)},
		{At: clock(12, 0), C: 30, MaturityCH: new(32.5)},
		{At: clock(13, 0), C: 31, MaturityCH: new(73.0)},
	}, Gaps: [][2]time.Time{{clock(8, 0), clock(12, 0)}}}
	drawn := picture.Temperature(metric, c)
	same(t, "in words", says(t, drawn), "4 readings, 1 gaps, 0 spells wet or covered.")
	line := []string{"class", "l", "stroke-width", "2.5"}
	if n := len(reporttest.Read(t, drawn).All("path", line...)); n != 2 {
		t.Errorf("with one gap the temperature is %d lines", n)
	}
	if !has(t, drawn, "grey: not read") {
		t.Errorf("the gap is not explained: %q", texts(t, drawn))
	}
	drawn = picture.Maturity(metric, c)
	same(t, "maturity in words", says(t, drawn), "73 °C·h by Sat 18 Jul 13:00, over a datum of -10 °C.")
	// From 06:00 to 14:00 an hour is 38.5; of 76.65, 32.5 lie 67.8 above the foot.
	same(t, "maturity", reporttest.Each(reporttest.Read(t, drawn).All("path", line...), "d"),
		[]string{"M84.5 186 123 118.2 277 118.2 315.5 33.6"})
	c.Gaps = nil
	whole := picture.Temperature(us, c)
	if n := len(reporttest.Read(t, whole).All("path", line...)); n != 1 || has(t, whole, "grey: not read") {
		t.Errorf("without a gap the temperature is %d lines", n)
	}
	if !has(t, whole, "°F") || has(t, whole, "°C") {
		t.Errorf("in US units it is %q", texts(t, whole))
	}
	for i := range c.Readings {
		c.Readings[i].MaturityCH = nil
	}
	same(t, "where no maturity is known", picture.Maturity(metric, c), "")
}

func TestStrengthShowsWhereTheCoatStandsOnlyWhereThatIsKnown(t *testing.T) {
	c := drawing.CureCourse{
		Face: "outer", Coat: 1, Maturity: 500,
		Strength: []drawing.StrengthPoint{
			{MaturityCH: 100, Pa: 5e6, LowPa: 4e6, HighPa: 6e6},
			{MaturityCH: 1000, Pa: 18e6, LowPa: 16e6, HighPa: 20e6},
		},
		Breaks: []drawing.StrengthPoint{{MaturityCH: 250, Pa: 10.5e6}},
	}
	drawn := picture.Strength(metric, c)
	page := reporttest.Read(t, drawn)
	// 1000 °C·h are 308 wide and 21 MPa 160 high: the break lies at 46 + 77 and 80 above the foot.
	dot := page.All("circle")
	same(t, "breaks", [][]string{reporttest.Each(dot, "cx"), reporttest.Each(dot, "cy")}, [][]string{{"123"}, {"106"}})
	same(t, "this coat", reporttest.Each(page.All("path", "class", "actl"), "d"), []string{"M200 26 200 186"})
	if !strings.HasSuffix(says(t, drawn), "No verdict on stripping or loading.") {
		t.Errorf("it ends %q", says(t, drawn))
	}
	if !has(t, drawn, "this coat") || !has(t, drawn, "1000 °C·h") || !has(t, picture.Strength(us, c), "psi") {
		t.Errorf("%q", texts(t, drawn))
	}
	c.Maturity = 0
	if has(t, picture.Strength(metric, c), "this coat") {
		t.Error("a coat of no maturity stands on the curve")
	}
	c.Strength = c.Strength[:1]
	same(t, "of no curve", picture.Strength(metric, c), "")
}

func TestStockIsDrawnAgainstTheNeedAndWhatWasNeverCountedAsThat(t *testing.T) {
	drawn := picture.Tomorrow(metric, []ahead.MaterialNeed{
		{Material: "lime", Need90Kg: 10},
		{Material: "cement", OnHandKg: new(500.0), Need90Kg: 100},
		{Material: "fibre", OnHandKg: new(150.0), Need90Kg: 100},
		{Material: "sand", OnHandKg: new(50.0), Need90Kg: 100, ShortKg: new(50.0)},
	}, "Sun 19 Jul")
	same(t, "in words", says(t, drawn), "sand: 50 %, short; lime: not counted; cement: over 3×; fibre: 150 %."+
		" The mark is what that day takes nine times in ten.")
	page := reporttest.Read(t, drawn)
	// 232 are twice the need: half of it is 58, one and a half are 174, and more than twice is all.
	same(t, "what is short", reporttest.Each(page.All("rect", "class", "act"), "width"), []string{"58"})
	same(t, "what suffices", reporttest.Each(page.All("rect", "class", "dim"), "width"), []string{"232", "174"})
	same(t, "what was not counted", reporttest.Each(page.All("rect", "stroke-dasharray", "4 4"), "y"), []string{"66"})
	same(t, "of no need", picture.Tomorrow(metric, nil, "Sun 19 Jul"), "")
}

func TestTheDaysWeatherSaysInWhichHoursNobodyPlaces(t *testing.T) {
	s := picture.Series{
		Title: "Rain", Unit: "mm", Bars: true,
		At:       []time.Time{clock(12, 0), clock(13, 0), clock(14, 0), clock(15, 0)},
		Values:   []float64{0, 2, math.NaN(), 4},
		Forecast: []bool{false, false, true, true},
	}
	no := [][2]time.Time{{clock(15, 0), clock(16, 0)}}
	drawn := picture.Day(metric, s, no, clock(14, 5))
	same(t, "in words", says(t, drawn), "From 0 to 4 mm. Nobody places from 15:00 to 16:00.")
	// 4 × 1.05 are 160 high. An hour without rain, and one of which nothing is known, has no bar.
	same(t, "bars", reporttest.Each(reporttest.Read(t, drawn).All("rect", "class", "band2"), "height"),
		[]string{"76.2", "152.4"})
	same(t, "without hours in which nobody places", says(t, picture.Day(metric, s, nil, clock(14, 5))),
		"From 0 to 4 mm.")
	s.Values = []float64{math.NaN(), math.NaN(), math.NaN(), math.NaN()}
	same(t, "of no figure", picture.Day(metric, s, no, clock(14, 5)), "")
}

func TestTheFiguresBesideAnAxisAreThoseOfItsLines(t *testing.T) {
	l := drawing.StockLine{Material: "cement", Points: []drawing.StockPoint{
		{At: clock(7, 0), What: "received", BalanceKg: 9.5}, {At: clock(9, 0), What: "drawn", BalanceKg: 1},
	}}
	drawn := picture.Balance(metric, l, clock(13, 0))
	for _, want := range []string{">2.5<", ">5.0<", ">7.5<"} {
		if !strings.Contains(drawn, want) {
			t.Errorf("beside the axis there is no %s", want)
		}
	}
}
