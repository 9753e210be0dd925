package joint

import (
	"cmp"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/mixed"
	"hod/internal/placed"
	"hod/internal/planned"
	"hod/internal/trade/setting"
	"hod/internal/trade/strip"
	"hod/internal/unit"
)

// Cell is what one batch fills in a coat: a placement that borders on what is still to be placed, or what one of the
// batches to come is expected to fill.
type Cell struct {
	Coat   event.Coat
	Mix    *planned.Mix
	Placed *placed.Placed // nil: still to be placed
	Nth    int            // of those still to be placed in the coat, from 1
	After  []int          // cells that are begun before it: the one before in its coat
	Needs  []int          // cells that are placed before it is begun: those of the coat below
	coat   *placed.CoatIs
}

// Border is where two cells adjoin. Where only one of them is placed, that is A.
type Border struct {
	A, B    int // of Cells.All
	Length  unit.Length
	Edge    *planned.Edge // of the plan; nil inside a coat
	Turns   time.Time     // when A, which is placed, turns cold; zero where it does not in the time that is looked at
	Treated bool          // A waits for nobody: it was made ready, or ended on purpose
	Ready   bool          // it was made ready for material
}

// Beside is the cell across the border from one; false where the border is not that cell's.
func (b Border) Beside(cell int) (int, bool) {
	switch cell {
	case b.A:
		return b.B, true
	case b.B:
		return b.A, true
	}
	return 0, false
}

// Cells are what is still to be placed, in the order in which the shell is placed, and what lies beside it.
type Cells struct {
	All     []Cell
	Borders []Border
	// Whole says that no coat was left out because there were more than were asked for.
	Whole bool
	// Strips says that where each cell lies follows from the sides of every zone; else each edge is shared evenly among
	// the cells of a zone.
	Strips bool
	// Unknown are coats that cannot be told in batches: their mix has no figures.
	Unknown []event.Coat
}

// leastOfBatch is the share of a batch below which what a coat still takes is no batch of its own: it goes with
// another. A choice of this program.
const leastOfBatch = 1.0 / 3

// restOf is a coat with what it still takes.
type restOf struct {
	c     *placed.CoatIs
	zone  *planned.Zone
	mix   *planned.Mix
	n     int // batches that it still takes
	first int // the first of them in Cells.All
	share float64
	lay   *strip.Laying // the placements, and after them the batches to come; nil where that cannot be told
}

// laying of cells.
type cellular struct {
	*Joints
	out    Cells
	coats  []*restOf
	of     map[event.Coat]*restOf
	fronts map[[2]event.Coat]Front
	placed map[*placed.Placed]int
}

// CellsLeft are the batches to come and what lies beside them, at an instant. Coats under way and those beside a live
// edge come first, then the others in the order of the plan, until there are at least so many batches to come.
func (s *Joints) CellsLeft(now time.Time, enough int) Cells {
	s.ComputeZones()
	w := &cellular{
		Joints: s, of: map[event.Coat]*restOf{}, fronts: map[[2]event.Coat]Front{},
		placed: map[*placed.Placed]int{},
	}
	w.out.Whole, w.out.Strips = true, true
	urgent := w.gather(now)
	w.choose(urgent, enough)
	for _, r := range w.coats {
		r.lay = w.layAhead(r, now)
		if r.n > 0 && r.lay == nil {
			w.out.Strips = false
		}
	}
	w.cells()
	for _, r := range w.coats {
		w.inside(r)
	}
	for i := range s.Current.Edges {
		e := &s.Current.Edges[i]
		s.EachPair(*e, func(a, b *placed.CoatIs) { w.edge(e, w.of[a.Name()], w.of[b.Name()]) })
	}
	return w.out
}

// gather all coats in the order in which they are placed, one pass over all zones before the next, and say which of
// them are under way or wait beside a live edge.
func (w *cellular) gather(now time.Time) map[event.Coat]bool {
	urgent := map[event.Coat]bool{}
	for _, f := range w.Fronts() {
		to := f.Coat
		if f.Kind == AlongEdge {
			to.Zone = f.Other
		}
		w.fronts[[2]event.Coat{f.Coat, to}] = f
		if turns, ok := w.Turns(f.coat, f.First, 1); !ok || turns.After(now) {
			urgent[to] = true
		}
	}
	for _, name := range w.Current.ZoneNames() {
		st := w.ByZone[name]
		if st == nil || st.Is == nil {
			continue
		}
		for _, id := range st.Is.Order {
			c := st.Is.Coats[id]
			m := w.Current.Mixes[c.Mix]
			r := &restOf{c: c, zone: w.Current.Zones[name], mix: m}
			is := w.Measured(c)
			per := unit.Volume(0)
			if m != nil {
				per = w.YieldFor(m).Mean
			}
			if left := is.Left(); left > 0 && per > 0 {
				r.n = int(math.Floor(mixed.Rounded(float64(left/per)) + 1 - leastOfBatch))
				if r.n == 0 && len(c.Placed) == 0 {
					r.n = 1
				}
			} else if left > 0 {
				w.out.Unknown = append(w.out.Unknown, id)
			}
			r.share = 1
			if !is.Done() && is.Needed > 0 {
				r.share = min(1, float64(is.Volume/is.Needed))
			}
			if r.n == 0 && len(c.Placed) > 0 {
				r.share = 1
			}
			w.coats = append(w.coats, r)
			w.of[id] = r
		}
	}
	slices.SortStableFunc(w.coats, func(a, b *restOf) int {
		x, y := a.c.Name(), b.c.Name()
		return cmp.Or(cmp.Compare(x.Number, y.Number), cmp.Compare(x.Face, y.Face))
	})
	return urgent
}

