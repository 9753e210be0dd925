package event

import (
	"math"
	"slices"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// Form says where a zone's sides lie: one of an outline, a sector of a ring, a mesh, or the lengths of four sides.
type Form struct {
	// in order, anticlockwise as seen from outside; of an outline, side 1 runs from corner 1 to corner 2
	Sides    []Side
	Outline  []Corner
	Openings [][]Corner
	Sector   *Sector
	Mesh     *Mesh
}

// Side of a zone. Its length is said where there is neither an outline nor a mesh.
type Side struct {
	Name   string
	Length *unit.As[unit.Length] // m
	Chain  []int                 // of a mesh: the vertices along it, from 0
}

// Mesh is a bent surface of triangles.
type Mesh struct {
	Vertices  [][3]float64 // m
	Triangles [][3]int     // vertices, from 0
}

// Corner is a place in the plane of a zone, m.
type Corner struct{ X, Y float64 }

// Sector of a ring; its sides are named inner, outer, first and last.
type Sector struct {
	Inner, Outer unit.As[unit.Length] // radii, m
	From, To     float64              // degrees
}

// Caps of a form.
const (
	MaxSides    = 12
	MaxOpenings = 20
	// Of a mesh: an event holds no more.
	MaxVertices  = 300
	MaxTriangles = 512
)

const mostMetres = 10_000

func (f *Form) check() error {
	if f == nil {
		return nil
	}
	if f.Mesh != nil {
		return f.checkMesh()
	}
	if slices.ContainsFunc(f.Sides, func(s Side) bool { return len(s.Chain) > 0 }) {
		return cannot("a side that is a chain of vertices, and no mesh; give the mesh, too")
	}
	switch {
	case f.Sector != nil && (len(f.Sides) > 0 || len(f.Outline) > 0 || len(f.Openings) > 0):
		return cannot("a sector of a ring has its own sides; leave out outline, openings and sides")
	case f.Sector != nil:
		return f.Sector.check()
	case len(f.Outline) > 0:
		return f.checkOutline()
	case len(f.Openings) > 0:
		return cannot("openings without an outline; give the corners of the zone, too")
	case len(f.Sides) != 4:
		return cannot("%d sides; where there is no outline there are four, in order", len(f.Sides))
	}
	return first(f.checkNames(), all("side", f.Sides, 0, func(s Side) error {
		if s.Length == nil {
			return cannot("side %q has no length; one looks like 2.4m", clip(s.Name))
		}
		return within("length of a side", *s.Length, edgeLength)
	}))
}

func (f *Form) checkOutline() error {
	switch {
	case len(f.Outline) < 3 || len(f.Outline) > MaxSides:
		return cannot("an outline of %d corners; it may have from 3 to %d", len(f.Outline), MaxSides)
	case len(f.Sides) != len(f.Outline):
		return cannot(
			"%d names of sides for an outline of %d corners; each side from one corner to the next has a name",
			len(f.Sides), len(f.Outline))
	case len(f.Openings) > MaxOpenings:
		return cannot("%d openings; a zone may have %d", len(f.Openings), MaxOpenings)
	}
	for _, s := range f.Sides {
		if s.Length != nil {
			return cannot("side %q has a length, and the outline gives it; leave one of them out", clip(s.Name))
		}
	}
	for _, o := range f.Openings {
		if len(o) < 3 || len(o) > MaxSides {
			return cannot("an opening of %d corners; it may have from 3 to %d", len(o), MaxSides)
		}
		if err := checkCorners(o); err != nil {
			return err
		}
	}
	return first(f.checkNames(), checkCorners(f.Outline))
}

func (f *Form) checkMesh() error {
	m := f.Mesh
	switch {
	case f.Sector != nil || len(f.Outline) > 0 || len(f.Openings) > 0:
		return cannot("a mesh has its own outline and openings; leave out outline, openings and ring")
	case len(m.Vertices) < 3 || len(m.Vertices) > MaxVertices:
		return cannot("a mesh of %d vertices; it may have from 3 to %d", len(m.Vertices), MaxVertices)
	case len(m.Triangles) < 1 || len(m.Triangles) > MaxTriangles:
		return cannot("a mesh of %d triangles; it may have from 1 to %d", len(m.Triangles), MaxTriangles)
	case len(f.Sides) < 2 || len(f.Sides) > MaxSides:
		return cannot("a mesh with %d sides; it may have from 2 to %d", len(f.Sides), MaxSides)
	}
	return first(m.checkPoints(), f.checkChains(len(m.Vertices)), f.checkNames())
}

// checkPoints says which vertex lies nowhere on a site, or which triangle is none.
func (m *Mesh) checkPoints() error {
	for i, v := range m.Vertices {
		for _, x := range v {
			if !(math.Abs(x) <= mostMetres) {
				return cannot("vertex %d at %s, %s, %s: each must be within %d m", i, number(v[0]), number(v[1]),
					number(v[2]), mostMetres)
			}
		}
	}
	for i, t := range m.Triangles {
		for _, v := range t {
			if v < 0 || v >= len(m.Vertices) {
				return cannot("triangle %d: there is no vertex %d; they go from 0 to %d", i, v, len(m.Vertices)-1)
			}
		}
		if t[0] == t[1] || t[1] == t[2] || t[0] == t[2] {
			return cannot("triangle %d has one vertex twice", i)
		}
	}
	return nil
}

// checkChains says which side is no chain of a mesh with so many vertices.
func (f *Form) checkChains(vertices int) error {
	for _, s := range f.Sides {
		switch {
		case s.Length != nil:
			return cannot("side %q has a length, and the mesh gives it; leave one of them out", clip(s.Name))
		case len(s.Chain) < 2 || len(s.Chain) > MaxVertices:
			return cannot("side %q is a chain of %d vertices; it may have from 2 to %d", clip(s.Name), len(s.Chain),
				MaxVertices)
		}
		for _, v := range s.Chain {
			if v < 0 || v >= vertices {
				return cannot("side %q: there is no vertex %d; they go from 0 to %d", clip(s.Name), v, vertices-1)
			}
		}
	}
	return nil
}

func checkCorners(corners []Corner) error {
	for _, c := range corners {
		if !(math.Abs(c.X) <= mostMetres && math.Abs(c.Y) <= mostMetres) {
			return cannot("a corner at %s, %s: each must be within %d m", number(c.X), number(c.Y), mostMetres)
		}
	}
	return nil
}

func (f *Form) checkNames() error {
	named := map[string]bool{}
	for _, s := range f.Sides {
		if err := checkName("side", s.Name); err != nil {
			return err
		}
		if named[s.Name] {
			return cannot("two sides are named %q; each has a name of its own", s.Name)
		}
		named[s.Name] = true
	}
	return nil
}

func (s Sector) check() error {
	switch {
	case !(s.Outer.SI > s.Inner.SI):
		return cannot("a sector from radius %s to %s m; the outer one must be greater", number(float64(s.Inner.SI)),
			number(float64(s.Outer.SI)))
	case !(math.Abs(s.From) <= 720 && s.To > s.From && s.To <= s.From+360):
		return cannot("a sector from %s to %s degrees; the second must be greater, by at most 360", number(s.From),
			number(s.To))
	}
	return first(within("inner radius", s.Inner, station), within("outer radius", s.Outer, edgeLength))
}

// EdgePart is the part of a zone's side that an edge is.
type EdgePart struct {
	Side     string
	From, To *unit.As[unit.Length] // m along the side; nil: the whole side
}

func (p *EdgePart) check() error {
	if p == nil {
		return nil
	}
	if (p.From == nil) != (p.To == nil) {
		return cannot("a part of side %q has only one end; give both, 0m-2.5m, or neither", clip(p.Side))
	}
	if p.From != nil && p.From.SI == p.To.SI {
		return cannot("a part of side %q that ends where it begins, at %s m", clip(p.Side), number(float64(p.From.SI)))
	}
	return first(checkName("side", p.Side), maybe("end of the edge", p.From, station),
		maybe("end of the edge", p.To, station))
}

// JointPermission says whether work may stop at an edge.
type JointPermission int

// Whether an edge may be made into a joint; JointUnsaid where the plan is silent.
const (
	JointUnsaid JointPermission = iota
	JointYes
	JointEngineer
	JointNo
)

var jointPermissions = words{"", "yes", "engineer", "no"}

func (j JointPermission) String() string { return jointPermissions.word("joint", int(j)) }

// ParseJointPermission reads "yes", "engineer" and "no".
func ParseJointPermission(s string) (JointPermission, error) {
	n, err := jointPermissions.parse("joint", s, 1)
	return JointPermission(n), err
}

func formProto(f *Form) *hodv1.ZoneForm {
	if f == nil {
		return nil
	}
	p := &hodv1.ZoneForm{
		Sides: each(f.Sides, func(s Side) *hodv1.ZoneSide {
			return &hodv1.ZoneSide{
				Name: s.Name, Length: lengthProto(s.Length),
				Chain: each(s.Chain, func(v int) uint32 { return uint32(v) }),
			}
		}),
		Outline: each(f.Outline, cornerProto),
		Openings: each(f.Openings, func(o []Corner) *hodv1.ZoneOpening {
			return &hodv1.ZoneOpening{Corners: each(o, cornerProto)}
		}),
	}
	if f.Mesh != nil {
		p.Mesh = f.Mesh.proto()
	}
	if s := f.Sector; s != nil {
		p.Sector = &hodv1.ZoneSector{
			Inner: lengthProto(said(s.Inner)), Outer: lengthProto(said(s.Outer)),
			FromDegrees: s.From, ToDegrees: s.To,
		}
	}
	return p
}

func formOf(p *hodv1.ZoneForm) *Form {
	if p == nil {
		return nil
	}
	f := &Form{
		Sides: each(p.GetSides(), func(s *hodv1.ZoneSide) Side {
			return Side{s.GetName(), lengthOf(s.GetLength()), each(s.GetChain(), count)}
		}),
		Outline: each(p.GetOutline(), cornerOf),
		Openings: each(p.GetOpenings(), func(o *hodv1.ZoneOpening) []Corner {
			return each(o.GetCorners(), cornerOf)
		}),
	}
	if m := p.GetMesh(); m != nil {
		f.Mesh = meshOf(m)
	}
	if s := p.GetSector(); s != nil {
		f.Sector = &Sector{
			Inner: unsaid(lengthOf(s.GetInner())), Outer: unsaid(lengthOf(s.GetOuter())),
			From: s.GetFromDegrees(), To: s.GetToDegrees(),
		}
	}
	return f
}

func (m *Mesh) proto() *hodv1.ZoneMesh {
	p := &hodv1.ZoneMesh{}
	for _, v := range m.Vertices {
		p.VerticesM = append(p.VerticesM, v[:]...)
	}
	for _, t := range m.Triangles {
		p.Triangles = append(p.Triangles, uint32(t[0]), uint32(t[1]), uint32(t[2]))
	}
	return p
}

// meshOf drops numbers at the end that make no whole vertex or triangle.
func meshOf(p *hodv1.ZoneMesh) *Mesh {
	m := &Mesh{}
	for v := range slices.Chunk(p.GetVerticesM(), 3) {
		if len(v) == 3 {
			m.Vertices = append(m.Vertices, [3]float64(v))
		}
	}
	for t := range slices.Chunk(p.GetTriangles(), 3) {
		if len(t) == 3 {
			m.Triangles = append(m.Triangles, [3]int{count(t[0]), count(t[1]), count(t[2])})
		}
	}
	return m
}

func cornerProto(c Corner) *hodv1.PlanePoint { return &hodv1.PlanePoint{XM: c.X, YM: c.Y} }

func cornerOf(p *hodv1.PlanePoint) Corner { return Corner{p.GetXM(), p.GetYM()} }

func edgePartProto(p *EdgePart) *hodv1.EdgePart {
	if p == nil {
		return nil
	}
	return &hodv1.EdgePart{Side: p.Side, From: lengthProto(p.From), To: lengthProto(p.To)}
}

func edgePartOf(p *hodv1.EdgePart) *EdgePart {
	if p == nil {
		return nil
	}
	return &EdgePart{Side: p.GetSide(), From: lengthOf(p.GetFrom()), To: lengthOf(p.GetTo())}
}
