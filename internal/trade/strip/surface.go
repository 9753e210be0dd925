package strip

import (
	"fmt"
	"math"
	"slices"
)

// MaxSides is how many sides a surface may have.
const MaxSides = 12

// point of a patch: its place, area kept, and its distance from each side.
type point struct {
	x, y float64
	d    [MaxSides]float64
}

func between(p, q point, t float64) point {
	r := point{x: p.x + float64(t*(q.x-p.x)), y: p.y + float64(t*(q.y-p.y))}
	for i := range r.d {
		r.d[i] = p.d[i] + float64(t*(q.d[i]-p.d[i]))
	}
	return r
}

// patch is a flat polygon; one with a negative sign is an opening.
type patch struct {
	points []point
	sign   float64
}

// area of a patch, openings negative.
func (p patch) area() float64 {
	sum := 0.0
	for i, a := range p.points {
		b := p.points[(i+1)%len(p.points)]
		sum += float64(a.x*b.y) - float64(b.x*a.y)
	}
	return p.sign * math.Abs(sum) / 2
}

// cut keeps what lies at distance level or more from a side, or at most that. One-sided clipping of a polygon by a
// straight line leaves the right area for hollow outlines too: the pieces are joined by a line that is walked both
// ways.
func (p patch) cut(side int, level float64, beyond bool) patch {
	kept := patch{sign: p.sign}
	in := func(q point) bool {
		if beyond {
			return q.d[side] >= level
		}
		return q.d[side] <= level
	}
	for i, a := range p.points {
		b := p.points[(i+1)%len(p.points)]
		if in(a) {
			kept.points = append(kept.points, a)
		}
		if in(a) != in(b) && a.d[side] != b.d[side] {
			kept.points = append(kept.points, between(a, b, (level-a.d[side])/(b.d[side]-a.d[side])))
		}
	}
	return kept
}

// stretch is a part of a side along which the distance from every side is linear in u.
type stretch struct {
	from, to float64 // stations, m
	a, b     point   // at its ends
	// of the station from on a straight side of a ring, where u is half the square of the radius; else 0
	radius float64
}

func (s stretch) u(at float64) float64 {
	if s.to == s.from {
		return 0
	}
	if s.radius == 0 {
		return (at - s.from) / (s.to - s.from)
	}
	r, r0, r1 := s.radius+at-s.from, s.radius, s.radius+s.to-s.from
	return (float64(r*r) - float64(r0*r0)) / (float64(r1*r1) - float64(r0*r0))
}

func (s stretch) station(u float64) float64 {
	if s.radius == 0 {
		return s.from + float64(u*(s.to-s.from))
	}
	r0, r1 := s.radius, s.radius+s.to-s.from
	return s.from + math.Sqrt(float64(r0*r0)+float64(u*(float64(r1*r1)-float64(r0*r0)))) - s.radius
}

// side of a surface.
type side struct {
	name   string
	length float64
	along  []stretch
	metres func(level float64) float64 // nil: a level is metres
	// degrees says that distances from the side are angles.
	degrees bool
	// behind says that part of the surface lies behind the line through this side, so that nothing can begin here.
	behind bool
}

// Surface is a zone's shape.
type Surface struct {
	sides   []side
	patches []patch
	area    float64
	fronts  bool // lengths of fronts are metres
}

// Area of the surface without its openings, m².
func (s *Surface) Area() float64 { return s.area }

// Side finds a side by its name.
func (s *Surface) Side(name string) (int, bool) {
	i := slices.IndexFunc(s.sides, func(one side) bool { return one.name == name })
	return i, i >= 0
}

// Sides are the names, in their order.
func (s *Surface) Sides() []string {
	var names []string
	for _, one := range s.sides {
		names = append(names, one.name)
	}
	return names
}

// Length of a side, m.
func (s *Surface) Length(side int) float64 { return s.sides[side].length }

// Metres is a level of a side as a distance from it: m, or of a ring's straight side degrees.
func (s *Surface) Metres(side int, level float64) float64 {
	if f := s.sides[side].metres; f != nil {
		return f(level)
	}
	return level
}

