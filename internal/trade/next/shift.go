package next

import "slices"

// shift is a job as far as it has been played: who is free when, and which cells have been taken.
type shift struct {
	*table
	free  []int // by crew, minute; never: stopped for good
	begin []int // by cell, minute at which placing begins; never: not taken
	end   []int
	due   []int // last minute at which placing beside a taken cell may end so that the edge is live
	left  int   // cells not taken
	cost  Cost
	// fronts are the taken cells with an edge that is neither judged nor charged, and some that had one, in the order
	// in which they were taken.
	fronts []int
	// soon is the first minute at which what waits at a front turns, or an earlier one.
	soon int
	// charged holds the edges that were paid before they were judged, because nobody can meet them in time any more.
	charged []bool
	takes   []Take
}

// table is what does not change while a job is played.
type table struct {
	*Job
	around  [][]side
	by      [][]int  // minutes that a crew takes for a cell, by crew and cell
	most    int      // of by; never where a cell needs others to be placed before
	begun   *shift   // what start gives
	swept   []int    // what sweep gives
	both    [][]int  // what sweeps gives
	scratch []int    // of targets
	aims    []target // what targets gave
	kept    []target // of overdue
	spare   []*shift // released
}

// sweep of the job.
func (t *table) sweep() []int {
	if t.swept == nil {
		t.swept = sweep(t.Job, nil)
	}
	return t.swept
}

func newTable(j *Job) *table {
	t := &table{Job: j, around: j.sides(), by: make([][]int, len(j.Crews)), scratch: make([]int, len(j.Cells))}
	for k, c := range j.Crews {
		t.by[k] = make([]int, len(j.Cells))
		for i, cell := range j.Cells {
			t.by[k][i] = (cell.Minutes*c.Pace + 99) / 100
		}
	}
	t.most = t.mostMinutes()
	return t
}

// mostMinutes that any crew takes for a cell; never where a cell needs others, and so may have to wait longer.
func (t *table) mostMinutes() int {
	most := 0
	for _, c := range t.Cells {
		if len(c.Needs) > 0 {
			return never
		}
	}
	for _, by := range t.by {
		most = max(most, slices.Max(by))
	}
	return most
}

// start is the job as it stands.
func (t *table) start() *shift {
	if t.begun == nil {
		t.begun = t.standing()
	}
	return t.begun.clone()
}

func (t *table) standing() *shift {
	s := &shift{table: t, charged: make([]bool, len(t.Edges)), soon: never}
	for _, c := range t.Crews {
		s.free = append(s.free, c.Free)
	}
	for i, c := range t.Cells {
		s.begin, s.end, s.due = append(s.begin, never), append(s.end, never), append(s.due, never)
		if c.Placed {
			s.put(i, c.From, c.To)
			continue
		}
		s.left++
	}
	s.chargeLost()
	return s
}

// clone is the same shift, to be played on apart. It is made of one that was released, where there is one.
func (s *shift) clone() *shift {
	c := &shift{}
	if n := len(s.spare); n > 0 {
		c, s.spare = s.spare[n-1], s.spare[:n-1]
	}
	c.table, c.left, c.cost, c.soon = s.table, s.left, s.cost, s.soon
	c.free, c.begin, c.end = append(c.free[:0], s.free...), append(c.begin[:0], s.begin...), append(c.end[:0], s.end...)
	c.due, c.fronts = append(c.due[:0], s.due...), append(c.fronts[:0], s.fronts...)
	c.charged, c.takes = append(c.charged[:0], s.charged...), append(c.takes[:0], s.takes...)
	return c
}

// release gives back a shift that nobody looks at any more.
func (s *shift) release() { s.spare = append(s.spare, s) }

// crew is whose turn it is: the one that is free first, of two the one named first; false when all have stopped or
// nothing is left.
func (s *shift) crew() (int, bool) {
	if s.left == 0 {
		return 0, false
	}
	who := 0
	for k, f := range s.free {
		if f < s.free[who] {
			who = k
		}
	}
	return who, s.free[who] != never
}

// open reports whether a cell may be taken now.
func (s *shift) open(cell int) bool {
	if s.begin[cell] != never {
		return false
	}
	for _, n := range s.Cells[cell].Needs {
		if s.begin[n] == never {
			return false
		}
	}
	for _, n := range s.Cells[cell].After {
		if s.begin[n] == never {
			return false
		}
	}
	return true
}

