package planned_test

import (
	"math"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/planned"
	"hod/internal/trade/strip"
	"hod/internal/unit"
)

// rectangle of 4 m by 3 m, its sides named as on a map.
func rectangle() *event.Form {
	return &event.Form{
		Outline: []event.Corner{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 3}, {X: 0, Y: 3}},
		Sides:   []event.Side{{Name: "south"}, {Name: "east"}, {Name: "north"}, {Name: "west"}},
	}
}

// sector of a ring from 2 m to 5 m.
func sector(from, to float64) *event.Form {
	return &event.Form{Sector: &event.Sector{
		Inner: foldtest.As(unit.Length(2)), Outer: foldtest.As(unit.Length(5)), From: from, To: to,
	}}
}

func whole(side string) *event.EdgePart { return &event.EdgePart{Side: side} }

func part(side string, from, to unit.Length) *event.EdgePart {
	return &event.EdgePart{Side: side, From: foldtest.Ref(from), To: foldtest.Ref(to)}
}

func TestAnEdgeIsThePartsOfBothZonesSidesThatThePlanSays(t *testing.T) {
	four := &event.Form{}
	for _, name := range []string{"south", "east", "north", "west"} {
		four.Sides = append(four.Sides, event.Side{Name: name, Length: foldtest.Ref(unit.Length(3))})
	}
	for name, k := range map[string]struct {
		a, b     *event.Form
		onA, onB *event.EdgePart
		length   unit.Length
		of, with strip.Part
		wrong    string
	}{
		// sides run one way round each zone, so that neighbours' sides run against each other
		"whole sides": {
			a: rectangle(), b: rectangle(), onA: whole("east"), onB: whole("west"), length: 3,
			of: strip.Part{Side: 1, From: 0, To: 3}, with: strip.Part{Side: 3, From: 3, To: 0},
		},
		"two metres of them": {
			a: rectangle(), b: rectangle(), onA: part("east", 0.5, 2.5), onB: part("west", 2.5, 0.5), length: 2,
			of: strip.Part{Side: 1, From: 0.5, To: 2.5}, with: strip.Part{Side: 3, From: 2.5, To: 0.5},
		},
		"an outline beside a zone of which only the sides' lengths are known": {
			a: rectangle(), b: four, onA: whole("east"), onB: whole("west"), length: 3,
			of: strip.Part{Side: 1, From: 0, To: 3}, with: strip.Part{Side: 3, From: 3, To: 0},
		},
		"the sides of two sectors, which all run outward": {
			a: sector(0, 90), b: sector(90, 180), onA: whole("last"), onB: whole("first"), length: 3,
			of: strip.Part{Side: 3, From: 0, To: 3}, with: strip.Part{Side: 2, From: 0, To: 3},
		},
		"an edge 3 % longer than its side": {
			a: rectangle(), b: rectangle(), onA: whole("east"), onB: whole("west"), length: 3.1,
			of: strip.Part{Side: 1, From: 0, To: 3}, with: strip.Part{Side: 3, From: 3, To: 0},
		},
		"an edge 7 % longer than its side": {
			a: rectangle(), b: rectangle(), onA: whole("east"), onB: whole("west"), length: 3.22,
			wrong: "on zone A1 it is 3 m long, and the edge 3.22 m",
		},
		"a side as long as the edge beside one that is not": {
			a: rectangle(), b: rectangle(), onA: whole("east"), onB: whole("south"), length: 3,
			wrong: "on zone A2 it is 4 m long, and the edge 3 m",
		},
		"a side that is not there": {
			a: rectangle(), b: rectangle(), onA: whole("left"), onB: whole("west"), length: 3,
			wrong: `zone A1 has no side "left"; it has south, east, north, west`,
		},
		"a part beyond the end of its side": {
			a: rectangle(), b: rectangle(), onA: part("east", 2, 4), onB: part("west", 2, 0), length: 2,
			wrong: "zone A1: ",
		},
		"a zone without sides": {
			a: rectangle(), onA: whole("east"), onB: whole("west"), length: 3,
			wrong: "zone A2 has no sides in the plan",
		},
		"a sector beside an outline, nobody having said which way": {
			a: sector(0, 90), b: rectangle(), onA: whole("last"), onB: whole("west"), length: 3,
			wrong: "nobody can tell which way each side runs",
		},
	} {
		t.Run(name, func(t *testing.T) {
			of, with, err := planned.PartsOf(
				event.EdgePlanned{A: "A1", B: "A2", Length: foldtest.As(k.length), PartA: k.onA, PartB: k.onB},
				event.ZonePlanned{Zone: "A1", Area: foldtest.As(unit.Area(12)), Form: k.a},
				event.ZonePlanned{Zone: "A2", Area: foldtest.As(unit.Area(9)), Form: k.b})
			if k.wrong != "" {
				if err == nil || !strings.Contains(err.Error(), k.wrong) {
					t.Errorf("error %v, not %q", err, k.wrong)
				}
				return
			}
			if err != nil || !alike(of, k.of) || !alike(with, k.with) {
				t.Errorf("%+v of the one and %+v of the other, %v; want %+v and %+v", of, with, err, k.of, k.with)
			}
		})
	}
}

func alike(a, b strip.Part) bool {
	return a.Side == b.Side && math.Abs(a.From-b.From) < 1e-9 && math.Abs(a.To-b.To) < 1e-9
}

func TestTheSideTowardAnotherZoneIsKnownWhereTheEdgeNamesIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	for _, z := range []event.Zone{"B1", "B2", "B3"} {
		d.By("f1", 1, event.ZonePlanned{Zone: z, Area: foldtest.As(unit.Area(12)), Form: rectangle()})
	}
	d.By("f1", 2, event.EdgePlanned{ // written from the zone that is later by name
		A: "B2", B: "B1", Length: foldtest.As(unit.Length(3)), PartA: whole("west"), PartB: whole("east"),
	})
	d.By("f1", 2, event.EdgePlanned{A: "B2", B: "B3", Length: foldtest.As(unit.Length(3))})
	p := d.Site().Plan()
	for _, k := range []struct {
		of, to event.Zone
		want   string
	}{{"B1", "B2", "east"}, {"B2", "B1", "west"}, {"B2", "B3", ""}, {"B1", "B3", ""}} {
		if got, said := p.Zones[k.of].SideTo(k.to); got != k.want || said != (k.want != "") {
			t.Errorf("%s meets %s on its side %q, said: %v; want %q", k.of, k.to, got, said, k.want)
		}
	}
}
