package planned

import (
	"maps"
	"slices"
	"strconv"
	"strings"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/trade/shell"
	"hod/internal/unit"
)

// What was done is judged by the plan that was true of it, and what is left to do by the plan of now:
//
//   - a batch by the revision of the mix that it carries; where it carries none, or one that is not in the record, by
//     the plan of that mix that held when the batch was mixed; and where a later revision says that it corrects that
//     one, by that;
//   - a placement by the thickness and mix of its coat that held when it began, and whether it overfilled the coat by
//     the area and loss of then;
//   - a joint by the edge's length and the closing limit that held when it was made; an open one by those of now;
//   - a reading of the weather by the site's limits that held at that hour;
//   - what a coat still needs, its mean thickness, and what is left of the shell, by the plan of now.
//
// Which plan held at an instant follows from what replaces what and when each happened, never from when it arrived: of
// the plans that had happened by then, those that none of the others replaces, by whatever chain. Before the first of
// them happened the first plans hold: people plan late, too. Several at once are a conflict, and the same is chosen as
// now.
//
// A plan written anew says that it changes from then on. A plan amended, and a revision of a mix that corrects another,
// say that it was wrong from the start.

// held is a plan from the instant on at which it began to hold.
type held struct {
	from time.Time // zero of the first
	plan *history.Record
}

// history is what held of one thing, in order of time.
type timeline []held

// at is the plan that held at an instant; nil where nothing was ever planned.
func (h timeline) at(t time.Time) *history.Record {
	if len(h) == 0 {
		return nil
	}
	i := len(h) - 1
	for i > 0 && h[i].from.After(t) {
		i--
	}
	return h[i].plan
}

// Lineage is which plan of one thing replaces which.
type Lineage map[*history.Record][]*history.Record

// LineageOf the plans of one thing. An amendment of a plan is that plan still, and is named by the hash of either.
func (s *Plans) LineageOf(plans []*history.Record) Lineage {
	l := Lineage{}
	if len(plans) < 2 {
		return l
	}
	by := map[event.Hash]*history.Record{}
	for _, r := range plans {
		for _, named := range append([]*history.Record{r}, r.Via...) {
			for _, h := range s.GoesBy(named) {
				by[h] = r
			}
		}
	}
	for _, r := range plans {
		for _, h := range event.Replaces(r.Now) {
			if before := by[h]; before != nil && before != r {
				l[r] = append(l[r], before)
			}
		}
	}
	return l
}

// behind are all plans that one replaces, by whatever chain.
func (l Lineage) behind(r *history.Record) map[*history.Record]bool {
	seen := map[*history.Record]bool{}
	next := slices.Clone(l[r])
	for len(next) > 0 {
		p := next[len(next)-1]
		next = next[:len(next)-1]
		if !seen[p] && p != r { // amendments can make a ring
			seen[p] = true
			next = append(next, l[p]...)
		}
	}
	return seen
}

// tips of some plans: those that none of the others replaces; all of them where they make a ring.
func (l Lineage) tips(of []*history.Record) []*history.Record {
	if len(of) < 2 {
		return of
	}
	gone := map[*history.Record]bool{}
	for _, r := range of {
		maps.Copy(gone, l.behind(r))
	}
	var tips []*history.Record
	for _, r := range of {
		if !gone[r] {
			tips = append(tips, r)
		}
	}
	if len(tips) == 0 {
		return of
	}
	return tips
}

// Roots of some plans: those that replace none of the others.
func (l Lineage) Roots(of []*history.Record) []*history.Record {
	var roots []*history.Record
	for _, r := range of {
		if behind := l.behind(r); !slices.ContainsFunc(of, func(p *history.Record) bool { return behind[p] }) {
			roots = append(roots, r)
		}
	}
	if len(roots) == 0 {
		return of
	}
	return roots
}

// one of several plans that none of the others replaces.
func (s *Plans) one(of []*history.Record) *history.Record {
	of = slices.Clone(of)
	slices.SortFunc(of, history.ByLogged)
	chosen, _ := s.Choose(of)
	return chosen
}

// historyOf some plans of one thing.
func (s *Plans) historyOf(l Lineage, plans []*history.Record) timeline {
	if len(plans) == 0 {
		return nil
	}
	if len(plans) == 1 {
		return timeline{{plan: plans[0]}}
	}
	plans = slices.Clone(plans)
	slices.SortFunc(plans, history.ByTime)
	h := timeline{{plan: s.one(l.Roots(plans))}}
	for i, r := range plans {
		if i+1 < len(plans) && plans[i+1].When.Equal(r.When) {
			continue
		}
		if is := s.one(l.tips(plans[:i+1])); is != h[len(h)-1].plan {
			h = append(h, held{r.When, is})
		}
	}
	return h
}

// revisions are those of one mix, by number.
type revisions struct {
	all      timeline
	numbered map[int]timeline
	corrects map[int]*history.Record // the revision that corrects the one of that number
	mixes    map[*history.Record]*Mix
}