// choose which coats are looked at.
func (w *cellular) choose(urgent map[event.Coat]bool, enough int) {
	sum := 0
	for _, r := range w.coats {
		if urgent[r.c.Name()] {
			sum += r.n
		}
	}
	for _, r := range w.coats {
		switch {
		case r.n == 0 || urgent[r.c.Name()]:
		case sum >= enough:
			r.n, w.out.Whole = 0, false
		default:
			sum += r.n
		}
	}
}

// cells makes those that are to come.
func (w *cellular) cells() {
	for _, r := range w.coats {
		r.first = len(w.out.All)
		below := w.of[event.Coat{Zone: r.c.Name().Zone, Face: r.c.Name().Face, Number: r.c.Name().Number - 1}]
		for i := range r.n {
			c := Cell{Coat: r.c.Name(), Mix: r.mix, Nth: i + 1, coat: r.c}
			if i > 0 {
				c.After = append(c.After, r.first+i-1)
			}
			if below != nil && below != r {
				for k := range below.n {
					c.Needs = append(c.Needs, below.first+k)
				}
			}
			w.out.All = append(w.out.All, c)
		}
	}
}

// layAhead lays the batches to come behind those that are placed, each the same area, from the side that the last was
// begun from; nothing is placed yet: from the side that the plan says the zone is reached from, else from that to the
// edge that turns cold first, else to a neighbour that is placed, else the first side from which the zone can be
// worked.
func (w *cellular) layAhead(r *restOf, now time.Time) *strip.Laying {
	if r.zone.Surface == nil {
		return nil
	}
	laid, why := w.laid(r.c)
	if why != "" {
		return nil
	}
	if r.n == 0 || laid.Left <= 0 {
		return laid.Laying
	}
	areas := make([]strip.Placement, 0, len(laid.Areas)+r.n)
	for _, p := range laid.Areas {
		p.Area *= laid.Scale
		areas = append(areas, p)
	}
	var sides []int
	if n := len(areas); n > 0 {
		sides = append(sides, areas[n-1].Side)
	} else {
		if side, ok := r.zone.Surface.Side(r.zone.ReachedFrom); ok {
			sides = append(sides, side)
		}
		sides = append(sides, w.entered(r, now)...)
	}
	for i := range r.zone.Surface.Sides() {
		sides = append(sides, i)
	}
	for _, side := range sides {
		all := slices.Clone(areas)
		for range r.n {
			all = append(all, strip.Placement{Side: side, Area: laid.Left / float64(r.n)})
		}
		if l, err := r.zone.Surface.Lay(all, true); err == nil {
			return l
		}
	}
	return nil
}

// entered are the sides at which work would begin in an empty coat, the most pressing first.
func (w *cellular) entered(r *restOf, now time.Time) []int {
	type way struct {
		side, rank int
		turns      time.Time
	}
	var ways []way
	for _, e := range r.zone.Edges {
		if e.Parts == nil {
			continue
		}
		other := r.c.Name()
		other.Zone = e.Other(r.zone.Zone)
		k := way{side: e.Parts[0].Side, rank: 2}
		if e.B == r.zone.Zone {
			k.side = e.Parts[1].Side
		}
		if f, ok := w.fronts[[2]event.Coat{other, r.c.Name()}]; ok {
			k.rank = 1
			if turns, ok := w.Turns(f.coat, f.First, 1); ok && turns.After(now) {
				k.rank, k.turns = 0, turns
			}
		} else if next := w.of[other]; next == nil || len(next.c.Placed) == 0 {
			continue
		}
		ways = append(ways, k)
	}
	slices.SortStableFunc(ways, func(a, b way) int { return cmp.Or(a.rank-b.rank, a.turns.Compare(b.turns)) })
	var sides []int
	for _, k := range ways {
		sides = append(sides, k.side)
	}
	return sides
}

