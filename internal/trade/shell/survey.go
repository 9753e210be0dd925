package shell

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"hod/internal/unit"
)

// Survey is what a mesh measures and what is wrong with it, in metres. Degenerate triangles and the second and later of
// repeated ones are left out of every figure.
type Survey struct {
	Tolerance unit.Length // vertices nearer than this were taken as one
	Zones     []Zone      // in the order of Mesh.Groups
	Seams     []Seam      // by zone numbers
	Whole     Measures    // the mesh over its zones' borders

	Triangles  int // counted in the figures
	Repeated   []int
	Degenerate []int // no area, or corners that are one within the tolerance; both lists hold places in Mesh.Triangles
	Crowded    int   // edges at which three triangles or more meet
	Turned     int   // edges whose two triangles face opposite ways: no outer side, so no curvature about them
	Open       unit.Length
	OpenEdges  int
	Bent       int // see Mesh.Bent
}

// Zone is what one group measures. Its curvature counts each seam half, and leaves out the corners on its border.
type Zone struct {
	Name      string
	Triangles int
	Open      unit.Length // its edges that nothing adjoins
	Measures
}

// Seam is the length along which two zones adjoin, by their places in Survey.Zones, the lower first.
type Seam struct {
	A, B   int
	Length unit.Length
}

// Warnings are what a person should know before trusting the figures; none for a sound mesh that is open only at its
// foot, which is for the caller to judge by Open.
func (s Survey) Warnings() []string {
	var w []string
	say := func(n int, one, many string) {
		switch {
		case n == 1:
			w = append(w, "1 "+one)
		case n > 1:
			w = append(w, fmt.Sprintf("%d %s", n, many))
		}
	}
	say(s.OpenEdges, "edge is open", "edges are open")
	say(len(s.Repeated), "triangle repeats another and is counted once", "triangles repeat others and are counted once")
	say(len(s.Degenerate), "triangle has no area and is left out", "triangles have no area and are left out")
	say(s.Crowded, "edge has three triangles or more: the surface branches there",
		"edges have three triangles or more: the surface branches there")
	say(s.Turned, "edge joins triangles that face opposite ways: the outer side is in doubt",
		"edges join triangles that face opposite ways: the outer side is in doubt")
	say(s.Bent, "polygon is not flat or not convex: its area depends on how it was cut",
		"polygons are not flat or not convex: their area depends on how they were cut")
	return w
}

// FormulaMesh names how a mesh's area comes about.
const FormulaMesh = "sum of the triangles' areas; curvature from the angles between them"

// Reach is a tolerance that suits the mesh: a millionth of its greatest extent, or what its numbers can tell apart
// where it lies so far from its origin that this is more.
func (m *Mesh) Reach() unit.Length {
	if len(m.Vertices) == 0 {
		return 0
	}
	low, high := m.Vertices[0], m.Vertices[0]
	for _, p := range m.Vertices {
		for k := range p {
			low[k], high[k] = min(low[k], p[k]), max(high[k], p[k])
		}
	}
	return unit.Length(max(1e-6*length(minus(high, low)), m.finest()))
}

// finest is the least width of a grid whose cells can still be numbered.
func (m *Mesh) finest() float64 {
	far := 0.0
	for _, p := range m.Vertices {
		far = max(far, math.Abs(p[0]), math.Abs(p[1]), math.Abs(p[2]))
	}
	return 1e-15 * far
}

type edge struct{ from, to int32 } // from < to

// surroundings say what a vertex lies in, from the edges that end at it.
type surroundings struct {
	used   bool
	border bool // some edge is no inner edge of one zone
	rim    bool // some edge is open, or branches
	zone   int32
}

// side is one triangle along an edge.
type side struct {
	edge     edge
	triangle int32
	forward  bool // the triangle runs it from the lower vertex to the higher
}

// Survey measures the mesh. Vertices within tolerance of one another count as one (0: only those at the same place);
// a tolerance over a thousandth of the mesh's extent is refused. Time and room grow with the number of triangles.
func (m *Mesh) Survey(tolerance unit.Length) (Survey, error) {
	if err := m.measurable(tolerance); err != nil {
		return Survey{}, err
	}
	w := m.welded(float64(tolerance))
	s := Survey{Tolerance: tolerance, Zones: make([]Zone, len(m.Groups)), Bent: m.Bent}
	for i, name := range m.Groups {
		s.Zones[i].Name = name
	}
	kept := s.sort(w)
	s.Triangles = len(kept)
	around := s.edges(w, s.areas(w, kept))
	s.defects(w, kept, around)
	return s, nil
}

