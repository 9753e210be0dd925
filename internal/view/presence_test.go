package view_test

import (
	"encoding/json"
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/report/summary"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/ahead"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

func page(now time.Time) report.Page { return report.Page{Width: 100, In: time.UTC, Now: now} }

func TestAReadingOfAirAloneTakesNoAlertAway(t *testing.T) {
	s := viewtest.Site(t, viewtest.Read(viewtest.Hot(viewtest.Noon)),
		viewtest.Read(viewtest.Air(viewtest.Noon.Add(40*time.Minute))))
	now := viewtest.Noon.Add(50 * time.Minute)
	b := daily.BoardOf(s, now, time.UTC)
	c := b.Weather
	if c == nil || c.OverLimit == nil || !*c.OverLimit || c.EvaporationKgM2H == nil || *c.EvaporationKgM2H <= 0.5 {
		t.Fatalf("the full reading before it no longer counts: %+v", c)
	}
	if !c.ReadAt.Equal(viewtest.Noon) || *c.AirC != 33 || *c.Humidity != 0.25 {
		t.Errorf("the figures are not those of the full reading at 12:00: read at %s, air %v, humidity %v", c.ReadAt,
			*c.AirC, *c.Humidity)
	}
	if len(c.Since) != 1 || *c.Since[0].AirC != 31 || c.Since[0].Humidity != nil || c.Since[0].WindMPS != nil {
		t.Errorf("the air read since is %+v; want 31 °C and nothing else", c.Since)
	}
	for _, want := range []string{
		"OVER LIMIT", "12:00, 50 min ago", "33 °C, 25%", "since then 12:40, crew: air 31 °C",
	} {
		if got := report.Board(b, page(now)); !strings.Contains(got, want) {
			t.Errorf("the board does not say %q:\n%s", want, got)
		}
	}
}

func TestAFullReadingCountsForTwoHoursAndThenItIsSaidThatItIsTooOld(t *testing.T) {
	for _, k := range []struct {
		age    time.Duration
		counts bool
	}{{2 * time.Hour, true}, {2*time.Hour + time.Minute, false}} {
		now := viewtest.Noon.Add(k.age)
		s := viewtest.Site(t, viewtest.Read(viewtest.Hot(viewtest.Noon)),
			viewtest.Read(viewtest.Air(now.Add(-time.Minute))))
		c, ok := view.WeatherOf(s, now, time.UTC)
		if !ok || (c.EvaporationKgM2H != nil) != k.counts || (c.OverLimit != nil) != k.counts ||
			(c.TooOld == "") != k.counts {
			t.Fatalf("a full reading %s old: evaporation %v, over %v, too old %q; counts should be %v", k.age,
				c.EvaporationKgM2H, c.OverLimit, c.TooOld, k.counts)
		}
		text := report.Weather(c, page(now))
		if said := strings.Contains(text, "too old"); said == k.counts {
			t.Errorf("a full reading %s old: it is said that it is too old: %v\n%s", k.age, said, text)
		}
		if !k.counts && (*c.AirC != 31 || c.Humidity != nil) {
			t.Errorf("once the full reading is too old the last one is shown; got air %v, humidity %v", *c.AirC,
				c.Humidity)
		}
	}
}

func TestADayOfAirAloneSpeaksOfAirAlone(t *testing.T) {
	d, err := daily.DayOf(viewtest.Site(t, viewtest.Read(viewtest.Air(viewtest.Noon))), viewtest.Noon.Add(time.Hour),
		time.UTC, "")
	if err != nil {
		t.Fatal(err)
	}
	w := d.Weather
	if w.Readings != 1 || w.AirLowC == nil || w.WindHighMPS != nil || w.HumidityLow != nil || w.RainMM != nil ||
		w.EvaporationMax != nil {
		t.Errorf("of a day on which the air alone was read the weather is %+v", w)
	}
	if got := summary.Day(d, page(viewtest.Noon)); !strings.Contains(got, "Air 31 °C, rain not read; 1 reading.") {
		t.Errorf("the day does not say what was read, and what was not:\n%s", got)
	}
}

func TestADaySaysHowLongFreshMortarLayBareWithNoFullReading(t *testing.T) {
	id := event.Batch{Crew: "north", Day: "2031-05-12", Number: 1}
	mixed := viewtest.Wrote(viewtest.Noon.Add(-4*time.Hour), event.BatchMixed{
		Batch: id, Mix: "face",
		Charges: []event.Charge{
			{Constituent: "cement", Amount: event.Amount{Mass: 42}},
			{Constituent: "sand", Amount: event.Amount{Mass: 85}},
			{Constituent: "water", Amount: event.Amount{Mass: 14}},
		},
	})
	placed := viewtest.Wrote(viewtest.Noon.Add(-4*time.Hour),
		event.Placement{Batch: id, Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}})
	for _, k := range []struct {
		name string
		work []sim.Work
		says bool
	}{
		{"nothing read", nil, true},
		{"air alone", []sim.Work{viewtest.Read(viewtest.Air(viewtest.Noon.Add(-4 * time.Hour)))}, true},
		{"read in full, every hour", []sim.Work{
			viewtest.Read(viewtest.Hot(viewtest.Noon.Add(-4 * time.Hour))),
			viewtest.Read(viewtest.Hot(viewtest.Noon.Add(-3 * time.Hour))),
			viewtest.Read(viewtest.Hot(viewtest.Noon.Add(-2 * time.Hour))),
			viewtest.Read(viewtest.Hot(viewtest.Noon.Add(-1 * time.Hour))), viewtest.Read(viewtest.Hot(viewtest.Noon)),
		}, false},
		{"covered at once", []sim.Work{viewtest.Wrote(viewtest.Noon.Add(-4*time.Hour+time.Second),
			event.SurfaceTended{Zone: "A1", Tending: event.Covered})}, false},
	} {
		d, err := daily.DayOf(viewtest.Site(t, append([]sim.Work{mixed, placed}, k.work...)...), viewtest.Noon,
			time.UTC, "")
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(summary.Day(d, page(viewtest.Noon))), " ")
		if said := strings.Contains(text,
			"something fresh lay uncovered and no reading of air, humidity and wind counted"); said != k.says ||
			(d.Weather.UnjudgedMin > 0) != k.says {
			t.Errorf("%s: it is said: %v, of %g min; want %v", k.name, said, d.Weather.UnjudgedMin, k.says)
		}
	}
}

