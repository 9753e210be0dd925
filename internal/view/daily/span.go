package daily

import (
	"slices"
	"time"

	"hod/internal/fold"
	"hod/internal/view"
)

// TestsOf the whole record, in the order of its batches' days.
func TestsOf(s *fold.Site) []Test {
	var days []string
	for _, b := range s.Batches() {
		if len(b.Tests) > 0 {
			days = append(days, b.ID.Day)
		}
	}
	slices.Sort(days)
	var all []Test
	for _, day := range slices.Compact(days) {
		all = append(all, tests(s, day)...)
	}
	return all
}

// BreaksOf the whole record, by mix and time.
func BreaksOf(s *fold.Site) []BreakLine { return breaks(s, func(time.Time) bool { return true }) }

// WeatherOn is the weather of a date on which some was read.
type WeatherOn struct {
	Date string `json:"date"`
	WeatherDay
}

// WeatherOf each date until an instant.
func WeatherOf(s *fold.Site, now time.Time, in *time.Location) []WeatherOn {
	read, _ := s.Weather()
	var all []WeatherOn
	for _, k := range read {
		date := k.At.In(in).Format(time.DateOnly)
		if n := len(all); k.At.After(now) || n > 0 && all[n-1].Date == date {
			continue
		}
		from := view.StartOfDay(k.At.In(in))
		all = append(all, WeatherOn{
			date,
			weatherDay(s, dayOf{all: s, site: s, in: in, from: from, until: from.AddDate(0, 0, 1), at: now}),
		})
	}
	return all
}

// CorrectionsOf the whole record: what amended, took back or settled something, and what put a plan right.
func CorrectionsOf(s *fold.Site, in *time.Location) []view.Entry {
	return view.Entries(s, in, func(r *fold.Record) bool {
		return r.State != fold.SetAside && (isFix(r) || view.CorrectsPlan(s, r))
	})
}
