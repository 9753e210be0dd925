package strip

import (
	"fmt"
	"math"
	"slices"
)

// Placement is a batch, or part of one, in the order in which placing began.
type Placement struct {
	Side int     // that its crew works from
	Area float64 // that it covers at its thickness, m²
	// Spread is by how much its thickness may be off, as a share: it covers from Area/(1+Spread) to Area/(1−Spread).
	Spread float64
}

// Strip is where a placement lies.
type Strip struct {
	Placement
	Begins, Reaches float64 // levels of its side
	// length of its far side, m; 0 where nothing is left beyond it or the surface knows no lengths
	Front      float64
	FrontKnown bool
}

// Laying is a coat as laid.
type Laying struct {
	*Surface
	Strips []Strip
	Left   float64 // area that nothing lies on, m²
	Scale  float64 // by which all areas were multiplied so that the coat is full and no more; 1 if they were not
	Done   bool
}

// remains is what nothing lies on yet.
type remains struct {
	patches []patch
	area    float64
}

func (r remains) sum(side int, level float64) float64 {
	sum := 0.0
	for _, p := range r.patches {
		sum += p.cut(side, level, false).area()
	}
	return sum
}

// span is from the nearest to the farthest of what is left.
func (r remains) span(side int) (nearest, farthest float64) {
	nearest, farthest = math.Inf(1), math.Inf(-1)
	for _, p := range r.patches {
		if p.sign < 0 {
			continue
		}
		for _, q := range p.points {
			nearest, farthest = min(nearest, q.d[side]), max(farthest, q.d[side])
		}
	}
	return nearest, farthest
}

// level finds how far a strip of the given area reaches, and the length of its far side. Between two corners of what is
// left the area is a quadratic of the level, so three areas fix it and nothing is iterated.
func (r remains) level(side int, area float64) (level, front float64) {
	nearest, farthest := r.span(side)
	if area <= 0 {
		return nearest, 0
	}
	if area >= r.area*(1-1e-12) {
		return farthest, 0
	}
	var stops []float64
	for _, p := range r.patches {
		for _, q := range p.points {
			stops = append(stops, q.d[side])
		}
	}
	slices.Sort(stops)
	stops = slices.Compact(stops)
	// The area within a level only rises, so the stretch that holds the level is found by halving.
	i, _ := slices.BinarySearchFunc(stops, area, func(d, area float64) int {
		if r.sum(side, d) < area {
			return -1
		}
		return 1
	})
	if i == 0 || i == len(stops) {
		return stops[min(i, len(stops)-1)], 0
	}
	d0, d1 := stops[i-1], stops[i]
	h := d1 - d0
	a0, half, a1 := r.sum(side, d0), r.sum(side, d0+h/2), r.sum(side, d1)
	c := 2 * (a1 - 2*half + a0)
	b, n := a1-a0-c, area-a0
	root := math.Sqrt(max(0, float64(b*b)+float64(4*c*n)))
	if b+root <= 0 {
		return d0, 0
	}
	return d0 + h*2*n/(b+root), root / h
}

// beyond is what is left after a strip.
func (r remains) beyond(side int, level float64) remains {
	var left remains
	for _, p := range r.patches {
		if q := p.cut(side, level, true); len(q.points) >= 3 {
			left.patches = append(left.patches, q)
			left.area += q.area()
		}
	}
	return left
}

// Lay puts placements down one after another. Where the coat is done, or they cover more than there is, all areas are
// multiplied so that they fill it exactly.
func (s *Surface) Lay(placements []Placement, done bool) (*Laying, error) {
	l := &Laying{Surface: s, Scale: 1, Done: done}
	sum := 0.0
	for i, p := range placements {
		switch {
		case p.Side < 0 || p.Side >= len(s.sides):
			return nil, fmt.Errorf("placement %d: there is no side %d", i+1, p.Side)
		case !(p.Area > 0) || math.IsInf(p.Area, 0):
			return nil, fmt.Errorf("placement %d: an area of %v must be above 0", i+1, p.Area)
		case !(p.Spread >= 0 && p.Spread < 1):
			return nil, fmt.Errorf("placement %d: a spread of %v must be from 0 to below 1", i+1, p.Spread)
		case s.sides[p.Side].behind:
			return nil,
				fmt.Errorf("side %q: part of the zone lies behind it, so nothing can begin there; plan the zone in two",
					s.sides[p.Side].name)
		}
		sum += p.Area
	}
	if sum > 0 && (done || sum > s.area) {
		l.Scale = s.area / sum
	}
	left := remains{s.patches, s.area}
	for _, p := range placements {
		p.Area *= l.Scale
		begins, farthest := left.span(p.Side)
		if len(left.patches) == 0 { // what rounding leaves of a full coat
			begins = s.reached(l.Strips, p.Side)
			farthest = begins
		}
		level, front := left.level(p.Side, p.Area)
		if len(left.patches) == 0 {
			level = farthest
		}
		one := Strip{Placement: p, Begins: begins, Reaches: level}
		left = left.beyond(p.Side, level)
		if s.fronts && left.area > 1e-9*s.area {
			one.Front, one.FrontKnown = front, true
		}
		l.Strips = append(l.Strips, one)
	}
	l.Left = max(0, left.area)
	if l.Left < 1e-9*s.area {
		l.Left = 0
	}
	return l, nil
}

// reached is the farthest level that a side's strips have.
func (s *Surface) reached(strips []Strip, side int) float64 {
	far := 0.0
	for _, one := range strips {
		if one.Side == side {
			far = max(far, one.Reaches)
		}
	}
	return far
}
