package shell

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"hod/internal/unit"
)

// Point is a vertex in the file's own unit of length; see Mesh.Scaled.
type Point [3]float64

// Triangle names its corners by their place in Mesh.Vertices, in the file's order, and its group by its place in
// Mesh.Groups.
type Triangle struct {
	Corners [3]int32
	Group   int32
}

// Mesh is a surface of triangles. Files say nothing of their unit: a mesh measures in metres only once Scaled so.
type Mesh struct {
	Vertices  []Point
	Triangles []Triangle
	Groups    []string // zones; each has a triangle
	// Bent counts polygons of more than three corners that are not flat or not convex: cutting them into a fan of
	// triangles changes their area.
	Bent int
}

// Limits are how much of a file is taken in. A limit reached is an error.
type Limits struct {
	Bytes     int64
	Vertices  int
	Triangles int
	Groups    int
}

// Usual are limits that any surveyed or drawn shell keeps well within.
var Usual = Limits{Bytes: 64 << 20, Vertices: 3_000_000, Triangles: 1_000_000, Groups: 1000}

// Format is a mesh file's format.
type Format int

const (
	OBJ Format = iota + 1
	STL        // text or binary, told apart by content
	PLY        // text, or binary of either byte order
)

// FormatOf is the format by a file name's ending, in either case.
func FormatOf(name string) (Format, error) {
	switch lower := strings.ToLower(name); {
	case strings.HasSuffix(lower, ".obj"):
		return OBJ, nil
	case strings.HasSuffix(lower, ".stl"):
		return STL, nil
	case strings.HasSuffix(lower, ".ply"):
		return PLY, nil
	}
	return 0, fmt.Errorf("%q does not end in .obj, .stl or .ply, the mesh files that can be read", name)
}

// Read reads a mesh. It holds the file's bytes, within limits.Bytes, while it does. Coordinates must be numbers within
// a thousand million; a file of no triangles is an error. An OBJ file's g and o lines name the groups; the other two
// formats have one group.
func Read(r io.Reader, f Format, limits Limits) (*Mesh, error) {
	if limits.Bytes <= 0 || limits.Vertices <= 0 || limits.Triangles <= 0 || limits.Groups <= 0 ||
		limits.Bytes > math.MaxInt32 || limits.Vertices > math.MaxInt32 || limits.Triangles > math.MaxInt32 ||
		limits.Groups > math.MaxInt32 {
		return nil, errors.New("each limit on a mesh must be above 0 and at most 2 147 483 647")
	}
	data, err := io.ReadAll(io.LimitReader(r, limits.Bytes+1))
	if err != nil {
		return nil, fmt.Errorf("read mesh: %w", err)
	}
	if int64(len(data)) > limits.Bytes {
		return nil, fmt.Errorf("the mesh file is over %d bytes, the most that is read; simplify the mesh or split it",
			limits.Bytes)
	}
	b := &builder{limits: limits}
	switch f {
	case OBJ:
		err = b.obj(data)
	case STL:
		err = b.stl(data)
	case PLY:
		err = b.ply(data)
	default:
		err = fmt.Errorf("no mesh format has the number %d; use OBJ, STL or PLY", int(f))
	}
	if err != nil {
		return nil, err
	}
	return b.done()
}

// Scaled is the mesh with every coordinate multiplied, to bring its unit to metres: by unit.Millimetre for a drawing in
// millimetres.
func (m *Mesh) Scaled(one unit.Length) (*Mesh, error) {
	if !(one >= 1e-6 && one <= 1e4) {
		return nil, fmt.Errorf("a drawing unit of %s cannot be used; give one of 0.001 mm to 10 000 m (6.2 miles)",
			both(one, unit.System.Length))
	}
	s := *m
	s.Vertices = make([]Point, len(m.Vertices))
	for i, p := range m.Vertices {
		for k := range p {
			s.Vertices[i][k] = p[k] * float64(one)
		}
	}
	return &s, nil
}

// farthest is the greatest coordinate taken, in the file's unit: a thousand kilometres in millimetres. Areas and
// volumes of anything within it stay finite.
const farthest = 1e9

type builder struct {
	limits Limits
	mesh   Mesh
	group  int32
	byName map[string]int32
}

func (b *builder) vertex(p Point) error {
	for _, x := range p {
		if !(math.Abs(x) <= farthest) {
			return fmt.Errorf("a coordinate of %.4g is no place on a shell; give numbers of at most a thousand million",
				x)
		}
	}
	if len(b.mesh.Vertices) >= b.limits.Vertices {
		return fmt.Errorf("the mesh has over %d vertices, the most that is read; simplify it", b.limits.Vertices)
	}
	b.mesh.Vertices = append(b.mesh.Vertices, p)
	return nil
}

