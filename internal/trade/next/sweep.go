package next

import (
	"cmp"
	"maps"
	"math/bits"
	"slices"
)

// sweepSteps bounds the power iteration, which ends sooner where the order is the same after sweepLook more steps.
// Fixed is the size to which its vector is scaled when it has grown much too large: whole numbers, so that every
// machine finds the same order.
const (
	sweepSteps   = 3000
	sweepLook    = 250
	fixed        = int64(1) << 30
	muchTooLarge = int64(1) << 44
)

// sweep ranks the cells that are still to be placed from one end of the shell to the other, row by row across its short
// way, from the graph alone: by the eigenvector of the second least eigenvalue of the graph's Laplacian (Barnard,
// Pothen, Simon 1995, from memory). On square or round shapes that vector is not unique; then it is one of several as
// good. What is left in several parts is ranked part by part, each from the end that adjoins what is placed. Placed
// cells come last. Edges that are in cut are left out.
func sweep(j *Job, cut map[int]bool) []int {
	near := left(j, cut)
	order := make([]int, 0, len(j.Cells))
	for _, part := range parts(near) {
		if !j.Cells[part[0]].Placed {
			order = append(order, j.fromPlaced(sweepPart(near, part))...)
		}
	}
	return withRest(order, len(j.Cells))
}

// fromPlaced is an order that begins at the end of it that adjoins what is placed.
func (j *Job) fromPlaced(order []int) []int {
	rank := make(map[int]int, len(order))
	for at, cell := range order {
		rank[cell] = at
	}
	sum, n := 0, 0
	for _, e := range j.Edges {
		for _, pair := range [][2]int{{e.A, e.B}, {e.B, e.A}} {
			if at, in := rank[pair[0]]; in && !e.Ended && j.Cells[pair[1]].Placed {
				sum, n = sum+at, n+1
			}
		}
	}
	if 2*sum > n*(len(order)-1) {
		slices.Reverse(order)
	}
	return order
}

// cutSweeps are sweeps of what is left when a ring in it is cut along one line of permitted joints, so that they go
// around it from there; none where nothing is a ring, or no joint is permitted in it.
func cutSweeps(j *Job) [][]int {
	const most, tried = 2, 12
	whole := len(parts(left(j, nil)))
	var all [][]int
	for i, seam := range seams(j) {
		if len(all) == most || i == tried {
			break
		}
		if len(parts(left(j, seam))) == whole {
			all = append(all, sweep(j, seam))
		}
	}
	return all
}

// seams are the permitted joints between two bays: what is left together when the shell is cut at all of them. They
// come by the bays that they part, in whatever order the edges are told.
func seams(j *Job) []map[int]bool {
	permitted := map[int]bool{}
	for i, e := range j.Edges {
		if e.Permitted {
			permitted[i] = true
		}
	}
	if len(permitted) == 0 {
		return nil
	}
	bay := make([]int, len(j.Cells))
	for i, part := range parts(left(j, permitted)) {
		for _, cell := range part {
			bay[cell] = i
		}
	}
	between := map[[2]int]map[int]bool{}
	for i, e := range j.Edges {
		a, b := min(bay[e.A], bay[e.B]), max(bay[e.A], bay[e.B])
		if !e.Permitted || a == b || j.Cells[e.A].Placed || j.Cells[e.B].Placed {
			continue
		}
		pair := [2]int{a, b}
		if between[pair] == nil {
			between[pair] = map[int]bool{}
		}
		between[pair][i] = true
	}
	var all []map[int]bool
	for _, pair := range slices.SortedFunc(maps.Keys(between),
		func(a, b [2]int) int { return slices.Compare(a[:], b[:]) }) {
		all = append(all, between[pair])
	}
	return all
}

// left says which cells that are still to be placed adjoin each other, ended edges included: they still say where a
// cell lies. Edges that are in cut are left out.
func left(j *Job, cut map[int]bool) [][]int {
	near := make([][]int, len(j.Cells))
	for i, e := range j.Edges {
		if !cut[i] && !j.Cells[e.A].Placed && !j.Cells[e.B].Placed {
			near[e.A] = append(near[e.A], e.B)
			near[e.B] = append(near[e.B], e.A)
		}
	}
	for _, n := range near {
		slices.Sort(n) // in whatever order the edges are told
	}
	return near
}

// parts are the connected parts of a graph, each by its least cell.
func parts(near [][]int) [][]int {
	seen := make([]bool, len(near))
	var all [][]int
	for i := range near {
		if seen[i] {
			continue
		}
		all = append(all, slices.Sorted(slices.Values(levels(near, i, seen))))
	}
	return all
}

// levels are the cells that can be reached from one, nearest first; each is marked as seen.
func levels(near [][]int, from int, seen []bool) []int {
	seen[from] = true
	queue := []int{from}
	for k := 0; k < len(queue); k++ {
		for _, n := range near[queue[k]] {
			if !seen[n] {
				seen[n] = true
				queue = append(queue, n)
			}
		}
	}
	return queue
}

// end is a cell at one end of a part: the one farthest from the one farthest from its first.
func end(near [][]int, part []int) int {
	at := part[0]
	for range 2 {
		reach := levels(near, at, make([]bool, len(near)))
		at = reach[len(reach)-1]
	}
	return at
}

func sweepPart(near [][]int, part []int) []int {
	x := make([]int64, len(near))
	for rank, cell := range levels(near, end(near, part), make([]bool, len(near))) {
		x[cell] = int64(rank) * 1000 // near the answer already
	}
	centre(x, part)
	degree := 1
	for _, cell := range part {
		degree = max(degree, len(near[cell]))
	}
	next := make([]int64, len(near))
	order := slices.Clone(part)
	for step := range sweepSteps {
		most := int64(0)
		for _, cell := range part {
			sum := x[cell] * int64(2*degree-len(near[cell]))
			for _, n := range near[cell] {
				sum += x[n]
			}
			next[cell] = sum
			most = max(most, sum, -sum)
		}
		x, next = next, x
		if most > muchTooLarge {
			centre(x, part)
		}
		if step%sweepLook == sweepLook-1 {
			before := slices.Clone(order)
			slices.SortFunc(order, func(a, b int) int { return cmp.Or(cmp.Compare(x[a], x[b]), cmp.Compare(a, b)) })
			if slices.Equal(before, order) {
				break
			}
		}
	}
	return order
}

// centre takes the mean off a part's vector and scales it, so that what is constant over the part does not come back.
func centre(x []int64, part []int) {
	sum, most := int64(0), int64(1)
	for _, cell := range part {
		sum += x[cell]
	}
	mean := sum / int64(len(part))
	for _, cell := range part {
		x[cell] -= mean
		most = max(most, x[cell], -x[cell])
	}
	for _, cell := range part {
		x[cell] = scaled(x[cell], most)
	}
}

// scaled is v · fixed / most, where |v| is at most most.
func scaled(v, most int64) int64 {
	if v < 0 {
		return -scaled(-v, most)
	}
	high, low := bits.Mul64(uint64(v), uint64(fixed))
	q, _ := bits.Div64(high, low, uint64(most))
	return int64(q)
}
