package next

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// drawJob draws a small job: a connected graph, uneven cells and lengths, one or two crews, sometimes needs, permitted
// edges and cells placed before.
func drawJob(t *rapid.T, most int) *Job {
	n := rapid.IntRange(2, most).Draw(t, "cells")
	set := rapid.Int64Range(30, 120).Draw(t, "set")
	j := &Job{Lead: rapid.IntRange(0, 15).Draw(t, "lead"), Joint: rapid.IntRange(0, 100).Draw(t, "joint")}
	for i := range n {
		c := Cell{Name: fmt.Sprint("c", i), Minutes: rapid.IntRange(5, 35).Draw(t, "minutes"), Set: set * msPerMinute}
		if i > 0 {
			j.Edges = append(j.Edges, drawEdge(t, i, rapid.IntRange(0, i-1).Draw(t, "beside")))
			if rapid.IntRange(0, 5).Draw(t, "needs") == 0 {
				c.Needs = []int{rapid.IntRange(0, i-1).Draw(t, "needed")}
			}
		}
		j.Cells = append(j.Cells, c)
	}
	if rapid.Bool().Draw(t, "placed before") {
		j.Cells[0].Placed, j.Cells[0].From = true, -rapid.IntRange(20, 100).Draw(t, "ago")
		j.Cells[0].To, j.Cells[0].Needs = j.Cells[0].From+20, nil
	}
	for range rapid.IntRange(0, n).Draw(t, "more edges") {
		a, b := rapid.IntRange(0, n-1).Draw(t, "a"), rapid.IntRange(0, n-1).Draw(t, "b")
		if a != b && !slices.ContainsFunc(j.Edges, func(e Edge) bool {
			return e.A == a && e.B == b || e.A == b &&
				e.B == a
		}) {
			j.Edges = append(j.Edges, drawEdge(t, a, b))
		}
	}
	for k := range rapid.IntRange(1, 2).Draw(t, "crews") {
		j.Crews = append(j.Crews, Crew{
			Name: fmt.Sprint("crew", k), Free: rapid.IntRange(0, 20).Draw(t, "free"),
			Pace: rapid.SampledFrom([]int{100, 100, 130, 300}).Draw(t, "pace"),
		})
	}
	j.MayStop = rapid.Bool().Draw(t, "may stop")
	return j
}

func drawEdge(t *rapid.T, a, b int) Edge {
	return Edge{
		A: a, B: b, Length: rapid.Int64Range(50, 400).Draw(t, "length"),
		Permitted: rapid.IntRange(0, 3).Draw(t, "permitted") == 0,
	}
}

// tryAll is the least cost over all orders: every crew's every choice is tried, and edges are judged at the end by the
// rules as they are written, without bounds, labels or early payment.
func tryAll(j *Job) Cost {
	placed := map[int][2]int{}
	for i, c := range j.Cells {
		if c.Placed {
			placed[i] = [2]int{c.From, c.To}
		}
	}
	free := map[int]int{}
	for k, c := range j.Crews {
		free[k] = c.Free
	}
	return tryFrom(j, placed, free)
}

func tryFrom(j *Job, placed map[int][2]int, free map[int]int) Cost {
	who := -1
	for k := range j.Crews {
		if f, ok := free[k]; ok && (who < 0 || f < free[who]) {
			who = k
		}
	}
	if len(placed) == len(j.Cells) || who < 0 {
		return judgedAtTheEnd(j, placed)
	}
	best := Cost(math.MaxInt64)
	at := free[who]
	for i, c := range j.Cells {
		begin, ready := at, true
		for _, n := range c.Needs {
			span, taken := placed[n]
			ready = ready && taken
			begin = max(begin, span[1])
		}
		if _, taken := placed[i]; taken || !ready {
			continue
		}
		end := begin + int(math.Ceil(float64(c.Minutes*j.Crews[who].Pace)/100))
		placed[i], free[who] = [2]int{begin, end}, end
		best = min(best, tryFrom(j, placed, free))
		delete(placed, i)
		free[who] = at
	}
	if j.MayStop && len(free) > 1 {
		delete(free, who)
		best = min(best, tryFrom(j, placed, free))
		free[who] = at
	}
	return best
}

