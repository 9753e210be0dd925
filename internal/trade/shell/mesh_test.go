package shell

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/unit"
)

func capHeight(c Cap) func(r float64) float64 {
	sphere := float64(c.Radius*c.Radius+c.Rise*c.Rise) / float64(2*c.Rise)
	return func(r float64) float64 { return math.Sqrt(sphere*sphere-r*r) - (sphere - float64(c.Rise)) }
}

// dome is a mesh of a surface of revolution over a disk, its vertices on the surface: rings evenly spaced along the
// cap's arc (GEO-25 spaces them so), sectors evenly around, corners anticlockwise from above.
func dome(rings, sectors int, radius float64, z func(r float64) float64) *Mesh {
	m := &Mesh{Groups: []string{"dome"}, Vertices: []Point{{0, 0, z(0)}}}
	// Even steps of the angle at the sphere's centre; for what is no sphere a spacing like any other.
	sphere := (radius*radius + (z(0)-z(radius))*(z(0)-z(radius))) / (2 * (z(0) - z(radius)))
	edge := math.Asin(radius / sphere)
	for i := 1; i <= rings; i++ {
		r := sphere * math.Sin(edge*float64(i)/float64(rings))
		for j := range sectors {
			s, c := math.Sincos(2 * math.Pi * float64(j) / float64(sectors))
			m.Vertices = append(m.Vertices, Point{r * c, r * s, z(min(r, radius))})
		}
	}
	at := func(ring, sector int) int32 {
		if ring == 0 {
			return 0
		}
		return int32(1 + (ring-1)*sectors + sector%sectors)
	}
	for i := range rings {
		for j := range sectors {
			m.Triangles = append(m.Triangles, Triangle{Corners: [3]int32{at(i, j), at(i+1, j), at(i+1, j+1)}})
			if i > 0 {
				m.Triangles = append(m.Triangles, Triangle{Corners: [3]int32{at(i, j), at(i+1, j+1), at(i, j+1)}})
			}
		}
	}
	return m
}

