package next

import (
	"cmp"
	"slices"
)

// Bounds of a day's plan, counts as all bounds here are.
const (
	dayTrials  = 30  // of each way of growing a plan
	DayTrials  = 100 // of a plan that is shown
	dayFirsts  = 3   // bays that plans begin with
	dayMost    = 12  // bays of a plan
	DoneInHund = 90  // chance in a hundred, below which nothing more is begun
)

// Span is some minutes.
type Span struct{ From, To int }

// DayQuestion asks what is placed on a day, such that what is begun is finished.
type DayQuestion struct {
	*Job         // its crews free at the start
	End      int // of work
	Spreads  Spreads
	PerBatch Cost // what a batch that is placed weighs against metres that are lost; 0: as 10 m
}

// Bay is what is placed without a joint.
type Bay struct {
	Cells   []int
	Begins  int // as expected
	BeginBy int // the last minute at which it may be begun so that all is placed by the end of work, as expected
}

// DayPlan is one way to place a part of a job on a day.
type DayPlan struct {
	Bays       []Bay
	Takes      []Take // as expected
	Cold, Done Chance // that an edge goes cold within, and that all is placed by the end of work
	Rim        []int  // edges to what is left for another day
	Within     []int  // permitted edges within that are expected to be ended on purpose
	LastEnd    int    // as expected
	worth      int64
}

// Worth ranks plans: what is placed, less what it costs.
func (p DayPlan) Worth() int64 { return p.worth }

// PlanDay is the best plan of a day that is found: bays are added by the least rim, each with all its cells, as long as
// all is placed by the end of work in nine of ten trials. Bays are what is left together when the shell is cut at every
// edge in cut. False where not even one can be finished.
func PlanDay(q DayQuestion, cut map[int]bool) (DayPlan, bool) {
	bays := q.baysBy(cut)
	if len(bays) == 0 {
		return DayPlan{}, false
	}
	var best *DayPlan
	for first := range min(dayFirsts, len(bays)) {
		chosen := []int{first}
		var kept *DayPlan
		for len(chosen) <= dayMost {
			p, ok := q.try(bays, chosen, dayTrials)
			if !ok {
				break
			}
			if kept == nil || p.worth >= kept.worth {
				kept = &p
			}
			next := q.nearest(bays, chosen)
			if next < 0 {
				break
			}
			chosen = append(slices.Clone(chosen), next)
		}
		if kept != nil && (best == nil || kept.worth > best.worth) {
			best = kept
		}
	}
	if best == nil {
		return DayPlan{}, false
	}
	return *best, true
}

// baysBy what is still to be placed, in the order of the sweep, those that adjoin what is placed first.
func (q DayQuestion) baysBy(cut map[int]bool) [][]int {
	rank := make([]int, len(q.Cells))
	for at, cell := range sweep(q.Job, nil) {
		rank[cell] = at
	}
	var bays [][]int
	for _, part := range parts(left(q.Job, cut)) {
		if !q.Cells[part[0]].Placed {
			bays = append(bays, part)
		}
	}
	least := func(bay []int) int {
		low := never
		for _, c := range bay {
			low = min(low, rank[c])
		}
		return low
	}
	slices.SortStableFunc(bays, func(a, b []int) int { return cmp.Compare(least(a), least(b)) })
	return bays
}

// nearest is the bay that adds the least rim to those chosen and shares an edge with them; any other where none does;
// −1 where all are chosen.
func (q DayQuestion) nearest(bays [][]int, chosen []int) int {
	of := map[int]int{}
	for i, bay := range bays {
		for _, c := range bay {
			of[c] = i
		}
	}
	gain := make([]int64, len(bays)) // rim that goes less rim that comes
	for _, e := range q.Edges {
		a, okA := of[e.A]
		b, okB := of[e.B]
		if !okA || !okB || a == b {
			continue
		}
		for _, pair := range [][2]int{{a, b}, {b, a}} {
			if slices.Contains(chosen, pair[0]) {
				continue
			}
			if slices.Contains(chosen, pair[1]) {
				gain[pair[0]] += e.Length
			} else {
				gain[pair[0]] -= e.Length
			}
		}
	}
	best := -1
	for i := range bays {
		if !slices.Contains(chosen, i) && (best < 0 || gain[i] > gain[best]) {
			best = i
		}
	}
	return best
}

