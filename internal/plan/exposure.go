package plan

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/unit"
)

// exposure is when the sun is on the zone and by how many kelvin its mortar is then warmer than the air in the shade:
// "exposure: {sun: 9:00-16:00, warmer: 6}", or "exposure: shade".
func (d *draft) exposure(b *event.ZonePlanned) {
	n := d.of["exposure"]
	if n == nil {
		return
	}
	if v := d.follow(n); v.Kind == yaml.ScalarNode {
		if strings.TrimSpace(v.Value) != "shade" {
			d.wrong(n, d.path, "exposure %s is not known; it is shade, or looks like {sun: 09:00-16:00, warmer: 6}",
				quoted(v.Value))
			return
		}
		b.Exposure = &event.Exposure{}
		return
	}
	f, ok := d.fields.fields(n, d.path+", exposure", "sun", "warmer")
	if !ok {
		return
	}
	f.need("sun", "warmer")
	s, at := f.text("sun")
	warmer := f.number("warmer")
	if at == nil || warmer == 0 {
		return
	}
	from, to, ok := f.hours(at, "sun", s, s)
	if !ok {
		return
	}
	x := &event.Exposure{From: from, To: to, Warmer: warmer}
	if f.can("warmer", event.ZonePlanned{Zone: "x", Area: unit.As[unit.Area]{SI: 1}, Exposure: x}) {
		b.Exposure = x
	}
}

// reached is the side from which the zone is reached: one that its form has.
func (d *draft) reached(b *event.ZonePlanned) {
	side, at := d.text("reached_from")
	switch {
	case at == nil:
		return
	case b.Form == nil && d.of["sides"] == nil && d.of["outline"] == nil && d.of["ring"] == nil && d.of["mesh"] == nil:
		d.wrong(at, d.path,
			"reached_from names side %s, and the zone has no sides; give them: sides, outline, ring or mesh",
			quoted(side))
		return
	}
	if names := sidesOf(b.Form); b.Form != nil && !slices.Contains(names, side) {
		d.wrong(at, d.path, "reached_from: the zone has no side %s; it has %s", quoted(side), strings.Join(names, ", "))
		return
	}
	b.ReachedFrom = side
}

func sidesOf(f *event.Form) []string {
	if f != nil && f.Sector != nil {
		return []string{"inner", "outer", "first", "last"}
	}
	var all []string
	if f != nil {
		for _, s := range f.Sides {
			all = append(all, s.Name)
		}
	}
	return all
}

const meshLooks = "{unit: m, vertices: [[0, 0, 0], [8, 0, 1], [8, 6, 1]], triangles: [[0, 1, 2]], sides: {south: [0, 1], east: [1, 2]}}"

// mesh is a bent surface of triangles, whose sides are chains of its vertices.
func (d *draft) mesh() *event.Form {
	f, ok := d.fields.fields(d.of["mesh"], d.path+", mesh", "unit", "vertices", "triangles", "sides")
	if !ok {
		return nil
	}
	f.need("unit", "vertices", "triangles", "sides")
	in, at := f.text("unit")
	if at == nil || f.of["vertices"] == nil || f.of["triangles"] == nil || f.of["sides"] == nil {
		return nil
	}
	one, err := unit.ParseLength("1" + in)
	if err != nil {
		f.wrong(at, f.path, "unit %s is not one of length; it looks like m or ft", quoted(in))
		return nil
	}
	m := &event.Mesh{}
	for _, v := range f.rows(f.of["vertices"], "vertices", event.MaxVertices, 3) {
		m.Vertices = append(m.Vertices, [3]float64{v[0] * float64(one), v[1] * float64(one), v[2] * float64(one)})
	}
	for _, v := range f.rows(f.of["triangles"], "triangles", event.MaxTriangles, 3) {
		t, whole := f.wholes(f.of["triangles"], v)
		if !whole {
			return nil
		}
		m.Triangles = append(m.Triangles, [3]int(t))
	}
	sides := f.follow(f.of["sides"])
	if sides.Kind != yaml.MappingNode || m.Vertices == nil || m.Triangles == nil {
		if sides.Kind != yaml.MappingNode {
			f.wrong(f.of["sides"], f.path, "sides: %s; each side is a chain of vertices, as in %s", whatIs(sides),
				meshLooks)
		}
		return nil
	}
	form := &event.Form{Mesh: m}
	for i := 0; i+1 < len(sides.Content); i += 2 {
		chain := f.numbers(sides.Content[i+1], "sides", event.MaxVertices)
		is, whole := f.wholes(sides.Content[i+1], chain)
		if chain == nil || !whole {
			return nil
		}
		form.Sides = append(form.Sides, event.Side{Name: f.follow(sides.Content[i]).Value, Chain: is})
	}
	return form
}

// rows are lists of so many numbers each; nil where something is wrong.
func (f fields) rows(n *yaml.Node, key string, most, each int) [][]float64 {
	list := f.follow(n)
	if list.Kind != yaml.SequenceNode || len(list.Content) == 0 || len(list.Content) > most {
		f.wrong(n, f.path, "%s: it is a list of at most %d, as in %s", key, most, meshLooks)
		return nil
	}
	var all [][]float64
	for _, one := range list.Content {
		row := f.numbers(one, key, each)
		if len(row) != each {
			if row != nil {
				f.wrong(one, f.path, "%s: one is %d numbers, and here are %d", key, each, len(row))
			}
			return nil
		}
		all = append(all, row)
	}
	return all
}

func (f fields) numbers(n *yaml.Node, key string, most int) []float64 {
	list := f.follow(n)
	if list.Kind != yaml.SequenceNode || len(list.Content) == 0 || len(list.Content) > most {
		f.wrong(n, f.path, "%s: %s where a list of at most %d numbers should be, as in %s", key, whatIs(list), most,
			meshLooks)
		return nil
	}
	var all []float64
	for _, v := range list.Content {
		x, err := strconv.ParseFloat(f.follow(v).Value, 64)
		if err != nil || math.IsNaN(x) || math.IsInf(x, 0) {
			f.wrong(v, f.path, "%s: %s is not a number", key, quoted(f.follow(v).Value))
			return nil
		}
		all = append(all, x)
	}
	return all
}

// wholes are the numbers of vertices.
func (f fields) wholes(n *yaml.Node, numbers []float64) ([]int, bool) {
	var all []int
	for _, x := range numbers {
		if x != math.Trunc(x) || x < 0 || x > 1e6 {
			f.wrong(n, f.path, "%v is not the number of a vertex; they go 0, 1, 2 … in the order of vertices", x)
			return nil, false
		}
		all = append(all, int(x))
	}
	return all, true
}