func TestTheAgeOfMortarIsLeftOutWhereNobodySaidWhenItBegan(t *testing.T) {
	id := event.Batch{Crew: "north", Day: "2031-05-12", Number: 1}
	b := event.BatchMixed{Batch: id, Mix: "face", Charges: []event.Charge{
		{Constituent: "cement", Amount: event.Amount{Mass: 42}},
		{Constituent: "sand", Amount: event.Amount{Mass: 85}},
		{Constituent: "water", Amount: event.Amount{Mass: 14}},
	}}
	placed := viewtest.Wrote(viewtest.Noon.Add(20*time.Minute),
		event.Placement{Batch: id, Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}})
	age := func(b event.BatchMixed) *float64 {
		z, _ := view.ZoneOf(viewtest.Site(t, viewtest.Wrote(viewtest.Noon, b), placed), viewtest.Noon.Add(time.Hour),
			time.UTC, "A1")
		return z.Coats[0].Placements[0].AgeMin
	}
	if got := age(b); got != nil {
		t.Errorf("nobody said when water met cement, and it is %g min old", *got)
	}
	if b.WaterAt = viewtest.Noon.Add(-10 * time.Minute); age(b) == nil || *age(b) != 30 {
		t.Errorf("water met cement 30 min before, and the age is %v", age(b))
	}
}

// part draws a value well away from nought, or none.
func part[Q ~float64](t *rapid.T, what string, lo, hi float64) *Q {
	if !rapid.Bool().Draw(t, what+" said") {
		return nil
	}
	return new(Q(rapid.Float64Range(lo, hi).Draw(t, what)))
}

func partAs[Q ~float64](t *rapid.T, what string, lo, hi float64) *unit.As[Q] {
	if q := part[Q](t, what, lo, hi); q != nil {
		return viewtest.Ref(*q)
	}
	return nil
}

// sample draws a reading of the weather with any part of it read; false if none was. In such air even the coolest
// mortar that is drawn dries.
func sample(t *rapid.T, at time.Time) (event.Weather, bool) {
	w := event.Weather{
		At: at, Air: part[unit.Celsius](t, "air", 28, 34), Humidity: part[unit.Share](t, "humidity", 0.2, 0.4),
		DewPoint: part[unit.Celsius](t, "dew point", 2, 9),
		Wind:     part[unit.Speed](t, "wind", 2, 9), SunWattPerM2: part[float64](t, "sun", 100, 900),
		RainMillimetres:    part[float64](t, "rain", 1, 9),
		SurfaceTemperature: part[unit.Celsius](t, "surface", 41, 50),
	}
	if w.Humidity != nil && w.DewPoint != nil { // one instrument or the other
		w.DewPoint = nil
	}
	return w, w.Air != nil || w.Humidity != nil || w.DewPoint != nil || w.Wind != nil || w.SunWattPerM2 != nil ||
		w.RainMillimetres != nil || w.SurfaceTemperature != nil
}