func survey(t testing.TB, m *Mesh) Survey {
	t.Helper()
	s, err := m.Survey(m.Reach())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func read(t testing.TB, f Format, text string) *Mesh {
	t.Helper()
	m, err := Read(strings.NewReader(text), f, Usual)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A mesh converges on its closed form, a quarter of the error for each halving, in area and in both curvatures.
func TestMeshesConvergeOnClosedForms(t *testing.T) {
	c := Cap{10, 4}
	p := Paraboloid{10, 5}
	for name, s := range map[string]struct {
		shape Shape
		z     func(r float64) float64
	}{"cap": {c, capHeight(c)}, "paraboloid": {p, func(r float64) float64 { return 5 - r*r/20 }}} {
		want, err := s.shape.Measure()
		if err != nil {
			t.Fatal(err)
		}
		var last float64
		for _, n := range []int{8, 16, 32} {
			got := survey(t, dome(n, 4*n, 10, s.z))
			miss := float64(want.Area - got.Whole.Area)
			if miss <= 0 {
				t.Errorf("%s of %d rings: mesh %v, closed form %v; want the mesh below", name, n, got.Whole.Area,
					want.Area)
			}
			if last > 0 && (last/miss < 3.8 || last/miss > 4.2) {
				t.Errorf("%s of %d rings: error fell by %.3g, want about 4", name, n, last/miss)
			}
			last = miss
			// The rim's own crease belongs to no inner edge or vertex, so these come in with the width of a ring.
			if off := got.Whole.Mean/want.Mean - 1; math.Abs(off) > 1.2/float64(n) {
				t.Errorf("%s of %d rings: ∫H %v, closed form %v", name, n, got.Whole.Mean, want.Mean)
			}
			if off := got.Whole.Gauss/want.Gauss - 1; math.Abs(off) > 1.6/float64(n) {
				t.Errorf("%s of %d rings: ∫K %v, closed form %v", name, n, got.Whole.Gauss, want.Gauss)
			}
		}
	}
}

const tent = `# a roof of two zones and a lean-to
o house
v 0 0 0
v 4 0 0
v 4 3 2
v 0 3 2
v 0 6 0
v 4 6 0
vn 0 0 1
g south slope
f 1/1/1 2/2/1 3/3/1 4/4/1
g north
usemtl grey
f -3//1 -4//1 \
  -1//1 -2//1
`

func TestOBJGroupsAreZones(t *testing.T) {
	m := read(t, OBJ, tent)
	if !reflect.DeepEqual(m.Groups, []string{"south slope", "north"}) || len(m.Triangles) != 4 || m.Bent != 0 {
		t.Fatalf("read %+v", m)
	}
	s := survey(t, m)
	slope := unit.Area(4 * math.Sqrt(13))
	for i, z := range s.Zones {
		if math.Abs(float64(z.Area-slope)) > 1e-12 || z.Triangles != 2 {
			t.Errorf("zone %d: %+v, want %v m²", i, z, slope)
		}
	}
	if len(s.Seams) != 1 || s.Seams[0].A != 0 || s.Seams[0].B != 1 || math.Abs(float64(s.Seams[0].Length-4)) > 1e-12 {
		t.Errorf("seams %+v, want the 4 m ridge between zones 0 and 1", s.Seams)
	}
	if want := unit.Length(8 + 4*math.Sqrt(13)); math.Abs(float64(s.Open-want)) > 1e-12 || s.OpenEdges != 6 {
		t.Errorf("open %v on %d edges, want %v on 6", s.Open, s.OpenEdges, want)
	}
	if s.Turned != 0 || s.Crowded != 0 || s.Repeated != nil || s.Degenerate != nil {
		t.Errorf("a sound roof is said to be unsound: %+v", s)
	}
	// The ridge bends outward by its whole angle; half is each zone's.
	bend := 2 * math.Atan2(2, 3)
	if math.Abs(s.Whole.Mean-4*bend/2) > 1e-12 || math.Abs(s.Zones[0].Mean-4*bend/4) > 1e-12 {
		t.Errorf("∫H %v, of zone 0 %v; want %v and half of it", s.Whole.Mean, s.Zones[0].Mean, 4*bend/2)
	}
}

func TestMeshFaultsAreReported(t *testing.T) {
	const base = "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 1\nv 1 0 0.00000001\n"
	for _, c := range []struct {
		name, faces string
		check       func(s Survey) bool
		warning     string
	}{
		{
			"a triangle twice, the second turned", "f 1 2 3\nf 3 2 1\n",
			func(s Survey) bool { return reflect.DeepEqual(s.Repeated, []int{1}) && s.Whole.Area == 0.5 },
			"1 triangle repeats another",
		},
		{
			"a triangle of two corners", "f 1 2 3\nf 1 2 2\n",
			func(s Survey) bool { return reflect.DeepEqual(s.Degenerate, []int{1}) }, "1 triangle has no area",
		},
		{
			"a triangle on a line", "v 2 0 0\nf 1 2 3\nf 1 2 7\n",
			func(s Survey) bool { return reflect.DeepEqual(s.Degenerate, []int{1}) }, "1 triangle has no area",
		},
		{
			"three triangles along an edge", "f 1 2 3\nf 2 1 5\nf 1 2 4\n",
			func(s Survey) bool { return s.Crowded == 1 },
			"1 edge has three triangles",
		},
		{"two sound triangles", "f 1 2 3\nf 1 3 4\n", func(s Survey) bool { return s.Turned == 0 }, "4 edges are open"},
		{
			"a triangle facing its neighbour", "f 1 2 3\nf 1 3 4\nf 1 2 5\n",
			func(s Survey) bool { return s.Turned == 1 },
			"1 edge joins triangles that face opposite ways",
		},
		{
			"an open edge where a vertex was doubled", "f 1 2 3\nf 6 1 5\n",
			func(s Survey) bool { return s.OpenEdges == 4 }, "4 edges are open",
		},
		{"a bent polygon", "v 1 1 1\nf 1 2 7 4\n", func(s Survey) bool { return s.Bent == 1 }, "1 polygon is not flat"},
		{
			"a polygon with a notch", "v 4 0 0\nv 1 0.5 0\nv 4 4 0\nf 7 8 9 1\n",
			func(s Survey) bool { return s.Bent == 1 }, "1 polygon is not flat",
		},
	} {
		s := survey(t, read(t, OBJ, base+c.faces))
		if !c.check(s) {
			t.Errorf("%s: %+v", c.name, s)
		}
		if !strings.Contains(strings.Join(s.Warnings(), "\n"), c.warning) {
			t.Errorf("%s: warnings %q, want %q", c.name, s.Warnings(), c.warning)
		}
	}
}

func TestWeldingTakesNearAsOne(t *testing.T) {
	m := read(t, OBJ, "v 0 0 0\nv 1 0 0\nv 0 1 0\nv 1.0001 0 0\nv 0 1.0001 0\nv 1 1 0\nf 1 2 3\nf 4 6 5\n")
	for tolerance, open := range map[unit.Length]int{0: 6, 0.00005: 6, 0.0002: 4} {
		s, err := m.Survey(tolerance)
		if err != nil {
			t.Fatal(err)
		}
		if s.OpenEdges != open || s.Tolerance != tolerance {
			t.Errorf("welded within %v m: %d open edges, want %d", float64(tolerance), s.OpenEdges, open)
		}
	}
	for _, bad := range []float64{-1, math.NaN(), math.Inf(1), 1, 1e-300} {
		if _, err := m.Survey(unit.Length(bad)); err == nil {
			t.Errorf("a tolerance of %v was taken", bad)
		}
	}
}

// The three formats carry one surface; each reader must find it.
func TestFormatsAgree(t *testing.T) {
	c := Cap{10, 4}
	m := dome(6, 24, 10, capHeight(c))
	want := survey(t, m)
	for name, file := range map[string]struct {
		format Format
		data   []byte
		within float64
	}{
		"OBJ":               {OBJ, writeOBJ(m), 1e-12},
		"STL text":          {STL, writeSTL(m), 1e-12},
		"STL binary":        {STL, writeSTLBinary(m, "a shell"), 1e-6},
		"STL binary, solid": {STL, writeSTLBinary(m, "solid shell"), 1e-6},
		"PLY text":          {PLY, writePLY(m, "ascii", nil), 1e-12},
		"PLY little endian": {PLY, writePLY(m, "binary_little_endian", binary.LittleEndian), 1e-12},
		"PLY big endian":    {PLY, writePLY(m, "binary_big_endian", binary.BigEndian), 1e-12},
		"OBJ, other breaks": {OBJ, bytes.ReplaceAll(writeOBJ(m), []byte("\n"), []byte("\r\n")), 1e-12},
	} {
		got, err := Read(bytes.NewReader(file.data), file.format, Usual)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		s := survey(t, got)
		if s.Triangles != want.Triangles || s.OpenEdges != want.OpenEdges || s.Turned != 0 || len(s.Zones) != 1 ||
			math.Abs(float64(s.Whole.Area/want.Whole.Area)-1) > file.within ||
			math.Abs(s.Whole.Gauss/want.Whole.Gauss-1) > 1e3*file.within {
			t.Errorf("%s: %+v\nwant %+v", name, s, want)
		}
	}
}

func writeOBJ(m *Mesh) []byte {
	var b bytes.Buffer
	for _, p := range m.Vertices {
		fmt.Fprintf(&b, "v %.17g %.17g %.17g\n", p[0], p[1], p[2])
	}
	for _, t := range m.Triangles {
		fmt.Fprintf(&b, "f %d %d %d\n", t.Corners[0]+1, t.Corners[1]+1, t.Corners[2]+1)
	}
	return b.Bytes()
}

func writeSTL(m *Mesh) []byte {
	var b bytes.Buffer
	b.WriteString("solid a shell\n")
	for _, t := range m.Triangles {
		b.WriteString(" facet normal 0 0 0\n  outer loop\n")
		for _, c := range t.Corners {
			p := m.Vertices[c]
			fmt.Fprintf(&b, "   vertex %.17g %.17g %.17g\n", p[0], p[1], p[2])
		}
		b.WriteString("  endloop\n endfacet\n")
	}
	b.WriteString("endsolid a shell\n")
	return b.Bytes()
}

func writeSTLBinary(m *Mesh, title string) []byte {
	b := make([]byte, 80)
	copy(b, title)
	b = binary.LittleEndian.AppendUint32(b, uint32(len(m.Triangles)))
	for _, t := range m.Triangles {
		b = append(b, make([]byte, 12)...)
		for _, c := range t.Corners {
			for _, x := range m.Vertices[c] {
				b = binary.LittleEndian.AppendUint32(b, math.Float32bits(float32(x)))
			}
		}
		b = append(b, 0, 0)
	}
	return b
}

// writePLY also writes columns and an element that a reader of surfaces passes over.
func writePLY(m *Mesh, format string, order binary.AppendByteOrder) []byte {
	b := fmt.Appendf(nil,
		"ply\nformat %s 1.0\ncomment by hand\nelement vertex %d\nproperty uchar red\nproperty double x\nproperty double y\nproperty double z\n"+
			"element remark 2\nproperty list ushort short words\nelement face %d\nproperty float warmth\nproperty list uchar int vertex_indices\nend_header\n",
		format, len(m.Vertices), len(m.Triangles))
	if order == nil {
		for _, p := range m.Vertices {
			b = fmt.Appendf(b, "7 %.17g %.17g %.17g\n", p[0], p[1], p[2])
		}
		b = append(b, "2 -5 6\n0\n"...)
		for _, t := range m.Triangles {
			b = fmt.Appendf(b, "20.5 3 %d %d %d\n", t.Corners[0], t.Corners[1], t.Corners[2])
		}
		return b
	}
	for _, p := range m.Vertices {
		b = append(b, 7)
		for _, x := range p {
			b = order.AppendUint64(b, math.Float64bits(x))
		}
	}
	b = order.AppendUint16(order.AppendUint16(order.AppendUint16(b, 2), 0xFFFB), 6)
	b = order.AppendUint16(b, 0)
	for _, t := range m.Triangles {
		b = append(order.AppendUint32(b, math.Float32bits(20.5)), 3)
		for _, c := range t.Corners {
			b = order.AppendUint32(b, uint32(c))
		}
	}
	return b
}

func TestBrokenFilesAreRefused(t *testing.T) {
	whole := writeSTLBinary(dome(2, 8, 10, capHeight(Cap{10, 4})), "a shell")
	const plyHead = "ply\nformat ascii 1.0\nelement vertex 3\nproperty float x\nproperty float y\nproperty float z\nelement face 1\nproperty list uchar int vertex_indices\nend_header\n"
	for _, c := range []struct {
		name   string
		format Format
		data   string
		says   string
	}{
		{"nothing", OBJ, "", "no triangles"},
		{"points alone", OBJ, "v 0 0 0\nv 1 0 0\n", "no triangles"},
		{"a vertex of two numbers", OBJ, "v 0 0\n", "OBJ line 1: a vertex needs three numbers"},
		{"a vertex that is no number", OBJ, "v 0 0 NaN\n", "OBJ line 1: a coordinate of NaN"},
		{"an infinite vertex", OBJ, "v 0 0 1e999\n", "OBJ line 1"},
		{"a word for a coordinate", OBJ, "\nv 0 \x1b[31m 0\n", `OBJ line 2: "\x1b[31m" is no coordinate`},
		{"a vertex not yet given", OBJ, "v 0 0 0\nf 1 2 3\n", "names vertex 2 where 1 have been given"},
		{"vertex 0", OBJ, "v 0 0 0\nf 0 1 1\n", "names vertex 0"},
		{"a vertex before the first", OBJ, "v 0 0 0\nf -1 -2 1\n", "names vertex -2"},
		{"a face of two", OBJ, "v 0 0 0\nv 1 0 0\nf 1 2\n", "a face of 2 corners"},
		{"no STL", STL, "hello", "neither text"},
		{"a torn STL", STL, string(whole[:len(whole)-7]), "says 24 triangles and ends after 23"},
		{"an STL with more to it", STL, string(whole) + "more", "4 bytes follow"},
		{
			"a facet of two", STL,
			"solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nendloop\nendfacet\nendsolid\n",
			"STL line 7: a facet ends with 2",
		},
		{
			"a facet of four", STL,
			"solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\nvertex 1 0 0\nvertex 1 1 0\nvertex 0 1 0\n",
			"STL line 7",
		},
		{"a text STL cut short", STL, "solid x\nfacet normal 0 0 1\nouter loop\nvertex 0 0 0\n", "ends inside a facet"},
		{"a text STL of something else", STL, "solid x\nlorem ipsum\n", `"lorem" is no word`},
		{"no PLY", PLY, "plywood\n", "does not begin"},
		{"a PLY header cut short", PLY, "ply\nformat ascii 1.0\n", "no end_header"},
		{
			"a PLY without faces", PLY,
			"ply\nformat ascii 1.0\nelement vertex 1\nproperty float x\nproperty float y\nproperty float z\nend_header\n0 0 0\n", "vertex_indices",
		},
		{"a PLY that promises too much", PLY, strings.Replace(plyHead, "vertex 3", "vertex 900000000000", 1) +
			"0 0 0\n", "before all that its header announces"},
		{"a PLY cut short", PLY, plyHead + "0 0 0\n1 0 0\n0 1 0\n3 0 1\n", "before all that its header announces"},
		{
			"a PLY list longer than the file", PLY, plyHead + "0 0 0\n1 0 0\n0 1 0\n250 0 1 2\n",
			"before all that its header announces",
		},
		{"a PLY face of no vertex", PLY, plyHead + "0 0 0\n1 0 0\n0 1 0\n3 0 1 3\n", "names vertex 4 of 3"},
		{"a PLY face of part of a vertex", PLY, plyHead + "0 0 0\n1 0 0\n0 1 0\n3 0 1 1.5\n", "names vertex 1.5"},
		{"a PLY of part of a face", PLY, plyHead + "0 0 0\n1 0 0\n0 1 0\nNaN 0 1 2\n", "whole number"},
		{"a format of no number", Format(9), "", "no mesh format"},
	} {
		m, err := Read(strings.NewReader(c.data), c.format, Usual)
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: mesh %+v, error %v; want %q", c.name, m, err, c.says)
		}
	}
}

func TestLimitsAreKept(t *testing.T) {
	m := dome(4, 16, 10, capHeight(Cap{10, 4}))
	roomy := Limits{Bytes: 1 << 20, Vertices: 1000, Triangles: 1000, Groups: 3}
	for _, f := range []struct {
		format Format
		data   []byte
	}{{OBJ, writeOBJ(m)}, {STL, writeSTL(m)}, {STL, writeSTLBinary(m, "")}, {PLY, writePLY(m, "ascii", nil)}, {
		PLY,
		writePLY(m, "binary_big_endian", binary.BigEndian),
	}} {
		if _, err := Read(bytes.NewReader(f.data), f.format, roomy); err != nil {
			t.Errorf("format %d within its limits: %v", f.format, err)
		}
		for name, tight := range map[string]func(*Limits){
			"bytes":     func(l *Limits) { l.Bytes = int64(len(f.data)) - 1 },
			"vertices":  func(l *Limits) { l.Vertices = 20 },
			"triangles": func(l *Limits) { l.Triangles = len(m.Triangles) - 1 },
			"nothing":   func(l *Limits) { l.Groups = 0 },
		} {
			l := roomy
			tight(&l)
			if _, err := Read(bytes.NewReader(f.data), f.format, l); err == nil {
				t.Errorf("format %d went past its limit on %s", f.format, name)
			}
		}
	}
	var many strings.Builder
	many.WriteString("v 0 0 0\nv 1 0 0\nv 0 1 0\n")
	for i := range 4 {
		fmt.Fprintf(&many, "g zone %d\ng zone %d\nf 1 2 3\n", i, i)
	}
	if _, err := Read(strings.NewReader(many.String()), OBJ, roomy); err == nil {
		t.Error("four groups went past a limit of three")
	}
}

func TestGroupNamesAreFitToShow(t *testing.T) {
	m := read(t, OBJ,
		"v 0 0 0\nv 1 0 0\nv 0 1 0\nf 1 2 3\ng \x1b[2J  north \xff wall \ng unused\nf 1 2 3\ng\nf 1 2 3\ng "+
			strings.Repeat("x", 5000)+"\nf 1 2 3\ng default\nf 1 2 3\n")
	want := []string{"default", "unused", strings.Repeat("x", 100)}
	if !reflect.DeepEqual(m.Groups, want) {
		t.Errorf("groups %q, want %q", m.Groups, want)
	}
	if got := groupName([]byte("\x1b[2J  north \xff wall ")); got != "?[2J north ? wall" {
		t.Errorf("cleaned to %q", got)
	}
}

func TestFormatByName(t *testing.T) {
	for name, want := range map[string]Format{"Shell.OBJ": OBJ, "a.stl": STL, "b.Ply": PLY} {
		if got, err := FormatOf(name); err != nil || got != want {
			t.Errorf("%s: %v, %v", name, got, err)
		}
	}
	if _, err := FormatOf("shell.dwg"); err == nil {
		t.Error("a .dwg was taken for a mesh")
	}
}

func TestScaledToMetres(t *testing.T) {
	m := read(t, OBJ, "v 0 0 0\nv 1000 0 0\nv 0 1000 0\nf 1 2 3\n")
	s, err := m.Scaled(unit.Millimetre)
	if err != nil {
		t.Fatal(err)
	}
	if a := survey(t, s).Whole.Area; math.Abs(float64(a)-0.5) > 1e-15 {
		t.Errorf("%v m², want 0.5", a)
	}
	if m.Vertices[1][0] != 1000 {
		t.Error("scaling changed the mesh it was asked of")
	}
	if _, err := m.Scaled(0); err == nil {
		t.Error("a drawing unit of 0 was taken")
	}
}

// ragged is a dome with its vertices moved about, in up to three zones by sector.
func ragged(t *rapid.T) *Mesh {
	n := rapid.IntRange(1, 6).Draw(t, "rings")
	m := dome(n, 4*n, 10, capHeight(Cap{10, 4}))
	r := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
	for i := range m.Vertices {
		for k := range m.Vertices[i] {
			m.Vertices[i][k] += r.Float64() * 0.2
		}
	}
	m.Groups = []string{"east", "north", "west"}
	for i := range m.Triangles {
		m.Triangles[i].Group = int32(r.IntN(3))
	}
	return m
}

func near(t *rapid.T, what string, got, want float64) {
	if !(math.Abs(got-want) <= 1e-9*max(1, math.Abs(want))) {
		t.Fatalf("%s: got %.15g, want %.15g", what, got, want)
	}
}

func sameSurvey(t *rapid.T, got, want Survey, k float64) {
	near(t, "area", float64(got.Whole.Area), float64(want.Whole.Area)*k*k)
	near(t, "∫H", got.Whole.Mean, want.Whole.Mean*k)
	near(t, "∫K", got.Whole.Gauss, want.Whole.Gauss)
	near(t, "open edges", float64(got.Open), float64(want.Open)*k)
	var zones float64
	for i := range got.Zones {
		near(t, "area of "+got.Zones[i].Name, float64(got.Zones[i].Area), float64(want.Zones[i].Area)*k*k)
		zones += float64(got.Zones[i].Area)
	}
	near(t, "sum of the zones", zones, float64(got.Whole.Area))
	if len(got.Seams) != len(want.Seams) {
		t.Fatalf("seams %+v, want %+v", got.Seams, want.Seams)
	}
	for i := range got.Seams {
		near(t, "a seam", float64(got.Seams[i].Length), float64(want.Seams[i].Length)*k)
	}
}

func TestTurningAndMovingAMeshChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := ragged(t)
		turned := *m
		turned.Vertices = append([]Point(nil), m.Vertices...)
		for axis := range 3 {
			s, c := math.Sincos(rapid.Float64Range(-4, 4).Draw(t, "turn"))
			by := rapid.Float64Range(-100, 100).Draw(t, "move")
			for i, p := range turned.Vertices {
				q := p
				u, v := (axis+1)%3, (axis+2)%3
				q[u], q[v] = c*p[u]-s*p[v], s*p[u]+c*p[v]
				q[axis] += by
				turned.Vertices[i] = q
			}
		}
		a, err := m.Survey(0)
		if err != nil {
			t.Fatal(err)
		}
		b, err := turned.Survey(0)
		if err != nil {
			t.Fatal(err)
		}
		sameSurvey(t, b, a, 1)
	})
}

