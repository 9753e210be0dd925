package stock

import (
	"fmt"
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
	return fmt.Sprintf(
		"%s: ledger short by %s: more went out than was received or counted; enter the delivery that is missing, or count",
		l.Material, unit.Both(unit.Metric, unit.Computed(b.Short), unit.System.Mass))
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
