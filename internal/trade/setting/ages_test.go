package setting_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// The ages are those of which Consumed is the share, whatever second they are counted from.
func TestAgesAreTheShareConsumedTimesTheSet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		set := setting.Set{Initial: 4 * time.Hour, Reference: 23, Ea: setting.SuggestedEnergy}
		from := time.Date(2031, 5, 12, 7, 0, rapid.IntRange(0, 179).Draw(t, "seconds"), 0, time.UTC)
		mean, swing := rapid.Float64Range(0, 35).Draw(t, "mean"), rapid.Float64Range(0, 12).Draw(t, "swing")
		temp := func(at time.Time) unit.Celsius {
			return unit.Celsius(mean + swing*math.Sin(at.Sub(from).Hours()/4))
		}
		ages, err := setting.Ages(set, from, 300, temp)
		if err != nil || len(ages) != 301 {
			t.Fatalf("%d ages: %v", len(ages), err)
		}
		for _, i := range []int{0, 1, 2, 59, 300} {
			share, err := setting.Consumed(set, from, from.Add(time.Duration(i)*time.Minute), temp)
			if err != nil {
				t.Fatal(err)
			}
			if got := float64(ages[i]) / float64(set.Initial.Milliseconds()); math.Abs(got-share) > 1e-6 {
				t.Fatalf("after %d minutes %v of the set, not %v", i, got, share)
			}
		}
	})
}

func TestAgesAreRefusedWhereConsumedIs(t *testing.T) {
	set := setting.Set{Initial: time.Hour, Reference: 23, Ea: setting.SuggestedEnergy}
	if _, err := setting.Ages(set, time.Time{}, 1, nil); err == nil {
		t.Error("ages without a temperature")
	}
	if _, err := setting.Ages(set, time.Time{}, 1, setting.Constant(500)); err == nil {
		t.Error("ages at 500 °C")
	}
	if _, err := setting.Ages(setting.Set{}, time.Time{}, 1, setting.Constant(20)); err == nil {
		t.Error("ages of no set")
	}
}
