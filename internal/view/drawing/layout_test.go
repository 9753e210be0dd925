package drawing

import (
	"fmt"
	"slices"
	"testing"

	"hod/internal/event"
)

// grid is zones in rows and columns with their edges, in an order that says nothing of where they lie.
func grid(rows, columns int) (zones []event.Zone, edges [][2]event.Zone, at map[event.Zone]spot) {
	at = map[event.Zone]spot{}
	name := func(r, c int) event.Zone { return event.Zone(fmt.Sprintf("z%02d", (r*columns+c)*7%(rows*columns))) }
	for r := range rows {
		for c := range columns {
			zones, at[name(r, c)] = append(zones, name(r, c)), spot{r, c}
			if c > 0 {
				edges = append(edges, [2]event.Zone{name(r, c-1), name(r, c)})
			}
			if r > 0 {
				edges = append(edges, [2]event.Zone{name(r-1, c), name(r, c)})
			}
		}
	}
	slices.Sort(zones)
	return zones, edges, at
}

func apart(p *laidFlat, edges [][2]event.Zone) (n int) {
	for _, e := range edges {
		if far(p.at[e[0]], p.at[e[1]]) != 1 {
			n++
		}
	}
	return n
}

func TestNeighboursTouchOnAMapThatNobodyPlanned(t *testing.T) {
	for _, size := range [][2]int{{1, 1}, {1, 6}, {2, 2}, {3, 4}, {5, 8}, {20, 20}} {
		zones, edges, _ := grid(size[0], size[1])
		parts, crowded := layout(zones, nil, edges)
		if len(parts) != 1 || len(crowded) > 0 || len(parts[0].at) != len(zones) {
			t.Fatalf("%v: %d parts, %d crowded", size, len(parts), len(crowded))
		}
		if n := apart(parts[0], edges); n > 0 {
			t.Errorf("%v: %d of %d edges lie between zones that do not touch: %v", size, n, len(edges), parts[0].at)
		}
		cells := map[spot]event.Zone{}
		for z, s := range parts[0].at {
			if other, full := cells[s]; full {
				t.Errorf("%v: %s lies on %s", size, z, other)
			}
			cells[s] = z
		}
	}
}

func TestARingIsCutOpenIntoARow(t *testing.T) {
	var zones []event.Zone
	var edges [][2]event.Zone
	for i := range 6 {
		zones = append(zones, event.Zone(fmt.Sprintf("D%d", i+1)))
		edges = append(edges, [2]event.Zone{zones[i], event.Zone(fmt.Sprintf("D%d", (i+1)%6+1))})
	}
	parts, _ := layout(zones, nil, edges)
	if n := apart(parts[0], edges); n != 1 {
		t.Errorf("a ring of six is cut %d times: %v", n, parts[0].at)
	}
	for z, s := range parts[0].at {
		if s.row != 0 {
			t.Errorf("%s lies in row %d", z, s.row)
		}
	}
}

func TestWhatThePlanSaysOfTheMapHolds(t *testing.T) {
	zones := []event.Zone{"A", "B", "C", "D", "alone"}
	edges := [][2]event.Zone{{"A", "B"}, {"B", "C"}}
	cells := map[event.Zone]*event.MapCell{"A": {Row: 1, Column: 1}, "C": {Row: 1, Column: 3}, "D": {Row: 1, Column: 3}}
	parts, crowded := layout(zones, cells, edges)
	if !slices.Equal(crowded, []event.Zone{"D"}) {
		t.Errorf("crowded: %v", crowded)
	}
	p := parts[0]
	if p.at["A"] != (spot{0, 0}) || p.at["B"] != (spot{0, 1}) || p.at["C"] != (spot{0, 2}) {
		t.Errorf("laid: %v", p.at)
	}
	if len(parts) != 2 || len(parts[1].at) != 2 {
		t.Errorf("zones without an edge or a cell: %d parts", len(parts))
	}
	far, _ := layout([]event.Zone{"A", "B"}, map[event.Zone]*event.MapCell{
		"A": {Row: 3, Column: 1},
		"B": {Row: 190, Column: 180},
	}, nil)
	if at := far[0].at; at["A"] != (spot{0, 0}) || at["B"] != (spot{2, 2}) {
		t.Errorf("empty rows and columns stand: %v", at)
	}
}