// revisionsOf a mix, of which some are held, and others only correct those.
func (s *Plans) revisionsOf(l Lineage, plans, all []*history.Record) *revisions {
	v := &revisions{
		all: s.historyOf(l, plans), numbered: map[int]timeline{}, corrects: map[int]*history.Record{},
		mixes: map[*history.Record]*Mix{},
	}
	numbered, correcting := map[int][]*history.Record{}, map[int][]*history.Record{}
	for _, r := range all {
		b := r.Now.(event.MixPlanned)
		v.mixes[r] = planMix(b)
		numbered[b.Revision] = append(numbered[b.Revision], r)
		if b.Corrects > 0 {
			correcting[b.Corrects] = append(correcting[b.Corrects], r)
		}
	}
	for n, of := range numbered {
		v.numbered[n] = s.historyOf(l, of)
	}
	for n, of := range correcting {
		v.corrects[n] = s.one(l.tips(of))
	}
	return v
}

// of is the mix by which a batch is judged that carries a revision, 0 for none, and was mixed at an instant; and
// whether the record has the revision that it carries.
func (v *revisions) of(revision int, at time.Time) (m *Mix, known bool) {
	of, known := v.numbered[revision]
	if !known {
		of = v.all
	}
	r := of.at(at)
	for {
		m = v.mixes[r]
		next := v.corrects[m.Revision] // always of a higher number, so that this ends
		if next == nil {
			return m, known || revision == 0
		}
		r = next
	}
}

// MixOf is the mix by which a batch is judged that was mixed at an instant: the revision that it carries, with what
// later corrects it. Nil where no mix of that name is planned; false where the record has not that revision, and the
// one that held at that instant is taken for it.
func (p *Plan) MixOf(b event.BatchMixed, at time.Time) (*Mix, bool) {
	v := p.past.revisions[b.Mix]
	if v == nil || p.Mixes[b.Mix] == nil {
		return nil, false
	}
	return v.of(b.Revision, at)
}

// MixAt is the mix as it held at an instant, with what later corrects it; nil where no mix of that name is planned.
func (p *Plan) MixAt(name event.Mix, at time.Time) *Mix {
	m, _ := p.MixOf(event.BatchMixed{Mix: name}, at)
	return m
}

// HasRevision reports whether a revision of a mix is planned.
func (p *Plan) HasRevision(name event.Mix, number int) bool {
	v := p.past.revisions[name]
	return v != nil && len(v.numbered[number]) > 0
}

// Revision of a mix as it was planned, the last of them where several go by that number.
func (p *Plan) Revision(name event.Mix, number int) (event.MixPlanned, bool) {
	if !p.HasRevision(name, number) {
		return event.MixPlanned{}, false
	}
	v := p.past.revisions[name]
	of := v.numbered[number]
	return v.mixes[of[len(of)-1].plan].MixPlanned, true
}

// RevisionsOf a mix in words: "1, 2 and 4", or "none".
func (p *Plan) RevisionsOf(name event.Mix) string {
	v := p.past.revisions[name]
	if v == nil {
		return "none"
	}
	var all []string
	for _, n := range slices.Sorted(maps.Keys(v.numbered)) {
		all = append(all, strconv.Itoa(n))
	}
	if n := len(all); n > 1 {
		return strings.Join(all[:n-1], ", ") + " and " + all[n-1]
	}
	return all[0]
}

// LimitsAt is what the site went by at an instant: units, hours, loss and limits.
func (p *Plan) LimitsAt(at time.Time) *Rules {
	i := len(p.past.limits) - 1
	if i < 1 {
		return &p.Rules
	}
	for i > 0 && p.past.limits[i].from.After(at) {
		i--
	}
	return p.past.limits[i].rules
}

// limitsHeld is what the site went by from an instant on.
type limitsHeld struct {
	from  time.Time
	rules *Rules
}

// CoatAt is a coat as it was planned at an instant.
func (p *Plan) CoatAt(c Coat, at time.Time) event.CoatPlanned {
	if r := p.past.coats[c.Name()].at(at); r != nil {
		return r.Now.(event.CoatPlanned)
	}
	return c.CoatPlanned
}

// NeededAt is the volume that a coat took, loss counted, by the plan of an instant.
func (p *Plan) NeededAt(c Coat, at time.Time) unit.Volume {
	r := p.past.zones[c.CoatPlanned.Coat.Zone].at(at)
	if r == nil {
		return c.Needed
	}
	v, err := shell.Flat(r.Now.(event.ZonePlanned).Area.SI, p.CoatAt(c, at).Thickness.SI)
	if err != nil {
		return c.Needed
	}
	return v * unit.Volume(1+p.LimitsAt(at).Loss)
}

// LengthAt is that of an edge at an instant.
func (p *Plan) LengthAt(e Edge, at time.Time) unit.Length {
	if r := p.past.edges[[2]event.Zone{e.A, e.B}].at(at); r != nil {
		return r.Now.(event.EdgePlanned).Length.SI
	}
	return e.Length
}
