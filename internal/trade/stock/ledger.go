package stock

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"hod/internal/unit"
)

// Kind is what an entry says happened to the material.
type Kind int

const (
	Received Kind = iota + 1 // came onto the site
	Used                     // charged into a batch
	Spoiled                  // lost: wet, set, spilt
	Counted                  // found on hand, all of it
)

func (k Kind) String() string {
	switch k {
	case Received:
		return "received"
	case Used:
		return "used"
	case Spoiled:
		return "spoiled"
	case Counted:
		return "counted"
	}
	return fmt.Sprintf("kind %d", int(k))
}

// Entry is one fact about the material.
type Entry struct {
	At     time.Time
	Tie    string // orders entries of one instant, ascending: the name of the event that says it
	Kind   Kind
	Amount unit.Mass // 0 or more: of a count what was found, else what came or went
	Lot    string    // as the delivery or the bag names it; may be empty
}

// Step is the mass below which a balance counts as zero, so that the last bit of a sum decides nothing: 0.1 g.
const Step = unit.Gram / 10

// Line is an entry with the balance that it leaves.
type Line struct {
	Entry
	OnHand unit.Mass // by the book, after it; below 0 where the ledger is short
	// Discrepancy is, of a count, what was found beyond the book; below 0 for what was missing. Else 0.
	Discrepancy unit.Mass
	// Opens tells of a count that no delivery or count stands before: it says what the ledger starts from, and its
	// discrepancy is no sign of a mistake.
	Opens bool
	Short unit.Mass // by how much more went out than the book holds, after it; 0 where it is not short
}

// Ledger is the material's entries in order, with their balances. The zero value is an empty ledger.
type Ledger struct {
	Material string
	Lines    []Line
}

// Keep puts the entries in order (time, then tie, then kind, amount and lot, so that no order is left to chance) and
// works out the balances from an empty store. It refuses an amount below 0 or that is not a number, and a kind that it
// does not know, naming the entry. The entries are not changed.
func Keep(material string, entries []Entry) (Ledger, error) {
	for _, e := range entries {
		if e.Kind < Received || e.Kind > Counted {
			return Ledger{}, fmt.Errorf("%s, entry %s: %v is not received, used, spoiled or counted", material, name(e),
				e.Kind)
		}
		if !(e.Amount >= 0) || math.IsInf(float64(e.Amount), 0) {
			return Ledger{}, fmt.Errorf("%s, entry %s: %v kg %v: must be 0 or more", material, name(e),
				float64(e.Amount), e.Kind)
		}
	}
	sorted := slices.Clone(entries)
	slices.SortFunc(sorted, func(a, b Entry) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.Tie, b.Tie), cmp.Compare(a.Kind, b.Kind),
			cmp.Compare(a.Amount, b.Amount), cmp.Compare(a.Lot, b.Lot))
	})
	l := Ledger{Material: material}
	var book sum
	opened := false
	for _, e := range sorted {
		line := Line{Entry: e}
		switch e.Kind {
		case Received:
			book.add(e.Amount)
		case Used, Spoiled:
			book.add(-e.Amount)
		case Counted:
			line.Opens = !opened
			line.Discrepancy = settle(e.Amount - book.value())
			book = sum{total: float64(e.Amount)}
		}
		opened = opened || e.Kind == Received || e.Kind == Counted
		line.OnHand = settle(book.value())
		if math.IsInf(float64(line.OnHand), 0) || math.IsNaN(float64(line.OnHand)) {
			return Ledger{}, fmt.Errorf("%s, entry %s: %v kg %v is too much to add up: check its unit", material,
				name(e), float64(e.Amount), e.Kind)
		}
		line.Short = max(0, -line.OnHand)
		l.Lines = append(l.Lines, line)
	}
	return l, nil
}

func name(e Entry) string {
	if e.Tie != "" {
		return e.Tie
	}
	return "of " + e.At.Format(time.DateTime)
}

// settle calls a balance that differs from zero by rounding alone zero.
func settle(m unit.Mass) unit.Mass {
	if m > -Step && m < Step {
		return 0
	}
	return m
}

// sum adds with the lost low part carried along (Neumaier), so that a season of small charges leaves no drift.
type sum struct{ total, lost float64 }

func (s *sum) add(m unit.Mass) {
	x := float64(m)
	t := s.total + x
	if math.Abs(s.total) >= math.Abs(x) {
		s.lost += (s.total - t) + x
	} else {
		s.lost += (x - t) + s.total
	}
	s.total = t
}

func (s *sum) value() unit.Mass { return unit.Mass(s.total + s.lost) }
