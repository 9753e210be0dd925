package stock

import (
	"fmt"
	"math"
	"sort"
	"time"

	"hod/internal/unit"
)

// Balance is what the ledger says of an instant.
type Balance struct {
	OnHand unit.Mass // below 0 where the ledger is short
	Short  unit.Mass // by how much more went out than the book holds; 0 where it is not short
	// Counted tells whether a count stands behind the balance, and CountedAt when the last one was.
	Counted   bool
	CountedAt time.Time
}

// At is the balance at an instant, entries of that instant included. Before the first entry it is 0.
func (l Ledger) At(t time.Time) Balance {
	n := sort.Search(len(l.Lines), func(i int) bool { return l.Lines[i].At.After(t) })
	return l.after(n)
}

// Latest is the balance after the last entry.
func (l Ledger) Latest() Balance { return l.after(len(l.Lines)) }

func (l Ledger) after(n int) Balance {
	if n == 0 {
		return Balance{}
	}
	b := Balance{OnHand: l.Lines[n-1].OnHand, Short: l.Lines[n-1].Short}
	for i := n - 1; i >= 0 && !b.Counted; i-- {
		if l.Lines[i].Kind == Counted {
			b.Counted, b.CountedAt = true, l.Lines[i].At
		}
	}
	return b
}

// Shorts are the entries that made the ledger short, or shorter: where to look for what was not written down.
func (l Ledger) Shorts() []Line {
	var out []Line
	before := unit.Mass(0)
	for _, line := range l.Lines {
		if line.Short > before {
			out = append(out, line)
		}
		before = line.Short
	}
	return out
}

// Warning says in a sentence that more was used than the ledger holds at t, or nothing.
func (l Ledger) Warning(t time.Time) string {
	b := l.At(t)
	if b.Short == 0 {
		return ""
	}
	return fmt.Sprintf("%s: ledger short by %.4g kg: more went out than was received or counted; enter the delivery that is missing, or count",
		l.Material, float64(b.Short))
}

// Movement is what came and went over some time. Opening + Received − Used − Spoiled + Discrepancy = Closing.
type Movement struct {
	Opening, Received, Used, Spoiled unit.Mass
	Discrepancy                      unit.Mass // what counts found beyond the book
	Closing                          unit.Mass
}

// Between is the movement of the entries at from or later and before to.
func (l Ledger) Between(from, to time.Time) Movement {
	first := sort.Search(len(l.Lines), func(i int) bool { return !l.Lines[i].At.Before(from) })
	end := max(first, sort.Search(len(l.Lines), func(i int) bool { return !l.Lines[i].At.Before(to) }))
	return l.movement(first, end)
}

func (l Ledger) movement(first, end int) Movement {
	m := Movement{Opening: l.after(first).OnHand, Closing: l.after(end).OnHand}
	var received, used, spoiled, off sum
	for _, line := range l.Lines[first:end] {
		switch line.Kind {
		case Received:
			received.add(line.Amount)
		case Used:
			used.add(line.Amount)
		case Spoiled:
			spoiled.add(line.Amount)
		}
		off.add(line.Discrepancy)
	}
	m.Received, m.Used, m.Spoiled, m.Discrepancy = received.value(), used.value(), spoiled.value(), off.value()
	return m
}

// Day is the movement of one calendar day.
type Day struct {
	Date time.Time // its midnight
	Movement
}

// Days gives the movement of each calendar day on which there was an entry, in order, by the calendar of that place.
func (l Ledger) Days(place *time.Location) []Day {
	var days []Day
	for first := 0; first < len(l.Lines); {
		y, m, d := l.Lines[first].At.In(place).Date()
		end := first + 1
		for end < len(l.Lines) {
			if ey, em, ed := l.Lines[end].At.In(place).Date(); ey != y || em != m || ed != d {
				break
			}
			end++
		}
		days = append(days, Day{Date: time.Date(y, m, d, 0, 0, 0, 0, place), Movement: l.movement(first, end)})
		first = end
	}
	return days
}

// PerDay is the mean use over the days on which any was used, and how many those were; 0 and 0 where none was.
func (l Ledger) PerDay(place *time.Location) (rate unit.Mass, days int) {
	var used sum
	for _, d := range l.Days(place) {
		if d.Used > 0 {
			used.add(d.Used)
			days++
		}
	}
	if days == 0 {
		return 0, 0
	}
	return used.value() / unit.Mass(days), days
}

// Lasts is how many days' use at that rate the balance holds; 0 where the ledger is short. It refuses a rate that is not
// above 0, at which anything would last without end.
func (b Balance) Lasts(perDay unit.Mass) (days float64, err error) {
	if !(perDay > 0) || math.IsInf(float64(perDay), 0) {
		return 0, fmt.Errorf("use of %v kg a day must be above 0 to say how long the stock lasts", float64(perDay))
	}
	days = max(0, float64(b.OnHand/perDay))
	if math.IsInf(days, 0) {
		return 0, fmt.Errorf("use of %v kg a day is too little to say how long %v kg last", float64(perDay), float64(b.OnHand))
	}
	return days, nil
}
