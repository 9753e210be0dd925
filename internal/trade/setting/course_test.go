package setting_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/trade/setting"
	"hod/internal/unit"
)

func TestACourseIsConsumedAndTurnsToTheBitWhateverIsAskedInWhichOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := time.Date(2031, 5, 12, 9, 0, 0, 0,
			time.UTC).Add(time.Duration(rapid.Int64Range(0, int64(4*time.Minute)).Draw(t, "from")))
		mean, swing := rapid.Float64Range(-15, 45).Draw(t, "mean"), rapid.Float64Range(0, 60).Draw(t, "swing")
		temp := func(at time.Time) unit.Celsius {
			return unit.Celsius(mean + swing*math.Sin(at.Sub(from).Hours()/4))
		}
		set := setting.Set{
			Initial: time.Duration(rapid.IntRange(30, 600).Draw(t, "set")) * time.Minute, Reference: 23,
			Ea: 40000,
		}
		course := setting.NewCourse(set, from, temp)
		for range rapid.IntRange(1, 20).Draw(t, "questions") {
			if rapid.Bool().Draw(t, "consumed") {
				to := from.Add(time.Duration(rapid.Int64Range(-int64(time.Hour), int64(40*time.Hour)).Draw(t, "to")))
				if rapid.Bool().Draw(t, "on the grid") {
					to = to.Truncate(setting.Step)
				}
				got, bad := course.Consumed(to)
				want, err := setting.Consumed(set, from, to, temp)
				if got != want || (bad == nil) != (err == nil) {
					t.Fatalf("consumed until %s: %v, %v, not %v, %v", to, got, bad, want, err)
				}
				continue
			}
			share := rapid.SampledFrom([]float64{0, 0.5, 0.8, 1, 3.9, 4, 7}).Draw(t, "share")
			horizon := time.Duration(rapid.Int64Range(0, int64(72*time.Hour)).Draw(t, "horizon"))
			at, ok := course.Turns(share, horizon)
			wantAt, wantOK := setting.Turns(set, from, temp, share, horizon)
			if !at.Equal(wantAt) || ok != wantOK {
				t.Fatalf("turns %g within %s: %s, %t, not %s, %t", share, horizon, at, ok, wantAt, wantOK)
			}
		}
	})
}

func TestACourseLooksAtEachCellOnce(t *testing.T) {
	from, asked := time.Date(2031, 5, 12, 9, 1, 0, 0, time.UTC), 0
	course := setting.NewCourse(setting.Set{Initial: 150 * time.Minute, Reference: 23, Ea: 40000}, from,
		func(time.Time) unit.Celsius { asked++; return 20 })
	for i := range 1000 {
		if _, err := course.Consumed(from.Add(time.Duration(i) * time.Minute)); err != nil {
			t.Fatal(err)
		}
	}
	if asked > 2*1000 {
		t.Errorf("a thousand questions looked at the temperature %d times", asked)
	}
}
