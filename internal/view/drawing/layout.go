package drawing

import (
	"cmp"
	"slices"

	"hod/internal/event"
)

// spot is a cell of a part of the map, from 0.
type spot struct{ row, column int }

// laidFlat is one connected part of the shell, laid on a grid of rows and columns.
type laidFlat struct {
	at      map[event.Zone]spot
	zones   []event.Zone // in the order of the plan
	planned bool         // at least one of its cells is of the plan
}

// layout lays zones on grids: where the plan gives cells those, and the others beside their neighbours. Zones that hang
// together are one part; all that have a cell in the plan share one grid, since their cells are of one map. It hangs on
// the order of zones and on the edges alone, so that every device draws the same map. Crowded are zones whose cell in
// the plan is another's, which comes first; they are laid by their neighbours.
func layout(zones []event.Zone, cells map[event.Zone]*event.MapCell, edges [][2]event.Zone) (parts []*laidFlat,
	crowded []event.Zone,
) {
	l := layerOf(zones, edges)
	fixed, taken := map[event.Zone]spot{}, map[spot]bool{}
	for _, z := range zones {
		c := cells[z]
		if c == nil {
			continue
		}
		at := spot{c.Row - 1, c.Column - 1}
		if taken[at] {
			crowded = append(crowded, z)
			continue
		}
		fixed[z], taken[at] = at, true
	}
	var alone *laidFlat
	var whole *laidFlat
	for _, group := range l.groups(zones) {
		isPlanned := slices.ContainsFunc(group, func(z event.Zone) bool { _, is := fixed[z]; return is })
		switch {
		case isPlanned:
			if whole == nil {
				whole = &laidFlat{at: fixed, planned: true}
				parts = append(parts, whole)
			}
			whole.zones = append(whole.zones, group...)
		case len(group) == 1 && len(l.next[group[0]]) == 0:
			if alone == nil {
				alone = &laidFlat{at: map[event.Zone]spot{}}
			}
			alone.zones = append(alone.zones, group...)
		default:
			p := &laidFlat{at: map[event.Zone]spot{}, zones: group}
			l.grow(p)
			parts = append(parts, p)
		}
	}
	if whole != nil {
		slices.SortFunc(whole.zones, func(a, b event.Zone) int { return cmp.Compare(l.rank[a], l.rank[b]) })
		l.grow(whole)
	}
	if alone != nil { // zones that share no edge with any other: in rows, as they are placed
		const wide = 4
		for i, z := range alone.zones {
			alone.at[z] = spot{i / wide, i % wide}
		}
		parts = append(parts, alone)
	}
	for _, p := range parts {
		p.close()
	}
	return parts, crowded
}

// layerOf zones are they with their neighbours, in the order in which they are to be placed.
func layerOf(zones []event.Zone, edges [][2]event.Zone) layer {
	l := layer{next: map[event.Zone][]event.Zone{}, rank: map[event.Zone]int{}}
	for i, z := range zones {
		l.rank[z] = i
	}
	for _, e := range edges {
		_, a := l.rank[e[0]]
		_, b := l.rank[e[1]]
		if a && b && e[0] != e[1] {
			l.next[e[0]] = append(l.next[e[0]], e[1])
			l.next[e[1]] = append(l.next[e[1]], e[0])
		}
	}
	for z := range l.next {
		slices.SortFunc(l.next[z], func(a, b event.Zone) int { return cmp.Compare(l.rank[a], l.rank[b]) })
	}
	return l
}

// layer lays by neighbours.
type layer struct {
	next map[event.Zone][]event.Zone // neighbours in the order of the plan
	rank map[event.Zone]int          // place in the order of the plan
}

// groups of zones that hang together, each in the order of the plan.
func (l layer) groups(zones []event.Zone) [][]event.Zone {
	var all [][]event.Zone
	seen := map[event.Zone]bool{}
	for _, z := range zones {
		if seen[z] {
			continue
		}
		seen[z] = true
		group := []event.Zone{z}
		for i := 0; i < len(group); i++ {
			for _, n := range l.next[group[i]] {
				if !seen[n] {
					seen[n] = true
					group = append(group, n)
				}
			}
		}
		slices.SortFunc(group, func(a, b event.Zone) int { return cmp.Compare(l.rank[a], l.rank[b]) })
		all = append(all, group)
	}
	return all
}

