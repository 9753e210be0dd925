package next

import (
	"encoding/binary"
	"slices"
)

// What the exact method takes on. Its labels grow with the number of cells and crews; a job beyond these limits is
// answered by Search, which says that it found no proof.
const (
	MaxExactCells = 20
	MaxLabels     = 400_000
)

// label is a shift among others in which the same cells have been taken, with all that its future depends on.
type label struct {
	*shift
	waits []waiting // fronts with an open edge, by edge
}

// waiting is an edge that is open, and the last minute at which it can be met.
type waiting struct {
	edge, due int
}

// Exact finds an order of least cost among those that cost less than bound, or proves that there is none: then it gives
// nil and true. It gives false where the job is too large for it. First, where it is not negative, is the cell that the
// crew which is free first must take first.
//
// It keeps labels over sets of taken cells. One label makes another needless that has taken the same cells and whose
// crews are free at the same minutes, if it has cost no more and every edge that it leaves open can be met as late.
// An edge that nobody can meet any more is paid at once and forgotten, which keeps labels few.
func Exact(j *Job, bound Cost, first int) (*Plan, bool) {
	best, complete := newTable(j).exact(bound, first, MaxLabels)
	if best == nil {
		return nil, complete
	}
	p := best.plan()
	p.Exact = true
	return p, true
}

// exact is Exact with so many labels.
func (t *table) exact(bound Cost, first, most int) (*shift, bool) {
	s := t.start()
	if s.left > MaxExactCells {
		return nil, false
	}
	var best *shift
	work, labels := []*shift{s}, 0
	for len(work) > 0 {
		// Labels of one layer have as many cells left; stopping stays in the layer, so the layer grows while it is
		// read.
		layer := map[string][]*label{}
		var following []*shift
		for i := 0; i < len(work); i++ {
			s := work[i]
			if s.cost >= bound {
				continue
			}
			who, going := s.crew()
			if !going {
				best, bound = s, s.cost
				continue
			}
			if !keep(layer, s) {
				continue
			}
			if labels++; labels > most {
				return nil, false
			}
			if s.mayStop(who) {
				c := s.clone()
				c.stop(who)
				work = append(work, c)
			}
			following = append(following, s.children(who, first)...)
		}
		work = cheapestFirst(following)
	}
	return best, true
}

// children are a shift in which a crew takes each cell that it may.
func (s *shift) children(who, first int) []*shift {
	var all []*shift
	for _, cell := range s.choices(first) {
		c := s.clone()
		c.take(who, cell, 0)
		all = append(all, c)
	}
	return all
}

// choices are the cells that may be taken now; the very first take may be given.
func (s *shift) choices(first int) []int {
	if first >= 0 && !slices.ContainsFunc(s.takes, func(t Take) bool { return !t.Stopped }) {
		return []int{first}
	}
	var all []int
	for cell := range s.Cells {
		if s.open(cell) {
			all = append(all, cell)
		}
	}
	return all
}

func cheapestFirst(all []*shift) []*shift {
	slices.SortStableFunc(all, func(a, b *shift) int {
		switch {
		case a.cost < b.cost:
			return -1
		case a.cost > b.cost:
			return 1
		}
		return 0
	})
	return all
}

// keep puts a shift into its layer unless another one there makes it needless; those that it makes needless go, which
// spares later comparisons.
func keep(layer map[string][]*label, s *shift) bool {
	key, l := s.key(), &label{shift: s, waits: s.waiting()}
	for _, other := range layer[key] {
		if other.covers(l) {
			return false
		}
	}
	layer[key] = append(slices.DeleteFunc(layer[key], l.covers), l)
	return true
}

// key is what two shifts must have in common to be compared: the cells taken, the crews' times, and the cells whose
// placing is not over when the next crew is free, since a cell yet to be taken may begin before or wait for them.
func (s *shift) key() string {
	now := slices.Min(s.free)
	var b []byte
	for _, f := range s.free {
		b = binary.AppendVarint(b, int64(f))
	}
	for cell, begin := range s.begin {
		switch {
		case begin == never:
			b = append(b, 0)
		case s.end[cell] <= now:
			b = append(b, 1)
		default:
			b = append(b, 2)
			b = binary.AppendVarint(b, int64(begin))
			b = binary.AppendVarint(b, int64(s.end[cell]))
		}
	}
	return string(b)
}

func (s *shift) waiting() []waiting {
	var all []waiting
	for _, cell := range s.fronts {
		for _, side := range s.around[cell] {
			if !s.charged[side.edge] && s.begin[side.other] == never {
				all = append(all, waiting{side.edge, s.due[cell]})
			}
		}
	}
	slices.SortFunc(all, func(a, b waiting) int { return a.edge - b.edge })
	return all
}

// covers reports whether no future of b can end cheaper than the same future of a. An edge that b has paid and a has
// not may still cost a its worth.
func (a *label) covers(b *label) bool {
	cost := a.cost
	k := 0
	for _, w := range a.waits {
		for k < len(b.waits) && b.waits[k].edge < w.edge {
			k++
		}
		if k == len(b.waits) || b.waits[k].edge != w.edge {
			cost += a.worth(w.edge)
		} else if w.due < b.waits[k].due {
			return false
		}
	}
	return cost <= b.cost
}
