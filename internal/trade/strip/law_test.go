package strip

import (
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

var compass = []NamedSide{{"south", []int{0, 1}}, {"east", []int{1, 2}}, {"north", []int{2, 3}}, {"west", []int{3, 0}}}

func rectangle(t interface{ Fatal(...any) }, width, depth float64) *Surface {
	s, err := Outline([][2]float64{{0, 0}, {width, 0}, {width, depth}, {0, depth}}, nil, compass)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func drawPlacements(t *rapid.T, sides int) []Placement {
	n := rapid.IntRange(1, 8).Draw(t, "placements")
	all := make([]Placement, n)
	for i := range all {
		all[i] = Placement{
			Side:   rapid.IntRange(0, sides-1).Draw(t, "side"),
			Area:   rapid.Float64Range(1, 6).Draw(t, "area"),
			Spread: rapid.SampledFrom([]float64{0.1, 0.2}).Draw(t, "spread"),
		}
	}
	return all
}

// However thick each batch was within its spread, the strip that lies at a place is one of those that the doubt names.
func TestWhatReallyLiesAtAPlaceIsAlwaysACandidate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rectangle(t, 8, 6)
		said := drawPlacements(t, rapid.IntRange(1, 4).Draw(t, "sides"))
		really := slices.Clone(said)
		sum := [2]float64{}
		for i, p := range said {
			really[i].Area = rapid.Float64Range(p.Area/(1+p.Spread), p.Area/(1-p.Spread)).Draw(t, "really")
			sum[0], sum[1] = sum[0]+p.Area, sum[1]+really[i].Area
		}
		if max(sum[0], sum[1]) > s.Area() {
			t.Skip("more than the zone holds")
		}
		laid, err := s.Lay(said, false)
		if err != nil {
			t.Fatal(err)
		}
		truth, err := s.Lay(really, false)
		if err != nil {
			t.Fatal(err)
		}
		doubt := laid.Doubt()
		for side := range s.sides {
			whole := Part{side, 0, s.Length(side)}
			for _, is := range truth.Along(whole) {
				middle := (is.From + is.To) / 2
				for _, l := range doubt.Along(whole) {
					if l.From <= middle && middle <= l.To && !slices.Contains(l.Holders, is.Holder) {
						t.Fatalf("%s side at %.3f m: %d lies there, and only %v may", s.sides[side].name, middle,
							is.Holder, l.Holders)
					}
				}
			}
		}
	})
}

// Strips cover what they say, what is left is the rest, and an edge's spans follow one another over its whole length.
func TestStripsAndWhatIsLeftAddUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rectangle(t, rapid.Float64Range(2, 20).Draw(t, "width"), rapid.Float64Range(2, 20).Draw(t, "depth"))
		done := rapid.Bool().Draw(t, "done")
		l, err := s.Lay(drawPlacements(t, 4), done)
		if err != nil {
			t.Fatal(err)
		}
		sum := l.Left
		for _, one := range l.Strips {
			sum += one.Area
			if one.Reaches < one.Begins {
				t.Fatalf("a strip from %v back to %v", one.Begins, one.Reaches)
			}
		}
		if math.Abs(sum-s.Area()) > 1e-6 || done && l.Left != 0 {
			t.Fatalf("strips and what is left cover %v of %v m2, done %v with %v left", sum, s.Area(), done, l.Left)
		}
		for side := range s.sides {
			at := 0.0
			for _, span := range l.Along(Part{side, s.Length(side), 0}) {
				if span.From != at || span.To <= at {
					t.Fatalf("a span from %v to %v after %v", span.From, span.To, at)
				}
				at = span.To
			}
			if math.Abs(at-s.Length(side)) > 1e-6 {
				t.Fatalf("spans end at %v of %v m", at, s.Length(side))
			}
		}
	})
}

// A later placement only divides what was not placed: where something surely lay before, the same may lie after, and
// nothing more.
func TestALaterPlacementNeverWidensWhatIsKnown(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rectangle(t, 8, 6)
		all := drawPlacements(t, 1)
		sum := 0.0
		for _, p := range all {
			sum += p.Area
		}
		if sum > s.Area()*0.8 || len(all) < 2 {
			t.Skip("too much for an open coat, or nothing later")
		}
		before, _ := s.Lay(all[:len(all)-1], false)
		after, _ := s.Lay(all, false)
		whole := Part{1, 0, s.Length(1)}
		was, is := before.Doubt(), after.Doubt()
		for _, l := range is.Along(whole) {
			middle := (l.From + l.To) / 2
			for _, b := range was.Along(whole) {
				if b.From > middle || middle > b.To {
					continue
				}
				for _, h := range l.Holders {
					if !slices.Contains(b.Holders, h) && !(slices.Contains(b.Holders, NotPlaced) &&
						(h == len(all)-1 || h == NotPlaced)) {
						t.Fatalf("at %.3f m %v may lie, where before it was %v", middle, l.Holders, b.Holders)
					}
				}
			}
		}
	})
}