// anyWork draws a day on which any part of what can be written was.
func anyWork(t *rapid.T) []sim.Work {
	var work []sim.Work
	for i := range rapid.IntRange(0, 4).Draw(t, "readings") {
		if w, ok := sample(t, viewtest.Noon.Add(time.Duration(i-4)*40*time.Minute)); ok {
			work = append(work, viewtest.Read(w))
		}
	}
	for i := range rapid.IntRange(0, 2).Draw(t, "hours told") {
		if w, ok := sample(t, viewtest.Noon.Add(time.Duration(i+1)*time.Hour)); ok {
			work = append(work, viewtest.Wrote(viewtest.Noon, event.WeatherForecast{
				Source: "office", IssuedAt: viewtest.Noon,
				WindHeight: viewtest.As(unit.Length(10)), Samples: []event.Weather{w},
			}))
		}
	}
	if rapid.Bool().Draw(t, "shift") {
		work = append(work, viewtest.Wrote(viewtest.Noon.Add(-5*time.Hour),
			event.ShiftStarted{People: rapid.SampledFrom([]int{0, 3}).Draw(t, "people")}))
	}
	for i := range rapid.IntRange(0, 3).Draw(t, "batches") {
		ready := viewtest.Noon.Add(time.Duration(i-4) * time.Hour)
		id := event.Batch{Crew: "north", Day: "2031-05-12", Number: i + 1}
		b := event.BatchMixed{
			Batch: id, Mix: "face", SandMoisture: partAs[unit.Share](t, "moisture", 0.02, 0.05),
			Temperature: partAs[unit.Celsius](t, "mortar", 25, 34),
			Charges: []event.Charge{
				{Constituent: "cement", Amount: event.Amount{Mass: 42}},
				{Constituent: "sand", Amount: event.Amount{Mass: 85}},
				{Constituent: "water", Amount: event.Amount{Mass: 14}},
			},
		}
		if rapid.Bool().Draw(t, "no figures") {
			b.Charges = append(b.Charges, event.Charge{Constituent: "straw", Amount: event.Amount{Mass: 1}})
		}
		work = append(work, viewtest.Wrote(ready, b))
		test := event.BatchTested{
			Batch: id, UnitWeight: partAs[unit.Density](t, "unit weight", 2050, 2250),
			Temperature: partAs[unit.Celsius](t, "tested", 25, 34),
			Flow:        partAs[unit.Share](t, "flow", 0.9, 1.2), Air: partAs[unit.Share](t, "air by meter", 0.03,
				0.09),
		}
		if test.UnitWeight != nil || test.Temperature != nil || test.Flow != nil || test.Air != nil {
			work = append(work, viewtest.Wrote(ready.Add(time.Minute), test))
		}
		if rapid.Bool().Draw(t, "placed") {
			p := event.Placement{Batch: id, Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1}}
			if g := partAs[unit.Length](t, "gauge", 0.008, 0.014); g != nil {
				p.Gauges = append(p.Gauges, *g)
			}
			work = append(work, viewtest.Wrote(ready.Add(10*time.Minute), p))
		}
	}
	if rapid.Bool().Draw(t, "probe") {
		work = append(work, viewtest.Wrote(viewtest.Noon.Add(-time.Minute), event.CureReadings{
			Probe: "p1", Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1},
			Depth: partAs[unit.Length](t, "depth", 0.002, 0.01),
			Samples: []event.Reading{
				{At: viewtest.Noon.Add(-20 * time.Minute), Temperature: 24},
				{At: viewtest.Noon.Add(-2 * time.Minute), Temperature: 25},
			},
		}))
	}
	if rapid.Bool().Draw(t, "break") {
		work = append(work, viewtest.Wrote(viewtest.Noon, event.SpecimensBroken{
			Mix: "face", Shape: event.Cube,
			Size: viewtest.Ref(unit.Length(0.05)), Age: 24 * time.Hour, Loads: []unit.Force{30e3, 32e3},
		}))
	}
	if rapid.Bool().Draw(t, "stock") {
		work = append(work, viewtest.Wrote(viewtest.Noon.Add(-6*time.Hour),
			event.StockReceived{Material: "cement", Amount: event.Amount{Mass: 1000}}))
	}
	return work
}