// Degrees reports whether Metres gives degrees: from the straight sides of a ring's sector.
func (s *Surface) Degrees(side int) bool { return s.sides[side].degrees }

// NamedSide is a side of an outline or of a mesh: the numbers of its corners, in order.
type NamedSide struct {
	Name    string
	Corners []int
}

func checkSides(sides []NamedSide, least, corners int) error {
	if len(sides) == 0 || len(sides) > MaxSides {
		return fmt.Errorf("%d sides: there must be from 1 to %d", len(sides), MaxSides)
	}
	for i, one := range sides {
		switch {
		case one.Name == "":
			return fmt.Errorf("side %d has no name", i+1)
		case slices.ContainsFunc(sides[:i], func(s NamedSide) bool { return s.Name == one.Name }):
			return fmt.Errorf("two sides are named %q", one.Name)
		case len(one.Corners) < least:
			return fmt.Errorf("side %q needs at least %d corners", one.Name, least)
		}
		for _, c := range one.Corners {
			if c < 0 || c >= corners {
				return fmt.Errorf("side %q: there is no corner %d; there are %d", one.Name, c, corners)
			}
		}
	}
	return nil
}

// Outline is a flat zone, its corners in order either way round, with openings inside it. Each side is straight, from
// one corner to the next.
func Outline(corners [][2]float64, openings [][][2]float64, sides []NamedSide) (*Surface, error) {
	if len(corners) < 3 {
		return nil, fmt.Errorf("an outline of %d corners: at least 3", len(corners))
	}
	if err := checkSides(sides, 2, len(corners)); err != nil {
		return nil, err
	}
	s := &Surface{fronts: true}
	turn := math.Copysign(1, ring(corners))
	for _, one := range sides {
		if len(one.Corners) != 2 {
			return nil, fmt.Errorf("side %q is bent; give each straight part a name of its own", one.Name)
		}
	}
	from := func(c [2]float64) point {
		p := point{x: c[0], y: c[1]}
		for i, one := range sides {
			a, b := corners[one.Corners[0]], corners[one.Corners[1]]
			if (one.Corners[1]+1)%len(corners) == one.Corners[0] {
				a, b = b, a // named against the way round
			}
			dx, dy := b[0]-a[0], b[1]-a[1]
			p.d[i] = turn * (float64(dx*(c[1]-a[1])) - float64(dy*(c[0]-a[0]))) / math.Hypot(dx, dy)
		}
		return p
	}
	polygon := func(all [][2]float64, sign float64) patch {
		p := patch{sign: sign}
		for _, c := range all {
			p.points = append(p.points, from(c))
		}
		return p
	}
	s.patches = append(s.patches, polygon(corners, 1))
	for _, o := range openings {
		s.patches = append(s.patches, polygon(o, -1))
	}
	for _, one := range sides {
		a, b := corners[one.Corners[0]], corners[one.Corners[1]]
		length := math.Hypot(b[0]-a[0], b[1]-a[1])
		if length == 0 {
			return nil, fmt.Errorf("side %q has no length", one.Name)
		}
		s.sides = append(s.sides,
			side{name: one.Name, length: length, along: []stretch{{to: length, a: from(a), b: from(b)}}})
	}
	return s.measured()
}

// ring is twice the area of a polygon, positive anticlockwise.
func ring(corners [][2]float64) float64 {
	sum := 0.0
	for i, a := range corners {
		b := corners[(i+1)%len(corners)]
		sum += float64(a[0]*b[1]) - float64(b[0]*a[1])
	}
	return sum
}

// measured adds up the area and looks for sides that part of the surface lies behind.
func (s *Surface) measured() (*Surface, error) {
	size := 0.0
	for _, p := range s.patches {
		s.area += p.area()
		for _, q := range p.points {
			size = max(size, math.Abs(q.x), math.Abs(q.y))
		}
	}
	if !(s.area > 0) || math.IsInf(s.area, 0) {
		return nil, fmt.Errorf("the zone has no area")
	}
	for i := range s.sides {
		for _, p := range s.patches {
			for _, q := range p.points {
				s.sides[i].behind = s.sides[i].behind || q.d[i] < -1e-9*(1+size)
			}
		}
	}
	return s, nil
}

