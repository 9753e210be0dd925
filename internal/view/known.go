package view

// What each view needs to say that something is known or absent, and when it was.

import (
	"math"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// SiteName is the name that the plan gives the site, or its id where it gives none.
func SiteName(s *fold.Site) string {
	if n := s.Plan().Name; n != "" {
		return n
	}
	return s.ID
}

// Rounded rounds to a billionth, so that two machines that differ in the last bit of a sum forecast the same.
func Rounded(x float64) float64 { return math.Round(x*1e9) / 1e9 }

// Sooner orders instants, those that never come last.
func Sooner(a, b *time.Time) int {
	switch {
	case a == nil && b == nil:
		return 0
	case a == nil:
		return 1
	case b == nil:
		return -1
	}
	return a.Compare(*b)
}

// FaceName is empty where no face is meant.
func FaceName(f event.Face) string {
	if f == event.AnyFace {
		return ""
	}
	return f.String()
}

// Instant points at an instant that is known; nil for the zero time.
func Instant(t time.Time) *time.Time {
	if t.IsZero() {
		return nil
	}
	t = t.UTC()
	return &t
}

// ClockOn shows an instant by the clock on the site's wall, with its date where that is not today's.
func ClockOn(t, now time.Time, in *time.Location) string {
	if t, now = t.In(in), now.In(in); t.Format(time.DateOnly) != now.Format(time.DateOnly) {
		return t.Format("2006-01-02 15:04")
	}
	return t.Format("15:04")
}

// Number points at a number that is known.
func Number[Q ~float64](q Q) *float64 { return new(float64(q)) }

// Maybe points at a number that may not be known.
func Maybe[Q ~float64](q *Q) *float64 {
	if q == nil {
		return nil
	}
	return Number(*q)
}

// Positive points at a number that is above zero where it is known.
func Positive[Q ~float64](q Q) *float64 {
	if q <= 0 {
		return nil
	}
	return Number(q)
}

// StartOfDay is midnight of the day of t, in the place of t.
func StartOfDay(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
}