// Try a plan of some bays, with more trials than PlanDay has: what is shown rests on these.
func (q DayQuestion) Try(p DayPlan, trials int) DayPlan {
	bays := make([][]int, len(p.Bays))
	chosen := make([]int, len(p.Bays))
	for i, b := range p.Bays {
		bays[i], chosen[i] = b.Cells, i
	}
	again, _ := q.try(bays, chosen, trials)
	return again
}

// try some bays in the better of two orders; false where they are not all placed in time in nine of ten trials.
func (q DayQuestion) try(bays [][]int, chosen []int, trials int) (DayPlan, bool) {
	in := make([]bool, len(q.Cells))
	var each []int // bay by bay, each in the order of its own sweep
	part := *q.Job
	part.Cells = slices.Clone(q.Cells)
	for _, i := range chosen {
		for _, c := range bays[i] {
			in[c] = true
		}
	}
	for i := range part.Cells {
		if !in[i] && !part.Cells[i].Placed {
			// left for another day
			part.Cells[i].Placed, part.Cells[i].From, part.Cells[i].To = true, -MaxMinutes, -MaxMinutes
		}
	}
	p := DayPlan{}
	part.Edges = slices.Clone(q.Edges)
	for e, edge := range q.Edges {
		for _, pair := range [][2]int{{edge.A, edge.B}, {edge.B, edge.A}} {
			if in[pair[0]] && !in[pair[1]] && !q.Cells[pair[1]].Placed {
				p.Rim = append(p.Rim, e)
				part.Edges[e].Ended = true
			}
		}
	}
	t := newTable(&part)
	lost := paid(t.start().charged)
	t = newTable(part.ended(lost))
	rank := map[int]int{}
	for at, cell := range t.sweep() {
		rank[cell] = at
	}
	for _, i := range chosen {
		bay := slices.Clone(bays[i])
		slices.SortFunc(bay, func(a, b int) int { return cmp.Compare(rank[a], rank[b]) })
		each = append(each, bay...)
	}
	var best *DayPlan
	for _, order := range [][]int{followed(each, t.sweep()), t.sweep()} {
		one := q.played(t, order, p, trials)
		if best == nil || one.worth > best.worth {
			best = &one
		}
	}
	best.lay(q, t, bays, chosen)
	return *best, best.Done.Happened*100 >= best.Done.Of*DoneInHund
}

// played is a plan in one order, over so many scenarios.
func (q DayQuestion) played(t *table, order []int, p DayPlan, trials int) DayPlan {
	whole := 0
	var cost int64
	for i := range trials {
		w := t.scenario(i, q.Spreads)
		s := w.play(order)
		p.Cold.Of++
		p.Done.Of++
		cold := false
		for e, gone := range s.charged {
			cold = cold || gone && !w.Edges[e].Permitted
		}
		if cold {
			p.Cold.Happened++
		} else {
			whole++
		}
		if s.lastEnd() <= q.End {
			p.Done.Happened++
		}
		cost += int64(s.cost)
	}
	s := t.play(order)
	p.Takes, p.LastEnd = slices.Clone(s.takes), s.lastEnd()
	for e, gone := range s.charged {
		if gone && t.Edges[e].Permitted {
			p.Within = append(p.Within, e)
		}
	}
	per := q.PerBatch
	if per == 0 {
		per = 100_000
	}
	p.worth = int64(per)*int64(len(p.Takes))*int64(whole)/int64(trials) - cost/int64(trials)
	for _, e := range p.Rim {
		p.worth -= int64(q.rimCost(e))
	}
	return p
}

// rimCost is what it costs to stop at an edge: in full where no joint is permitted.
func (q DayQuestion) rimCost(e int) Cost { return q.Job.worth(e) }

func (s *shift) lastEnd() int {
	last := -MaxMinutes
	for _, t := range s.takes {
		last = max(last, t.To)
	}
	return last
}

// lay says when each bay is begun, and the last minute at which it may be: what is left of the day after all that is to
// be placed from there on.
func (p *DayPlan) lay(q DayQuestion, t *table, bays [][]int, chosen []int) {
	p.Bays = nil
	for _, i := range chosen {
		b := Bay{Cells: bays[i], Begins: never}
		for _, take := range p.Takes {
			if slices.Contains(bays[i], take.Cell) {
				b.Begins = min(b.Begins, take.From)
			}
		}
		p.Bays = append(p.Bays, b)
	}
	slices.SortStableFunc(p.Bays, func(a, b Bay) int { return cmp.Compare(a.Begins, b.Begins) })
	for i := range p.Bays {
		p.Bays[i].BeginBy = p.Bays[i].Begins + max(0, q.End-p.LastEnd)
	}
}