func judgedAtTheEnd(j *Job, placed map[int][2]int) Cost {
	var sum Cost
	for _, e := range j.Edges {
		a, b := placed[e.A], placed[e.B]
		if e.Ended || j.Cells[e.A].Placed && j.Cells[e.B].Placed {
			continue
		}
		end := b[1]
		if b[0] < a[0] || a[0] == b[0] && a[1] > b[1] {
			end = a[1]
		}
		if int64(end-(min(a[0], b[0])-j.Lead))*msPerMinute <= j.Cells[e.A].Set {
			continue
		}
		if e.Permitted {
			sum += Cost(e.Length * int64(j.Joint))
		} else {
			sum += Cost(e.Length * 100)
		}
	}
	return sum
}

func TestTheExactMethodAgreesWithTryingEveryOrder(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		if err := j.Check(); err != nil {
			t.Fatal(err)
		}
		p := Solve(j)
		if want := tryAll(j); p.Cost != want || !p.Exact {
			t.Fatalf("%v m, exact %v; trying every order gives %v m", p.Cost.Metres(), p.Exact, want.Metres())
		}
		if again := replayed(j, p); again != p.Cost {
			t.Fatalf("the plan says %v m and comes to %v m when it is followed", p.Cost.Metres(), again.Metres())
		}
	})
}

// replayed is what a plan costs when its takes are put down one after another and judged at the end.
func replayed(j *Job, p *Plan) Cost {
	placed := map[int][2]int{}
	for i, c := range j.Cells {
		if c.Placed {
			placed[i] = [2]int{c.From, c.To}
		}
	}
	for _, t := range p.Takes {
		if !t.Stopped {
			placed[t.Cell] = [2]int{t.From, t.To}
		}
	}
	return judgedAtTheEnd(j, placed)
}

func TestAShorterSetNeverLowersTheOptimum(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 7)
		before := Solve(j).Cost
		for i := range j.Cells {
			j.Cells[i].Set = max(msPerMinute, j.Cells[i].Set*3/4)
		}
		if after := Solve(j).Cost; after < before {
			t.Fatalf("%v m, and %v m with a set three quarters as long", before.Metres(), after.Metres())
		}
	})
}

func TestHotterNeverGivesAnEdgeMoreTime(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		minutes := rapid.SliceOfN(rapid.Int64Range(20_000, 120_000), 2, 300).Draw(t, "age gathered each minute")
		hotter := rapid.SliceOfN(rapid.Int64Range(0, 60_000), len(minutes), len(minutes)).Draw(t, "more of it")
		cool, hot := Curve{Ages: []int64{0}}, Curve{Ages: []int64{0}}
		for i, m := range minutes {
			cool.Ages = append(cool.Ages, cool.Ages[i]+m)
			hot.Ages = append(hot.Ages, hot.Ages[i]+m+hotter[i])
		}
		water, set := rapid.IntRange(0, len(minutes)-1).Draw(t, "water"), rapid.Int64Range(1, 10_000_000).Draw(t, "set")
		c, h := cool.latest(cool.At(water)+set, water), hot.latest(hot.At(water)+set, water)
		if h > c {
			t.Fatalf("hot turns at minute %d, cool at %d", h, c)
		}
		if cool.At(c)-cool.At(water) > set || cool.At(c+1)-cool.At(water) <= set {
			t.Fatalf("minute %d is not the last one within the set", c)
		}
	})
}

func TestALongerEdgeNeverLowersTheOptimumAndAPermittedJointNeverRaisesIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 7)
		e := rapid.IntRange(0, len(j.Edges)-1).Draw(t, "edge")
		before := Solve(j).Cost
		j.Edges[e].Length *= 2
		longer := Solve(j).Cost
		if longer < before {
			t.Fatalf("%v m, and %v m with an edge twice as long", before.Metres(), longer.Metres())
		}
		j.Edges[e].Permitted = true
		if permitted := Solve(j).Cost; permitted > longer {
			t.Fatalf("%v m, and %v m with a joint permitted", longer.Metres(), permitted.Metres())
		}
	})
}

func TestAnotherCrewNeverRaisesTheOptimumIfItMayStop(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		j.MayStop = true
		before := Solve(j).Cost
		j.Crews = append(j.Crews, Crew{Name: "another", Free: rapid.IntRange(0, 40).Draw(t, "free"), Pace: 300})
		if after := Solve(j).Cost; after > before {
			t.Fatalf("%v m, and %v m with another crew", before.Metres(), after.Metres())
		}
	})
}