// cellOf a placement, made when first met.
func (w *cellular) cellOf(c *placed.CoatIs, p *placed.Placed) int {
	i, known := w.placed[p]
	if !known {
		i = len(w.out.All)
		w.placed[p] = i
		w.out.All = append(w.out.All, Cell{Coat: c.Name(), Mix: p.Batch.Mix, Placed: p, coat: c})
	}
	return i
}

// inside a coat each batch meets the next.
func (w *cellular) inside(r *restOf) {
	if r.n == 0 {
		return
	}
	placed := len(r.c.Placed)
	length := func(strip int) unit.Length {
		if r.lay != nil && strip < len(r.lay.Strips) && r.lay.Strips[strip].FrontKnown {
			return unit.Length(r.lay.Strips[strip].Front)
		}
		if r.lay != nil {
			return unit.Length(r.lay.Length(r.lay.Strips[strip].Side))
		}
		return unit.Length(math.Sqrt(float64(r.zone.Area.SI))) // as of a square
	}
	if f, ok := w.fronts[[2]event.Coat{r.c.Name(), r.c.Name()}]; ok {
		w.meets(r.c, f.First, r.first, length(placed-1), nil, f.Treated)
	}
	for i := 1; i < r.n; i++ {
		w.out.Borders = append(w.out.Borders, Border{
			A: r.first + i - 1, B: r.first + i,
			Length: length(placed + i - 1),
		})
	}
}

// meets notes that a placement borders on a cell to come.
func (w *cellular) meets(c *placed.CoatIs, p *placed.Placed, cell int, length unit.Length, e *planned.Edge,
	treated []placed.Treated,
) {
	b := Border{
		A: w.cellOf(c, p), B: cell, Length: length, Edge: e, Treated: len(treated) > 0,
		Ready: placed.Ready(treated),
	}
	if t, ok := w.Turns(c, p, 1); ok {
		b.Turns = t
	}
	w.out.Borders = append(w.out.Borders, b)
}

// holds is who holds a part of an edge, in shares of its length: a placement, a cell to come, or nobody.
type holds struct {
	from, to float64
	placed   *placed.Placed
	cell     int // NotPlaced: none
}

// along an edge, who holds it on one side.
func (w *cellular) along(e *planned.Edge, r, other *restOf) []holds {
	if r.lay != nil && e.Parts != nil {
		part := e.Parts[0]
		if e.B == r.zone.Zone {
			part = e.Parts[1]
		}
		spans := r.lay.Along(part)
		whole := spans[len(spans)-1].To
		var all []holds
		for _, s := range spans {
			h := holds{from: s.From / whole, to: s.To / whole, cell: strip.NotPlaced}
			switch n := len(r.c.Placed); {
			case s.Holder == strip.NotPlaced:
			case s.Holder < n:
				h.placed = r.c.Placed[s.Holder]
			case s.Holder-n < r.n:
				h.cell = r.first + s.Holder - n
			}
			all = append(all, h)
		}
		return all
	}
	return r.evenly(w.waiting(r, other))
}

// waiting is the placement of a coat that turns cold first of those that wait along an edge, and whether the record
// says that they lie along all of it.
func (w *cellular) waiting(r, other *restOf) (*placed.Placed, bool) {
	if f, ok := w.fronts[[2]event.Coat{r.c.Name(), other.c.Name()}]; ok {
		_, said := Along(r.c, other.zone.Zone)
		return f.First, said && len(r.c.Placed) > 1
	}
	if n := len(r.c.Placed); n > 0 {
		return r.c.Placed[n-1], false
	}
	return nil, false
}

// evenly shares an edge: what is placed holds the share that is placed of the coat, or all where the record says so,
// and the batches to come the rest.
func (r *restOf) evenly(lies *placed.Placed, all bool) []holds {
	var out []holds
	from := 0.0
	if lies != nil {
		if from = mixed.Rounded(r.share); all {
			from = 1
		}
		out = append(out, holds{0, from, lies, strip.NotPlaced})
	}
	if r.n == 0 {
		return append(out, holds{from: from, to: 1, cell: strip.NotPlaced})
	}
	for i := range r.n {
		step := (1 - from) / float64(r.n)
		out = append(out, holds{
			from: from + float64(step*float64(i)), to: from + float64(step*float64(i+1)),
			cell: r.first + i,
		})
	}
	return out
}

