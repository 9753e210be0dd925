package plan

import (
	"math"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/planned"
	"hod/internal/unit"
)

// formOff is by how much a form's area, or the part of a side, may differ from the area or the length that is given
// beside it before it is taken for a mistake.
const formOff = 0.05

// form reads where a zone's sides lie: sides with their lengths, an outline, a ring's sector, or a mesh.
func (d *draft) form(b *event.ZonePlanned) {
	var given []string
	for _, key := range []string{"sides", "outline", "ring", "mesh"} {
		if d.of[key] != nil {
			given = append(given, key)
		}
	}
	if len(given) > 1 {
		d.wrong(d.of[given[1]], d.path,
			"%s and %s are both there; each says where the sides lie, so leave one of them out", given[0], given[1])
		return
	}
	if len(given) == 0 {
		return
	}
	var f *event.Form
	switch given[0] {
	case "sides":
		f = d.sides()
	case "outline":
		f = d.outline()
	case "mesh":
		f = d.mesh()
	default:
		f = d.ring()
	}
	if f == nil || !d.can(given[0], event.ZonePlanned{Zone: "x", Area: unit.As[unit.Area]{SI: 1}, Form: f}) {
		return
	}
	if !(b.Area.SI > 0) { // what is wrong with it is told already
		return
	}
	surface, err := planned.SurfaceOf(f, b.Area.SI)
	if err != nil {
		d.wrong(d.of[given[0]], d.path, "%s: %v", given[0], err)
		return
	}
	if off := surface.Area()/float64(b.Area.SI) - 1; (d.of["area"] != nil || d.of["shape"] != nil) &&
		math.Abs(off) > formOff {
		d.wrong(d.of[given[0]], d.path,
			"%s makes %.4g m2, and the zone's area is %.4g m2; they differ by more than %.0f%%",
			given[0], surface.Area(), float64(b.Area.SI), 100*formOff)
	}
	b.Form = f
}

// sides are names with lengths, in order.
func (d *draft) sides() *event.Form {
	n := d.of["sides"]
	m := d.follow(n)
	if m.Kind != yaml.MappingNode {
		d.wrong(n, d.path,
			"sides: %s; name the four sides with their lengths, anticlockwise seen from outside: {south: 8m, east: 6m, north: 8m, west: 6m}", whatIs(m))
		return nil
	}
	var keys []string
	for i := 0; i+1 < len(m.Content); i += 2 {
		keys = append(keys, d.follow(m.Content[i]).Value)
	}
	if len(keys) != 4 {
		d.wrong(n, d.path, "sides names %d sides; where there is no outline there are four, in order", len(keys))
		return nil
	}
	f, ok := d.fields.fields(n, d.path+", sides", keys...)
	if !ok {
		return nil
	}
	form := &event.Form{}
	for _, key := range keys {
		q := quantity(f, key, unit.ParseLength)
		if q == nil {
			return nil
		}
		form.Sides = append(form.Sides, event.Side{Name: key, Length: q})
	}
	return form
}

// outline is flat: corners in one unit, a name for each side, openings.
func (d *draft) outline() *event.Form {
	f, ok := d.fields.fields(d.of["outline"], d.path+", outline", "unit", "corners", "sides", "openings")
	if !ok {
		return nil
	}
	f.need("unit", "corners", "sides")
	in, at := f.text("unit")
	if at == nil || f.of["corners"] == nil || f.of["sides"] == nil {
		return nil
	}
	one, err := unit.ParseLength("1" + in)
	if err != nil {
		f.wrong(at, f.path, "unit %s is not one of length; it looks like m or ft", quoted(in))
		return nil
	}
	form := &event.Form{Outline: f.corners(f.of["corners"], "corners", float64(one))}
	f.items("sides", event.MaxSides, func(_ int, n *yaml.Node) {
		form.Sides = append(form.Sides, event.Side{Name: f.follow(n).Value})
	})
	f.items("openings", event.MaxOpenings, func(_ int, n *yaml.Node) {
		form.Openings = append(form.Openings, f.corners(n, "openings", float64(one)))
	})
	return form
}

