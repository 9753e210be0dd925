package forecast

import (
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/unit"
)

var workday = EveryDay(Shift{7 * time.Hour, 12 * time.Hour}, Shift{12*time.Hour + 30*time.Minute, 16 * time.Hour})

func at(day, hour, minute int) time.Time {
	return time.Date(2031, 7, day, hour, minute, 0, 0, time.UTC)
}

func TestWorkHoursFollowTheShifts(t *testing.T) {
	hours := must[[]Hour](t)(WorkHours(workday, at(1, 9, 40), at(2, 8, 0), func(h time.Time) Weather {
		if h.Hour() == 14 {
			return Unfit
		}
		return Fit
	}))
	var got []string
	for _, h := range hours {
		got = append(got, h.From.Format("2 15:04 ")+h.Length.String())
	}
	want := "1 09:40 20m0s, 1 10:00 1h0m0s, 1 11:00 1h0m0s, 1 12:30 30m0s, 1 13:00 1h0m0s, 1 14:00 1h0m0s, 1 15:00 1h0m0s, 2 07:00 1h0m0s"
	if s := strings.Join(got, ", "); s != want {
		t.Errorf("got  %s\nwant %s", s, want)
	}
	if w := Worked(hours); w != 5*time.Hour+50*time.Minute {
		t.Errorf("working time %v, want 5h50m without the unfit hour", w)
	}
}

func TestWorkHoursKeepToTheWallClock(t *testing.T) {
	zone, err := time.LoadLocation("America/Denver")
	if err != nil {
		t.Skip("no time zone data here")
	}
	// Clocks go forward on 9 March 2031 at 2:00: work still starts at seven by the clock.
	from := time.Date(2031, 3, 8, 18, 0, 0, 0, zone)
	hours := must[[]Hour](t)(WorkHours(workday, from, from.Add(24*time.Hour), nil))
	if h := hours[0].From; h.Hour() != 7 || h.Day() != 9 {
		t.Errorf("first hour %v, want 7:00 on the 9th", h)
	}
	if w := Worked(hours); w != 8*time.Hour+30*time.Minute {
		t.Errorf("working time %v, want 8h30m", w)
	}
	night := must[[]Hour](t)(WorkHours(EveryDay(Shift{0, 24 * time.Hour}), from.Add(6*time.Hour), from.Add(40*time.Hour), nil))
	if w := Worked(night[:23]); w != 23*time.Hour || night[22].From.Day() != 9 || night[23].From.Day() != 10 {
		t.Errorf("the short day has %v to hour %v", w, night[22].From)
	}
}

func TestFreeDaysHaveNoHours(t *testing.T) {
	w := workday
	w[time.Sunday] = nil
	// 6 July 2031 is a Sunday.
	if hours := must[[]Hour](t)(WorkHours(w, at(6, 0, 0), at(7, 0, 0), nil)); len(hours) != 0 {
		t.Errorf("Sunday has %d hours", len(hours))
	}
	if hours := must[[]Hour](t)(WorkHours(w, at(7, 0, 0), at(6, 0, 0), nil)); len(hours) != 0 {
		t.Errorf("an end before the start has %d hours", len(hours))
	}
}

// A pace known exactly and a count known exactly finish at one instant, found by hand: 17 batches of half an hour are
// 8.5 h; the 1st has 5.5 h fit from seven (11:00 and 14:00, 15:00 rained off), so 3 h are left for the 2nd.
func TestFinishByHand(t *testing.T) {
	pace := Pace{PerBatch: 30 * time.Minute, Weight: 1, Freedom: 1}
	hours := must[[]Hour](t)(WorkHours(workday, at(1, 0, 0), at(4, 0, 0), func(h time.Time) Weather {
		switch {
		case h.Day() == 1 && (h.Hour() == 11 || h.Hour() == 14 || h.Hour() == 15):
			return Unfit
		case h.Day() == 3:
			return Unknown
		}
		return Fit
	}))
	f := must[Finish](t)(Finishes(Certain(17), pace, hours))
	for name, m := range map[string]Moment{"10": f.P10, "50": f.P50, "90": f.P90} {
		if !m.Reached || !m.At.Equal(at(2, 10, 0)) || m.Days != 2 || m.Worked != 8*time.Hour+30*time.Minute || m.Assumed {
			t.Errorf("%s %%: %+v, want 10:00 on the second day", name, m)
		}
	}
	late := must[Finish](t)(Finishes(Certain(29), pace, hours)).P50
	if !late.Reached || !late.Assumed || !late.At.Equal(at(3, 7, 30)) || late.Days != 3 {
		t.Errorf("29 batches: %+v, want 7:30 on the third day, on weather not yet forecast", late)
	}
	if never := must[Finish](t)(Finishes(Certain(46), pace, hours)).P50; never.Reached {
		t.Errorf("46 batches do not fit in 22.5 h: %+v", never)
	}
	if none := must[Finish](t)(Finishes(Certain(0), pace, hours)).P90; !none.Reached || none.Worked != 0 {
		t.Errorf("nothing left: %+v", none)
	}
}

func TestFinishObeysItsLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pace := Pace{
			PerBatch: time.Duration(rapid.Int64Range(int64(5*time.Minute), int64(2*time.Hour)).Draw(t, "per batch")),
			Weight:   rapid.Float64Range(1, 30).Draw(t, "weight"), Freedom: rapid.Float64Range(1, 30).Draw(t, "freedom"),
		}
		pace.Scale = time.Duration(rapid.Float64Range(0, 0.6).Draw(t, "spread") * float64(pace.PerBatch))
		need, err := BatchesNormal(1, 0.1, unit.Volume(rapid.Float64Range(1, 40).Draw(t, "batches")))
		if err != nil {
			t.Fatal(err)
		}
		unfit := rapid.SliceOfN(rapid.Bool(), 24, 24).Draw(t, "unfit")
		hours := func(worse int) []Hour {
			hs, err := WorkHours(workday, at(1, 0, 0), at(28, 0, 0), func(h time.Time) Weather {
				if unfit[h.Hour()] || h.Hour() == worse {
					return Unfit
				}
				return Fit
			})
			if err != nil {
				t.Fatal(err)
			}
			return hs
		}
		f, err := Finishes(need, pace, hours(-1))
		if err != nil {
			t.Fatal(err)
		}
		if f.P90.Reached && (!f.P50.Reached || !f.P10.Reached || f.P50.At.After(f.P90.At) || f.P10.At.After(f.P50.At)) {
			t.Fatalf("not in order: %+v", f)
		}
		worse, err := Finishes(need, pace, hours(rapid.IntRange(7, 15).Draw(t, "worse")))
		if err != nil {
			t.Fatal(err)
		}
		if worse.P90.Reached && (!f.P90.Reached || worse.P90.At.Before(f.P90.At)) {
			t.Fatalf("worse weather finishes sooner: %+v, then %+v", f.P90, worse.P90)
		}
		worked := time.Duration(rapid.Int64Range(0, int64(12*time.Hour)).Draw(t, "worked"))
		d, err := pace.BatchesIn(worked)
		if err != nil {
			t.Fatal(err)
		}
		lawful(t, "batches in a day", d)
		for n := range d.Last() + 1 {
			if over := 1 - d.At(n); math.Abs(over-pace.Within(n+1, worked)) > 1e-9 {
				t.Fatalf("more than %d in %v: %g, %d within it: %g", n, worked, over, n+1, pace.Within(n+1, worked))
			}
		}
	})
}

func TestPaceLearnsFromIntervals(t *testing.T) {
	p := must[Pace](t)(LearnPace(PacePrior{}, []time.Duration{25 * time.Minute, 30 * time.Minute, 35 * time.Minute}))
	if p.PerBatch != 30*time.Minute || p.Scale != 5*time.Minute || math.Abs(p.PerHour()-2) > 1e-12 || p.Intervals != 3 {
		t.Errorf("got %+v, want 30 ± 5 min", p)
	}
	q := must[Pace](t)(LearnPace(PacePrior{PerBatch: 20 * time.Minute, Weight: 2, Spread: 0.3}, nil))
	if q.PerBatch != 20*time.Minute || q.Scale != 6*time.Minute {
		t.Errorf("got %+v, want the prior's 20 ± 6 min", q)
	}
	for _, c := range []struct {
		name string
		got  func() error
		says string
	}{
		{"one interval", func() error { _, err := LearnPace(PacePrior{}, []time.Duration{time.Hour}); return err }, "two completed intervals"},
		{"no time", func() error { _, err := LearnPace(PacePrior{}, []time.Duration{time.Hour, 0}); return err }, "interval 2 of 2"},
		{"a night among them", func() error {
			_, err := LearnPace(PacePrior{PerBatch: 10 * time.Minute, Weight: 30, Spread: 0.2}, []time.Duration{15 * time.Hour})
			return err
		}, "nights"},
		{"nothing learned", func() error { _, err := Pace{}.BatchesIn(time.Hour); return err }, "learn the pace"},
		{"finish without pace", func() error { _, err := Finishes(Certain(1), Pace{}, nil); return err }, "learn the pace"},
		{"hours out of order", func() error {
			_, err := Finishes(Certain(1), p, []Hour{{From: at(2, 7, 0), Length: time.Hour}, {From: at(1, 7, 0), Length: time.Hour}})
			return err
		}, "put them in order"},
		{"a shift that ends first", func() error {
			_, err := WorkHours(EveryDay(Shift{16 * time.Hour, 7 * time.Hour}), at(1, 0, 0), at(2, 0, 0), nil)
			return err
		}, "must start before it ends"},
		{"shifts that overlap", func() error {
			_, err := WorkHours(EveryDay(Shift{7 * time.Hour, 12 * time.Hour}, Shift{11 * time.Hour, 16 * time.Hour}), at(1, 0, 0), at(2, 0, 0), nil)
			return err
		}, "before the one ahead"},
		{"a hundred years", func() error {
			_, err := WorkHours(workday, at(1, 0, 0), at(1, 0, 0).AddDate(100, 0, 0), nil)
			return err
		}, "at most"},
	} {
		if err := c.got(); err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want an error that says %q", c.name, err, c.says)
		}
	}
}

