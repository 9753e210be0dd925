package next

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// Names, and the order in which edges are told, are nothing that advice goes by: two devices that learned the same in
// another order give the same.
func TestOtherNamesAndAnotherOrderOfEdgesChangeNoAdvice(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		j.MayStop = false
		q := Question{Job: j, Horizon: 2000, Trials: 24, Spreads: UsualSpreads}
		before, ok := Advise(q)
		other := *j
		other.Cells = slices.Clone(j.Cells)
		for i := range other.Cells {
			other.Cells[i].Name = fmt.Sprint("renamed ", len(other.Cells)-i)
		}
		other.Edges = rapid.Permutation(slices.Clone(j.Edges)).Draw(t, "edges")
		for i := range other.Edges {
			if i%2 == 0 {
				other.Edges[i].A, other.Edges[i].B = other.Edges[i].B, other.Edges[i].A
			}
		}
		q.Job = &other
		after, again := Advise(q)
		if ok != again || before.Cell != after.Cell || before.Cold != after.Cold || before.Mean != after.Mean ||
			before.Slack != after.Slack {
			t.Fatalf("advised %+v, and then %+v", before.Choice, after.Choice)
		}
	})
}

// Where all goes as expected, who follows the advice and asks again is told to go on, or what costs less.
func TestWhoFollowsAdviceIsToldToGoOn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		j.MayStop, j.Crews = false, j.Crews[:1]
		s := newTable(j).start()
		q := Question{Job: j, Horizon: 2000, Trials: 8}
		a, ok := Advise(q)
		stated := s.cost + a.Mean
		for ok {
			s.take(0, a.Cell, 0)
			q.Job, q.Last, q.Oldest = standing(j, s, million), a.Following(), a.Oldest
			a, ok = Advise(q)
		}
		if s.left == 0 && s.cost > stated {
			t.Fatalf("the first answer said %v m, and following the advice came to %v m", stated.Metres(),
				s.cost.Metres())
		}
	})
}

// Fifty small instances of several shapes, all goes as expected: following the advice costs at most 1.05 times the
// exact optimum together, and every whole order there is is found.
func TestAdviceOnSmallShellsIsNearTheOptimum(t *testing.T) {
	var advised, optimal Cost
	whole, found := 0, 0
	for i := range 50 {
		rows, columns := 2+i%3, 3+i%2
		if rows*columns > 12 {
			columns = 3
		}
		j := grid(rows, columns, 15, int64(10+15*(2+(i*7)%4)+(i*5)%13))
		for e := range j.Edges {
			j.Edges[e].Length = 150 + int64((e*37+i*11)%170)
			j.Edges[e].Permitted = (e+i)%5 == 0
		}
		for c := range j.Cells {
			j.Cells[c].Minutes = 11 + (c*5+i*3)%9
		}
		if i%4 == 3 && rows*columns <= 9 {
			j.Crews = append(j.Crews, Crew{Name: "south", Pace: 130, Free: i % 7})
		}
		best := Solve(j)
		if !best.Exact {
			t.Fatalf("instance %d: no proof of its optimum", i)
		}
		s := newTable(j).start()
		var last []int
		oldest := false
		for {
			who, going := s.crew()
			if !going {
				break
			}
			a, ok := Advise(Question{
				Job: standing(j, s, million), Asks: who, Horizon: s.free[who] + 2000, Trials: 8,
				Last: last, Oldest: oldest,
			})
			if !ok {
				s.stop(who)
				continue
			}
			last, oldest = a.Following(), a.Oldest
			s.take(who, a.Cell, 0)
		}
		advised, optimal = advised+s.cost, optimal+best.Cost
		if best.Cost == 0 {
			whole++
			if s.cost == 0 {
				found++
			} else {
				t.Errorf("instance %d, %d by %d with %d crews: a whole order was not found, %v m", i, rows, columns,
					len(j.Crews), s.cost.Metres())
			}
		}
	}
	t.Logf("advised %.2f m, optimal %.2f m; %d of %d whole orders found", advised.Metres(), optimal.Metres(), found,
		whole)
	if float64(advised) > 1.05*float64(optimal) {
		t.Errorf("following the advice costs %.2f m, the optimum is %.2f m", advised.Metres(), optimal.Metres())
	}
}
