package plan

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
)

const twoZones = `
site: {name: Shed, units: metric}
mixes:
  - {name: body, revision: 1, constituents: [{name: cement, kind: cement, amount: 40kg, gravity: 3.15}, {name: water, kind: water, amount: 16L}]}
zones:
  - {name: V1, area: 48m2, FORM1, coats: [{thickness: 10mm, mix: body}]}
  - {name: V2, area: 48m2, FORM2, coats: [{thickness: 10mm, mix: body}]}
edges:
  - {between: [V1, V2], length: 6m, EDGE}
`

func formed(one, two, edge string) []byte {
	return []byte(strings.NewReplacer("FORM1", one, "FORM2", two, "EDGE", edge).Replace(twoZones))
}

const (
	four    = "sides: {south: 8m, east: 6m, north: 8m, west: 6m}"
	flat    = "outline: {unit: m, corners: [[8, 0], [16, 0], [16, 6], [8, 6]], sides: [south, east, north, west]}"
	sector  = "ring: {inner: 3m, outer: 9m, from: 0, to: 76.39}" // 48 m2
	onSides = "sides: [east, west], joint: engineer"
)

func TestWhereTheSidesOfAZoneLie(t *testing.T) {
	p, err := Read("two.yaml", formed(four, flat, onSides), nil)
	if err != nil {
		t.Fatal(err)
	}
	if f := p.Zones[0].Form; f == nil || len(f.Sides) != 4 || f.Sides[1].Name != "east" || f.Sides[1].Length.SI != 6 {
		t.Errorf("%+v", f)
	}
	if f := p.Zones[1].Form; f == nil || len(f.Outline) != 4 || f.Outline[2].X != 16 {
		t.Errorf("%+v", f)
	}
	if e := p.Edges[0]; e.PartA.Side != "east" || e.PartB.Side != "west" || e.Joint.String() != "engineer" {
		t.Errorf("%+v", e)
	}
}

func TestWhatIsWrongWithSidesIsToldByLine(t *testing.T) {
	for name, c := range map[string]struct{ one, two, edge, says string }{
		"three sides": {
			"sides: {south: 8m, east: 6m, north: 8m}", four, onSides,
			"two.yaml:6: zone V1: sides names 3 sides",
		},
		"two forms": {four + ", " + sector, four, onSides, "sides and ring are both there"},
		"an area that differs": {
			"outline: {unit: ft, corners: [[0, 0], [8, 0], [8, 6], [0, 6]], sides: [south, east, north, west]}", four,
			onSides, "makes 4.459 m2, and the zone's area is 48 m2",
		},
		"a corner of one number": {
			"outline: {unit: m, corners: [[0, 0], [8], [8, 6]], sides: [a, b, c]}", four,
			onSides, "a corner is two numbers",
		},
		"too few names": {
			"outline: {unit: m, corners: [[0, 0], [8, 0], [8, 6], [0, 6]], sides: [a, b]}",
			four, onSides, "2 names of sides for an outline of 4 corners",
		},
		"a ring inside out": {
			"ring: {inner: 9m, outer: 3m, from: 0, to: 60}", four, onSides,
			"the outer one must be greater",
		},
		"a side that is not there": {
			four, four, "sides: [east, left]",
			"edge V1 to V2: zone V2 has no side \"left\"; it has south, east, north, west",
		},
		"an edge too long": {four, four, "sides: [south, west]", "on zone V1 it is 8 m long, and the edge 6 m"},
		"a part beyond the side": {
			four, four, "sides: [east, west], part: [4m-10m, 6m-0m]",
			"is 6.000 m long; there is no station 10.000 m on it",
		},
		"which way it runs":    {sector, four, "sides: [last, west]", "nobody can tell which way each side runs"},
		"a part without sides": {four, four, "part: [0m-6m, 6m-0m]", "part without sides"},
		"an unknown permission": {
			four, four, "sides: [east, west], joint: maybe",
			"joint \"maybe\" is not known; it looks like yes, engineer or no",
		},
		"a zone without sides": {"order: 1", four, onSides, "zone V1 has no sides in the plan"},
	} {
		if _, err := Read("two.yaml", formed(c.one, c.two, c.edge), nil); err == nil ||
			!strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v\nnot: %s", name, err, c.says)
		}
	}
}

