package forecast

import (
	"fmt"
	"time"
)

// Weather says of an hour what its forecast means for the work.
type Weather int

const (
	Unknown Weather = iota // no forecast reaches this hour; counted as fit, and the answer says so
	Fit                    // within the site's limits
	Unfit                  // beyond them: nothing is placed
)

// Shift is a stretch of the working day by the clock on the wall, as time since midnight.
type Shift struct{ From, To time.Duration }

// Week holds the shifts of each day, by time.Weekday (Sunday is 0). A day without shifts is free.
type Week [7][]Shift

// EveryDay is a week whose days are all alike.
func EveryDay(shifts ...Shift) Week {
	var w Week
	for d := range w {
		w[d] = shifts
	}
	return w
}

// Hour is a stretch of working time of at most a clock hour.
type Hour struct {
	From    time.Time
	Length  time.Duration
	Weather Weather
}

// mostDays bounds how far ahead working hours are laid out.
const mostDays = 3 * 366

// WorkHours lays out the working hours from an instant until another, at most about three years on, cut at the clock's
// hours so that each has one hour's forecast. weather is asked for each with its start; nil knows of no weather. The
// wall clock is that of from's location.
func WorkHours(week Week, from, until time.Time, weather func(hour time.Time) Weather) ([]Hour, error) {
	for d, shifts := range week {
		end := time.Duration(0)
		for i, s := range shifts {
			if s.From < 0 || s.To > 24*time.Hour || s.From >= s.To {
				return nil, fmt.Errorf("%v, shift %d from %v to %v: must start before it ends, within the 24 h of one day",
					time.Weekday(d), i+1, s.From, s.To)
			}
			if s.From < end {
				return nil, fmt.Errorf("%v, shift %d starts at %v, before the one ahead of it ends at %v", time.Weekday(d), i+1, s.From, end)
			}
			end = s.To
		}
	}
	if until.Sub(from) > mostDays*24*time.Hour {
		return nil, fmt.Errorf("working hours from %s until %s: at most %d days can be laid out",
			from.Format(time.DateOnly), until.Format(time.DateOnly), mostDays)
	}
	var hours []Hour
	for day := 0; ; day++ {
		y, m, d := from.Date()
		midnight := time.Date(y, m, d+day, 0, 0, 0, 0, from.Location())
		if !midnight.Before(until) {
			return hours, nil
		}
		// Where clocks are put forward a day may have no midnight; noon names its weekday safely.
		for _, s := range week[time.Date(y, m, d+day, 12, 0, 0, 0, from.Location()).Weekday()] {
			clock := func(at time.Duration) time.Time {
				return time.Date(y, m, d+day, 0, 0, int(at/time.Second), 0, from.Location())
			}
			start, end := clock(s.From), clock(s.To)
			if start.Before(from) {
				start = from
			}
			if end.After(until) {
				end = until
			}
			for start.Before(end) {
				next := start.Add(time.Hour - sinceFullHour(start))
				if next.After(end) {
					next = end
				}
				h := Hour{From: start, Length: next.Sub(start)}
				if weather != nil {
					h.Weather = weather(start)
				}
				hours = append(hours, h)
				start = next
			}
		}
	}
}

func sinceFullHour(t time.Time) time.Duration {
	return time.Duration(t.Minute())*time.Minute + time.Duration(t.Second())*time.Second + time.Duration(t.Nanosecond())
}

// Worked is the working time in hours whose weather is not unfit.
func Worked(hours []Hour) time.Duration {
	sum := time.Duration(0)
	for _, h := range hours {
		if h.Weather != Unfit {
			sum += h.Length
		}
	}
	return sum
}
