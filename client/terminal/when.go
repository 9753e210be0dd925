package terminal

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"hod/internal/unit"
)

// ClockTolerance is how far a typed time may lie in the future: a minute is as exact as people type.
const ClockTolerance = time.Minute

// TimeReader reads days and times as people write them, by the clock of a place and relative to now.
type TimeReader struct {
	Now      time.Time
	Location *time.Location
	Units    unit.System // decides the order of day and month
	// which of two asks for the instant meant where a clock time came twice; nil: it is refused.
	Which func(first, second time.Time) (time.Time, error)
	// tells how a date without a year's place was read; nil: nobody
	Took func(text string, day time.Time, order string)
}

// Past reads a time as people write it, by the clock of the place r.in and relative to r.now: 10:42, 10:42:30, 2:05pm,
// yesterday 16:10, -20m, "2026-07-18 14:05", now. The day of a bare clock time is that of now, or on if it is given. A
// time to come is refused, as is one that the clocks skipped in spring, and one that they showed twice in autumn.
func (r TimeReader) Past(s, on string) (time.Time, error) {
	t, err := r.Any(s, on)
	if err != nil {
		return time.Time{}, err
	}
	if t.After(r.Now.Add(ClockTolerance)) {
		local := t.In(r.Location)
		hint := ""
		if SameDay(local, r.Now.In(r.Location)) && bareClock(s) {
			hint = fmt.Sprintf("; for the day before write \"yesterday %s\"", local.Format("15:04"))
		}
		return time.Time{}, Usagef("%s is still to come: this device's clock says %s%s",
			local.Format("2006-01-02 15:04"), r.Now.In(r.Location).Format("2006-01-02 15:04"), hint)
	}
	return t, nil
}

// Any is when, for times that may lie in the future too.
func (r TimeReader) Any(s, on string) (time.Time, error) {
	text := strings.ToLower(strings.Join(strings.Fields(s), " "))
	switch {
	case text == "":
		return time.Time{}, badTime(s)
	case text == "now":
		return r.Now, nil
	}
	for _, ago := range []func() (string, bool){
		func() (string, bool) { return strings.CutPrefix(text, "-") },
		func() (string, bool) { return strings.CutPrefix(text, MinusSign) },
		func() (string, bool) { return strings.CutSuffix(text, " ago") },
	} {
		if d, ok := ago(); ok {
			return before(s, d, r.Now)
		}
	}
	for _, form := range []string{time.RFC3339, "2006-01-02t15:04z07:00"} {
		if t, err := time.Parse(strings.ToUpper(form), strings.ToUpper(text)); err == nil {
			return t, nil
		}
	}
	day, clock := on, text
	if head, rest, ok := cutDay(text); ok {
		day, clock = head, rest
	}
	date := r.Now.In(r.Location)
	if day != "" {
		var err error
		if date, err = r.Day(day); err != nil {
			return time.Time{}, err
		}
	}
	for _, form := range []string{"15:04", "15:04:05", "3:04pm", "3:04 pm", "3pm", "3 pm"} {
		if c, err := time.Parse(form, clock); err == nil {
			return r.onDate(date, c)
		}
	}
	return time.Time{}, badTime(s)
}

// onDate is a clock time on a date; which of the two where the clocks were put back over it.
func (r TimeReader) onDate(date, c time.Time) (time.Time, error) {
	t := time.Date(date.Year(), date.Month(), date.Day(), c.Hour(), c.Minute(), c.Second(), 0, r.Location)
	if t.Hour() != c.Hour() || t.Minute() != c.Minute() {
		return time.Time{}, Usagef("%s does not exist on %s: the clocks were put forward", c.Format("15:04"),
			date.Format(time.DateOnly))
	}
	first, second, twice := bothInstants(t)
	switch {
	case !twice:
		return t, nil
	case second.After(r.Now.Add(ClockTolerance)): // only the first has been
		return first, nil
	case r.Which != nil:
		return r.Which(first, second)
	}
	return time.Time{}, TwiceError(first, second)
}

// bothInstants are the two instants at which a clock on the wall shows the same time, where the clocks were put back
// over it.
func bothInstants(t time.Time) (first, second time.Time, twice bool) {
	begins, ends := t.ZoneBounds()
	_, is := t.Zone()
	if !begins.IsZero() {
		_, was := begins.Add(-time.Second).Zone()
		if other := t.Add(-time.Duration(was-is) * time.Second); was > is && other.Before(begins) {
			return other, t, true
		}
	}
	if !ends.IsZero() {
		_, next := ends.Zone()
		if other := t.Add(time.Duration(is-next) * time.Second); is > next && !other.Before(ends) {
			return t, other, true
		}
	}
	return t, t, false
}

// TwiceError is the error for a clock time that came twice on a day, and says how to write each of the two.
func TwiceError(first, second time.Time) error {
	return Usagef("%s came twice on %s, when the clocks were put back; write %s for the first or %s for the second",
		first.Format("15:04"), first.Format(time.DateOnly), first.Format("2006-01-02T15:04Z07:00"),
		second.Format("2006-01-02T15:04Z07:00"))
}