// edge notes what meets along an edge of two coats.
func (w *cellular) edge(e *planned.Edge, a, b *restOf) {
	if a == nil || b == nil || a.n == 0 && b.n == 0 || e.Length <= 0 {
		return
	}
	toB, waitsA := w.fronts[[2]event.Coat{a.c.Name(), b.c.Name()}]
	toA, waitsB := w.fronts[[2]event.Coat{b.c.Name(), a.c.Name()}]
	lengths := map[Border]unit.Length{}
	var order []Border
	overlaps(w.along(e, a, b), w.along(e, b, a), func(x, y holds, share float64) {
		var k Border
		switch {
		case x.cell >= 0 && y.cell >= 0:
			k = Border{A: x.cell, B: y.cell}
		case x.placed != nil && y.cell >= 0 && waitsA:
			k = Border{
				A: w.cellOf(a.c, x.placed), B: y.cell, Treated: len(toB.Treated) > 0,
				Ready: placed.Ready(toB.Treated),
			}
		case y.placed != nil && x.cell >= 0 && waitsB:
			k = Border{
				A: w.cellOf(b.c, y.placed), B: x.cell, Treated: len(toA.Treated) > 0,
				Ready: placed.Ready(toA.Treated),
			}
		default:
			return
		}
		if _, seen := lengths[k]; !seen {
			order = append(order, k)
		}
		lengths[k] += unit.Length(share) * e.Length
	})
	for _, k := range order {
		k.Length, k.Edge, k.Turns = lengths[k], e, w.turnsCold(k.A)
		w.out.Borders = append(w.out.Borders, k)
	}
}

// overlaps calls for each part of an edge that one holder has on the one side and one on the other, from its beginning
// on.
func overlaps(left, right []holds, each func(x, y holds, share float64)) {
	for i, k := 0, 0; i < len(left) && k < len(right); {
		x, y := left[i], right[k]
		if share := min(x.to, y.to) - max(x.from, y.from); share > 1e-9 {
			each(x, y, share)
		}
		if x.to <= y.to {
			i++
		}
		if y.to <= x.to {
			k++
		}
	}
}

// turnsCold is when a cell that is placed turns cold; zero of one that is not, or does not in the time that is looked
// at.
func (w *cellular) turnsCold(cell int) time.Time {
	c := w.out.All[cell]
	if c.Placed == nil {
		return time.Time{}
	}
	t, ok := w.Turns(c.coat, c.Placed, 1)
	if !ok {
		return time.Time{}
	}
	return t
}

// AgesOf are the equivalent ages of what is placed, in ms, at each minute from an instant on. Where no probe reads the
// coat, the sun that the plan has on the zone makes it warmer than the log's joints reckon, so that advice is never the
// more hopeful.
func (s *Joints) AgesOf(c Cell, from time.Time, minutes int, in *time.Location) ([]int64, error) {
	temp := s.Temperature(c.coat, c.Placed)
	if len(c.coat.Probes) == 0 {
		temp = sunny(temp, s.exposure(c.Coat.Zone), in)
	}
	return setting.Ages(c.Placed.Warm.Key.Set, from, minutes, temp)
}

func (s *Joints) exposure(zone event.Zone) *event.Exposure {
	if z := s.Current.Zones[zone]; z != nil {
		return z.Exposure
	}
	return nil
}

// AgesAhead are the equivalent ages that mortar of a mix gathers at the air's temperature from an instant on, in ms at
// each minute; where the sun is on it by an exposure, at what it is then warmer. Nil is the shade.
func (s *Joints) AgesAhead(m *planned.Mix, from time.Time, minutes int, sun *event.Exposure,
	in *time.Location) ([]int64,
	error,
) {
	s.ComputeBatches()
	air := s.Timeline()
	return setting.Ages(m.Set, from, minutes, sunny(func(at time.Time) unit.Celsius {
		t, _ := air.AirAt(at)
		return t
	}, sun, in))
}

// sunny is a temperature in the shade with what the sun adds by an exposure.
func sunny(shade setting.Temperature, sun *event.Exposure, in *time.Location) setting.Temperature {
	if sun == nil {
		return shade
	}
	return func(at time.Time) unit.Celsius {
		local := at.In(in)
		day := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute
		if day >= sun.From && day < sun.To {
			return shade(at) + unit.Celsius(sun.Warmer)
		}
		return shade(at)
	}
}

// Set is that by which the cell's mortar is judged.
func (c Cell) Set() setting.Set {
	if c.Placed != nil {
		return c.Placed.Warm.Key.Set
	}
	return c.Mix.Set
}

// AirSources says where the air's temperature is from, hour by hour: each source once, in the order in which it is met.
func (s *Joints) AirSources(from time.Time, hours int) []string {
	var all []string
	for i := range hours + 1 {
		if _, source := s.AirAt(from.Add(time.Duration(i) * time.Hour)); !slices.Contains(all, source) {
			all = append(all, source)
		}
	}
	return all
}
