package forecast

import (
	"fmt"
	"sort"
	"time"
)

// Moment is when something is reached with a stated probability.
type Moment struct {
	Reached bool          // false: not within the hours laid out, and the rest says nothing
	At      time.Time     // to the minute, rounded up
	Worked  time.Duration // working time until then
	Days    int           // days with working time until then, that of At included
	Assumed bool          // rests on hours that no forecast reaches
}

// Finish is when the last batch is done: as early as P10 one time in ten, by P50 as often as not, by P90 nine times in
// ten.
type Finish struct{ P10, P50, P90 Moment }

// Finishes says when the batches needed are done, at that pace, over hours in order of time (WorkHours). Hours of unfit
// weather pass without work. Batches and pace are taken to know nothing of each other.
func Finishes(need Distribution, pace Pace, hours []Hour) (Finish, error) {
	if err := pace.valid(); err != nil {
		return Finish{}, err
	}
	for i, h := range hours {
		if h.Length <= 0 {
			return Finish{}, fmt.Errorf("hour %d from %s lasts %v: must be above 0", i+1, h.From.Format(time.DateTime), h.Length)
		}
		if i > 0 && h.From.Before(hours[i-1].From.Add(hours[i-1].Length)) {
			return Finish{}, fmt.Errorf("hour %d from %s starts before the one ahead of it ends: put them in order", i+1, h.From.Format(time.DateTime))
		}
	}
	by := func(p float64) Moment {
		minutes := int(Worked(hours) / time.Minute)
		worked := time.Duration(sort.Search(minutes+1, func(m int) bool {
			return doneWithin(need, pace, time.Duration(m)*time.Minute) >= p-tie
		})) * time.Minute
		return momentAt(worked, hours)
	}
	return Finish{P10: by(0.1), P50: by(0.5), P90: by(0.9)}, nil
}

// doneWithin is the probability that all batches needed are done within so much working time.
func doneWithin(need Distribution, pace Pace, worked time.Duration) float64 {
	p := 0.0
	for n, chance := range need.chances() {
		p += chance * pace.Within(n, worked)
	}
	return p
}

// momentAt finds the instant at which that much working time has passed.
func momentAt(worked time.Duration, hours []Hour) Moment {
	m := Moment{Worked: worked}
	left := worked
	var day string
	for _, h := range hours {
		if h.Weather == Unfit {
			continue
		}
		if on := h.From.Format(time.DateOnly); on != day {
			day = on
			m.Days++
		}
		m.Assumed = m.Assumed || h.Weather == Unknown
		if left <= h.Length {
			m.Reached = true
			m.At = h.From.Add(left)
			if whole := m.At.Truncate(time.Minute); whole.Before(m.At) {
				m.At = whole.Add(time.Minute)
			}
			return m
		}
		left -= h.Length
	}
	return Moment{}
}