func badTime(s string) error {
	return Usagef("%q is not a time; write 10:42, \"yesterday 16:10\", -20m or \"2026-07-18 14:05\"", Safe(s))
}

func before(s, ago string, now time.Time) (time.Time, error) {
	d, err := unit.ParseDuration(strings.TrimSpace(ago))
	if err != nil || d < 0 {
		return time.Time{}, badTime(s)
	}
	return now.Add(-d), nil
}

// cutDay splits a text that begins with a day.
func cutDay(text string) (day, rest string, ok bool) {
	at := strings.IndexAny(text, " ")
	if at < 0 && len(text) > len(time.DateOnly) && text[len(time.DateOnly)] == 't' { // 2026-07-18t14:05
		at = len(time.DateOnly)
	}
	if at < 0 {
		return "", "", false
	}
	day, rest = text[:at], text[at+1:]
	if _, err := time.Parse(time.DateOnly, day); err != nil && day != "today" && day != "yesterday" && !shortDate(day) {
		return "", "", false
	}
	return day, rest, true
}

func bareClock(s string) bool {
	_, _, dated := cutDay(strings.ToLower(s))
	return !dated
}

// Day reads the name of a day: today, yesterday, 2026-07-18, 7/18 or 18/7 in the site's order. It gives that day's
// noon, which every day has.
func (r TimeReader) Day(s string) (time.Time, error) {
	local := r.Now.In(r.Location)
	noon := time.Date(local.Year(), local.Month(), local.Day(), 12, 0, 0, 0, r.Location)
	text := strings.ToLower(strings.TrimSpace(s))
	switch {
	case text == "", text == "today":
		return noon, nil
	case text == "yesterday":
		return noon.AddDate(0, 0, -1), nil
	case shortDate(text):
		return r.shortDay(text)
	}
	t, err := time.ParseInLocation(time.DateOnly, text, r.Location)
	if err != nil {
		return time.Time{}, Usagef("%q is not a day; write 2026-07-18, %s, yesterday or today", Safe(s), r.ExampleDay())
	}
	return time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, r.Location), nil
}

// shortDate reports whether a word is written as a day and a month, with or without a year: 11/26, 26/11/2026, 26.11.
func shortDate(word string) bool {
	fields := strings.FieldsFunc(word, func(c rune) bool { return c == '/' || c == '.' })
	if len(fields) < 2 || len(fields) > 3 || !strings.ContainsAny(word, "/.") || len(word) > len("26/11/2026.") ||
		strings.Contains(word, "/") == strings.Contains(word, ".") {
		return false
	}
	for _, f := range fields {
		if _, err := strconv.ParseUint(f, 10, 16); err != nil {
			return false
		}
	}
	return true
}

// The orders of day and month.
const (
	MonthDay = "month/day"
	dayMonth = "day/month"
)

// order is that of day and month: that of the site's units, the one that a country that has them writes. With points
// between them the day always comes first.
func (r TimeReader) order(word string) string {
	if r.Units == unit.US && !strings.Contains(word, ".") {
		return MonthDay
	}
	return dayMonth
}

// ExampleDay is a day as people of the site write it.
func (r TimeReader) ExampleDay() string {
	if r.order("") == MonthDay {
		return "7/18"
	}
	return "18/7"
}

// shortDay reads 11/26 in the site's order, or in the other where only that gives a date; without a year it is the last
// such day. It tells how it was read.
func (r TimeReader) shortDay(word string) (time.Time, error) {
	order := r.order(word)
	day, ok := r.inOrder(word, order)
	if !ok && !strings.Contains(word, ".") {
		order = map[string]string{MonthDay: dayMonth, dayMonth: MonthDay}[order]
		day, ok = r.inOrder(word, order)
	}
	if !ok {
		return time.Time{}, Usagef("%q is no day, neither as %s nor as %s; write 2026-07-18 or %s", Safe(word),
			MonthDay, dayMonth, r.ExampleDay())
	}
	if r.Took != nil {
		r.Took(word, day, order)
	}
	return day, nil
}

func (r TimeReader) inOrder(word, order string) (time.Time, bool) {
	var n [3]int
	for i, f := range strings.FieldsFunc(word, func(c rune) bool { return c == '/' || c == '.' }) {
		n[i], _ = strconv.Atoi(f)
	}
	month, day, year := n[0], n[1], n[2]
	if order == dayMonth {
		month, day = day, month
	}
	local := r.Now.In(r.Location)
	said := year != 0
	switch {
	case !said:
		year = local.Year()
	case year < 100:
		year += local.Year() / 100 * 100
	}
	t := time.Date(year, time.Month(month), day, 12, 0, 0, 0, r.Location)
	if !said && t.Format(time.DateOnly) > local.Format(time.DateOnly) {
		t = time.Date(year-1, time.Month(month), day, 12, 0, 0, 0, r.Location)
	}
	return t, int(t.Month()) == month && t.Day() == day
}

// SameDay reports whether two instants have the same date, each in its own location.
func SameDay(a, b time.Time) bool {
	return a.Format(time.DateOnly) == b.Format(time.DateOnly)
}
