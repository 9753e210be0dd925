package joint

import (
	"fmt"
	"slices"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/placed"
	"hod/internal/planned"
	"hod/internal/trade/setting"
	"hod/internal/trade/strip"
	"hod/internal/unit"
)

// By how much the thickness of a placement may be off: with gauges of its own, and without. A guess; the site's own
// gauges may tell better later.
const (
	gaugedSpread = 0.1
	plainSpread  = 0.2
)

// Laid says where the placements of a coat lie; nil with the reason where it cannot be told. An empty coat is laid,
// too.
func (s *Joints) laid(c *placed.CoatIs) (*placed.Laid, string) {
	z := s.Current.Zones[c.Name().Zone]
	if z == nil || z.Surface == nil {
		return nil, "the plan does not say where the zone's sides lie"
	}
	m := s.Filled(c) // brings the volumes of unweighed batches up to date
	starts, why := s.starts(z, c)
	if why != "" {
		return nil, why
	}
	if why := s.missing(c); why != "" {
		return nil, why
	}
	areas := make([]strip.Placement, len(c.Placed))
	for i, p := range c.Placed {
		areas[i] = s.areaOf(z, p, starts[i])
	}
	if c.Laid != nil && c.Laid.Surface == z.Surface && c.Laid.Done == m.Done() && slices.Equal(c.Laid.Areas, areas) {
		return c.Laid, ""
	}
	l, err := z.Surface.Lay(areas, m.Done())
	if err != nil {
		return nil, err.Error()
	}
	c.Laid = &placed.Laid{Laying: l, Doubt: l.Doubt(), Areas: areas, Done: m.Done()}
	for _, side := range starts {
		c.Laid.Starts = append(c.Laid.Starts, z.Surface.Sides()[side])
	}
	return c.Laid, ""
}

// areaOf is what a placement covers at its thickness: the mean of its own gauges, else as the coat was planned then.
// Where the zone's area is not that of its form, it is the same share of both.
func (s *Joints) areaOf(z *planned.Zone, p *placed.Placed, side int) strip.Placement {
	one := strip.Placement{Side: side, Spread: plainSpread}
	thick, n := unit.Length(0), 0
	for _, g := range p.Gauges {
		if g.SI > 0 { // at 0 the mesh is bare: there nothing lies
			thick, n = thick+g.SI, n+1
		}
	}
	if n > 0 {
		one.Spread = gaugedSpread
		thick /= unit.Length(n)
	} else {
		thick = p.Then.Thickness.SI
	}
	loss := s.Current.LimitsAt(p.From).Loss
	one.Area = float64(p.Volume) / (1 + float64(loss)) / float64(thick) * z.Surface.Area() / float64(z.Area.SI)
	return one
}

// starts are the sides that placements were begun from, or why it is not known: what the crew said for this coat holds
// until it says otherwise; where it never did, the edge that its first placement in the coat ran along, or else the
// only edge that was live when it began.
func (s *Joints) starts(z *planned.Zone, c *placed.CoatIs) ([]int, string) {
	all := make([]int, len(c.Placed))
	last := map[event.Crew]int{}
	for i, p := range c.Placed {
		crew := p.Batch.ID.Crew
		side, known := last[crew]
		said := false
		if body, ok := p.Record.Now.(event.Placement); ok && body.Start != "" {
			if side, said = z.Surface.Side(body.Start); !said {
				return nil, fmt.Sprintf("%s began at side %q, which zone %s does not have", p.Record.Name, body.Start,
					z.Zone)
			}
		}
		if !said && !known {
			if side, known = s.startFromEdges(z, c, p); !known {
				return nil, fmt.Sprintf("nobody said at which side crew %s began in %s", crew, c.Name())
			}
		}
		all[i], last[crew] = side, side
	}
	return all, ""
}

func (s *Joints) startFromEdges(z *planned.Zone, c *placed.CoatIs, p *placed.Placed) (int, bool) {
	var found []int
	for _, e := range z.Edges {
		if e.Parts == nil {
			continue
		}
		part, other := e.Parts[0], e.B
		if e.B == z.Zone {
			part, other = e.Parts[1], e.A
		}
		if slices.Contains(p.Along, other) || len(p.Along) == 0 && s.liveAt(c, p, other) {
			found = append(found, part.Side)
		}
	}
	slices.Sort(found)
	found = slices.Compact(found)
	if len(found) != 1 {
		return 0, false
	}
	return found[0], true
}