func TestScalingAMeshScalesItsFigures(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := ragged(t)
		k := rapid.Float64Range(0.001, 100).Draw(t, "scale")
		scaled, err := m.Scaled(unit.Length(k))
		if err != nil {
			t.Fatal(err)
		}
		a, err := m.Survey(m.Reach())
		if err != nil {
			t.Fatal(err)
		}
		b, err := scaled.Survey(scaled.Reach())
		if err != nil {
			t.Fatal(err)
		}
		sameSurvey(t, b, a, k)
	})
}

// Each triangle cut in four through the middles of its sides; corners doubled, as STL has them.
func TestSplittingTrianglesConservesEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := ragged(t)
		split := &Mesh{Groups: m.Groups}
		for _, tr := range m.Triangles {
			var p [3]Point
			for k, c := range tr.Corners {
				p[k] = m.Vertices[c]
			}
			mid := func(a, b Point) Point {
				s := plus(a, b)
				return Point{s[0] / 2, s[1] / 2, s[2] / 2}
			}
			ab, bc, ca := mid(p[0], p[1]), mid(p[1], p[2]), mid(p[2], p[0])
			for _, part := range [][3]Point{{p[0], ab, ca}, {ab, p[1], bc}, {ca, bc, p[2]}, {ab, bc, ca}} {
				n := int32(len(split.Vertices))
				split.Vertices = append(split.Vertices, part[0], part[1], part[2])
				split.Triangles = append(split.Triangles, Triangle{[3]int32{n, n + 1, n + 2}, tr.Group})
			}
		}
		a, err := m.Survey(0)
		if err != nil {
			t.Fatal(err)
		}
		b, err := split.Survey(split.Reach())
		if err != nil {
			t.Fatal(err)
		}
		sameSurvey(t, b, a, 1)
	})
}

