package next

import (
	"cmp"
	"slices"
)

// Widths of the beam, as the study of the method had them: the narrow one for large jobs, the wide one where time
// allows. A beam keeps that many shifts after each take.
const (
	NarrowBeam = 24
	WideBeam   = 200
	wideUpTo   = 60 // cells
	allUpTo    = 30 // cells; beyond, a beam tries only so many children of each shift
	children   = 6
)

// Solve finds an order for a job: exactly where it is small enough, else the best of the candidate orders and the beam.
// Plan.Exact says which. The job must have passed Check.
func Solve(j *Job) *Plan {
	best := Search(j)
	if best.Cost == newTable(j).start().cost { // what is lost already is lost in every order
		best.Exact = true
		return best
	}
	better, complete := Exact(j, best.Cost, -1)
	switch {
	case better != nil:
		return better
	case complete:
		best.Exact = true
	}
	return best
}

// Search is the best of the candidate orders and the beam. It proves nothing.
func Search(j *Job) *Plan {
	t := newTable(j)
	var best *shift
	for _, order := range t.orders() {
		best = cheaper(best, t.play(order))
	}
	best = cheaper(best, t.oldestFirst())
	width := NarrowBeam
	if len(t.Cells) <= wideUpTo {
		width = WideBeam
	}
	return cheaper(best, t.beam(width, -1, never)).plan()
}

// LeastByFirst is the least cost of a job by the cell that the crew which is free first takes first; false where the
// job is too large for the exact method.
func LeastByFirst(j *Job) (map[int]Cost, bool) {
	t := newTable(j)
	s := t.start()
	if s.left > MaxExactCells {
		return nil, false
	}
	least := map[int]Cost{}
	for cell := range t.Cells {
		if !s.open(cell) {
			continue
		}
		bound := t.beam(NarrowBeam, cell, never).cost
		p, complete := Exact(j, bound, cell)
		switch {
		case p != nil:
			least[cell] = p.Cost
		case complete:
			least[cell] = bound
		default:
			return nil, false
		}
	}
	return least, true
}

// cheaper of two shifts; the first where they cost the same.
func cheaper(a, b *shift) *shift {
	if a == nil || b != nil && b.cost < a.cost {
		return b
	}
	return a
}

// orders are the candidates that need no search: as the plan numbers the cells, the sweep, and ring by ring from every
// end cell (Cuthill, McKee 1969); each from both ends.
func (t *table) orders() [][]int {
	numbered := make([]int, len(t.Cells))
	for i := range numbered {
		numbered[i] = i
	}
	all := append([][]int{numbered}, t.sweeps()...)
	near := left(t.Job, nil)
	for _, part := range parts(near) {
		if !t.Cells[part[0]].Placed && len(part) > 1 {
			all = append(all, withRest(levels(near, end(near, part), make([]bool, len(near))), len(t.Cells)))
		}
	}
	for _, order := range append([][]int{numbered}, all[1+len(t.sweeps()):]...) {
		back := slices.Clone(order)
		slices.Reverse(back)
		all = append(all, back)
	}
	return all
}

// sweeps of what is left, each from both ends.
func (t *table) sweeps() [][]int {
	if t.both == nil {
		for _, order := range append([][]int{t.sweep()}, cutSweeps(t.Job)...) {
			back := slices.Clone(order)
			slices.Reverse(back)
			t.both = append(t.both, order, back, t.inStep(order), t.inStep(back))
		}
	}
	return t.both
}

