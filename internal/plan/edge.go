package plan

import (
	"strconv"

	"go.yaml.in/yaml/v3"

	"hod/internal/event"
	"hod/internal/unit"
)

func (f fields) edges(z zones) []event.EdgePlanned {
	var all []event.EdgePlanned
	lines := map[[2]string]int{}
	planned := map[string]bool{}
	for _, name := range z.names {
		planned[name] = true
	}
	f.items("edges", MostEdges, func(i int, n *yaml.Node) {
		path := "edge " + strconv.Itoa(i) + " of the list"
		e, ok := f.fields(n, path, "between", "length", "sides", "part", "joint")
		if !ok {
			return
		}
		e.need("between", "length")
		ends := e.ends()
		if len(ends) == 2 {
			e.path = "edge " + named(ends[0]) + " to " + named(ends[1])
		}
		var b event.EdgePlanned
		if q := quantity(e, "length", unit.ParseLength); q != nil {
			b.Length = *q
			e.can("length", event.EdgePlanned{A: "x", B: "y", Length: *q})
		}
		e.parts(&b)
		b.Joint, _ = words(e, "joint", event.ParseJointPermission)
		at := e.of["between"]
		if len(ends) != 2 {
			if at != nil && e.follow(at).Kind == yaml.SequenceNode && len(e.follow(at).Content) < 2 {
				e.wrong(at, e.path, "between names %d zones; an edge lies between two, [A1, A2]", len(ends))
			}
			return
		}
		b.A, b.B = event.Zone(ends[0]), event.Zone(ends[1])
		unknown := f.of["zones"] != nil && e.unplanned(at, ends, planned, z.names)
		pair := [2]string{min(ends[0], ends[1]), max(ends[0], ends[1])}
		line, twice := lines[pair]
		switch {
		case ends[0] == ends[1]:
			e.wrong(at, e.path, "a zone has no edge with itself; an edge lies between two zones")
		case twice:
			e.wrong(at, e.path, "this edge is there already, at line %d; either order of its zones is the same edge",
				line)
		case !unknown:
			lines[pair] = n.Line
		}
		all = append(all, b)
	})
	f.onSides(all, z.planned)
	return all
}

// ends are the zones between which an edge is said to lie.
func (e fields) ends() []string {
	var ends []string
	e.items("between", 2, func(_ int, n *yaml.Node) {
		v := e.follow(n)
		if v.Kind != yaml.ScalarNode || v.Tag == "!!null" {
			e.wrong(n, e.path, "between: %s; it names two zones, [A1, A2]", whatIs(v))
			return
		}
		ends = append(ends, v.Value)
	})
	return ends
}

// unplanned says which ends of an edge are no planned zones, and reports whether there are any.
func (e fields) unplanned(at *yaml.Node, ends []string, planned map[string]bool, names []string) bool {
	found := false
	for _, name := range ends {
		if !planned[name] {
			found = true
			e.wrong(at, e.path, "zone %s is not planned%s", named(name), e.offer(name, names))
		}
	}
	return found
}