// corners are pairs of numbers.
func (f fields) corners(n *yaml.Node, key string, one float64) []event.Corner {
	list := f.follow(n)
	if list.Kind != yaml.SequenceNode || len(list.Content) > event.MaxSides {
		f.wrong(n, f.path, "%s: it is a list of at most %d corners, [[0, 0], [8, 0], [8, 6], [0, 6]]", key,
			event.MaxSides)
		return nil
	}
	var all []event.Corner
	for _, c := range list.Content {
		pair := f.follow(c)
		if pair.Kind != yaml.SequenceNode || len(pair.Content) != 2 {
			f.wrong(c, f.path, "%s: a corner is two numbers, [8, 6]", key)
			return nil
		}
		var at [2]float64
		for k, v := range pair.Content {
			x, err := strconv.ParseFloat(f.follow(v).Value, 64)
			if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
				f.wrong(v, f.path, "%s: %s is not a number", key, quoted(f.follow(v).Value))
				return nil
			}
			at[k] = x * one
		}
		all = append(all, event.Corner{X: at[0], Y: at[1]})
	}
	return all
}

// ring is a sector of a ring.
func (d *draft) ring() *event.Form {
	f, ok := d.fields.fields(d.of["ring"], d.path+", ring", "inner", "outer", "from", "to")
	if !ok {
		return nil
	}
	f.need("inner", "outer", "from", "to")
	inner, outer := quantity(f, "inner", unit.ParseLength), quantity(f, "outer", unit.ParseLength)
	from, okFrom := f.degrees("from")
	to, okTo := f.degrees("to")
	if inner == nil || outer == nil || !okFrom || !okTo {
		return nil
	}
	return &event.Form{Sector: &event.Sector{Inner: *inner, Outer: *outer, From: from, To: to}}
}

func (f fields) degrees(key string) (float64, bool) {
	s, n := f.text(key)
	if n == nil {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		f.wrong(n, f.path, "%s %s is not a number of degrees", key, quoted(s))
		return 0, false
	}
	return v, true
}

// parts reads on which side of each zone an edge lies, and which part of it: "sides: [east, west]", and where it is not
// all of them "part: [0m-2.5m, 3.5m-0m]".
func (f fields) parts(b *event.EdgePlanned) {
	if f.of["sides"] == nil {
		if f.of["part"] != nil {
			f.wrong(f.of["part"], f.path, "part without sides; name a side of each zone, too: sides: [east, west]")
		}
		return
	}
	sides := f.pair("sides", "it names a side of each zone, [east, west]")
	if sides == nil {
		return
	}
	b.PartA, b.PartB = &event.EdgePart{Side: sides[0]}, &event.EdgePart{Side: sides[1]}
	if f.of["part"] != nil {
		spans := f.pair("part", "it has the part of each side, [0m-2.5m, 3.5m-0m]")
		if spans == nil {
			return
		}
		for i, p := range []*event.EdgePart{b.PartA, b.PartB} {
			if !f.span(spans[i], p) {
				return
			}
		}
	}
	f.can("sides", event.EdgePlanned{
		A: "x", B: "y", Length: unit.As[unit.Length]{SI: 1}, PartA: b.PartA,
		PartB: b.PartB,
	})
}

func (f fields) pair(key, like string) []string {
	list := f.follow(f.of[key])
	if list.Kind != yaml.SequenceNode || len(list.Content) != 2 {
		f.wrong(f.of[key], f.path, "%s: %s", key, like)
		return nil
	}
	return []string{f.follow(list.Content[0]).Value, f.follow(list.Content[1]).Value}
}

// span reads "0m-2.5m".
func (f fields) span(s string, p *event.EdgePart) bool {
	from, to, ok := strings.Cut(s, "-")
	a, errA := unit.Said(strings.TrimSpace(from), unit.ParseLength)
	b, errB := unit.Said(strings.TrimSpace(to), unit.ParseLength)
	if !ok || errA != nil || errB != nil {
		f.wrong(f.of["part"], f.path, "part %s is no part of a side; one looks like 0m-2.5m", quoted(s))
		return false
	}
	p.From, p.To = &a, &b
	return true
}

// onSides holds the parts of edges against the zones' sides: each must be there, and as long as the edge is.
func (f fields) onSides(edges []event.EdgePlanned, zones []event.ZonePlanned) {
	if len(f.mistakes) > 0 {
		return
	}
	forms := map[event.Zone]event.ZonePlanned{}
	for _, z := range zones {
		forms[z.Zone] = z
	}
	for _, e := range edges {
		if e.PartA == nil {
			continue
		}
		path := "edge " + named(string(e.A)) + " to " + named(string(e.B))
		if _, _, err := planned.PartsOf(e, forms[e.A], forms[e.B]); err != nil {
			f.wrong(f.of["edges"], path, "%v", err)
		}
	}
}