// grow lays the zones of a part that have no cell yet: always the one with most neighbours laid, in the free cell that
// suits its neighbours best. It begins at a corner, a zone with the fewest neighbours.
func (l layer) grow(p *laidFlat) {
	taken := map[spot]event.Zone{}
	for z, at := range p.at {
		taken[at] = z
	}
	laid := map[event.Zone]int{} // neighbours laid
	rest := map[event.Zone]bool{}
	for _, z := range p.zones {
		if _, is := p.at[z]; !is {
			rest[z] = true
		}
	}
	for z := range p.at {
		for _, n := range l.next[z] {
			laid[n]++
		}
	}
	put := func(z event.Zone, at spot) {
		p.at[z], taken[at] = at, z
		delete(rest, z)
		for _, n := range l.next[z] {
			laid[n]++
		}
	}
	for len(rest) > 0 {
		best, found := event.Zone(""), false
		for _, z := range p.zones {
			switch {
			case !rest[z]:
			case !found, laid[z] > laid[best], laid[z] == 0 && laid[best] == 0 && len(l.next[z]) < len(l.next[best]):
				best, found = z, true
			}
		}
		put(best, l.spotFor(p, taken, best))
	}
}

// spotFor a zone: of the free cells around its neighbours the one of least cost; of equal ones the first by row and
// column.
func (l layer) spotFor(p *laidFlat, taken map[spot]event.Zone, z event.Zone) spot {
	const reach = 3
	var best spot
	least, found := 0, false
	for _, n := range l.next[z] {
		at, is := p.at[n]
		if !is {
			continue
		}
		for r := at.row - reach; r <= at.row+reach; r++ {
			for c := at.column - reach; c <= at.column+reach; c++ {
				s := spot{r, c}
				if _, full := taken[s]; full {
					continue
				}
				if cost := l.cost(p, taken, z, s); !found || cost < least || cost == least &&
					(s.row < best.row || s.row == best.row && s.column < best.column) {
					best, least, found = s, cost, true
				}
			}
		}
	}
	if found {
		return best
	}
	bottom := -1 // nothing beside it: below all
	for s := range taken {
		bottom = max(bottom, s.row)
	}
	return spot{bottom + 1, 0}
}

// cost of a zone in a cell. Neighbours should touch; a zone that shares two neighbours with it should lie across a
// corner, one that shares a single neighbour in a line; what touches without an edge misleads.
func (l layer) cost(p *laidFlat, taken map[spot]event.Zone, z event.Zone, s spot) int {
	cost := 0
	shared := map[event.Zone]int{}
	for _, n := range l.next[z] {
		if at, is := p.at[n]; is {
			cost += 12 * (far(at, s) - 1)
		}
		for _, m := range l.next[n] {
			if m != z && !slices.Contains(l.next[z], m) {
				shared[m]++
			}
		}
	}
	for m, times := range shared {
		at, is := p.at[m]
		if !is {
			continue
		}
		down, along := abs(at.row-s.row), abs(at.column-s.column)
		if times > 1 && (down != 1 || along != 1) || times == 1 && !(down+along == 2 && down*along == 0) {
			cost += 4
		}
	}
	for _, beside := range []spot{{s.row - 1, s.column}, {s.row + 1, s.column}, {s.row, s.column - 1}, {
		s.row,
		s.column + 1,
	}} {
		if other, full := taken[beside]; full && !slices.Contains(l.next[z], other) {
			cost += 5
		}
	}
	if s.row < 0 {
		cost++
	}
	if s.row > 0 && len(p.at) < 2 { // the first neighbour lies beside, so that a chain of zones is a row
		cost++
	}
	return cost
}

func far(a, b spot) int { return abs(a.row-b.row) + abs(a.column-b.column) }

func abs(n int) int { return max(n, -n) }

// close brings the part to its corner and leaves out rows and columns in which nothing lies, but for one between
// others.
func (p *laidFlat) close() {
	rows, columns := map[int]bool{}, map[int]bool{}
	for _, s := range p.at {
		rows[s.row], columns[s.column] = true, true
	}
	row, column := closed(rows), closed(columns)
	at := make(map[event.Zone]spot, len(p.at))
	for z, s := range p.at {
		at[z] = spot{row[s.row], column[s.column]}
	}
	p.at = at
}

// closed gives the numbers of what is used, from 0, with one unused between those that do not follow one another.
func closed(used map[int]bool) map[int]int {
	order := make([]int, 0, len(used))
	for n := range used {
		order = append(order, n)
	}
	slices.Sort(order)
	to := make(map[int]int, len(order))
	next := 0
	for i, n := range order {
		if i > 0 && n > order[i-1]+1 {
			next++
		}
		to[n] = next
		next++
	}
	return to
}