func TestWhichMaterialRunsOutAndWhen(t *testing.T) {
	need := must[Distribution](t)(BatchesNormal(0.08, 0.004, 2)) // 25, and a few more
	stocks := []Stock{
		{"sand", 180, 180 * 40},
		{"cement", 42.5, 42.5 * 12},
		{"fibre", 0.7, -0.3},
		{"water reducer", 0.1, 0.1 * 3 * 9}, // 27 batches, in amounts that do not divide exactly
	}
	all := must[[]Supply](t)(Supplies(need, stocks))
	var names []string
	for _, s := range all {
		names = append(names, s.Material)
	}
	if got := strings.Join(names, ", "); got != "fibre, cement, water reducer, sand" {
		t.Errorf("order in which they run out: %s", got)
	}
	fibre, cement, reducer, sand := all[0], all[1], all[2], all[3]
	if fibre.Batches != 0 || fibre.Enough != 0 || math.Abs(float64(fibre.ShortP50)-(25*0.7+0.3)) > 1e-9 {
		t.Errorf("fibre, ledger short: %+v", fibre)
	}
	if cement.Batches != 12 || cement.Enough > 1e-9 || cement.NeedP50 != 25*42.5 || cement.ShortP50 != 13*42.5 || cement.ShortP90 < cement.ShortP50 {
		t.Errorf("cement: %+v", cement)
	}
	if reducer.Batches != 27 || reducer.Enough != need.At(27) || reducer.ShortP90 != 0 {
		t.Errorf("water reducer: %+v", reducer)
	}
	if sand.Enough != 1 || sand.ShortP90 != 0 {
		t.Errorf("sand: %+v", sand)
	}
	pace := Pace{PerBatch: 30 * time.Minute, Weight: 1, Freedom: 1}
	hours := must[[]Hour](t)(WorkHours(workday, at(1, 0, 0), at(9, 0, 0), nil))
	if out := must[Finish](t)(cement.RunsOut(pace, hours)); !out.P50.At.Equal(at(1, 13, 30)) {
		t.Errorf("12 batches of half an hour from seven, with a break at noon: %+v, want 13:30", out.P50)
	}
	// Tomorrow has time for 17 batches; the job needs more, the cement makes 12.
	day, supplies, err := Tomorrow(need, pace, 8*time.Hour+30*time.Minute, stocks[:2])
	if err != nil {
		t.Fatal(err)
	}
	if day.P50() != 17 || day.P90() != 17 {
		t.Errorf("tomorrow's batches %d and %d, want 17", day.P50(), day.P90())
	}
	if s := supplies[0]; s.Material != "cement" || s.Enough != 0 || s.ShortP90 != 5*42.5 {
		t.Errorf("tomorrow's cement: %+v, want 5 batches short", s)
	}
	if s := supplies[1]; s.Material != "sand" || s.Enough != 1 {
		t.Errorf("tomorrow's sand: %+v, want enough", s)
	}
	// The day before the last: what the job still needs bounds it.
	last, _, err := Tomorrow(Certain(3), pace, 8*time.Hour, nil)
	if err != nil || last.P90() != 3 {
		t.Errorf("three batches left: %+v, %v", last, err)
	}
	for _, bad := range []Stock{{"water", 0, 5}, {"water", unit.Mass(math.NaN()), 5}, {"water", 1, unit.Mass(math.Inf(1))}} {
		if _, err := Supplies(need, []Stock{bad}); err == nil || !strings.Contains(err.Error(), "water") {
			t.Errorf("%+v: got %v, want an error that names it", bad, err)
		}
	}
}
