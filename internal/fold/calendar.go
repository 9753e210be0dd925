package fold

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/planned"
)

// standstill is the run of days without a batch from which the site stood still: such days say nothing of what days of
// the week are free. A choice of this program, no source.
const standstill = 4

// WorkDay is what is known of work on one date.
type WorkDay struct {
	From, To time.Duration // after local midnight; both 0 where there is no work
	Chance   float64       // that there is work at all: 1 or 0 where it is said or plain, between where it is guessed
}

// Calendar is when the site works: by the plan, and where that is silent by what the record shows.
type Calendar struct {
	plan   *planned.Plan
	worked [7]int // days of the week on which a batch was mixed, and on which none was, between the first and the last
	idle   [7]int
}

// Calendar of the site, by what the record shows until an instant in the site's place.
func (s *Site) Calendar(now time.Time, in *time.Location) Calendar {
	c := Calendar{plan: s.Plan()}
	today := now.In(in).Format(time.DateOnly)
	days := map[string]bool{}
	for _, b := range s.Batches() {
		if b.ID.Day < today {
			days[b.ID.Day] = true
		}
	}
	var before time.Time
	for _, day := range slices.Sorted(maps.Keys(days)) {
		at, err := time.Parse(time.DateOnly, day)
		if err != nil {
			continue
		}
		c.worked[at.Weekday()]++
		c.rested(before, at)
		before = at
	}
	if at, err := time.Parse(time.DateOnly, today); err == nil {
		c.rested(before, at)
	}
	return c
}

// rested counts the days between two, where they are no standstill and no exception that the plan makes.
func (c *Calendar) rested(before, at time.Time) {
	if n := int(at.Sub(before).Hours()/24) - 1; before.IsZero() || n < 1 || n >= standstill {
		return
	}
	for d := before.AddDate(0, 0, 1); d.Before(at); d = d.AddDate(0, 0, 1) {
		if _, except := c.exception(d.Format(time.DateOnly)); !except {
			c.idle[d.Weekday()]++
		}
	}
}

func (c Calendar) exception(date string) (event.WorkException, bool) {
	i := slices.IndexFunc(c.plan.Except, func(x event.WorkException) bool { return x.Date == date })
	if i < 0 {
		return event.WorkException{}, false
	}
	return c.plan.Except[i], true
}

// On a local date.
func (c Calendar) On(date time.Time) WorkDay {
	if x, ok := c.exception(date.Format(time.DateOnly)); ok {
		if x.To == 0 {
			return WorkDay{}
		}
		return WorkDay{x.From, x.To, 1}
	}
	if len(c.plan.Week) > 0 {
		for _, w := range c.plan.Week {
			if slices.Contains(w.Days, date.Weekday()) {
				return WorkDay{w.From, w.To, 1}
			}
		}
		return WorkDay{}
	}
	if chance := c.chance(date.Weekday()); chance > 0 {
		return WorkDay{c.plan.WorkFrom, c.plan.WorkTo, chance}
	}
	return WorkDay{}
}

// chance that a day of the week is worked, where the plan does not say. Monday to Friday are. A Saturday or Sunday is
// free where more of them passed without a batch than with one; a Sunday of which none has passed yet is even odds.
func (c Calendar) chance(day time.Weekday) float64 {
	switch {
	case day != time.Saturday && day != time.Sunday:
		return 1
	case c.idle[day] > c.worked[day]:
		return 0
	case c.worked[day] == 0 && day == time.Sunday:
		return 0.5
	}
	return 1
}

// Guessed says in a sentence what of the calendar is guessed from the record; empty where the plan says it.
func (c Calendar) Guessed() string {
	if len(c.plan.Week) > 0 {
		return ""
	}
	say := func(day time.Weekday) string {
		seen := fmt.Sprintf("%d without a batch, %d with one", c.idle[day], c.worked[day])
		switch c.chance(day) {
		case 0:
			return fmt.Sprintf("%ss are free (%s)", day, seen)
		case 1:
			if c.worked[day]+c.idle[day] == 0 {
				return fmt.Sprintf("%ss are worked (none has passed)", day)
			}
			return fmt.Sprintf("%ss are worked (%s)", day, seen)
		}
		return fmt.Sprintf("%ss are as likely free as worked (none has passed)", day)
	}
	return "guessed from the record, since the plan names no working days: " + say(time.Saturday) + ", " +
		say(time.Sunday)
}
