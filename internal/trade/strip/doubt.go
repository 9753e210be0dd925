package strip

import (
	"slices"
)

// Doubt is what is known of a laying: how far each strip may reach, and how far it surely does.
type Doubt struct {
	*Laying
	most, least []float64 // levels of each strip's own side
	// before and after are the strips before and after each one from the same side: −1 where there is none before, and
	// as many as there are strips where there is none after.
	before, after []int
	// Contradicts says that the placements cannot fill a coat that is done, or fit into it, however thick each was
	// within its spread. Their areas were scaled first then.
	Contradicts bool
}

// Doubt works out what is known of a laying. It holds if the log of the coat is complete so far and no crew worked in
// islands.
func (l *Laying) Doubt() *Doubt {
	d := &Doubt{Laying: l, most: make([]float64, len(l.Strips)), least: make([]float64, len(l.Strips))}
	if len(l.Strips) == 0 {
		return d
	}
	d.beside()
	areas, total := make([]float64, len(l.Strips)), [3]float64{}
	for i, s := range l.Strips {
		areas[i] = s.Area / l.Scale // as said
		total[0] += areas[i] / (1 + s.Spread)
		total[1] += areas[i]
		total[2] += areas[i] / (1 - s.Spread)
	}
	full := l.Done || l.Scale != 1
	if full && (total[0] > l.area*(1+1e-9) || total[2] < l.area*(1-1e-9)) {
		d.Contradicts = true
		for i, s := range l.Strips {
			areas[i] = s.Area
		}
	}
	if l.oneSide() {
		d.fromOneSide(areas, full)
	} else {
		d.fromSeveral(areas)
	}
	return d
}

func (l *Laying) oneSide() bool {
	return !slices.ContainsFunc(l.Strips, func(s Strip) bool { return s.Side != l.Strips[0].Side })
}

// fromOneSide: the area up to a strip's far side is between the least and the most that the strips so far cover, and in
// a full coat also what those beyond leave of it.
func (d *Doubt) fromOneSide(areas []float64, full bool) {
	beyondLow, beyondHigh := 0.0, 0.0
	for i, s := range d.Strips {
		beyondLow += areas[i] / (1 + s.Spread)
		beyondHigh += areas[i] / (1 - s.Spread)
	}
	low, high := 0.0, 0.0
	whole := remains{d.patches, d.area}
	for i, s := range d.Strips {
		low, high = low+areas[i]/(1+s.Spread), high+areas[i]/(1-s.Spread)
		beyondLow, beyondHigh = beyondLow-areas[i]/(1+s.Spread), beyondHigh-areas[i]/(1-s.Spread)
		least, most := low, min(high, d.area)
		if full {
			least, most = max(least, d.area-beyondHigh), min(most, d.area-beyondLow)
		}
		d.least[i], _ = whole.level(s.Side, least)
		d.most[i], _ = whole.level(s.Side, most)
	}
}

// fromSeveral: a strip reaches farthest if what its side laid so far is as thin as can be and the earlier strips of the
// other sides have taken as much as they can; and least far if nobody else took anything before it.
func (d *Doubt) fromSeveral(areas []float64) {
	var low, high [MaxSides]float64
	for i, s := range d.Strips {
		low[s.Side] += areas[i] / (1 + s.Spread)
		high[s.Side] += areas[i] / (1 - s.Spread)
		d.least[i], _ = remains{d.patches, d.area}.level(s.Side, low[s.Side])
		left := remains{d.patches, d.area}
		for k, other := range d.Strips[:i] {
			if other.Side != s.Side {
				left = left.beyond(other.Side, d.most[k])
			}
		}
		if len(left.patches) == 0 {
			_, d.most[i] = remains{d.patches, d.area}.span(s.Side)
			continue
		}
		d.most[i], _ = left.level(s.Side, min(high[s.Side], left.area))
	}
}

// Likely is a span of an edge and which strips may lie there, in their order; NotPlaced is the last.
type Likely struct {
	From, To float64
	Holders  []int
}

// Along tells which strips may lie along a part of a side.
func (d *Doubt) Along(p Part) []Likely {
	stops := d.stops(p, func(yield func(side int, level float64)) {
		for i, s := range d.Strips {
			yield(s.Side, d.most[i])
			yield(s.Side, d.least[i])
		}
	})
	var all []Likely
	for i := 1; i < len(stops); i++ {
		holders := d.candidates(d.at(p, (stops[i-1]+stops[i])/2))
		if n := len(all); n > 0 && slices.Equal(all[n-1].Holders, holders) {
			all[n-1].To = stops[i]
			continue
		}
		all = append(all, Likely{stops[i-1], stops[i], holders})
	}
	return all
}

// candidates for a place: every strip unless the place is beyond its most, or an earlier strip surely covers it; and
// with each the one before and after it from the same side, since fronts are not straight.
func (d *Doubt) candidates(at point) []int {
	is := make([]bool, len(d.Strips)+1) // the last is NotPlaced
	covered := false
	for i, s := range d.Strips {
		is[i] = !covered && at.d[s.Side] <= d.most[i]+1e-12
		covered = covered || at.d[s.Side] <= d.least[i]
	}
	may := !d.Done && d.Scale == 1
	is[len(d.Strips)] = may && !covered
	wide := slices.Clone(is)
	for i := range d.Strips {
		before, after := d.before[i], d.after[i]
		if is[i] {
			if before >= 0 {
				wide[before] = true
			}
			wide[after] = wide[after] || after < len(d.Strips) || may
		}
		if is[len(d.Strips)] && after == len(d.Strips) {
			wide[i] = true
		}
	}
	var all []int
	for i, yes := range wide {
		if yes && i < len(d.Strips) {
			all = append(all, i)
		} else if yes {
			all = append(all, NotPlaced)
		}
	}
	return all
}

func (d *Doubt) beside() {
	n := len(d.Strips)
	d.before, d.after = make([]int, n), make([]int, n)
	var last [MaxSides]int // 1 + the last strip of each side
	for i, s := range d.Strips {
		d.before[i], d.after[i] = last[s.Side]-1, n
		if k := d.before[i]; k >= 0 {
			d.after[k] = i
		}
		last[s.Side] = i + 1
	}
}

// Possible is a span of an edge and which strips of each side may have met there.
type Possible struct {
	From, To float64
	A, B     []int
}

// PossiblePieces walks both sides of an edge at once; see Pieces.
func PossiblePieces(a *Doubt, of Part, b *Doubt, with Part) []Possible {
	left, right := a.Along(of), b.Along(with)
	ends := func(l Likely) float64 { return l.To }
	scale := left[len(left)-1].To / right[len(right)-1].To
	var all []Possible
	for _, one := range both(left, right, scale, ends) {
		all = append(all, Possible{one.from, one.to, left[one.a].Holders, right[one.b].Holders})
	}
	return all
}