// A closed surface's ∫K is fixed by its shape: 4π for what is like a ball (Gauss and Bonnet).
func TestAClosedMeshTurnsWholly(t *testing.T) {
	cube := read(t, OBJ, "v 0 0 0\nv 1 0 0\nv 1 1 0\nv 0 1 0\nv 0 0 1\nv 1 0 1\nv 1 1 1\nv 0 1 1\n"+
		"f 4 3 2 1\nf 5 6 7 8\nf 1 2 6 5\nf 2 3 7 6\nf 3 4 8 7\nf 4 1 5 8\n")
	s := survey(t, cube)
	if s.OpenEdges != 0 || math.Abs(s.Whole.Gauss-4*math.Pi) > 1e-12 || s.Whole.Area != 6 {
		t.Errorf("a cube: %+v", s)
	}
	// Twelve edges, each 1 long and a quarter turn sharp: half of their sum.
	if math.Abs(s.Whole.Mean-12*math.Pi/4) > 1e-12 {
		t.Errorf("∫H of a cube %v, want 3π", s.Whole.Mean)
	}
	// Steiner: a layer outside a cube is its faces, a quarter cylinder along each edge and an eighth of a ball at each
	// corner.
	const thick = 0.1
	v, err := s.Whole.Layer(thick, Outside)
	if want := 6*thick + 12*math.Pi/4*thick*thick + 4.0/3*math.Pi*thick*thick*thick; err != nil ||
		math.Abs(float64(v)-want) > 1e-12 {
		t.Errorf("a layer outside a cube: %v, %v; want %v", v, err, want)
	}
}

