package cli

import (
	"errors"
	"strings"
	"testing"
	"time"
)

func zoneOf(t *testing.T, name string) *time.Location {
	t.Helper()
	in, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

func TestTimesAsPeopleWriteThem(t *testing.T) {
	in := zoneOf(t, "Europe/Lisbon") // an hour ahead of UTC in July
	now := time.Date(2026, 7, 18, 14, 5, 30, 0, in)
	for _, c := range []struct{ typed, on, want string }{
		{"10:42", "", "2026-07-18 10:42:00"},
		{" 10:42:15 ", "", "2026-07-18 10:42:15"},
		{"9:05", "", "2026-07-18 09:05:00"},
		{"2:05pm", "", "2026-07-18 14:05:00"},
		{"11 AM", "", "2026-07-18 11:00:00"},
		{"today 10:42", "", "2026-07-18 10:42:00"},
		{"yesterday 16:10", "", "2026-07-17 16:10:00"},
		{"Yesterday  4:10pm", "", "2026-07-17 16:10:00"},
		{"2026-07-16 16:10", "", "2026-07-16 16:10:00"},
		{"2026-07-16T16:10", "", "2026-07-16 16:10:00"},
		{"2026-07-16T16:10:00Z", "", "2026-07-16 17:10:00"},
		{"2026-07-16T16:10:00+03:00", "", "2026-07-16 14:10:00"},
		{"-20m", "", "2026-07-18 13:45:30"},
		{"-1h30", "", "2026-07-18 12:35:30"},
		{"20 min ago", "", "2026-07-18 13:45:30"},
		{"now", "", "2026-07-18 14:05:30"},
		{"14:06", "", "2026-07-18 14:06:00"}, // people round
		{"23:10", "2026-07-17", "2026-07-17 23:10:00"},
		{"yesterday 23:10", "2026-07-10", "2026-07-17 23:10:00"},
	} {
		got, err := when(c.typed, now, in, c.on)
		if err != nil {
			t.Errorf("%q on %q: %v", c.typed, c.on, err)
			continue
		}
		if s := got.In(in).Format(time.DateTime); s != c.want {
			t.Errorf("%q on %q is read as %s; want %s", c.typed, c.on, s, c.want)
		}
	}
}

func TestTimesThatAreRefused(t *testing.T) {
	in := zoneOf(t, "Europe/Lisbon")
	now := time.Date(2026, 7, 18, 14, 5, 0, 0, in)
	for _, c := range []struct{ typed, on, says string }{
		{"14:07", "", `still to come: this device's clock says 2026-07-18 14:05; for the day before write "yesterday 14:07"`},
		{"2026-07-19 10:00", "", "still to come"},
		{"2027-01-01T00:00:00Z", "", "still to come"},
		{"24:10", "", "is not a time; write 10:42"},
		{"10.42", "", "is not a time"},
		{"ten", "", "is not a time"},
		{"", "", "is not a time"},
		{"--20m", "", "is not a time"},
		{"-20", "", "is not a time"},
		{"tomorrow 10:00", "", "is not a time"},
		{"2026-02-30 10:00", "", "is not a time"},
		{"10:00\x1b[2J", "", "is not a time"},
		{"01:30", "2026-03-29", "does not exist on 2026-03-29: the clocks were put forward"},
	} {
		got, err := when(c.typed, now, in, c.on)
		var e *Error
		if !errors.As(err, &e) || e.Kind != Usage || !strings.Contains(e.Msg, c.says) || strings.Contains(e.Msg, "\x1b") {
			t.Errorf("%q on %q: %v, %v; want wrong usage that says %q", c.typed, c.on, got, err, c.says)
		}
	}
}

// Any words as a time end in one that is not to come, and that is read again as it is shown, or in an error for a person;
// in each of some places, on the day that --on says or on that of now.
func FuzzWhen(f *testing.F) {
	for _, s := range []string{
		"10:42", "yesterday 16:10", "-20m", "2026-07-18 14:05", "2:05pm", "2026-07-18T14:05:00Z", "20m ago", "now", "today 3 pm",
		"2026-07-16T16:10:00+03:00", "\u22121h30", "01:30", "00:00:59", "9999999h ago", "0001-01-01 00:00", "2026-03-29 01:59:60",
	} {
		f.Add(s, "", uint8(0))
	}
	f.Add("01:30", "2026-03-29", uint8(1))
	f.Add("02:30", "2026-10-25", uint8(2))
	f.Add("23:59", "yesterday", uint8(3))
	var places []*time.Location
	for _, name := range []string{"UTC", "Europe/Lisbon", "America/Denver", "Australia/Lord_Howe", "Pacific/Apia"} {
		in, err := time.LoadLocation(name)
		if err != nil {
			f.Fatal(err)
		}
		places = append(places, in)
	}
	now := time.Date(2026, 11, 18, 14, 5, 0, 0, time.UTC)
	f.Fuzz(func(t *testing.T, s, on string, place uint8) {
		in := places[int(place)%len(places)]
		got, err := when(s, now, in, on)
		if err != nil {
			plainRefusal(t, err)
			return
		}
		if got.After(now.Add(ahead)) {
			t.Fatalf("%q is read as %s, which is still to come at %s", s, got, now)
		}
		if year := got.UTC().Year(); year < 1 || year > 9999 {
			return // no form has such a year
		}
		again, err := when(got.UTC().Format(time.RFC3339), now, in, "")
		if err != nil || !again.Equal(got.Truncate(time.Second)) {
			t.Fatalf("%q on %q is read as %s, and that as %s: %v", s, on, got, again, err)
		}
	})
}