// liveAt reports whether the same coat of another zone held material that had not set when a placement began.
func (s *Joints) liveAt(c *placed.CoatIs, p *placed.Placed, other event.Zone) bool {
	st := s.ByZone[other]
	if st == nil || st.Is == nil {
		return false
	}
	neighbour := st.Is.Coats[event.Coat{Zone: other, Face: c.Name().Face, Number: c.Name().Number}]
	if neighbour == nil {
		return false
	}
	return slices.ContainsFunc(neighbour.Placed, func(q *placed.Placed) bool {
		return q.From.Before(p.From) &&
			s.Fresh(neighbour, q, p.From)
	})
}

// missing says which batch the log lacks that may lie in the coat: a number left out between those of its crew and day.
// Where a batch is missing, one that belongs earlier may yet arrive and move the later ones, so nothing is told of
// strips.
func (s *Joints) missing(c *placed.CoatIs) string {
	for _, p := range c.Placed {
		id := p.Batch.ID
		for n := id.Number - 1; n >= 1; n-- {
			before := event.Batch{Crew: id.Crew, Day: id.Day, Number: n}
			if b, kept := s.Kept(before); kept && b.Here {
				continue
			}
			if st := s.ByBatch[before]; st == nil || len(st.Mixed) == 0 && len(st.Placements) == 0 &&
				len(st.Discards) == 0 {
				return fmt.Sprintf("batch %s is not in the log, and may lie here", before)
			}
		}
	}
	return ""
}

// Metres of an edge, by what met what along it, station by station.
type Metres struct {
	Surely, Cold, Possibly float64 // m that are cold: whatever the record allows, by the strips, and at worst
	Closing, Live          float64 // m that met in time, by the strips
	Open, Bare             float64 // m on which one side waits for the other, and on which neither is placed
	Low, High              float64 // share of set used up, from the best to the worst pair that may have met
	Any                    bool    // something has met, or may have
	// Contradicts says what the strips cannot make sense of; the range is then wider than the truth may be.
	Contradicts string
	worst       [2]*placed.Placed // the pair, by the strips, whose earlier side had used up most
	most        float64           // what it had used up
	waiting     [2][]*placed.Placed
}

// metres along an edge of two coats; nil with the reason where they cannot be told, without one where the plan does not
// say on which sides the edge lies.
func (s *Joints) metres(e planned.Edge, a, b *placed.CoatIs) (*Metres, string) {
	if e.Parts == nil {
		return nil, ""
	}
	la, why := s.laid(a)
	if why != "" {
		return nil, why
	}
	lb, why := s.laid(b)
	if why != "" {
		return nil, why
	}
	w := &walk{site: s, a: a, b: b, closing: float64(s.Current.Closing), m: &Metres{}}
	for _, p := range strip.Pieces(la.Laying, e.Parts[0], lb.Laying, e.Parts[1]) {
		w.piece(p)
	}
	saidA, saidB := saidAlong(a, e.B), saidAlong(b, e.A)
	for _, p := range strip.PossiblePieces(la.Doubt, e.Parts[0], lb.Doubt, e.Parts[1]) {
		p.A, p.B = narrowed(p.A, saidA), narrowed(p.B, saidB)
		w.possible(p)
	}
	for _, side := range []struct {
		l *placed.Laid
		c *placed.CoatIs
	}{{la, a}, {lb, b}} {
		if side.l.Doubt.Contradicts {
			w.m.Contradicts = fmt.Sprintf(
				"the batches in %s cannot fill it as planned, however thick each is by its gauges", side.c.Name())
		}
	}
	return w.m, ""
}

// saidAlong are the placements of a coat, by number, that are said to have run along another zone.
func saidAlong(c *placed.CoatIs, other event.Zone) []int {
	var all []int
	for i, p := range c.Placed {
		if slices.Contains(p.Along, other) {
			all = append(all, i)
		}
	}
	return all
}

// narrowed are the candidates that somebody named; where none of them is one, what was said wins.
func narrowed(candidates, said []int) []int {
	if len(said) == 0 {
		return candidates
	}
	both := slices.DeleteFunc(slices.Clone(candidates), func(i int) bool {
		return i != strip.NotPlaced &&
			!slices.Contains(said, i)
	})
	if !slices.ContainsFunc(both, func(i int) bool { return i != strip.NotPlaced }) {
		return said
	}
	return both
}

// walk adds up the metres of an edge.
type walk struct {
	site    *Joints
	a, b    *placed.CoatIs
	closing float64
	m       *Metres
}

// share of set that the earlier of two strips had used up when the later one was placed; false where one is not there.
func (w *walk) share(i, k int) (share float64, from, to *placed.Placed, met bool) {
	if i == strip.NotPlaced || k == strip.NotPlaced {
		return 0, nil, nil, false
	}
	c, from, to := w.a, w.a.Placed[i], w.b.Placed[k]
	if startsBefore(to, from) {
		c, from, to = w.b, to, from
	}
	return w.site.Consumed(c, from, to.From), from, to, true
}