// A quarter of a barrel of radius 4 m, bent about the y axis: from one straight edge the distance along the surface is
// the arc. The step across triangles keeps it within a thousandth of the whole.
func TestDistanceOverABentMeshIsTheArc(t *testing.T) {
	const steps, radius = 20, 4.0
	var vertices [][3]float64
	var triangles [][3]int
	var chain []int
	for i := range steps + 1 {
		for k := range 6 {
			a := math.Pi / 2 * float64(i) / steps
			vertices = append(vertices, [3]float64{radius * math.Sin(a), float64(k), radius * math.Cos(a)})
			if i == 0 {
				chain = append(chain, k)
			}
			if i > 0 && k > 0 {
				v := i*6 + k
				triangles = append(triangles, [3]int{v - 7, v - 1, v}, [3]int{v - 7, v, v - 6})
			}
		}
	}
	s, err := Mesh(vertices, triangles, []NamedSide{{"foot", chain}})
	if err != nil {
		t.Fatal(err)
	}
	if want := radius * math.Pi / 2 * 5; math.Abs(s.Area()-want) > 0.002*want {
		t.Errorf("area %v, not %v", s.Area(), want)
	}
	l, err := s.Lay([]Placement{{Area: s.Area() / 2}}, false)
	if err != nil {
		t.Fatal(err)
	}
	if want := radius * math.Pi / 4; math.Abs(l.Strips[0].Reaches-want) > 0.002*want {
		t.Errorf("half of it reaches %v m, not %v", l.Strips[0].Reaches, want)
	}
}

func TestWhatIsNoZoneIsRefusedWithTheReason(t *testing.T) {
	square := [][2]float64{{0, 0}, {4, 0}, {4, 4}, {0, 4}}
	for _, c := range []struct {
		why string
		do  func() error
	}{
		{"at least 3", func() error { _, err := Outline(square[:2], nil, compass); return err }},
		{"there is no corner 7", func() error {
			_, err := Outline(square, nil, []NamedSide{{"south", []int{0, 7}}})
			return err
		}},
		{"two sides are named", func() error {
			_, err := Outline(square, nil, []NamedSide{compass[0], compass[0]})
			return err
		}},
		{"is bent", func() error {
			_, err := Outline(square, nil, []NamedSide{{"south", []int{0, 1, 2}}})
			return err
		}},
		{"has no area", func() error {
			_, err := Outline([][2]float64{{0, 0}, {1, 0}, {2, 0}}, nil, compass[:1])
			return err
		}},
		{"must rise", func() error { _, err := Sector(5, 3, 0, 60); return err }},
		{"must be above 0", func() error {
			_, err := Lengths(-1, [4]string{"a", "b", "c", "d"}, [4]float64{1, 1, 1, 1})
			return err
		}},
		{"there is no vertex", func() error {
			_, err := Mesh([][3]float64{{}, {1}}, [][3]int{{0, 1, 9}}, []NamedSide{{"a", []int{0, 1}}})
			return err
		}},
		{"cannot be reached", func() error {
			_, err := Mesh([][3]float64{{}, {1}, {0, 1}, {5}, {6}, {5, 1}}, [][3]int{{0, 1, 2}, {3, 4, 5}},
				[]NamedSide{{"a", []int{0, 1}}})
			return err
		}},
		{"there is no side 9", func() error {
			_, err := rectangle(t, 4, 4).Lay([]Placement{{Side: 9, Area: 1}}, false)
			return err
		}},
		{"must be above 0", func() error {
			_, err := rectangle(t, 4, 4).Lay([]Placement{{Area: math.NaN()}}, false)
			return err
		}},
		{"must be from 0 to below 1", func() error {
			_, err := rectangle(t, 4, 4).Lay([]Placement{{Area: 1, Spread: 1}},
				false)
			return err
		}},
		{"lies behind it", func() error {
			hollow := [][2]float64{{0, 0}, {4, 0}, {4, 4}, {3, 1}, {0, 1}}
			s, err := Outline(hollow, nil, []NamedSide{{"top", []int{3, 4}}})
			if err != nil {
				return err
			}
			_, err = s.Lay([]Placement{{Area: 1}}, false)
			return err
		}},
		{"there is no station", func() error { return rectangle(t, 4, 4).Check(Part{0, 0, 9}) }},
		{"the same station", func() error { return rectangle(t, 4, 4).Check(Part{0, 1, 1}) }},
	} {
		if err := c.do(); err == nil || !strings.Contains(err.Error(), c.why) {
			t.Errorf("%v, not a refusal that says %q", err, c.why)
		}
	}
}

func BenchmarkLayAndMeet(b *testing.B) {
	s := rectangle(b, 8, 6)
	var all []Placement
	for range 40 {
		all = append(all, Placement{Side: 0, Area: 1, Spread: 0.2})
	}
	for b.Loop() {
		l, err := s.Lay(all, false)
		if err != nil {
			b.Fatal(err)
		}
		PossiblePieces(l.Doubt(), Part{1, 0, 6}, l.Doubt(), Part{3, 6, 0})
	}
}
