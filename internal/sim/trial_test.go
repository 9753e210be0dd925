package sim_test

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io/fs"
	"math"
	"math/rand/v2"
	"os"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/report"
	"hod/internal/report/summary"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view/daily"
)

// The trial is a shell of eighteen zones in three rows, two coats, three crews and three days of real hourly weather,
// with what people do: they weigh by hand, leave out along which edge they went, tip a bucket too much, come late, and
// treat in the morning what lay overnight.
const (
	trialColumns = 6
	mostOpen     = 15 // flags that a person can keep up with
)

var trialRows = []struct {
	row  string
	crew event.Crew
}{{"W", "west"}, {"C", "crown"}, {"E", "east"}}

func trialPlan() []event.Body {
	ref := func(s float64) *unit.As[unit.Share] { return &unit.As[unit.Share]{SI: unit.Share(s)} }
	plan := []event.Body{
		event.SitePlanned{
			Name: "Quarry shell", Place: "Tarnfell", Units: event.US, TimeZone: "America/New_York",
			WorkFrom: 7 * time.Hour, WorkTo: 12*time.Hour + 45*time.Minute,
		},
		event.MixPlanned{
			Mix: "face", Revision: 1, Air: ref(0.05), WaterLimit: 0.42, InitialSet: 270 * time.Minute,
			SetReference: &unit.As[unit.Celsius]{SI: 23}, Activation: 40,
			UnitWeight: &unit.As[unit.Density]{SI: 2240}, UnitWeightTolerance: ref(0.03),
			Constituents: []event.Constituent{
				{Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 94 * unit.Pound}, Gravity: 3.15},
				{
					Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 190 * unit.Pound}, Gravity: 2.65,
					Absorption: ref(0.01),
				},
				{
					Name: "plasticizer", Kind: event.Admixture, Amount: event.Amount{Mass: 0.4}, Gravity: 1.07,
					Solids: ref(0.4),
				},
				{Name: "water", Kind: event.Water, Amount: event.Amount{Mass: 16.2}, Gravity: 1},
			},
		},
	}
	for _, r := range trialRows {
		plan = append(plan, event.CrewPlanned{Crew: r.crew, Name: string(r.crew), People: 4})
	}
	zone := func(row, column int) event.Zone { return event.Zone(fmt.Sprintf("%s%d", trialRows[row].row, column)) }
	for row := range trialRows {
		for column := 1; column <= trialColumns; column++ {
			z := zone(row, column)
			plan = append(plan, event.ZonePlanned{Zone: z, Area: unit.As[unit.Area]{SI: 12}, Order: 10*row + column})
			for n := 1; n <= 2; n++ {
				plan = append(plan, event.CoatPlanned{
					Coat:      event.Coat{Zone: z, Face: event.Outer, Number: n},
					Thickness: unit.As[unit.Length]{SI: 0.0127}, Mix: "face",
				})
			}
			if column > 1 {
				plan = append(plan, event.EdgePlanned{
					A: zone(row, column-1), B: z,
					Length: unit.As[unit.Length]{SI: 3},
				})
			}
			if row > 0 {
				plan = append(plan, event.EdgePlanned{
					A: zone(row-1, column), B: z,
					Length: unit.As[unit.Length]{SI: 4},
				})
			}
		}
	}
	return plan
}

// hourly is real weather of three days from a date on; the test is skipped where the file is absent.
func hourly(t *testing.T, file, from string) map[int64]event.Weather {
	t.Helper()
	f, err := os.Open("../../../shared/data/" + file)
	if errors.Is(err, fs.ErrNotExist) {
		t.Skip("the open weather data lies beside this tree, in ../shared/data; it is absent, so this is not tried")
	}
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, name := range rows[0] {
		at[name] = i
	}
	first, err := time.Parse(time.DateOnly, from)
	if err != nil {
		t.Fatal(err)
	}
	all := map[int64]event.Weather{}
	for _, r := range rows[1:] {
		value := func(name string) (float64, bool) {
			x, err := strconv.ParseFloat(r[at[name]], 64)
			return x, err == nil
		}
		hour, err := time.Parse(time.RFC3339, r[at["time_hour"]])
		if err != nil {
			t.Fatal(err)
		}
		if hour.Before(first) || hour.After(first.AddDate(0, 0, 4)) {
			continue
		}
		w := event.Weather{At: hour}
		if x, ok := value("temp"); ok {
			w.Air = new(unit.Celsius(math.Round((x-32)/1.8*10) / 10))
		}
		if x, ok := value("humid"); ok {
			w.Humidity = new(unit.Share(x / 100))
		}
		if x, ok := value("wind_speed"); ok {
			w.Wind = new(unit.Speed(x * 0.44704))
		}
		if x, ok := value("precip"); ok {
			w.RainMillimetres = new(x * 25.4)
		}
		all[hour.Unix()] = w
	}
	return all
}