func (w *walk) piece(p strip.Piece) {
	long := p.To - p.From
	share, from, to, met := w.share(p.A, p.B)
	switch {
	case !met && p.A == strip.NotPlaced && p.B == strip.NotPlaced:
		w.m.Bare += long
		return
	case !met:
		w.m.Open += long
		return
	case setting.Rounded(share) >= 1:
		w.m.Cold += long
	case setting.Rounded(share) >= setting.Rounded(w.closing):
		w.m.Closing += long
	default:
		w.m.Live += long
	}
	if w.m.worst[0] == nil || share > w.m.most {
		w.m.most, w.m.worst = share, [2]*placed.Placed{from, to}
	}
}

func (w *walk) possible(p strip.Possible) {
	surely, possibly := true, false
	for _, i := range p.A {
		for _, k := range p.B {
			share, _, _, met := w.share(i, k)
			cold := met && setting.Rounded(share) >= 1
			surely, possibly = surely && cold, possibly || cold
			if met {
				if !w.m.Any || share < w.m.Low {
					w.m.Low = share
				}
				if !w.m.Any || share > w.m.High {
					w.m.High = share
				}
				w.m.Any = true
			}
			w.waits(i, k)
		}
	}
	if surely {
		w.m.Surely += p.To - p.From
	}
	if possibly {
		w.m.Possibly += p.To - p.From
	}
}

// waits notes a placement that may wait for the other side.
func (w *walk) waits(i, k int) {
	add := func(side int, p *placed.Placed) {
		if !slices.Contains(w.m.waiting[side], p) {
			w.m.waiting[side] = append(w.m.waiting[side], p)
		}
	}
	switch {
	case i != strip.NotPlaced && k == strip.NotPlaced:
		add(0, w.a.Placed[i])
	case i == strip.NotPlaced && k != strip.NotPlaced:
		add(1, w.b.Placed[k])
	}
}

// Said is what the metres of a joint come to, in words.
func (m *Metres) Said(sys unit.System) string {
	show := func(x float64) string {
		if x < SomeMetres {
			return "none"
		}
		return sys.Length(unit.Length(x))
	}
	return fmt.Sprintf("%s cold for certain, %s by where the batches lie, %s at worst", show(m.Surely), show(m.Cold),
		show(m.Possibly))
}

// Strip is where a placement lies: from one distance to another of the side at which its crew began.
type Strip struct {
	Start           string
	Begins, Reaches float64 // m, or degrees
	Degrees         bool
	Area            unit.Area
}

// Strips of a coat, in the order of its placements; nil with the reason where the record does not tell, without one
// where the plan does not say where the zone's sides lie.
func (s *Joints) Strips(coat event.Coat) ([]Strip, string) {
	s.ComputeZones()
	st, z := s.ByZone[coat.Zone], s.Current.Zones[coat.Zone]
	if st == nil || st.Is == nil || z == nil || z.Surface == nil || st.Is.Coats[coat] == nil {
		return nil, ""
	}
	l, why := s.laid(st.Is.Coats[coat])
	if l == nil {
		return nil, why
	}
	all := make([]Strip, len(l.Strips))
	for i, one := range l.Strips {
		all[i] = Strip{
			Start: l.Starts[i], Begins: l.Metres(one.Side, one.Begins), Reaches: l.Metres(one.Side, one.Reaches),
			Degrees: l.Degrees(one.Side), Area: unit.Area(one.Area / z.Surface.Area() * float64(z.Area.SI)),
		}
	}
	return all, ""
}

// Facts are the metres of a joint as evidence.
func (m *Metres) Facts(length unit.Length, sys unit.System) []finding.Fact {
	facts := []finding.Fact{{
		Name: "metres", Value: fmt.Sprintf("%s of %s; %s closing, %s live", m.Said(sys),
			sys.Length(length),
			sys.Length(unit.Length(m.Closing)), sys.Length(unit.Length(m.Live))),
		Figure: finding.FigureOf(unit.Length(m.Cold)).Within(m.Surely, m.Possibly),
	}}
	if w := m.worst; w[0] != nil {
		facts = append(facts, finding.Fact{
			Name: "waited longest", Value: Percent(m.most, m.most) + ", " +
				NamePair(w[0], w[1]),
			At: w[1].From, Figure: finding.FigureOf(m.most),
		})
	}
	if m.Contradicts != "" {
		facts = append(facts, finding.Fact{Name: "does not agree", Value: m.Contradicts})
	}
	return facts
}

// NamePair says which placement met which.
func NamePair(from, to *placed.Placed) string {
	return fmt.Sprintf("%s met by %s", from.Record.Name, to.Record.Name)
}
