package plan

import (
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/trade/shell"
	"hod/internal/unit"
)

// forms are the shapes whose area has a closed form, with the measures that each needs.
var forms = []struct {
	name     string
	measures []string
	of       func(m map[string]unit.Length) shell.Shape
}{
	{"vault", []string{"span", "rise", "length"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Vault{Span: m["span"], Rise: m["rise"], Length: m["length"]}
	}},
	{"barrel", []string{"span", "rise", "length"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Barrel{Span: m["span"], Rise: m["rise"], Length: m["length"]}
	}},
	{"catenary", []string{"span", "rise", "length"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Catenary{Span: m["span"], Rise: m["rise"], Length: m["length"]}
	}},
	{"paraboloid", []string{"radius", "rise"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Paraboloid{Radius: m["radius"], Rise: m["rise"]}
	}},
	{"cap", []string{"radius", "rise"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Cap{Radius: m["radius"], Rise: m["rise"]}
	}},
	{"hypar", []string{"length", "width", "rise"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Hypar{Length: m["length"], Width: m["width"], Rise: m["rise"]}
	}},
	{"frustum", []string{"radius", "top_radius", "rise"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Frustum{Radius: m["radius"], TopRadius: m["top_radius"], Rise: m["rise"]}
	}},
	{"half_spheroid", []string{"radius", "rise"}, func(m map[string]unit.Length) shell.Shape {
		return shell.HalfSpheroid{Radius: m["radius"], Rise: m["rise"]}
	}},
	{"torus", []string{"radius", "tube"}, func(m map[string]unit.Length) shell.Shape {
		return shell.Torus{Radius: m["radius"], Tube: m["tube"]}
	}},
}

// shape reads a zone's shape, in words or with measures that give its area: all of the shape's, or the part that the
// zone is.
func (f fields) shape(b *event.ZonePlanned) {
	n := f.of["shape"]
	if n == nil {
		return
	}
	if f.follow(n).Kind != yaml.MappingNode {
		b.Shape, _ = f.text("shape")
		f.can("shape", event.ZonePlanned{Zone: "x", Area: unit.As[unit.Area]{SI: 1}, Shape: b.Shape})
		return
	}
	s, ok := f.fields(n, f.path+", shape", "form", "part", "span", "rise", "length", "width", "radius", "top_radius",
		"tube")
	if !ok {
		return
	}
	s.need("form")
	form, at := s.text("form")
	var names []string
	for _, one := range forms {
		names = append(names, one.name)
	}
	i := slices.Index(names, form)
	if at != nil && i < 0 {
		s.wrong(at, s.path, "form %s is not known%s; for any other shape give the area", quoted(form),
			s.offer(form, names))
	}
	if i < 0 {
		return
	}
	area, shape, ok := s.measured(i)
	b.Area, b.Shape = area, shape
	if f.of["area"] != nil {
		f.wrong(f.of["area"], f.path,
			"area is given, and the shape's measures give it too; leave one of them out, or put the shape in words")
	}
	if ok {
		f.can("shape", event.ZonePlanned{Zone: "x", Area: b.Area, Shape: b.Shape})
	}
}

// measured is the area that the shape's measures give, and its words.
func (f fields) measured(i int) (area unit.As[unit.Area], words string, ok bool) {
	form := forms[i]
	f.need(form.measures...)
	measures := map[string]unit.Length{}
	var said []string
	for _, key := range []string{"span", "radius", "top_radius", "tube", "length", "width", "rise"} {
		if f.of[key] == nil {
			continue
		}
		if !slices.Contains(form.measures, key) {
			f.wrong(f.of[key], f.path, "a %s has no %s; it has %s", form.name, key, strings.Join(form.measures, ", "))
			continue
		}
		if q := quantity(f, key, unit.ParseLength); q != nil {
			measures[key] = q.SI
			said = append(said, strings.ReplaceAll(key, "_", " ")+" "+unit.Spaced(q.Entered))
		}
	}
	part := quantity(f, "part", unit.ParseShare)
	if part != nil && part.SI == 0 {
		f.wrong(f.of["part"], f.path, "part is nothing of the shape; it looks like 1/12")
	}
	if len(measures) < len(form.measures) {
		return area, "", false
	}
	m, err := form.of(measures).Measure()
	if err != nil {
		f.wrong(f.node, f.path, "such a %s cannot be: %s", form.name, strings.ReplaceAll(err.Error(), "\n", "; "))
		return area, "", false
	}
	name := strings.ReplaceAll(form.name, "_", " ")
	area, words = unit.Computed(m.Area), name+", "+strings.Join(said, ", ")
	if part != nil {
		area.SI, words = unit.Area(float64(m.Area)*float64(part.SI)), fmt.Sprintf("%s of a %s", part.Entered, words)
	}
	return area, words, area.SI > 0
}
