package event

import (
	"time"

	hodv1 "hod/proto/hod/v1"
)

// WorkDays are the hours of work on some days of the week.
type WorkDays struct {
	Days     []time.Weekday
	From, To time.Duration // after local midnight, whole minutes
}

// WorkException is one date on which work is otherwise than on its weekday.
type WorkException struct {
	Date     string        // local, 2006-01-02
	From, To time.Duration // after local midnight, whole minutes; both 0: no work that day
}

// checkWeek is of the working week and its exceptions: no day of the week in two of them, no date twice.
func (b SitePlanned) checkWeek() error {
	seen, dates := map[time.Weekday]bool{}, map[string]bool{}
	return first(
		all("run of working days", b.Week, 0, func(w WorkDays) error {
			if w.To <= w.From {
				return cannot("work cannot end at %s before it begins at %s, both after midnight", w.To, w.From)
			}
			return first(
				checkWhole("beginning of work", w.From, time.Minute, 24*time.Hour),
				checkWhole("end of work", w.To, time.Minute, 24*time.Hour),
				all("day of the week", w.Days, 1, func(d time.Weekday) error {
					if d < time.Sunday || d > time.Saturday {
						return cannot("there is no day of the week %d; they go from 1, Monday, to 7, Sunday", int(d))
					}
					if seen[d] {
						return cannot("%s has its hours already; each day of the week has one beginning and one end", d)
					}
					seen[d] = true
					return nil
				}),
			)
		}),
		all("exception of the working days", b.Except, 0, func(x WorkException) error {
			if day, err := time.Parse(time.DateOnly, x.Date); err != nil || checkTime("the exception", day) != nil {
				return cannot("%q is not a date; one looks like 2026-12-25", clip(x.Date))
			}
			if dates[x.Date] {
				return cannot("%s is there already; a date is one exception", x.Date)
			}
			dates[x.Date] = true
			if x.To < x.From || x.To == x.From && x.To != 0 {
				return cannot("work on %s cannot end at %s before it begins at %s, both after midnight", x.Date, x.To,
					x.From)
			}
			return first(checkWhole("beginning of work", x.From, time.Minute, 24*time.Hour),
				checkWhole("end of work", x.To, time.Minute, 24*time.Hour))
		}),
	)
}

// proto counts days as ISO 8601 does: 1 is Monday, 7 is Sunday.
func (w WorkDays) proto() *hodv1.WorkDays {
	p := &hodv1.WorkDays{FromMin: wholes(w.From, time.Minute), ToMin: wholes(w.To, time.Minute)}
	for _, d := range w.Days {
		if d == time.Sunday {
			d = 7
		}
		p.Weekdays = append(p.Weekdays, uint32(d))
	}
	return p
}

func workDaysOf(p *hodv1.WorkDays) WorkDays {
	w := WorkDays{From: whole(p.GetFromMin(), time.Minute), To: whole(p.GetToMin(), time.Minute)}
	for _, n := range p.GetWeekdays() {
		switch d := time.Weekday(count(n)); d {
		case 7:
			w.Days = append(w.Days, time.Sunday)
		case 0: // no day by ISO 8601: check refuses it
			w.Days = append(w.Days, -1)
		default:
			w.Days = append(w.Days, d)
		}
	}
	return w
}

func (x WorkException) proto() *hodv1.WorkException {
	return &hodv1.WorkException{Date: x.Date, FromMin: wholes(x.From, time.Minute), ToMin: wholes(x.To, time.Minute)}
}

func workExceptionOf(p *hodv1.WorkException) WorkException {
	return WorkException{
		Date: p.GetDate(), From: whole(p.GetFromMin(), time.Minute),
		To: whole(p.GetToMin(), time.Minute),
	}
}
