package planned

import (
	"fmt"
	"math"
	"strings"

	"hod/internal/event"
	"hod/internal/trade/strip"
	"hod/internal/unit"
)

// SurfaceOf is the form of a zone as package strip has it. Of four sides alone the area says how large it is.
func SurfaceOf(f *event.Form, area unit.Area) (*strip.Surface, error) {
	switch {
	case f.Mesh != nil:
		var sides []strip.NamedSide
		for _, s := range f.Sides {
			sides = append(sides, strip.NamedSide{Name: s.Name, Corners: s.Chain})
		}
		return strip.Mesh(f.Mesh.Vertices, f.Mesh.Triangles, sides)
	case f.Sector != nil:
		return strip.Sector(float64(f.Sector.Inner.SI), float64(f.Sector.Outer.SI), f.Sector.From, f.Sector.To)
	case len(f.Outline) > 0:
		var sides []strip.NamedSide
		for i, s := range f.Sides {
			sides = append(sides, strip.NamedSide{Name: s.Name, Corners: []int{i, (i + 1) % len(f.Outline)}})
		}
		var openings [][][2]float64
		for _, o := range f.Openings {
			openings = append(openings, corners(o))
		}
		return strip.Outline(corners(f.Outline), openings, sides)
	}
	var names [4]string
	var lengths [4]float64
	for i, s := range f.Sides {
		if i < 4 && s.Length != nil {
			names[i], lengths[i] = s.Name, float64(s.Length.SI)
		}
	}
	return strip.Lengths(float64(area), names, lengths)
}

func corners(all []event.Corner) [][2]float64 {
	out := make([][2]float64, len(all))
	for i, c := range all {
		out[i] = [2]float64{c.X, c.Y}
	}
	return out
}

// partOff is by how much the part of a side may differ from the length of the edge that it is.
const partOff = 0.05

// PartsOf are the parts of both zones' sides that an edge is. Where the plan says no part, it is the whole side: from
// one end to the other on the first zone, and on the other zone from its far end to its near one, as neighbouring sides
// run that are named in one order round each zone; the sides of sectors all run outward, or from the first to the last,
// and so the same way. The error says what of it cannot be.
func PartsOf(e event.EdgePlanned, a, b event.ZonePlanned) (of, with strip.Part, err error) {
	of, ofA, err := partOf(e.PartA, a, false)
	if err != nil {
		return of, with, err
	}
	sectors := a.Form.Sector != nil && b.Form != nil && b.Form.Sector != nil
	if b.Form != nil && (a.Form.Sector != nil) != (b.Form.Sector != nil) &&
		(e.PartA.From == nil || e.PartB.From == nil) {
		return of, with, fmt.Errorf(
			"one zone is a ring's sector and the other is not, so nobody can tell which way each side runs; say part: [0m-2.5m, 0m-2.5m]")
	}
	with, ofB, err := partOf(e.PartB, b, !sectors)
	if err != nil {
		return of, with, err
	}
	for _, one := range []struct {
		part strip.Part
		in   *strip.Surface
		zone event.Zone
	}{{of, ofA, a.Zone}, {with, ofB, b.Zone}} {
		if err := one.in.Check(one.part); err != nil {
			return of, with, fmt.Errorf("zone %s: %w", one.zone, err)
		}
		long := math.Abs(one.part.To - one.part.From)
		if off := long/float64(e.Length.SI) - 1; math.Abs(off) > partOff {
			return of, with, fmt.Errorf(
				"on zone %s it is %.3g m long, and the edge %.3g m; they differ by more than %.0f%%",
				one.zone, long, float64(e.Length.SI), 100*partOff)
		}
	}
	return of, with, nil
}

func partOf(p *event.EdgePart, z event.ZonePlanned, backward bool) (strip.Part, *strip.Surface, error) {
	if z.Form == nil {
		return strip.Part{}, nil, fmt.Errorf("zone %s has no sides in the plan; say sides, outline or ring for it",
			z.Zone)
	}
	s, err := SurfaceOf(z.Form, z.Area.SI)
	if err != nil {
		return strip.Part{}, nil, fmt.Errorf("zone %s: %w", z.Zone, err)
	}
	side, ok := s.Side(p.Side)
	if !ok {
		return strip.Part{}, nil, fmt.Errorf("zone %s has no side %q; it has %s", z.Zone, p.Side,
			strings.Join(s.Sides(), ", "))
	}
	part := strip.Part{Side: side, To: s.Length(side)}
	if backward {
		part.From, part.To = part.To, 0
	}
	if p.From != nil {
		part.From, part.To = float64(p.From.SI), float64(p.To.SI)
	}
	return part, s, nil
}

// SideTo is the side of a zone that its edge to another zone lies on; false where the plan does not say.
func (z *Zone) SideTo(other event.Zone) (string, bool) {
	for _, e := range z.Edges {
		if e.Parts == nil || e.Other(z.Zone) != other || z.Surface == nil {
			continue
		}
		part := e.Parts[0]
		if e.B == z.Zone {
			part = e.Parts[1]
		}
		return z.Surface.Sides()[part.Side], true
	}
	return "", false
}
