package next

import (
	"cmp"
	"math/bits"
	"slices"
)

// sweepSteps bounds the power iteration, and fixed is the size to which its vector is scaled after each step: whole
// numbers, so that every machine finds the same order.
const (
	sweepSteps = 3000
	fixed      = int64(1) << 30
)

// sweep ranks the cells from one end of the shell to the other, row by row across its short way, from the graph alone:
// by the eigenvector of the second least eigenvalue of the graph's Laplacian (Barnard, Pothen, Simon 1995, from memory).
// On square or round shapes that vector is not unique; then it is one of several as good.
func sweep(j *Job) []int {
	near := neighbours(j)
	order := make([]int, 0, len(j.Cells))
	for _, part := range parts(near) {
		order = append(order, sweepPart(near, part)...)
	}
	return order
}

// neighbours of each cell, ended edges included: they still say where a cell lies.
func neighbours(j *Job) [][]int {
	near := make([][]int, len(j.Cells))
	for _, e := range j.Edges {
		near[e.A] = append(near[e.A], e.B)
		near[e.B] = append(near[e.B], e.A)
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
	for range sweepSteps {
		for _, cell := range part {
			sum := x[cell] * int64(2*degree-len(near[cell]))
			for _, n := range near[cell] {
				sum += x[n]
			}
			next[cell] = sum
		}
		x, next = next, x
		centre(x, part)
	}
	order := slices.Clone(part)
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(x[a], x[b]) })
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
