package air

import (
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/event"
	"hod/internal/unit"
)

func TestTheReachOfASampleIsThatOfAScanOfAllReadings(t *testing.T) {
	scanned := func(t *Timeline, at time.Time) Span {
		got := Span{time.Time{}, at.AddDate(100, 0, 0)}
		for _, k := range t.Read {
			switch {
			case k.Air == nil:
			case k.At.Before(at):
				got.from = k.At.Add(-airHeld)
			case k.At.After(at):
				got.to = k.At.Add(airHeld)
				return got
			}
		}
		return got
	}
	rapid.Check(t, func(t *rapid.T) {
		begin, tl := time.Date(2031, 5, 12, 0, 0, 0, 0, time.UTC), &Timeline{}
		at := begin
		for range rapid.IntRange(0, 12).Draw(t, "readings") {
			at = at.Add(time.Duration(rapid.IntRange(0, 3).Draw(t, "hours later")) * time.Hour)
			w := event.Weather{At: at}
			if rapid.Bool().Draw(t, "air was read") {
				w.Air = new(unit.Celsius(20))
			}
			tl.Read = append(tl.Read, Sky{Weather: w})
		}
		tl.readAir = airOf(tl.Read)
		at = begin.Add(time.Duration(rapid.IntRange(-1, 30).Draw(t, "hour")) * time.Hour)
		got, want := tl.reach(at), scanned(tl, at)
		if !got.from.Equal(want.from) || !got.to.Equal(want.to) {
			t.Fatalf("a sample at %s reaches %v, not %v", at, got, want)
		}
	})
}
