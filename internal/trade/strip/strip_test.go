package strip

import (
	"cmp"
	"encoding/json"
	"errors"
	"io/fs"
	"math"
	"os"
	"slices"
	"testing"
)

type study struct {
	Cases []studied `json:"cases"`
}

type studied struct {
	Name       string
	SetMin     float64  `json:"set_min"`
	Closing    float64  `json:"closing"`
	NowMin     float64  `json:"now_min"`
	Spread     *float64 `json:"thickness_spread"`
	Tolerance  float64  `json:"tolerance_m"`
	Zones      []studiedZone
	Edges      []struct{ A, B studiedPart }
	Placements []studiedPlacement
	Expect     struct {
		Strips map[string][]struct {
			Placement, Start string
			Area             float64  `json:"area_m2"`
			Begins           float64  `json:"begins_m"`
			Reaches          float64  `json:"reaches_m"`
			Front            *float64 `json:"front_m"`
		}
		Left   map[string]float64 `json:"left_m2"`
		Joints []struct {
			A, B []struct {
				From      float64 `json:"from_m"`
				To        float64 `json:"to_m"`
				Placement string
			}
			MetM  metres  `json:"met_m"`
			OpenM metres  `json:"open_m"`
			Bare  float64 `json:"bare_m"`
			Range *struct {
				Surely   float64 `json:"cold_surely_m"`
				Possibly float64 `json:"cold_possibly_m"`
				Low      float64 `json:"share_low"`
				High     float64 `json:"share_high"`
			}
		}
	}
}

type studiedPlacement struct {
	Name, Zone, Crew, Start string
	VolumeL                 float64  `json:"volume_l"`
	ThicknessMM             *float64 `json:"thickness_as_placed_mm"`
	WaterMin                float64  `json:"water_min"`
	FromMin                 float64  `json:"from_min"`
}

type metres struct{ Cold, Closing, Live float64 }

type studiedPart struct {
	Zone, Side string
	From       float64 `json:"from_m"`
	To         float64 `json:"to_m"`
}

type studiedZone struct {
	Name        string
	ThicknessMM float64 `json:"thickness_mm"`
	Loss        float64
	Outline     [][2]float64
	Holes       [][][2]float64
	Sides       map[string][]int
	Ring        *struct {
		Inner, Outer float64
		From         float64 `json:"from_deg"`
		To           float64 `json:"to_deg"`
	}
	Mesh *struct {
		Vertices  [][3]float64
		Triangles [][3]int
		Chains    map[string][]int
	}
	Lengths *struct {
		Area    float64            `json:"area_m2"`
		Sides   []string           `json:"sides_anticlockwise"`
		Lengths map[string]float64 `json:"lengths_m"`
	} `json:"no_geometry"`
}

func (z studiedZone) surface() (*Surface, error) {
	named := func(from map[string][]int) (all []NamedSide) {
		for name, corners := range from {
			all = append(all, NamedSide{name, corners})
		}
		return all
	}
	switch {
	case z.Ring != nil:
		return Sector(z.Ring.Inner, z.Ring.Outer, z.Ring.From, z.Ring.To)
	case z.Mesh != nil:
		return Mesh(z.Mesh.Vertices, z.Mesh.Triangles, named(z.Mesh.Chains))
	case z.Lengths != nil:
		names, lengths := [4]string(z.Lengths.Sides), [4]float64{}
		for i, n := range names {
			lengths[i] = z.Lengths.Lengths[n]
		}
		return Lengths(z.Lengths.Area, names, lengths)
	}
	return Outline(z.Outline, z.Holes, named(z.Sides))
}

// laid is a zone of a case with its placements.
type laid struct {
	*Laying
	doubt *Doubt
	names []string
	water []float64
	from  []float64
}

func (c studied) lay(t *testing.T, z studiedZone) laid {
	t.Helper()
	s, err := z.surface()
	if err != nil {
		t.Fatalf("zone %s: %v", z.Name, err)
	}
	var l laid
	var placements []Placement
	start := map[string]string{}
	volume := 0.0
	all := slices.Clone(c.Placements)
	slices.SortStableFunc(all, func(a, b studiedPlacement) int { return cmp.Compare(a.FromMin, b.FromMin) })
	for _, p := range all {
		if p.Zone != z.Name || p.FromMin > c.NowMin {
			continue
		}
		if p.Start != "" {
			start[p.Crew] = p.Start
		}
		side, ok := s.Side(start[p.Crew])
		if !ok {
			t.Fatalf("zone %s has no side %q", z.Name, start[p.Crew])
		}
		thick := z.ThicknessMM
		if p.ThicknessMM != nil {
			thick = *p.ThicknessMM
		}
		one := Placement{Side: side, Area: p.VolumeL / (1 + z.Loss) / thick}
		if c.Spread != nil {
			one.Spread = *c.Spread
		}
		placements = append(placements, one)
		volume += p.VolumeL
		l.names, l.water, l.from = append(l.names, p.Name), append(l.water, p.WaterMin), append(l.from, p.FromMin)
	}
	done := volume >= 0.95*s.Area()*z.ThicknessMM*(1+z.Loss)
	l.Laying, err = s.Lay(placements, done)
	if err != nil {
		t.Fatalf("zone %s: %v", z.Name, err)
	}
	l.doubt = l.Laying.Doubt()
	return l
}

func cases(t *testing.T) []studied {
	t.Helper()
	text, err := os.ReadFile("../../../../shared/cases/strips.json")
	if errors.Is(err, fs.ErrNotExist) {
		t.Skip("the study's cases are not here: ../shared/cases/strips.json is absent")
	}
	if err != nil {
		t.Fatal(err)
	}
	var s study
	if err := json.Unmarshal(text, &s); err != nil {
		t.Fatal(err)
	}
	return s.Cases
}