// Names of the sides of a sector: its arcs, and its straight sides at the lesser and the greater angle.
const (
	Inner = "inner"
	Outer = "outer"
	First = "first"
	Last  = "last"
)

// Sector of a ring, radii in m and angles in degrees. Stations run outward on the straight sides and from the first to
// the last on the arcs. In angle and half the square of the radius area is kept and the sector is a rectangle.
func Sector(inner, outer, fromDeg, toDeg float64) (*Surface, error) {
	angle := (toDeg - fromDeg) * math.Pi / 180
	if !(inner >= 0 && outer > inner && angle > 0 && angle <= 2*math.Pi) || math.IsInf(outer, 0) {
		return nil,
			fmt.Errorf(
				"a sector from radius %v to %v and from %v to %v degrees: radii and angles must rise, the angle to at most 360",
				inner, outer, fromDeg, toDeg)
	}
	deep := (float64(outer*outer) - float64(inner*inner)) / 2
	corner := func(x, y float64) point {
		p := point{x: x, y: y}
		p.d = [MaxSides]float64{y, deep - y, x, angle - x}
		return p
	}
	radius := func(v float64) float64 { return math.Sqrt(float64(inner*inner) + 2*v) }
	degrees := func(level float64) float64 { return level * 180 / math.Pi }
	a, b, c, d := corner(0, 0), corner(angle, 0), corner(angle, deep), corner(0, deep)
	s := &Surface{patches: []patch{{points: []point{a, b, c, d}, sign: 1}}}
	s.sides = []side{
		{
			name: Inner, length: inner * angle, along: []stretch{{to: inner * angle, a: a, b: b}},
			metres: func(v float64) float64 { return radius(v) - inner },
		},
		{
			name: Outer, length: outer * angle, along: []stretch{{to: outer * angle, a: d, b: c}},
			metres: func(v float64) float64 { return outer - radius(deep-v) },
		},
		{
			name: First, length: outer - inner, along: []stretch{{to: outer - inner, a: a, b: d, radius: inner}},
			metres: degrees, degrees: true,
		},
		{
			name: Last, length: outer - inner, along: []stretch{{to: outer - inner, a: b, b: c, radius: inner}},
			metres: degrees, degrees: true,
		},
	}
	if inner == 0 { // half the square of the radius from nothing: u is its own square root's square
		s.sides[2].along[0].radius, s.sides[3].along[0].radius = tiny, tiny
	}
	return s.measured()
}

// tiny stands for a radius of nothing, which would read as a stretch that is not of a ring.
const tiny = 1e-12

// Lengths is a zone of which only the area and its four sides are known, anticlockwise seen from outside: a share of
// the area is taken as the same share of a side's length.
func Lengths(area float64, names [4]string, lengths [4]float64) (*Surface, error) {
	sides := make([]NamedSide, 4)
	for i, n := range names {
		sides[i] = NamedSide{n, []int{i, (i + 1) % 4}}
		if !(lengths[i] > 0) || math.IsInf(lengths[i], 0) {
			return nil, fmt.Errorf("side %q of length %v: it must be above 0", n, lengths[i])
		}
	}
	if !(area > 0) || math.IsInf(area, 0) {
		return nil, fmt.Errorf("an area of %v must be above 0", area)
	}
	edge := math.Sqrt(area)
	s, err := Outline([][2]float64{{0, 0}, {edge, 0}, {edge, edge}, {0, edge}}, nil, sides)
	if err != nil {
		return nil, err
	}
	s.fronts = false
	for i := range s.sides {
		deep := area / lengths[i]
		s.sides[i].metres = func(level float64) float64 { return level / edge * deep }
		s.sides[i].length, s.sides[i].along[0].to = lengths[i], lengths[i]
	}
	return s, nil
}
