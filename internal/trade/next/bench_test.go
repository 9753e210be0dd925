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
