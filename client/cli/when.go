package cli

import (
	"fmt"
	"strings"
	"time"

	"hod/internal/unit"
)

// ahead is how far a typed time may lie in the future: a minute is as exact as people type.
const ahead = time.Minute

// when reads a time as people write it, by the clock of the place in and relative to now: 10:42, 10:42:30, 2:05pm,
// yesterday 16:10, -20m, "2026-07-18 14:05", now. The day of a bare clock time is that of now, or on if it is given. A
// time to come is refused, as is one that the clocks skipped in spring.
func when(s string, now time.Time, in *time.Location, on string) (time.Time, error) {
	t, err := whenever(s, now, in, on)
	if err != nil {
		return time.Time{}, err
	}
	if t.After(now.Add(ahead)) {
		local := t.In(in)
		hint := ""
		if sameDay(local, now.In(in)) && bareClock(s) {
			hint = fmt.Sprintf("; for the day before write \"yesterday %s\"", local.Format("15:04"))
		}
		return time.Time{}, usage("%s is still to come: this device's clock says %s%s", local.Format("2006-01-02 15:04"), now.In(in).Format("2006-01-02 15:04"), hint)
	}
	return t, nil
}

// whenever is when, for times that may lie in the future too.
func whenever(s string, now time.Time, in *time.Location, on string) (time.Time, error) {
	text := strings.ToLower(strings.Join(strings.Fields(s), " "))
	local := now.In(in)
	switch {
	case text == "":
		return time.Time{}, badTime(s)
	case text == "now":
		return now, nil
	}
	if ago, ok := strings.CutPrefix(text, "-"); ok {
		return before(s, ago, now)
	}
	if ago, ok := strings.CutPrefix(text, "\u2212"); ok {
		return before(s, ago, now)
	}
	if ago, ok := strings.CutSuffix(text, " ago"); ok {
		return before(s, ago, now)
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
	date := local
	if day != "" {
		var err error
		if date, err = dayOf(day, now, in); err != nil {
			return time.Time{}, err
		}
	}
	for _, form := range []string{"15:04", "15:04:05", "3:04pm", "3:04 pm", "3pm", "3 pm"} {
		c, err := time.Parse(form, clock)
		if err != nil {
			continue
		}
		t := time.Date(date.Year(), date.Month(), date.Day(), c.Hour(), c.Minute(), c.Second(), 0, in)
		if t.Hour() != c.Hour() || t.Minute() != c.Minute() {
			return time.Time{}, usage("%s does not exist on %s: the clocks were put forward", c.Format("15:04"), date.Format(time.DateOnly))
		}
		return t, nil
	}
	return time.Time{}, badTime(s)
}

func badTime(s string) error {
	return usage("%q is not a time; write 10:42, \"yesterday 16:10\", -20m or \"2026-07-18 14:05\"", safe(s))
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
	if _, err := time.Parse(time.DateOnly, day); err != nil && day != "today" && day != "yesterday" {
		return "", "", false
	}
	return day, rest, true
}

func bareClock(s string) bool {
	_, _, dated := cutDay(strings.ToLower(s))
	return !dated
}

// dayOf reads the name of a day: today, yesterday, 2026-07-18. It gives that day's noon, which every day has.
func dayOf(s string, now time.Time, in *time.Location) (time.Time, error) {
	local := now.In(in)
	noon := time.Date(local.Year(), local.Month(), local.Day(), 12, 0, 0, 0, in)
	switch strings.ToLower(strings.TrimSpace(s)) {
	case "", "today":
		return noon, nil
	case "yesterday":
		return noon.AddDate(0, 0, -1), nil
	}
	t, err := time.ParseInLocation(time.DateOnly, strings.TrimSpace(s), in)
	if err != nil {
		return time.Time{}, usage("%q is not a day; write 2026-07-18, yesterday or today", safe(s))
	}
	return time.Date(t.Year(), t.Month(), t.Day(), 12, 0, 0, 0, in), nil
}

func sameDay(a, b time.Time) bool {
	return a.Format(time.DateOnly) == b.Format(time.DateOnly)
}