// inStep is a sweep in which each row is placed in the order of the row before it, so that every edge waits as long as
// the others: of the next few cells of the sweep, as many as the shell is wide, the one whose edges turn first. The
// sweep alone leaves open in which order the cells of one row come, since they lie equally far along.
func (t *table) inStep(order []int) []int {
	near := left(t.Job, nil)
	wide := 1
	for _, part := range parts(near) {
		if !t.Cells[part[0]].Placed {
			wide = max(wide, acrossOf(len(part), t.depth(near, part)))
		}
	}
	s := t.start()
	defer s.release()
	var all []int
	for len(all) < len(order) {
		who, going := s.crew()
		if !going {
			break
		}
		best, due, seen := -1, never, 0
		for _, cell := range order {
			if !s.open(cell) {
				continue
			}
			if d := s.dueOf(cell); best < 0 || d < due {
				best, due = cell, d
			}
			if seen++; seen == wide {
				break
			}
		}
		if best < 0 {
			break
		}
		s.take(who, best, 0)
		all = append(all, best)
	}
	return withRest(all, len(t.Cells))
}

// acrossOf a part of so many cells that is so many cells long from corner to corner, how many it is wide: of a grid the
// short side r, from r·c cells and r+c−1 from corner to corner; of what is no grid, cells over length.
func acrossOf(cells, long int) int {
	if d := int64(long+1)*int64(long+1) - 4*int64(cells); d >= 0 {
		return max(1, (long+1-root(d)+1)/2)
	}
	return (cells + long - 1) / long
}

// depth is how many cells a part is long: from one end to the other.
func (t *table) depth(near [][]int, part []int) int {
	from := end(near, part)
	far := map[int]int{from: 1}
	most := 1
	for _, cell := range levels(near, from, make([]bool, len(near))) {
		for _, n := range near[cell] {
			if far[n] == 0 {
				far[n] = far[cell] + 1
				most = max(most, far[n])
			}
		}
	}
	return most
}

// play places the cells in one order: whoever is free takes the first that may be taken.
func (t *table) play(order []int) *shift {
	s := t.start()
	for {
		who, going := s.crew()
		if !going {
			return s
		}
		i := slices.IndexFunc(order, s.open)
		s.take(who, order[i], 0)
	}
}

// oldestFirst places beside the front that turns first.
func (t *table) oldestFirst() *shift {
	s := t.start()
	for {
		who, going := s.crew()
		if !going {
			return s
		}
		best, due := -1, never
		for cell := range t.Cells {
			if s.open(cell) && (best < 0 || s.dueOf(cell) < due) {
				best, due = cell, s.dueOf(cell)
			}
		}
		s.take(who, best, 0)
	}
}

// dueOf is the last minute at which a cell can be placed so that all its open edges are met; never where it has none.
func (s *shift) dueOf(cell int) int {
	due := never
	for _, side := range s.around[cell] {
		if s.begin[side.other] != never && !s.charged[side.edge] {
			due = min(due, s.due[side.other])
		}
	}
	return due
}

// beam plays on from the start, keeping the most promising shifts after each take, for so many takes. First, where it
// is not negative, is the cell that must be taken first.
func (t *table) beam(width, first, depth int) *shift {
	front := []*candidate{{shift: t.start()}}
	rank := make([]int, len(t.Cells))
	for at, cell := range t.sweep() {
		rank[cell] = at
	}
	var best *shift
	for step := 0; len(front) > 0; step++ {
		if step == depth {
			return cheaper(best, front[0].shift)
		}
		var following []*candidate
		for _, c := range front {

			who, going := c.crew()
			if !going {
				best = cheaper(best, c.shift)
				continue
			}
			for _, cell := range c.likely(first, rank) {
				next := c.clone()
				next.take(who, cell, 0)
				following = append(following, promising(next))
			}
			if c.mayStop(who) {
				next := c.clone()
				next.stop(who)
				following = append(following, promising(next))
			}
			c.release()
		}
		front = widest(following, width)
	}
	return best
}

// likely are the choices that a beam tries: all of a small job; of a large one those whose fronts turn first, and the
// first of the sweep.
func (s *shift) likely(first int, rank []int) []int {
	all := s.choices(first)
	if len(s.Cells) <= allUpTo || len(all) <= children {
		return all
	}
	some, dues := make([]int, 0, children+1), make([]int, 0, children+1)
	for _, cell := range all {
		due := s.dueOf(cell)
		at := len(some)
		for at > 0 && (due < dues[at-1] || due == dues[at-1] && rank[cell] < rank[some[at-1]]) {
			at--
		}
		if at < children {
			some, dues = slices.Insert(some, at, cell), slices.Insert(dues, at, due)
			some, dues = some[:min(len(some), children)], dues[:min(len(dues), children)]
		}
	}
	swept := slices.MinFunc(all, func(a, b int) int { return cmp.Compare(rank[a], rank[b]) })
	if !slices.Contains(some, swept) {
		some[children-1] = swept
	}
	return some
}