// measurable says why the mesh cannot be measured at this tolerance.
func (m *Mesh) measurable(tolerance unit.Length) error {
	if len(m.Triangles) == 0 || len(m.Groups) == 0 {
		return errors.New("a mesh without triangles measures nothing")
	}
	for _, p := range m.Vertices {
		for _, x := range p {
			if !(math.Abs(x) <= farthest*1e4) {
				return fmt.Errorf("a coordinate of %.4g m is no place on a shell", x)
			}
		}
	}
	for _, t := range m.Triangles {
		for _, c := range t.Corners {
			if c < 0 || int(c) >= len(m.Vertices) {
				return fmt.Errorf("a triangle names vertex %d of %d", c, len(m.Vertices))
			}
		}
		if t.Group < 0 || int(t.Group) >= len(m.Groups) {
			return fmt.Errorf("a triangle names group %d of %d", t.Group, len(m.Groups))
		}
	}
	if most := 1000 * m.Reach(); !(tolerance >= 0 && tolerance <= most) {
		return fmt.Errorf("a tolerance of %.4g m cannot be used on a mesh of this extent; give 0 to %.4g m",
			float64(tolerance), float64(most))
	}
	if least := m.finest(); tolerance > 0 && float64(tolerance) < least {
		return fmt.Errorf(
			"a tolerance of %.4g m is finer than this mesh's numbers are; give 0, or %.4g m or more",
			float64(tolerance), least)
	}
	return nil
}

// areas adds up the areas of the triangles that are kept, and gives their sides, those along one edge side by side.
func (s *Survey) areas(w *Mesh, kept []int32) []side {
	sides := make([]side, 0, 3*len(kept))
	for _, i := range kept {
		t := w.Triangles[i]
		area := unit.Area(length(w.normal(t)) / 2)
		s.Whole.Area += area
		s.Zones[t.Group].Area += area
		s.Zones[t.Group].Triangles++
		for k := range 3 {
			a, b := t.Corners[k], t.Corners[(k+1)%3]
			sides = append(sides, side{edge{min(a, b), max(a, b)}, i, a < b})
		}
	}
	slices.SortFunc(sides, func(a, b side) int {
		return cmp.Or(cmp.Compare(a.edge.from, b.edge.from), cmp.Compare(a.edge.to, b.edge.to),
			cmp.Compare(a.triangle, b.triangle))
	})
	return sides
}

// edges measures each edge by the sides along it: rims, creases and the seams between zones. It gives what lies around
// each vertex.
func (s *Survey) edges(w *Mesh, sides []side) []surroundings {
	around := make([]surroundings, len(w.Vertices))
	seams := map[[2]int32]float64{}
	for len(sides) > 0 {
		n := 1
		for n < len(sides) && sides[n].edge == sides[0].edge {
			n++
		}
		s.edge(w, sides[:n], seams, around)
		sides = sides[n:]
	}
	for pair, l := range seams {
		s.Seams = append(s.Seams, Seam{int(pair[0]), int(pair[1]), unit.Length(l)})
	}
	slices.SortFunc(s.Seams, func(a, b Seam) int { return cmp.Or(cmp.Compare(a.A, b.A), cmp.Compare(a.B, b.B)) })
	return around
}

// cellWidth is that of the search grid, in tolerances: wide enough that a vertex seldom needs more than its own cell,
// narrow enough that vertices a tolerance apart cannot crowd one.
const cellWidth = 8

