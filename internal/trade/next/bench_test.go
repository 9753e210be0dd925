package next

import "testing"

func BenchmarkSolve4x5(b *testing.B) {
	j := grid(4, 5, 15, 84)
	for b.Loop() {
		Solve(j)
	}
}

func BenchmarkSearch400(b *testing.B) {
	j := grid(16, 25, 20, 123)
	for _, name := range []string{"south", "east", "west"} {
		j.Crews = append(j.Crews, Crew{Name: name, Pace: 100})
	}
	for b.Loop() {
		Search(j)
	}
}

// Advice to one of four crews where a third of the shell is placed, on so many cells: what a phone or a server takes
// for one answer. The hot day is the one on which beams are searched, too.
func BenchmarkAdvise100Cells(b *testing.B) { benchAdvise(b, 10, 10) }
func BenchmarkAdvise400Cells(b *testing.B) { benchAdvise(b, 16, 25) }

func benchAdvise(b *testing.B, rows, columns int) {
	j := grid(rows, columns, 20, 123)
	j.Lead, j.Joint = 12, UsualJoint
	j.Crews = nil
	for _, name := range []string{"north", "south", "east", "west"} {
		j.Crews = append(j.Crews, Crew{Name: name, Pace: 100})
	}
	s := newTable(j).start()
	for range rows * columns / 3 {
		who, _ := s.crew()
		if cell := s.oldest(-1); cell >= 0 {
			s.take(who, cell, 0)
			continue
		}
		for cell := range j.Cells {
			if s.open(cell) {
				s.take(who, cell, 0)
				break
			}
		}
	}
	now := standing(j, s, million)
	who, _ := s.crew()
	for b.Loop() {
		if _, ok := Advise(Question{Job: now, Asks: who, Horizon: s.free[who] + 3*123, Spreads: UsualSpreads}); !ok {
			b.Fatal("no advice")
		}
	}
}