// trial is all that was written in three days from a date on.
func trial(t *testing.T, file, from string) ([]event.Event, time.Time, *time.Location) {
	t.Helper()
	in, err := time.LoadLocation("America/New_York")
	if err != nil {
		t.Skip("no time zones on this machine:", err)
	}
	sky := hourly(t, file, from)
	first, err := time.ParseInLocation(time.DateOnly, from, in)
	if err != nil {
		t.Fatal(err)
	}
	job := sim.Job{
		Plan: trialPlan(), First: first, Days: 3, Seed: 18, Late: 5 * time.Hour, HotDay: -1,
		Of: func(z event.Zone) event.Crew {
			for _, r := range trialRows {
				if r.row == string(z[:1]) {
					return r.crew
				}
			}
			return ""
		},
	}
	work, err := job.Work()
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(18, 3))
	var kept []sim.Work
	for _, w := range work {
		switch b := w.Body.(type) {
		case event.WeatherObserved:
			read, ok := sky[w.At.Truncate(time.Hour).Unix()]
			if !ok {
				continue
			}
			b.Samples, b.WindHeight = []event.Weather{read}, unit.As[unit.Length]{SI: 10}
			w.Body = b
		case event.BatchMixed:
			w.Body = byHand(r, b, sky[b.MixedTo.Truncate(time.Hour).Unix()])
		case event.BatchTested:
			b.Temperature = nil
			w.Body = b
		case event.Placement:
			if r.IntN(2) == 0 { // nobody says it every time
				b.Along = nil
			}
			w.Body = b
		case event.JointTreated:
			if r.IntN(6) == 0 { // forgotten
				continue
			}
		case event.CureReadings:
			continue
		}
		kept = append(kept, w)
	}
	events, err := simtest.Written(job.Plan, kept, first)
	if err != nil {
		t.Fatal(err)
	}
	now := first.AddDate(0, 0, 2).Add(18 * time.Hour)
	return slips(t, events, now.Add(-time.Hour)), now, in
}

// slips are what people do to a record: one placement corrected in two ways, a batch of which nobody says where it
// went, and another written twice under one number.
func slips(t *testing.T, events []event.Event, at time.Time) []event.Event {
	t.Helper()
	d := simtest.Continue(events)
	write := func(on event.Device, crew event.Crew, b event.Body) {
		t.Helper()
		if err := d.Write(on, crew, at, true, b); err != nil {
			t.Fatal(err)
		}
	}
	n := map[string]int{}
	for _, e := range events {
		kind := event.KindOf(e.Body)
		n[kind]++
		switch b := e.Body.(type) {
		case event.Placement:
			switch n[kind] {
			case 20:
				one, other := b, b
				one.Along, other.Along = []event.Zone{"W1"}, nil
				one.Part = event.Part{Share: &unit.As[unit.Share]{SI: 0.5}}
				write(e.Device, e.Crew, event.Amended{Target: e.Hash(), Body: one, Why: "half of it"})
				write("f1", "office", event.Amended{Target: e.Hash(), Body: other, Why: "asked the crew"})
			case 40:
				write(e.Device, e.Crew, event.Voided{Target: e.Hash(), Why: "wrong zone"})
			}
		case event.BatchMixed:
			if n[kind] == 60 {
				write(e.Device, e.Crew, b)
			}
		}
	}
	return d.Events
}

// byHand weighs a batch as people do: the bag as it comes, sand by the pail, water by eye up to what the mix allows.
func byHand(r *rand.Rand, b event.BatchMixed, sky event.Weather) event.BatchMixed {
	for i := range b.Charges {
		c := &b.Charges[i]
		switch c.Constituent {
		case "cement":
			c.Amount.Mass *= unit.Mass(1 - 0.01*r.Float64())
		case "sand":
			c.Amount.Mass *= unit.Mass(1 + 0.018*r.NormFloat64())
		case "plasticizer":
			c.Amount.Mass *= unit.Mass(1 + 0.015*r.NormFloat64())
		case "water":
			c.Amount.Mass *= unit.Mass(0.96 + 0.03*r.NormFloat64())
		}
	}
	if sky.Air != nil {
		b.Temperature = &unit.As[unit.Celsius]{SI: *sky.Air + 3}
	}
	return b
}