func TestEachStudiedCaseLaysItsStripsAndMeetsItsMetres(t *testing.T) {
	for _, c := range cases(t) {
		t.Run(c.Name, func(t *testing.T) {
			near := func(a, b float64) bool { return math.Abs(a-b) <= max(1e-6, c.Tolerance) }
			zones := map[string]laid{}
			for _, z := range c.Zones {
				l := c.lay(t, z)
				zones[z.Name] = l
				if !near(l.Left, c.Expect.Left[z.Name]) {
					t.Errorf("zone %s: %v m2 left, not %v", z.Name, l.Left, c.Expect.Left[z.Name])
				}
				for i, want := range c.Expect.Strips[z.Name] {
					got := l.Strips[i]
					if l.names[i] != want.Placement || l.sides[got.Side].name != want.Start ||
						!near(got.Area, want.Area) ||
						!near(l.Metres(got.Side, got.Begins), want.Begins) ||
						!near(l.Metres(got.Side, got.Reaches), want.Reaches) {
						t.Errorf("zone %s, strip %d: %s %+v, not %+v", z.Name, i, l.names[i], got, want)
					}
					if want.Front != nil && !(got.FrontKnown && near(got.Front, *want.Front)) {
						t.Errorf("zone %s, strip %d: front %v, not %v", z.Name, i, got.Front, *want.Front)
					}
				}
			}
			for i, e := range c.Edges {
				c.checkEdge(t, zones, i, e.A, e.B, near)
			}
		})
	}
}

func part(l laid, p studiedPart) Part {
	side, _ := l.Side(p.Side)
	return Part{side, p.From, p.To}
}

func (c studied) checkEdge(t *testing.T, zones map[string]laid, i int, ofA, ofB studiedPart,
	near func(a, b float64) bool,
) {
	t.Helper()
	a, b := zones[ofA.Zone], zones[ofB.Zone]
	want := c.Expect.Joints[i]
	for which, is := range map[string][]Span{"a": a.Along(part(a, ofA)), "b": b.Along(part(b, ofB))} {
		list, names := want.A, a.names
		if which == "b" {
			list, names = want.B, b.names
		}
		if len(is) != len(list) {
			t.Errorf("side %s of edge %d: %d spans, not %d: %v", which, i, len(is), len(list), is)
			continue
		}
		for k, w := range list {
			name := ""
			if is[k].Holder != NotPlaced {
				name = names[is[k].Holder]
			}
			if !near(is[k].From, w.From) || !near(is[k].To, w.To) || name != w.Placement {
				t.Errorf("side %s of edge %d, span %d: %v %s, not %+v", which, i, k, is[k], name, w)
			}
		}
	}
	var met, open metres
	bare := 0.0
	add := func(m *metres, share, length float64) {
		switch {
		case share >= 1:
			m.Cold += length
		case share >= c.Closing:
			m.Closing += length
		default:
			m.Live += length
		}
	}
	for _, p := range Pieces(a.Laying, part(a, ofA), b.Laying, part(b, ofB)) {
		switch share, both := c.share(a, b, p.A, p.B); {
		case p.A == NotPlaced && p.B == NotPlaced:
			bare += p.To - p.From
		case both:
			add(&met, share, p.To-p.From)
		default:
			add(&open, share, p.To-p.From)
		}
	}
	same := func(x, y metres) bool {
		return near(x.Cold, y.Cold) && near(x.Closing, y.Closing) && near(x.Live, y.Live)
	}
	if !same(met, want.MetM) || !same(open, want.OpenM) || !near(bare, want.Bare) {
		t.Errorf("edge %d: met %+v open %+v bare %v, not %+v %+v %v", i, met, open, bare, want.MetM, want.OpenM,
			want.Bare)
	}
	if want.Range == nil {
		return
	}
	surely, possibly, low, high := 0.0, 0.0, math.Inf(1), 0.0
	for _, p := range PossiblePieces(a.doubt, part(a, ofA), b.doubt, part(b, ofB)) {
		all, some := true, false
		for _, i := range p.A {
			for _, k := range p.B {
				share, _ := c.share(a, b, i, k) // an open front may be cold already, too
				all, some = all && share >= 1, some || share >= 1
				if i != NotPlaced || k != NotPlaced {
					low, high = min(low, share), max(high, share)
				}
			}
		}
		if all {
			surely += p.To - p.From
		}
		if some {
			possibly += p.To - p.From
		}
	}
	if !near(surely, want.Range.Surely) || !near(possibly, want.Range.Possibly) || !near(low, want.Range.Low) ||
		!near(high, want.Range.High) {
		t.Errorf("edge %d: surely %v, possibly %v, share %v to %v; not %+v", i, surely, possibly, low, high,
			*want.Range)
	}
}

// share of set between two strips, and whether both are there: from water contact of the earlier to placing of the
// later, or to now where only one is there.
func (c studied) share(a, b laid, i, k int) (share float64, both bool) {
	switch {
	case i == NotPlaced && k == NotPlaced:
		return 0, false
	case i == NotPlaced:
		return (c.NowMin - b.water[k]) / c.SetMin, false
	case k == NotPlaced:
		return (c.NowMin - a.water[i]) / c.SetMin, false
	case a.from[i] <= b.from[k]:
		return (b.from[k] - a.water[i]) / c.SetMin, true
	default:
		return (a.from[i] - b.water[k]) / c.SetMin, true
	}
}