const (
	bent = "mesh: {unit: m, vertices: [[0, 0, 0], [8, 0, 0], [8, 6, 0], [0, 6, 0]], triangles: [[0, 1, 2], [0, 2, 3]], sides: {south: [0, 1], east: [1, 2], north: [2, 3], west: [3, 0]}}"
	sun  = ", exposure: {sun: 09:00-16:00, warmer: 6}, reached_from: south"
)

func TestAMeshTheSunAndTheSideFromWhichAZoneIsReached(t *testing.T) {
	p, err := Read("two.yaml", formed(bent+sun, four+", exposure: shade", onSides), nil)
	if err != nil {
		t.Fatal(err)
	}
	z := p.Zones[0]
	if z.Form == nil || z.Form.Mesh == nil || len(z.Form.Mesh.Triangles) != 2 || len(z.Form.Sides[2].Chain) != 2 ||
		z.ReachedFrom != "south" {
		t.Errorf("%+v", z)
	}
	if x := z.Exposure; x == nil || x.From != 9*time.Hour || x.To != 16*time.Hour || x.Warmer != 6 {
		t.Errorf("%+v", x)
	}
	if x := p.Zones[1].Exposure; x == nil || *x != (event.Exposure{}) {
		t.Errorf("in the shade: %+v", x)
	}
	for name, c := range map[string]struct{ one, says string }{
		"a vertex that is not there": {
			strings.Replace(bent, "[0, 2, 3]]", "[0, 2, 9]]", 1),
			"two.yaml:6: zone V1: triangle 1: there is no vertex 9",
		},
		"a chain of one": {
			strings.Replace(bent, "south: [0, 1]", "south: [0]", 1),
			"side \"south\" is a chain of 1 vertices",
		},
		"half a vertex": {
			strings.Replace(bent, "[0, 1, 2]", "[0, 1.5, 2]", 1),
			"1.5 is not the number of a vertex",
		},
		"two numbers for a vertex": {
			strings.Replace(bent, "[8, 0, 0]", "[8, 0]", 1),
			"vertices: one is 3 numbers, and here are 2",
		},
		"reached from nowhere": {
			four + ", reached_from: up",
			"reached_from: the zone has no side \"up\"; it has south, east, north, west",
		},
		"reached without sides": {
			"reached_from: south",
			"reached_from names side \"south\", and the zone has no sides",
		},
		"an unknown exposure": {"exposure: dark", "exposure \"dark\" is not known; it is shade, or looks like"},
		"too warm":            {"exposure: {sun: 09:00-16:00, warmer: 60}", "60 K warmer in the sun cannot be"},
	} {
		if _, err := Read("two.yaml", formed(c.one, four, ""), nil); err == nil ||
			!strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: %v\nnot: %s", name, err, c.says)
		}
	}
}

func TestWhereAZoneLiesOnTheMap(t *testing.T) {
	p, err := Read("two.yaml", formed("at: [1, 2]", "at: [3, 1]", ""), nil)
	if err != nil {
		t.Fatal(err)
	}
	if at := p.Zones[0].At; at == nil || *at != (event.MapCell{Row: 1, Column: 2}) {
		t.Errorf("a cell is read as %v", at)
	}
	for name, c := range map[string]struct{ one, two, says string }{
		"a cell twice": {
			"at: [2, 3]", "at: [2, 3]",
			"two.yaml:7: zone V2: at: row 2, column 3 of the map is zone V1 already, at line 6",
		},
		"one number": {
			"at: [2]", "order: 2",
			"two.yaml:6: zone V1: at: it is the zone's row from the top of the map and its column from the left, [2, 3]",
		},
		"a word":           {"at: [2, left]", "order: 2", "at: here is \"left\"; row and column are whole numbers"},
		"before the first": {"at: [0, 1]", "order: 2", "row of the map"},
		"far outside":      {"at: [1, 4000]", "order: 2", "column of the map"},
	} {
		if _, err := Read("two.yaml", formed(c.one, c.two, ""), nil); err == nil ||
			!strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: want %q in:\n%v", name, c.says, err)
		}
	}
}