// mayStop reports whether a crew may stop for good while cells are left: not if nobody else would place them.
func (s *shift) mayStop(crew int) bool {
	if !s.MayStop {
		return false
	}
	for k, f := range s.free {
		if k != crew && f != never {
			return true
		}
	}
	return false
}

func (s *shift) stop(crew int) {
	s.takes = append(s.takes, Take{Crew: crew, Stopped: true})
	s.free[crew] = never
	s.chargeLost()
}

// span is when a crew would place a cell that it takes when it is next free.
func (s *shift) span(crew, cell int) (begin, end int) {
	begin = s.free[crew]
	for _, n := range s.Cells[cell].Needs {
		begin = max(begin, s.end[n])
	}
	long := s.by[crew][cell]
	for range len(s.Closed) + len(s.Crews[crew].Away) + 1 {
		moved := false
		for _, spans := range [][]Span{s.Closed, s.Crews[crew].Away} {
			for _, c := range spans {
				if begin < c.To && begin+long > c.From {
					begin, moved = c.To, true
				}
			}
		}
		if !moved {
			break
		}
	}
	return begin, begin + long
}

// take lets a crew take a cell, late by so many minutes, and judges the edges that have both sides now.
func (s *shift) take(crew, cell, late int) {
	begin, end := s.span(crew, cell)
	end += late
	s.put(cell, begin, end)
	s.free[crew] = end
	s.left--
	s.takes = append(s.takes, Take{Crew: crew, Cell: cell, From: begin, To: end})
	for _, side := range s.around[cell] {
		if s.begin[side.other] != never && !s.charged[side.edge] && s.cold(cell, side.other) {
			s.cost += s.worth(side.edge)
			s.charged[side.edge] = true
		}
	}
	s.chargeLost()
}

// put lays a cell down from one minute to another.
func (s *shift) put(cell, begin, end int) {
	c, water := s.curve(cell), begin-s.Lead
	s.begin[cell], s.end[cell] = begin, end
	s.due[cell] = c.latest(c.At(water)+s.Cells[cell].Set, water)
	if len(s.around[cell]) > 0 {
		s.fronts = append(s.fronts, cell)
		s.soon = min(s.soon, s.due[cell])
	}
}

// cold judges an edge of two cells that have been taken: from water contact of the side that began first to the end of
// placing of the other, or to the later end where both began at the same minute.
func (s *shift) cold(a, b int) bool {
	if s.begin[b] < s.begin[a] || s.begin[a] == s.begin[b] && s.end[b] < s.end[a] {
		a, b = b, a
	}
	return s.end[b] > s.due[a]
}

// soonest is the earliest minute at which any crew can have placed a cell; needs that are not taken yet count with
// nothing, so it is never too late.
func (s *shift) soonest(cell int) int {
	best := never
	for k, f := range s.free {
		if f == never {
			continue
		}
		at := f
		for _, n := range s.Cells[cell].Needs {
			if s.begin[n] != never {
				at = max(at, s.end[n])
			}
		}
		best = min(best, at+s.by[k][cell])
	}
	return best
}

// chargeLost pays for edges that nobody can meet in time any more, so that searching need not go on to learn it, and
// forgets fronts that wait for nothing.
//
// Invariant: an edge is paid here only if every cell that is still to be taken begins no earlier than the front did.
// Otherwise the other side could yet become the one that began first, and be met in time.
func (s *shift) chargeLost() {
	now := slices.Min(s.free)
	if now != never && s.most != never && now+s.most <= s.soon {
		return // whatever waits can be met by whoever is free first
	}
	fronts, soon := s.fronts[:0], never
	for _, cell := range s.fronts {
		waits := false
		for _, side := range s.around[cell] {
			if s.charged[side.edge] || s.begin[side.other] != never {
				continue
			}
			if s.begin[cell] <= now && s.soonest(side.other) > s.due[cell] {
				s.cost += s.worth(side.edge)
				s.charged[side.edge] = true
				continue
			}
			waits = true
		}
		if waits {
			fronts, soon = append(fronts, cell), min(soon, s.due[cell])
		}
	}
	s.fronts, s.soon = fronts, soon
}

// plan is what was played, once nothing is left.
func (s *shift) plan() *Plan {
	p := &Plan{Takes: slices.Clone(s.takes), Cost: s.cost}
	for e, paid := range s.charged {
		switch {
		case !paid:
		case s.Edges[e].Permitted:
			p.OnPurpose = append(p.OnPurpose, e)
		default:
			p.Cold = append(p.Cold, e)
		}
	}
	return p.finished()
}