// welded is the mesh with near vertices made one: each becomes the nearest kept vertex before it in the file's order.
func (m *Mesh) welded(tolerance float64) *Mesh {
	w := &Mesh{Groups: m.Groups, Vertices: m.Vertices}
	same := make([]int32, len(m.Vertices))
	if tolerance == 0 {
		seen := make(map[Point]int32, len(m.Vertices))
		for i, p := range m.Vertices {
			first, ok := seen[p] // −0 and 0 are one key
			if !ok {
				first = int32(i)
				seen[p] = first
			}
			same[i] = first
		}
	} else {
		cells := make(map[[3]int64][]int32, len(m.Vertices))
		for i, p := range m.Vertices {
			var own, low, high [3]int64
			for k, x := range p {
				own[k] = int64(math.Floor(x / (cellWidth * tolerance)))
				low[k] = int64(math.Floor((x - tolerance) / (cellWidth * tolerance)))
				high[k] = int64(math.Floor((x + tolerance) / (cellWidth * tolerance)))
			}
			same[i] = int32(i)
			nearest := tolerance
			for x := low[0]; x <= high[0]; x++ {
				for y := low[1]; y <= high[1]; y++ {
					for z := low[2]; z <= high[2]; z++ {
						for _, j := range cells[[3]int64{x, y, z}] {
							d := length(minus(p, m.Vertices[j]))
							if d < nearest || d == nearest && (same[i] == int32(i) || j < same[i]) {
								nearest, same[i] = d, j
							}
						}
					}
				}
			}
			if same[i] == int32(i) {
				cells[own] = append(cells[own], int32(i))
			}
		}
	}
	w.Triangles = make([]Triangle, len(m.Triangles))
	for i, t := range m.Triangles {
		for k, c := range t.Corners {
			t.Corners[k] = same[c]
		}
		w.Triangles[i] = t
	}
	return w
}

// sort tells the triangles that count from the repeated and the degenerate.
func (s *Survey) sort(w *Mesh) []int32 {
	seen := make(map[[3]int32]bool, len(w.Triangles))
	kept := make([]int32, 0, len(w.Triangles))
	for i, t := range w.Triangles {
		c := t.Corners
		slices.Sort(c[:])
		switch {
		case c[0] == c[1] || c[1] == c[2] || !(length(w.normal(t)) > 0):
			s.Degenerate = append(s.Degenerate, i)
		case seen[c]:
			s.Repeated = append(s.Repeated, i)
		default:
			seen[c] = true
			kept = append(kept, int32(i))
		}
	}
	return kept
}

// edge counts one edge with all the triangles along it.
func (s *Survey) edge(w *Mesh, sides []side, seams map[[2]int32]float64, around []surroundings) {
	e := sides[0].edge
	along := minus(w.Vertices[e.to], w.Vertices[e.from])
	l := length(along)
	first := w.Triangles[sides[0].triangle]
	one := len(sides) == 2 && w.Triangles[sides[1].triangle].Group == first.Group
	for _, v := range [2]int32{e.from, e.to} {
		a := &around[v]
		a.used, a.zone = true, first.Group
		a.border = a.border || !one
		a.rim = a.rim || len(sides) != 2
	}
	if len(sides) == 1 {
		s.Open += unit.Length(l)
		s.OpenEdges++
		s.Zones[first.Group].Open += unit.Length(l)
		return
	}
	// Zones that meet here, each pair once, also where the surface branches.
	var groups []int32
	for _, d := range sides {
		groups = append(groups, w.Triangles[d.triangle].Group)
	}
	slices.Sort(groups)
	groups = slices.Compact(groups)
	for i, a := range groups {
		for _, b := range groups[i+1:] {
			seams[[2]int32{a, b}] += l
		}
	}
	if len(sides) > 2 {
		s.Crowded++
		return
	}
	if sides[0].forward == sides[1].forward {
		s.Turned++
		return
	}
	// ∫H over a crease is half its length times the angle, positive where the surface bulges to its normals' side.
	n, o := w.normal(first), w.normal(w.Triangles[sides[1].triangle])
	if l == 0 {
		return
	}
	angle := math.Atan2(dot(cross(n, o), along)/l, dot(n, o))
	if !sides[0].forward {
		angle = -angle
	}
	h := l * angle / 2
	s.Whole.Mean += h
	for _, d := range sides {
		s.Zones[w.Triangles[d.triangle].Group].Mean += h / 2
	}
}

// defects sums ∫K: at each inner vertex, what its corners' angles lack of a full turn.
func (s *Survey) defects(w *Mesh, kept []int32, around []surroundings) {
	angle := make([]float64, len(w.Vertices))
	for _, i := range kept {
		c := w.Triangles[i].Corners
		for k := range 3 {
			at := w.Vertices[c[k]]
			p, q := minus(w.Vertices[c[(k+1)%3]], at), minus(w.Vertices[c[(k+2)%3]], at)
			angle[c[k]] += math.Atan2(length(cross(p, q)), dot(p, q))
		}
	}
	for v, a := range around {
		if !a.used || a.rim {
			continue
		}
		k := 2*math.Pi - angle[v]
		s.Whole.Gauss += k
		if !a.border {
			s.Zones[a.zone].Gauss += k
		}
	}
}
