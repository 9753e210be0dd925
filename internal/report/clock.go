package report

import (
	"time"
)

// Clock shows an instant on the site's clock: the date only where it is another day than the page's, the offset only
// where it is another than the page names at its head.
func (s *Sheet) Clock(t time.Time) string {
	if t.IsZero() {
		return NotKnown
	}
	here, now := t.In(s.In), s.Now.In(s.In)
	form := "15:04"
	if here.Year() != now.Year() {
		form = "2 Jan 2006 15:04"
	} else if here.YearDay() != now.YearDay() {
		form = "2 Jan 15:04"
	}
	if here.Format("-07:00") != s.AsOf.In(s.In).Format("-07:00") {
		form += " -07:00"
	}
	return here.Format(form)
}

// MaybeClock is Clock of an instant that may not be known.
func (s *Sheet) MaybeClock(t *time.Time) string {
	if t == nil {
		return ""
	}
	return s.Clock(*t)
}

// Clocks is "14:40–15:35"; the second may be missing or the same.
func (s *Sheet) Clocks(from, to *time.Time) string {
	switch {
	case from == nil:
		return s.MaybeClock(to)
	case to == nil:
		return s.Clock(*from)
	}
	a, b := s.Clock(*from), s.Clock(*to)
	if a == b {
		return a
	}
	if y, m, d := from.In(s.In).Date(); len(b) > 5 {
		if y2, m2, d2 := to.In(s.In).Date(); y == y2 && m == m2 && d == d2 { // the day once
			b = to.In(s.In).Format("15:04")
			if to.In(s.In).Format("-07:00") != from.In(s.In).Format("-07:00") {
				b = s.Clock(*to)
			}
		}
	}
	return a + "–" + b
}

// Day is the local date with its weekday.
func (s *Sheet) Day(t time.Time) string { return t.In(s.In).Format("Mon 2 Jan 2006") }

// Date reads the 2006-01-02 of a view; what is not one is shown as it is.
func Date(s string) string {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return s
	}
	return t.Format("Monday 2 January 2006")
}