// sums are figures that the record itself counts up, and flags' and joints' shares of a time: nought of them says that
// there was none. Every other number in a view comes of something that was read, which here is never nought.
var sums = map[string]bool{
	"batches": true, "placed_m3": true, "mixed_m3": true, "discarded_m3": true, "unplaced_m3": true, "left_m3": true,
	"mean_thickness_m": true,
	"p50":              true, "p90": true, "cumulative": true, "volume_m3": true, "used_kg": true,
	"used_today_kg": true,
	"received_kg":   true, "spoiled_kg": true,
	"joints_made": true, "joints_live": true, "readings": true, "tested": true, "consumed_low": true,
	"consumed_high": true,
	"moist_h":       true, "hours": true, "short_kg": true, "work_hours_p50": true, "work_hours_p90": true,
	"thickness_m": true, "breaks": true, "old_edges": true, "unjudged_min": true,
	"p05": true, "p10": true, "p25": true, "p75": true, "p95": true, "in_transit_batches": true, "finished_coats": true,
	"weighed_batches": true,
	"need_p50_kg":     true, "need_p90_kg": true, "lasts_batches": true,
	"gaps": true, "site_batches": true, "coats_batches": true, "yield_batches": true, "scatter_batches": true,
	"pace_hours": true,
}

// noughts are the paths of all numbers in a JSON document that are nought and no sums.
func noughts(path string, v any) []string {
	var all []string
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			if n, ok := x.(float64); ok && n == 0 && !sums[k] {
				all = append(all, path+"."+k)
				continue
			}
			all = append(all, noughts(path+"."+k, x)...)
		}
	case []any:
		for i, x := range v {
			all = append(all, noughts(fmt.Sprintf("%s[%d]", path, i), x)...)
		}
	}
	return all
}

// nought is a reading of nought as a page would show it. Volumes, masses and lengths are left out: they are sums.
var nought = regexp.MustCompile(
	`(^|[^0-9.,/–-])0(\.0+)?\s?(%|°C|°F|km/h|mph|m/s|kg/m²/h|lb/ft²/h|kg/m³|lb/ft³|MPa|psi|kPa|W/m²|people|batches/h)`)

// usedUp are lines of what grows from nought: the share of setting time that a joint has used up, of strength, of a
// chance.
var usedUp = regexp.MustCompile(`set used|initial set|EDGES|live|closing|COLD|chance|at most|moist|28-day`)

func TestNoViewShowsANoughtThatNobodyRead(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		now := viewtest.Noon.Add(time.Duration(rapid.IntRange(0, 150).Draw(t, "minutes later")) * time.Minute)
		s := viewtest.Site(t, anyWork(t)...)
		day, err := daily.DayOf(s, now, time.UTC, "")
		if err != nil {
			t.Fatal(err)
		}
		board, stock, left := daily.BoardOf(s, now, time.UTC), view.StockOf(s, now, time.UTC), ahead.ForecastOf(s, now,
			time.UTC)
		sky, _ := view.WeatherOf(s, now, time.UTC)
		zone, _ := view.ZoneOf(s, now, time.UTC, "A1")
		for name, k := range map[string]struct {
			view any
			text string
		}{
			"board": {board, report.Board(board, page(now))}, "day": {day, summary.Day(day, page(now))}, "weather": {
				sky,
				report.Weather(sky, page(now)),
			},
			"zone": {zone, report.Zone(zone, page(now))}, "forecast": {
				left,
				report.Forecast(left, page(now)),
			}, "stock": {stock, report.Stock(stock, page(now))},
		} {
			raw, err := json.Marshal(k.view)
			if err != nil {
				t.Fatal(err)
			}
			var doc any
			if err := json.Unmarshal(raw, &doc); err != nil {
				t.Fatal(err)
			}
			if wrong := noughts(name, doc); len(wrong) > 0 {
				t.Errorf("nobody read nought, and the JSON says it at %s:\n%s", strings.Join(wrong, ", "), raw)
			}
			for line := range strings.Lines(k.text) {
				if nought.MatchString(line) && !usedUp.MatchString(line) {
					t.Errorf("nobody read nought, and the %s says %q:\n%s", name, strings.TrimSpace(line), k.text)
				}
			}
			if strings.Contains(string(raw), "0001-01-01") || strings.Contains(k.text, "0001") {
				t.Errorf("the %s shows an instant that is none:\n%s", name, raw)
			}
		}
	})
}
