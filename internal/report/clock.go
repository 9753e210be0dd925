package report

import (
	"time"
)

// clock shows an instant on the site's clock: the date only where it is another day than the page's, the offset only
// where it is another than the page names at its head.
func (s *sheet) clock(t time.Time) string {
	if t.IsZero() {
		return notKnown
	}
	here, now := t.In(s.in), s.now.In(s.in)
	form := "15:04"
	if here.Year() != now.Year() {
		form = "2 Jan 2006 15:04"
	} else if here.YearDay() != now.YearDay() {
		form = "2 Jan 15:04"
	}
	if here.Format("-07:00") != s.asOf.In(s.in).Format("-07:00") {
		form += " -07:00"
	}
	return here.Format(form)
}

func (s *sheet) maybeClock(t *time.Time) string {
	if t == nil {
		return ""
	}
	return s.clock(*t)
}

// clocks is "14:40–15:35"; the second may be missing or the same.
func (s *sheet) clocks(from, to *time.Time) string {
	switch {
	case from == nil:
		return s.maybeClock(to)
	case to == nil:
		return s.clock(*from)
	}
	a, b := s.clock(*from), s.clock(*to)
	if a == b {
		return a
	}
	if y, m, d := from.In(s.in).Date(); len(b) > 5 {
		if y2, m2, d2 := to.In(s.in).Date(); y == y2 && m == m2 && d == d2 { // the day once
			b = to.In(s.in).Format("15:04")
			if to.In(s.in).Format("-07:00") != from.In(s.in).Format("-07:00") {
				b = s.clock(*to)
			}
		}
	}
	return a + "–" + b
}

// day is the local date with its weekday.
func (s *sheet) day(t time.Time) string { return t.In(s.in).Format("Mon 2 Jan 2006") }

// date reads the 2006-01-02 of a view; what is not one is shown as it is.
func date(s string) string {
	t, err := time.Parse(time.DateOnly, s)
	if err != nil {
		return s
	}
	return t.Format("Monday 2 January 2006")
}