// candidate is a shift with what it will probably come to.
type candidate struct {
	*shift
	probable Cost  // paid, and what cannot all be met
	length   int64 // of open edges, cm
	slack    int64 // sum over open edges of length and the minutes that are left
}

func promising(s *shift) *candidate {
	c := &candidate{shift: s, probable: s.cost + s.overdue()}
	now := slices.Min(s.free)
	if now == never {
		return c
	}
	for _, cell := range s.fronts {
		for _, side := range s.around[cell] {
			if !s.charged[side.edge] && s.begin[side.other] == never {
				length := s.Edges[side.edge].Length
				c.length += length
				c.slack += length * int64(s.due[cell]-now)
			}
		}
	}
	return c
}

// widest keeps the best candidates, of those in which the same cells are taken at the same times only the best two.
func widest(all []*candidate, width int) []*candidate {
	slices.SortStableFunc(all, func(a, b *candidate) int {
		return cmp.Or(cmp.Compare(a.probable, b.probable), cmp.Compare(a.cost, b.cost),
			cmp.Compare(a.length, b.length), -cmp.Compare(a.slack, b.slack))
	})
	alike := map[string]int{}
	kept := make([]*candidate, 0, min(width, len(all)))
	for _, c := range all {
		if len(kept) == width {
			c.release()
			continue
		}
		key := c.key()
		if alike[key]++; alike[key] <= 2 {
			kept = append(kept, c)
		} else {
			c.release()
		}
	}
	return kept
}

// target is a cell that an open edge waits for.
type target struct {
	cell, due, minutes int
	worth              Cost
}

// overdue estimates what of the open edges will be lost because nobody has time for all of them: cells are taken in
// the order in which their edges turn, and where they no longer fit the one worth least is left (Moore 1968, from
// memory, with crews counted as one that is as fast as all).
func (s *shift) overdue() Cost {
	active, earliest := 0, never
	for _, f := range s.free {
		if f != never {
			active++
			earliest = min(earliest, f)
		}
	}
	if active == 0 {
		return 0
	}
	targets := s.targets()
	var lost Cost
	kept := s.kept[:0]
	used := 0
	for _, t := range targets {
		kept = append(kept, t)
		used += t.minutes
		if earliest+used/active <= t.due {
			continue
		}
		least := 0
		for i, k := range kept {
			if k.worth < kept[least].worth {
				least = i
			}
		}
		lost += kept[least].worth
		used -= kept[least].minutes
		kept = slices.Delete(kept, least, least+1)
	}
	s.kept = kept
	return lost
}

// targets are the cells beside open edges, by the minute at which the first of their edges turns; good until asked
// again.
func (s *shift) targets() []target {
	at := s.scratch // 1 + the target of a cell, by cell; 0 between calls
	all := s.aims[:0]
	for _, cell := range s.fronts {
		for _, side := range s.around[cell] {
			if s.charged[side.edge] || s.begin[side.other] != never {
				continue
			}
			if at[side.other] == 0 {
				all = append(all, target{cell: side.other, due: never, minutes: s.Cells[side.other].Minutes})
				at[side.other] = len(all)
			}
			t := &all[at[side.other]-1]
			t.due = min(t.due, s.due[cell])
			t.worth += s.worth(side.edge)
		}
	}
	for _, t := range all {
		at[t.cell] = 0
	}
	slices.SortFunc(all, func(a, b target) int { return cmp.Or(a.due-b.due, a.cell-b.cell) })
	s.aims = all
	return all
}