// name makes the named group current; it comes to be when a triangle joins it.
func (b *builder) name(s string) { b.group = -1; b.mesh.Groups = append(b.mesh.Groups[:b.named()], s) }

// named is how many groups have triangles; a further one is only spoken of.
func (b *builder) named() int { return len(b.byName) }

// current is the group that a triangle joins now.
func (b *builder) current() (int32, error) {
	if b.group >= 0 && b.named() > 0 {
		return b.group, nil
	}
	if len(b.mesh.Groups) == b.named() {
		b.mesh.Groups = append(b.mesh.Groups, wholeGroup)
	}
	name := b.mesh.Groups[b.named()]
	if b.byName == nil {
		b.byName = map[string]int32{}
	}
	if g, ok := b.byName[name]; ok {
		b.group = g
		b.mesh.Groups = b.mesh.Groups[:b.named()]
		return g, nil
	}
	if b.named() >= b.limits.Groups {
		return 0, fmt.Errorf("the mesh has over %d groups, the most that is read; join some", b.limits.Groups)
	}
	b.group = int32(b.named())
	b.byName[name] = b.group
	return b.group, nil
}

// wholeGroup is the group of triangles that no group was named for.
const wholeGroup = "default"

// polygon cuts a polygon into a fan of triangles from its first corner.
func (b *builder) polygon(corners []int32) error {
	if len(corners) < 3 {
		return fmt.Errorf("a face of %d corners is no face; give three or more", len(corners))
	}
	for _, c := range corners {
		if c < 0 || int(c) >= len(b.mesh.Vertices) {
			return fmt.Errorf("a face names vertex %d of %d", int(c)+1, len(b.mesh.Vertices))
		}
	}
	if len(corners)-2 > b.limits.Triangles-len(b.mesh.Triangles) {
		return fmt.Errorf("the mesh has over %d triangles, the most that is read; simplify it", b.limits.Triangles)
	}
	g, err := b.current()
	if err != nil {
		return err
	}
	var sum float64
	var whole Point
	for i := 2; i < len(corners); i++ {
		t := Triangle{[3]int32{corners[0], corners[i-1], corners[i]}, g}
		b.mesh.Triangles = append(b.mesh.Triangles, t)
		n := b.mesh.normal(t)
		sum += length(n)
		whole = plus(whole, n)
	}
	if len(corners) > 3 && sum-length(whole) > 1e-6*sum {
		b.mesh.Bent++
	}
	return nil
}

func (b *builder) done() (*Mesh, error) {
	if len(b.mesh.Triangles) == 0 {
		return nil, errors.New("the mesh has no triangles; export the surface's faces, not only its points or lines")
	}
	b.mesh.Groups = b.mesh.Groups[:b.named()]
	return &b.mesh, nil
}

// groupName makes a file's text fit to be a zone's name: no control or invalid characters, runs of space as one, at
// most 100 letters.
func groupName(text []byte) string {
	if len(text) > 1000 {
		text = text[:1000]
	}
	letters := 0
	clean := strings.Map(func(r rune) rune {
		if letters++; letters > 100 {
			return -1
		}
		switch {
		case unicode.IsSpace(r):
			return ' '
		case r == utf8.RuneError || !unicode.IsPrint(r):
			return '?'
		}
		return r
	}, string(bytes.TrimSpace(text)))
	if clean = strings.Join(strings.Fields(clean), " "); clean == "" {
		return wholeGroup
	}
	return clean
}

// normal is twice the triangle's area along its normal, outward where corners go anticlockwise as seen from outside.
func (m *Mesh) normal(t Triangle) Point {
	a := m.Vertices[t.Corners[0]]
	return cross(minus(m.Vertices[t.Corners[1]], a), minus(m.Vertices[t.Corners[2]], a))
}

func plus(p, q Point) Point  { return Point{p[0] + q[0], p[1] + q[1], p[2] + q[2]} }
func minus(p, q Point) Point { return Point{p[0] - q[0], p[1] - q[1], p[2] - q[2]} }
func dot(p, q Point) float64 { return p[0]*q[0] + p[1]*q[1] + p[2]*q[2] }
func cross(p, q Point) Point {
	return Point{p[1]*q[2] - p[2]*q[1], p[2]*q[0] - p[0]*q[2], p[0]*q[1] - p[1]*q[0]}
}
func length(p Point) float64 { return math.Sqrt(dot(p, p)) }
