package next

import (
	"errors"
	"testing"
)

// Two crews work side by side in one coat: the second begins its second batch while the first is being placed, but
// never before that is begun.
func TestACellIsTakenAfterAnotherThatNeedNotBePlaced(t *testing.T) {
	j := &Job{
		Cells: []Cell{
			{Name: "first", Minutes: 20, Set: 60 * msPerMinute},
			{Name: "second", Minutes: 20, Set: 60 * msPerMinute, After: []int{0}},
		},
		Crews: []Crew{{Name: "north", Pace: 100}, {Name: "south", Free: 5, Pace: 100}},
	}
	if err := j.Check(); err != nil {
		t.Fatal(err)
	}
	s := newTable(j).start()
	if s.open(1) {
		t.Error("the second cell may be taken before the first")
	}
	s.take(0, 0, 0)
	if from, to := s.span(1, 1); !s.open(1) || from != 5 || to != 25 {
		t.Errorf("once the first is taken, the second may be: %v, from %d to %d", s.open(1), from, to)
	}
	j.Cells[0].Needs = []int{1}
	var m *Mistake
	if err := j.Check(); !errors.As(err, &m) || m.Path != "cells[1].after[0]" {
		t.Errorf("two cells that wait for each other: %v", err)
	}
}