func TestAfterThreeDaysOfEighteenZonesNobodyHasMoreThanFifteenFlags(t *testing.T) {
	for _, k := range []struct{ name, file, from string }{
		{"July with a shower", "weather-2013-07-lga.csv", "2013-07-01"},
		{"July with wind", "weather-2013-07-lga.csv", "2013-07-10"},
		{"a mild week of July", "weather-2013-07-lga.csv", "2013-07-24"},
		{"January", "weather-2013-01-lga.csv", "2013-01-08"},
	} {
		t.Run(k.name, func(t *testing.T) {
			events, now, in := trial(t, k.file, k.from)
			s := fold.New("quarry", simtest.Root)
			for _, e := range events {
				s.Add(e)
			}
			v := daily.FlagsOf(s, now, in, false)
			lines, weighed := 0, 0
			for _, f := range v.Flags {
				lines += max(1, len(f.Lines))
				if f.Code == fold.Weighing {
					weighed += len(f.Lines)
				}
			}
			if 10*weighed > len(s.Batches()) {
				t.Errorf("%d of %d batches weighed by hand with care are flagged", weighed, len(s.Batches()))
			}
			text := report.FlagsShort(v, report.Page{In: in, Now: now})
			t.Logf("%d events, %d batches: %d open flags of %d facts, %d answered by the record\n%s", len(events),
				len(s.Batches()), v.Open, lines, v.Answered, text)
			if v.Open > mostOpen || len(s.Batches()) < 80 {
				t.Errorf("%d flags are open after %d batches; a person keeps up with %d\n%s", v.Open, len(s.Batches()),
					mostOpen,
					report.Flags(v, report.Page{In: in, Now: now}))
			}
		})
	}
}

// A page is 60 lines of 80 columns, as a printer has them.
func TestTheReportOfEachDayOfTheTrialFitsTwoPagesAndNamesEachOpenFlagOnce(t *testing.T) {
	events, now, in := trial(t, "weather-2013-07-lga.csv", "2013-07-01")
	s := fold.New("quarry", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	for day := range 3 {
		date := time.Date(2013, 7, 1+day, 0, 0, 0, 0, in).Format(time.DateOnly)
		v, err := daily.DayOf(s, now, in, date)
		if err != nil {
			t.Fatal(err)
		}
		text := summary.Day(v, report.Page{In: in, Now: now})
		lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
		if len(lines) > 120 {
			t.Errorf("%s is %d lines, more than two pages of 60:\n%s", date, len(lines), text)
		}
		for _, l := range lines {
			if n := utf8.RuneCountInString(l); n > 80 {
				t.Errorf("%s: a line of %d columns: %s", date, n, l)
			}
		}
		open := 0
		for _, f := range v.Flags {
			if !f.Open {
				continue
			}
			open++
			if n := strings.Count(text, " "+f.ID+" "+f.Code+":"); n != 1 {
				t.Errorf("%s names the open flag %s %s %d times", date, f.ID, f.Code, n)
			}
		}
		if crews := strings.Index(text, "CREWS"); open == 0 ||
			strings.Index(text, fmt.Sprintf("%d open", open)) > crews {
			t.Errorf("%s does not begin with its %d open flags:\n%s", date, open, text)
		}
		if all := summary.DayAll(v, report.Page{In: in, Now: now}); len(all) < len(text) && day == 1 {
			t.Errorf("all of %s is shorter than its two pages", date)
		}
	}
}

// However large the site: twenty times the zones, flags and joints of the trial still make two pages, which say how
// much more there is.
func TestTheReportOfADayFitsTwoPagesHoweverLongItsLists(t *testing.T) {
	events, now, in := trial(t, "weather-2013-07-lga.csv", "2013-07-01")
	s := fold.New("quarry", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	v, err := daily.DayOf(s, now, in, "2013-07-02")
	if err != nil {
		t.Fatal(err)
	}
	for range 20 {
		v.Flags, v.Joints, v.Zones, v.Left = append(v.Flags, v.Flags[:8]...), append(v.Joints, v.Joints[:30]...),
			append(v.Zones, v.Zones[:16]...), append(v.Left, v.Left[:4]...)
		v.Crews, v.Tests, v.Notes, v.Late = append(v.Crews, v.Crews[:3]...), append(v.Tests, v.Tests[:13]...),
			append(v.Notes, v.Notes[0]), append(v.Late, v.Notes[0])
	}
	text := summary.Day(v, report.Page{In: in, Now: now})
	if n := strings.Count(text, "\n"); n > 120 {
		t.Errorf("%d lines, more than two pages of 60:\n%s", n, text)
	}
	for _, want := range []string{" more: ", "more coats (--all)", "more crews (--all)", "--all`"} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, text)
		}
	}
}
