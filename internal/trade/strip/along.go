package strip

import (
	"fmt"
	"math"
	"slices"
)

// NotPlaced stands for a placement where nothing lies.
const NotPlaced = -1

// Part is a part of a side, from one station to another; from may be the greater.
type Part struct {
	Side     int
	From, To float64
}

// Check says what is wrong with a part of a side.
func (s *Surface) Check(p Part) error {
	if p.Side < 0 || p.Side >= len(s.sides) {
		return fmt.Errorf("there is no side %d", p.Side)
	}
	one := s.sides[p.Side]
	for _, at := range []float64{p.From, p.To} {
		if !(at >= -1e-6 && at <= one.length*(1+1e-3)+1e-6) {
			return fmt.Errorf("side %q is %.3f m long; there is no station %.3f m on it", one.name, one.length, at)
		}
	}
	if p.From == p.To {
		return fmt.Errorf("from and to are the same station, %.3f m", p.From)
	}
	return nil
}

// Span of an edge, in metres from its beginning, and which placement lies there.
type Span struct {
	From, To float64
	Holder   int // an index of Laying.Strips, or NotPlaced
}

// Along tells what lies along a part of a side, measured from its beginning.
func (l *Laying) Along(p Part) []Span {
	var spans []Span
	stops := l.stops(p, func(yield func(side int, level float64)) {
		for _, s := range l.Strips {
			yield(s.Side, s.Reaches)
		}
	})
	for i := 1; i < len(stops); i++ {
		holder := l.holder(l.at(p, (stops[i-1]+stops[i])/2))
		if n := len(spans); n > 0 && spans[n-1].Holder == holder {
			spans[n-1].To = stops[i]
			continue
		}
		spans = append(spans, Span{stops[i-1], stops[i], holder})
	}
	return spans
}

// holder is the first strip whose level reaches a place.
func (l *Laying) holder(at point) int {
	for i, s := range l.Strips {
		if at.d[s.Side] <= s.Reaches {
			return i
		}
	}
	if l.Left == 0 && len(l.Strips) > 0 { // rounding, at the far corner of a full coat
		return len(l.Strips) - 1
	}
	return NotPlaced
}

// stops are the places along a part of a side where something can change: its ends, the joins of its stretches, and
// where a front crosses it. They are in metres from the beginning of the part, and rise.
func (s *Surface) stops(p Part, levels func(yield func(side int, level float64))) []float64 {
	low, high := min(p.From, p.To), max(p.From, p.To)
	stops := []float64{0, high - low}
	add := func(station float64) {
		if station > low && station < high {
			if p.From <= p.To {
				stops = append(stops, station-p.From)
			} else {
				stops = append(stops, p.From-station)
			}
		}
	}
	for _, piece := range s.sides[p.Side].along {
		add(piece.from)
		levels(func(side int, level float64) {
			a, b := piece.a.d[side], piece.b.d[side]
			if a == b {
				return
			}
			if u := (level - a) / (b - a); u > 0 && u < 1 {
				add(piece.station(u))
			}
		})
	}
	slices.Sort(stops)
	return slices.CompactFunc(stops, func(a, b float64) bool { return math.Abs(b-a) < 1e-9 })
}

// at is the place so many metres along a part of a side.
func (s *Surface) at(p Part, metres float64) point {
	station := p.From + math.Copysign(metres, p.To-p.From)
	along := s.sides[p.Side].along
	i, _ := slices.BinarySearchFunc(along, station, func(one stretch, station float64) int {
		if one.to < station {
			return -1
		}
		return 1
	})
	one := along[min(i, len(along)-1)]
	return between(one.a, one.b, min(max(one.u(station), 0), 1))
}

// Piece of an edge and what lies on its two sides.
type Piece struct {
	From, To float64 // metres from the beginning of the edge
	A, B     int     // indices of the strips of each side, or NotPlaced
}

// Pieces walks both sides of an edge at once. The second side is stretched to the length of the first: chords of a bent
// edge are a little short of it.
func Pieces(a *Laying, of Part, b *Laying, with Part) []Piece {
	left, right := a.Along(of), b.Along(with)
	ends := func(s Span) float64 { return s.To }
	scale := left[len(left)-1].To / right[len(right)-1].To
	var all []Piece
	for _, one := range both(left, right, scale, ends) {
		all = append(all, Piece{one.from, one.to, left[one.a].Holder, right[one.b].Holder})
	}
	return all
}

// overlap is where a span of one list meets one of another.
type overlap struct {
	from, to float64
	a, b     int
}

// both walks two lists of spans that cover the same metres, the second one stretched.
func both[S any](a, b []S, scale float64, end func(S) float64) []overlap {
	var all []overlap
	at, i, k := 0.0, 0, 0
	for i < len(a) && k < len(b) {
		endA, endB := end(a[i]), end(b[k])*scale
		to := min(endA, endB)
		if to-at > 1e-9 {
			all = append(all, overlap{at, to, i, k})
			at = to
		}
		if endA <= to+1e-9 {
			i++
		}
		if endB <= to+1e-9 {
			k++
		}
	}
	return all
}
