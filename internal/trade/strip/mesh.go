package strip

import (
	"container/heap"
	"fmt"
	"math"
)

// Mesh limits, so that a file cannot ask for endless work.
const (
	MaxVertices  = 200_000
	MaxTriangles = 400_000
)

// Mesh is a bent zone of triangles; each side is a chain of vertices. The distance from a side is along the surface, by
// Dijkstra's method with a step across triangles, and linear within each triangle.
func Mesh(vertices [][3]float64, triangles [][3]int, sides []NamedSide) (*Surface, error) {
	switch {
	case len(vertices) > MaxVertices:
		return nil, fmt.Errorf("%d vertices are too many; at most %d", len(vertices), MaxVertices)
	case len(triangles) == 0 || len(triangles) > MaxTriangles:
		return nil, fmt.Errorf("%d triangles: there must be from 1 to %d", len(triangles), MaxTriangles)
	}
	if err := checkSides(sides, 2, len(vertices)); err != nil {
		return nil, err
	}
	at := make([][]int, len(vertices)) // triangles at a vertex
	for i, t := range triangles {
		for _, v := range t {
			if v < 0 || v >= len(vertices) {
				return nil, fmt.Errorf("triangle %d: there is no vertex %d", i, v)
			}
			at[v] = append(at[v], i)
		}
	}
	from := make([]point, len(vertices))
	for k, one := range sides {
		far := distances(vertices, triangles, at, one.Corners)
		for v, d := range far {
			if math.IsInf(d, 1) && len(at[v]) > 0 {
				return nil, fmt.Errorf("vertex %d cannot be reached from side %q along the surface", v, one.Name)
			}
			from[v].d[k] = d
		}
	}
	s := &Surface{}
	for _, t := range triangles {
		s.patches = append(s.patches, flat(vertices, t, from))
	}
	for _, one := range sides {
		is := side{name: one.Name}
		for i := 1; i < len(one.Corners); i++ {
			a, b := one.Corners[i-1], one.Corners[i]
			to := is.length + apart(vertices[a], vertices[b])
			is.along = append(is.along, stretch{from: is.length, to: to, a: from[a], b: from[b]})
			is.length = to
		}
		if is.length == 0 {
			return nil, fmt.Errorf("side %q has no length", one.Name)
		}
		s.sides = append(s.sides, is)
	}
	return s.measured()
}

// flat lays a triangle into a plane.
func flat(vertices [][3]float64, t [3]int, from []point) patch {
	ab, ac, bc := apart(vertices[t[0]], vertices[t[1]]), apart(vertices[t[0]], vertices[t[2]]), apart(vertices[t[1]],
		vertices[t[2]])
	x, y := 0.0, 0.0
	if ab > 0 {
		x = (float64(ab*ab) + float64(ac*ac) - float64(bc*bc)) / (2 * ab)
		y = math.Sqrt(max(0, float64(ac*ac)-float64(x*x)))
	}
	a, b, c := from[t[0]], from[t[1]], from[t[2]]
	a.x, a.y, b.x, b.y, c.x, c.y = 0, 0, ab, 0, x, y
	return patch{points: []point{a, b, c}, sign: 1}
}

func apart(p, q [3]float64) float64 {
	return math.Hypot(math.Hypot(p[0]-q[0], p[1]-q[1]), p[2]-q[2])
}

// distances of all vertices from a chain, along the surface.
func distances(vertices [][3]float64, triangles [][3]int, at [][]int, chain []int) []float64 {
	far := make([]float64, len(vertices))
	for i := range far {
		far[i] = math.Inf(1)
	}
	queue := &near{far: far}
	reach := func(v int, d float64) {
		if d < far[v] {
			far[v] = d
			heap.Push(queue, reached{v, d})
		}
	}
	for _, v := range chain {
		reach(v, 0)
	}
	for queue.Len() > 0 {
		next := heap.Pop(queue).(reached)
		if next.d > far[next.vertex] {
			continue
		}
		for _, i := range at[next.vertex] {
			t := triangles[i]
			for k := range 3 {
				c := t[k]
				for _, other := range []int{t[(k+1)%3], t[(k+2)%3]} {
					if c == next.vertex || other == c {
						continue
					}
					reach(c, across(vertices, far, next.vertex, other, c))
				}
			}
		}
	}
	return far
}

// across is the distance of a corner c of a triangle by way of the best place on the side from a to b, on which the
// distance is linear; by way of a alone where b is the same or not reached yet.
func across(vertices [][3]float64, far []float64, a, b, c int) float64 {
	direct := far[a] + apart(vertices[a], vertices[c])
	length := apart(vertices[a], vertices[b])
	if a == b || length == 0 || math.IsInf(far[b], 1) {
		return direct
	}
	// With c at foot f along the side and height h above it, far[a] + slope·s + √(h² + (f−s)²) is least where
	// (f−s)/√(h² + (f−s)²) is the slope.
	slope := (far[b] - far[a]) / length
	if math.Abs(slope) >= 1 {
		return min(direct, far[b]+apart(vertices[b], vertices[c]))
	}
	ac, bc := apart(vertices[a], vertices[c]), apart(vertices[b], vertices[c])
	foot := (float64(length*length) + float64(ac*ac) - float64(bc*bc)) / (2 * length)
	height := math.Sqrt(max(0, float64(ac*ac)-float64(foot*foot)))
	s := foot - height*slope/math.Sqrt(1-float64(slope*slope))
	s = min(max(s, 0), length)
	return far[a] + float64(slope*s) + math.Hypot(height, foot-s)
}

// reached is a vertex with a distance at which it was reached.
type reached struct {
	vertex int
	d      float64
}

// near is a heap of vertices, the nearest first, of like ones the one with the lower number.
type near struct {
	all []reached
	far []float64
}

func (n *near) Len() int { return len(n.all) }
func (n *near) Less(i, j int) bool {
	if n.all[i].d != n.all[j].d {
		return n.all[i].d < n.all[j].d
	}
	return n.all[i].vertex < n.all[j].vertex
}
func (n *near) Swap(i, j int) { n.all[i], n.all[j] = n.all[j], n.all[i] }
func (n *near) Push(x any)    { n.all = append(n.all, x.(reached)) }
func (n *near) Pop() any {
	last := n.all[len(n.all)-1]
	n.all = n.all[:len(n.all)-1]
	return last
}