func TestAMirroredShellCostsTheSameAndBeginsAtTheMirroredCells(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		j := drawJob(t, 6)
		n := len(j.Cells)
		mirrored := &Job{Lead: j.Lead, Joint: j.Joint, MayStop: j.MayStop, Crews: j.Crews}
		for i := range n {
			c := j.Cells[n-1-i]
			var needs []int
			for _, k := range c.Needs {
				needs = append(needs, n-1-k)
			}
			c.Needs = needs
			mirrored.Cells = append(mirrored.Cells, c)
		}
		for _, e := range j.Edges {
			e.A, e.B = n-1-e.A, n-1-e.B
			mirrored.Edges = append(mirrored.Edges, e)
		}
		is, _ := LeastByFirst(j)
		was, _ := LeastByFirst(mirrored)
		for cell, cost := range is {
			if was[n-1-cell] != cost {
				t.Fatalf("beginning with cell %d costs %v m, with its mirror image %v m", cell, cost.Metres(),
					was[n-1-cell].Metres())
			}
		}
	})
}

// grid of rows by columns, numbered along the rows.
func grid(rows, columns, minutes int, set int64) *Job {
	j := &Job{Lead: 10, Joint: 25, Crews: []Crew{{Name: "north", Pace: 100}}}
	for r := range rows {
		for c := range columns {
			j.Cells = append(j.Cells, Cell{
				Name: fmt.Sprintf("%c%d", 'A'+r, c+1), Minutes: minutes,
				Set: set * msPerMinute,
			})
			i := r*columns + c
			if c > 0 {
				j.Edges = append(j.Edges, Edge{A: i - 1, B: i, Length: 250})
			}
			if r > 0 {
				j.Edges = append(j.Edges, Edge{A: i - columns, B: i, Length: 250})
			}
		}
	}
	return j
}

// Chvátalová, Optimal labelling of a product of two paths, Discrete Mathematics 11 (1975): the bandwidth of a grid is
// its short side. So one crew keeps every edge live exactly where a set lasts for one batch more than that.
func TestAGridIsWholeExactlyWhenTheSetLastsForItsShortSide(t *testing.T) {
	for _, size := range [][2]int{{1, 5}, {2, 3}, {2, 5}, {3, 3}, {3, 4}, {4, 4}} {
		rows, columns := size[0], size[1]
		enough := int64(10 + 15*(rows+1))
		if p := Solve(grid(rows, columns, 15, enough)); p.Cost != 0 {
			t.Errorf("%d by %d with a set of %d min: %v m", rows, columns, enough, p.Cost.Metres())
		}
		if rows*columns > 12 {
			continue
		}
		if p := Solve(grid(rows, columns, 15, enough-1)); p.Cost == 0 || !p.Exact {
			t.Errorf("%d by %d with a set of %d min: no cost, or no proof: %+v", rows, columns, enough-1, p)
		}
	}
}

func TestTheSweepGoesAcrossTheShortWay(t *testing.T) {
	j := grid(4, 30, 15, 300)
	rank := make([]int, len(j.Cells))
	for at, cell := range sweep(j, nil) {
		rank[cell] = at
	}
	for _, e := range j.Edges {
		if d := rank[e.A] - rank[e.B]; max(d, -d) > 7 {
			t.Fatalf("%s and %s are %d apart in the sweep of a shell four cells wide", j.Cells[e.A].Name,
				j.Cells[e.B].Name, max(d, -d))
		}
	}
}

func TestMistakesInAJobAreNamedByTheirPath(t *testing.T) {
	for _, c := range []struct {
		path  string
		spoil func(*Job)
	}{
		{"cells", func(j *Job) { j.Cells = nil }},
		{"cells[1].name", func(j *Job) { j.Cells[1].Name = "A1" }},
		{"cells[0].minutes", func(j *Job) { j.Cells[0].Minutes = 0 }},
		{"cells[1].needs[0]", func(j *Job) { j.Cells[0].Needs, j.Cells[1].Needs = []int{1}, []int{0} }},
		{"edges[0].b", func(j *Job) { j.Edges[0].B = j.Edges[0].A }},
		{"edges[1].length_cm", func(j *Job) { j.Edges[1].Length = -1 }},
		{"crews", func(j *Job) { j.Crews = nil }},
		{"crews[0].pace_percent", func(j *Job) { j.Crews[0].Pace = 0 }},
		{"joint_percent", func(j *Job) { j.Joint = 101 }},
		{"lead_min", func(j *Job) { j.Lead = -1 }},
	} {
		j := grid(2, 2, 15, 60)
		c.spoil(j)
		m, ok := j.Check().(*Mistake)
		if !ok || m.Path != c.path {
			t.Errorf("%v, not a mistake in %s", m, c.path)
		}
	}
	if err := grid(2, 2, 15, 60).Check(); err != nil {
		t.Errorf("a job without a mistake: %v", err)
	}
}
