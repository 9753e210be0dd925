package advice

import (
	"testing"
	"time"
)

func TestTheHoursOfADayAreThoseOfItsClocksWhenTheyArePutForward(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		t.Skip("no time zones here: ", err)
	}
	// Clocks there were put forward on 29 March 2026 at 02:00 (directive 2000/84/EC: the last Sunday of March, 01:00
	// UTC).
	forward := time.Date(2026, 3, 29, 0, 0, 0, 0, vienna)
	if got, want := onClock(forward, 7*time.Hour), time.Date(2026, 3, 29, 5, 0, 0, 0, time.UTC); !got.Equal(want) {
		t.Errorf("07:00 is %v, want %v", got, want)
	}
	before := time.Date(2026, 3, 28, 0, 0, 0, 0, vienna)
	if got, want := onClock(before, 7*time.Hour+30*time.Minute), time.Date(2026, 3, 28, 6, 30, 0, 0,
		time.UTC); !got.Equal(want) {
		t.Errorf("the day before, 07:30 is %v, want %v", got, want)
	}
}
