package terminal

import (
	"errors"
	"strings"
	"testing"
	"time"
	"unicode"

	"hod/internal/unit"
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
		{
			"14:07", "",
			`still to come: this device's clock says 2026-07-18 14:05; for the day before write "yesterday 14:07"`,
		},
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
		if !errors.As(err, &e) || e.Kind != Usage || !strings.Contains(e.Msg, c.says) ||
			strings.Contains(e.Msg, "\x1b") {
			t.Errorf("%q on %q: %v, %v; want wrong usage that says %q", c.typed, c.on, got, err, c.says)
		}
	}
}

// Between 01:00 and 02:00 on 25 October 2026 the clocks in Lisbon showed every time twice: at UTC+1, then at UTC.
func TestAnHourThatCameTwiceIsAskedAbout(t *testing.T) {
	in := zoneOf(t, "Europe/Lisbon")
	morning := time.Date(2026, 10, 25, 9, 0, 0, 0, time.UTC)
	for _, typed := range []string{"01:30", "1:30am", "2026-10-25 01:30", "today 01:30"} {
		_, err := when(typed, morning, in, "")
		var e *Error
		if !errors.As(err, &e) || e.Kind != Usage || !strings.Contains(e.Msg, "01:30 came twice on 2026-10-25") ||
			!strings.Contains(e.Msg, "2026-10-25T01:30+01:00 for the first or 2026-10-25T01:30Z for the second") {
			t.Errorf("%q: %v", typed, err)
		}
		var asked [2]time.Time
		got, err := TimeReader{
			Now: morning, Location: in,
			Which: func(a, b time.Time) (time.Time, error) { asked = [2]time.Time{a, b}; return b, nil },
		}.Past(typed,
			"")
		if want := time.Date(2026, 10, 25, 1, 30, 0, 0, time.UTC); err != nil || !got.Equal(want) ||
			!asked[1].Equal(want) || !asked[0].Equal(want.Add(-time.Hour)) {
			t.Errorf("%q, the second of %v: %v, %v", typed, asked, got, err)
		}
	}
	for typed, want := range map[string]string{
		"00:59": "2026-10-24T23:59:00Z", "02:00": "2026-10-25T02:00:00Z",
		"2026-10-25T01:30+01:00": "2026-10-25T00:30:00Z", "2026-10-25T01:30Z": "2026-10-25T01:30:00Z",
	} {
		if got, err := when(typed, morning, in, ""); err != nil || got.UTC().Format(time.RFC3339) != want {
			t.Errorf("%q is read as %v, %v; want %s", typed, got, err, want)
		}
	}
	// 01:45 for the first time: the second 01:30 is still to come
	early := time.Date(2026, 10, 25, 0, 45, 0, 0, time.UTC)
	if got, err := when("01:30", early, in, ""); err != nil || !got.Equal(early.Add(-15*time.Minute)) {
		t.Errorf("01:30 at 01:45 for the first time is read as %v, %v", got, err)
	}
	if _, err := when("1:30", morning, zoneOf(t, "America/Denver"), "2026-11-01"); err == nil {
		t.Error("a day to come was read")
	}
}

// A day with its month goes by the site's order, and the order is told; the other is taken where only that is a date.
func TestADayAndAMonthGoByTheSitesOrder(t *testing.T) {
	now := time.Date(2026, 11, 28, 10, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		units             unit.System
		typed, day, order string
	}{
		{unit.US, "11/26", "2026-11-26", MonthDay},
		{unit.US, "12/1", "2025-12-01", MonthDay}, // the last one
		{unit.US, "4/5/2026", "2026-04-05", MonthDay},
		{unit.US, "4/5/25", "2025-04-05", MonthDay},
		{unit.US, "26/11", "2026-11-26", dayMonth},
		{unit.US, "5.4.", "2026-04-05", dayMonth},
		{unit.Metric, "4/5", "2026-05-04", dayMonth},
		{unit.Metric, "11/26", "2026-11-26", MonthDay},
		{unit.Metric, "26.11", "2026-11-26", dayMonth},
		{unit.Metric, "2026-07-18", "2026-07-18", ""},
	} {
		order := ""
		r := TimeReader{
			Now: now, Location: time.UTC, Units: c.units,
			Took: func(_ string, _ time.Time, as string) { order = as },
		}
		if got, err := r.Day(c.typed); err != nil || got.Format(time.DateOnly) != c.day || order != c.order {
			t.Errorf("%s of a %s site is read as %v, %q, %v; want %s, %q", c.typed, c.units, got, order, err, c.day,
				c.order)
		}
	}
	for _, typed := range []string{"13/13", "2/30", "1/2/3/4", "/", "11/", "x/1", "26.13", "0/0"} {
		if got, err := (TimeReader{Now: now, Location: time.UTC}).Day(typed); err == nil {
			t.Errorf("%q is read as %v", typed, got)
		}
	}
}

// Any words as a time end in one that is not to come, and that is read again as it is shown, or in an error for a
// person; in each of some places, on the day that --on says or on that of now.
func FuzzWhen(f *testing.F) {
	for _, s := range []string{
		"10:42", "yesterday 16:10", "-20m", "2026-07-18 14:05", "2:05pm", "2026-07-18T14:05:00Z", "20m ago", "now",
		"today 3 pm",
		"2026-07-16T16:10:00+03:00", "\u22121h30", "01:30", "00:00:59", "9999999h ago", "0001-01-01 00:00",
		"2026-03-29 01:59:60",
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
			readable(t, err)
			return
		}
		if got.After(now.Add(ClockTolerance)) {
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

// A logger that writes local time has the hour twice in its file, one pass after the other; neither is lost.
func TestAnHourThatIsTwiceInATableIsTakenInTheOrderOfTheFile(t *testing.T) {
	r := TimeColumn{In: zoneOf(t, "Europe/Lisbon")}
	for _, row := range [][2]string{
		{"2026-10-25 00:30", "2026-10-24T23:30:00Z"},
		{"2026-10-25 01:00", "2026-10-25T00:00:00Z"},
		{"2026-10-25 01:30", "2026-10-25T00:30:00Z"},
		{"2026-10-25 01:00", "2026-10-25T01:00:00Z"},
		{"2026-10-25 01:30", "2026-10-25T01:30:00Z"},
		{"2026-10-25 02:00", "2026-10-25T02:00:00Z"},
		{"2026-10-25T01:30:00+01:00", "2026-10-25T00:30:00Z"},
	} {
		if got, err := r.Read(row[0]); err != nil || got.UTC().Format(time.RFC3339) != row[1] {
			t.Errorf("%s is read as %v, %v; want %s", row[0], got, err, row[1])
		}
	}
	if r.first != 2 || r.second != 2 {
		t.Errorf("%d of the first and %d of the second pass", r.first, r.second)
	}
}

// when is reader.when for one time, where nobody is asked.
func when(s string, now time.Time, in *time.Location, on string) (time.Time, error) {
	return TimeReader{Now: now, Location: in}.Past(s, on)
}

// readable fails unless an error can be shown on a terminal as it is.
func readable(t *testing.T, err error) {
	t.Helper()
	var known *Error
	if !errors.As(err, &known) {
		t.Fatalf("an error of no kind: %v", err)
	}
	if strings.ContainsFunc(err.Error(), unicode.IsControl) {
		t.Fatalf("a control character reaches the terminal: %q", err)
	}
}