func fuzz(f *testing.F, format Format) {
	limits := Limits{Bytes: 1 << 16, Vertices: 2000, Triangles: 1000, Groups: 10}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := Read(bytes.NewReader(data), format, limits)
		if err != nil {
			if m != nil || strings.ContainsFunc(err.Error(), func(r rune) bool { return r < ' ' && r != '\n' }) {
				t.Fatalf("mesh %v beside error %q", m, err)
			}
			return
		}
		if len(m.Vertices) > limits.Vertices || len(m.Triangles) > limits.Triangles || len(m.Groups) > limits.Groups ||
			len(m.Triangles) == 0 {
			t.Fatalf("%d vertices, %d triangles, %d groups", len(m.Vertices), len(m.Triangles), len(m.Groups))
		}
		for _, tolerance := range []unit.Length{0, m.Reach()} {
			s, err := m.Survey(tolerance)
			if err != nil {
				t.Fatalf("a mesh that was read cannot be measured: %v", err)
			}
			for _, x := range []float64{float64(s.Whole.Area), s.Whole.Mean, s.Whole.Gauss, float64(s.Open)} {
				if math.IsNaN(x) || math.IsInf(x, 0) {
					t.Fatalf("survey %+v", s)
				}
			}
			if s.Triangles+len(s.Repeated)+len(s.Degenerate) != len(m.Triangles) {
				t.Fatalf("triangles went missing: %+v", s)
			}
		}
	})
}

func FuzzOBJ(f *testing.F) {
	f.Add([]byte(tent))
	f.Add([]byte("v 1e300 0 0\nf 1 1 1"))
	f.Add([]byte("v 0 0 0\nv 1e-320 0 0\nv 0 1e-320 0\nf 1 2 3\\\n"))
	fuzz(f, OBJ)
}

func FuzzSTL(f *testing.F) {
	m := dome(1, 4, 10, capHeight(Cap{10, 4}))
	f.Add(writeSTL(m))
	f.Add(writeSTLBinary(m, "solid"))
	fuzz(f, STL)
}

func FuzzPLY(f *testing.F) {
	m := dome(1, 4, 10, capHeight(Cap{10, 4}))
	f.Add(writePLY(m, "ascii", nil))
	f.Add(writePLY(m, "binary_little_endian", binary.LittleEndian))
	f.Add(writePLY(m, "binary_big_endian", binary.BigEndian))
	f.Add(
		[]byte(
			"ply\nformat ascii 1.0\nelement nothing 99999999999\nelement vertex 0\nproperty float x\nproperty float y\nproperty float z\nelement face 0\nproperty list uchar int vertex_index\nend_header\n"))
	fuzz(f, PLY)
}
