package joint

import (
	"cmp"
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/placed"
	"hod/internal/planned"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// Joints are where later material meets earlier in a site.
type Joints struct {
	placed.Zones
	edges    map[edgeKey]edgeIs
	inZone   map[event.Zone]inside
	contacts []Contact
	counted  int // of the events, when the contacts were gathered
}

// inside is the joints within the coats of a zone and between them, good as long as the zone is the same.
type inside struct {
	of       *placed.Zone
	contacts []Contact
}

// Kind says what meets what.
type Kind int

// Where later material meets earlier.
const (
	Inside    Kind = iota // inside a coat
	AlongEdge             // along an edge that two zones share
	Below                 // coat on coat
)

func (k Kind) String() string { return [...]string{"inside", "edge", "below"}[k] }

// Contact is a joint that is made: later material has met earlier.
type Contact struct {
	Kind   Kind
	Coat   event.Coat // of the earlier side
	Other  event.Zone // across an edge
	Length unit.Length
	Later  []*placed.Placed // the candidates for the later side, by time
	Used
	From, To *placed.Placed // the pair that met first
	At       time.Time      // when they met
	Treated  []placed.Treated
	Known    bool    // the record says which placements lie along the edge
	Metres   *Metres // along an edge, where the record tells by strips; nil where it does not
	Untold   string  // why it does not
	coat     *placed.CoatIs
	least    *placed.Placed // the later of the pair that used up least; older versions called the joint by it
}

// Used is the share of initial set that the earlier side of a joint had used up, from the best to the worst that the
// log allows.
type Used struct{ Low, High float64 }

// ContactOf is the joint of a name; false where it is none that was made.
func (s *Joints) ContactOf(j *finding.Joint) (Contact, bool) {
	for _, k := range s.Contacts() {
		if *k.Name() == *j {
			return k, true
		}
	}
	return Contact{}, false
}

// Name of the joint, by which a finding and a view know it for the same.
func (k Contact) Name() *finding.Joint {
	return &finding.Joint{Kind: k.Kind.String(), Coat: k.Coat, Other: k.Other, Later: k.Later[0].Record.Name}
}

// Front is a joint that is open: material that later material is still to meet.
type Front struct {
	Kind        Kind
	Coat        event.Coat
	Other       event.Zone
	Length      unit.Length
	First, Last *placed.Placed // of what lies, or may lie, along it: the oldest and the newest
	Treated     []placed.Treated
	Known       bool // the record says which placements lie along the edge
	Metres      *Metres
	Untold      string
	coat        *placed.CoatIs
}

// insideContacts are those from each placement to the next in one coat: hand placing moves along a front.
func (s *Joints) insideContacts(c *placed.CoatIs) []Contact {
	var all []Contact
	for i := 1; i < len(c.Placed); i++ {
		a, b := c.Placed[i-1], c.Placed[i]
		x := s.Consumed(c, a, b.From)
		all = append(all, Contact{
			Kind: Inside, Coat: c.Name(), Later: []*placed.Placed{b}, Used: Used{Low: x, High: x}, From: a, To: b,
			At:      b.From,
			Treated: treatedFor(treatedOf(c, "", a.To), a, b.From), Known: true, coat: c,
		})
	}
	return all
}

// belowContacts is where a coat meets the coat under it on the same face: one joint a coat, at its first placement.
func (s *Joints) belowContacts(z *placed.Zone, c *placed.CoatIs) []Contact {
	under := z.Coats[event.Coat{Zone: c.Name().Zone, Face: c.Name().Face, Number: c.Name().Number - 1}]
	if under == nil || len(under.Placed) == 0 || len(c.Placed) == 0 {
		return nil
	}
	first := c.Placed[0]
	before := placed.BeganBefore(under.Placed, first.From)
	if len(before) == 0 {
		return nil
	}
	k := Contact{
		Kind: Below, Coat: under.Name(), Later: []*placed.Placed{first}, At: first.From,
		Treated: append(treatedOf(under, "", before[len(before)-1].To), treatedOf(c, "", time.Time{})...), coat: under,
	}
	k.From, k.To = before[len(before)-1], first
	k.Low = s.Consumed(under, k.From, first.From)
	k.High = k.Low
	for _, p := range before { // of unlike batches the newest need not have used up least
		if x := s.Consumed(under, p, first.From); x < k.Low {
			k.Low, k.From = x, p
		} else {
			k.High = max(k.High, x)
		}
	}
	k.Known = len(before) == 1
	k.Treated = treatedFor(k.Treated, k.From, k.At)
	return []Contact{k}
}

// treatedOf are the treatments of a coat's joint with another zone (or, with none named, inside or below it) since.
func treatedOf(c *placed.CoatIs, other event.Zone, since time.Time) []placed.Treated {
	all := c.Treated[other]
	i, _ := slices.BinarySearchFunc(all, since, func(t placed.Treated, since time.Time) int {
		return t.At.Compare(since)
	})
	return slices.Clip(all[i:])
}

// treatedFor are the treatments that are of a joint: an end on purpose says how a front was left, so that it is of the
// joint only where it was ended after the earlier side was placed and before the later met it. What met before is not
// treated by it.
func treatedFor(all []placed.Treated, earlier *placed.Placed, met time.Time) []placed.Treated {
	return slices.DeleteFunc(slices.Clone(all), func(t placed.Treated) bool {
		return t.Ended && (t.At.Before(earlier.From) || t.At.After(met))
	})
}

// Along are the placements of a coat that ran along the edge to another zone, if the record says of any; else all.
func Along(c *placed.CoatIs, other event.Zone) (candidates []*placed.Placed, known bool) {
	for _, p := range c.Placed {
		if slices.Contains(p.Along, other) {
			candidates = append(candidates, p)
		}
	}
	if len(candidates) > 0 {
		return candidates, true
	}
	return c.Placed, len(c.Placed) == 1
}

// edgeKey names an edge of one coat; edgeIs is what was worked out for it, good as long as both coats are the same.
type edgeKey struct {
	a, b event.Coat
}

type edgeIs struct {
	a, b         *placed.CoatIs
	laidA, laidB *placed.Laid
	contact      Contact
	met          bool
}

// EdgeContact is where the same coat of two zones meets along their edge; false if it has not.
func (s *Joints) EdgeContact(e planned.Edge, a, b *placed.CoatIs) (Contact, bool) {
	key := edgeKey{a.Name(), b.Name()}
	var laidA, laidB *placed.Laid
	if e.Parts != nil {
		laidA, _ = s.laid(a)
		laidB, _ = s.laid(b)
	}
	if is, ok := s.edges[key]; ok && is.a == a && is.b == b && is.laidA == laidA && is.laidB == laidB {
		return is.contact, is.met
	}
	k, met := s.meet(e, a, b)
	if s.edges == nil {
		s.edges = map[edgeKey]edgeIs{}
	}
	s.edges[key] = edgeIs{a, b, laidA, laidB, k, met}
	return k, met
}

func (s *Joints) meet(e planned.Edge, a, b *placed.CoatIs) (Contact, bool) {
	as, knownA := Along(a, e.B)
	bs, knownB := Along(b, e.A)
	if len(as) == 0 || len(bs) == 0 {
		var k Contact
		k.Metres, k.Untold = s.metres(e, a, b) // of the front that waits
		return k, false
	}
	later, c := bs, a
	if startsBefore(bs[0], as[0]) {
		later, c = as, b
	}
	other := e.Other(c.Name().Zone)
	k := Contact{
		Kind: AlongEdge, Coat: c.Name(), Other: other, Length: e.Length, Later: later,
		Known: knownA && knownB, coat: c,
	}
	k.Treated = append(treatedOf(a, e.B, time.Time{}), treatedOf(b, e.A, time.Time{})...)
	slices.SortFunc(k.Treated, func(x, y placed.Treated) int { return history.ByTime(x.Record, y.Record) })
	s.meeting(&k, a, b, as, bs)
	k.At = k.To.From
	k.Treated = treatedFor(k.Treated, k.From, k.At)
	k.Length = s.Current.LengthAt(e, k.At)
	if k.Metres, k.Untold = s.metres(e, a, b); k.Metres != nil && k.Metres.Any {
		k.byMetres()
	} else {
		k.Metres = nil
	}
	return k, true
}

// byMetres takes what the strips say of a joint: the range is that of the pairs that may have met.
func (k *Contact) byMetres() { k.Low, k.High, k.Known = k.Metres.Low, k.Metres.High, true }

func startsBefore(a, b *placed.Placed) bool {
	return cmp.Or(a.From.Compare(b.From), event.CompareNames(a.Record.Name, b.Record.Name)) < 0
}

// meeting finds the pair that met first: the last of the one side before work went over to the other, and the first
// there. The joint is theirs, and so is its time. It also works out the best and the worst share of initial set that
// the earlier side may have used up: the best is that pair's or, where the record does not say what lies along the
// edge, the least that any piece had used up when the other side's next piece came; the worst is the most that any had
// when its last one did. With unlike mixes or temperatures the oldest piece need not be the one that had used up most.
func (s *Joints) meeting(k *Contact, a, b *placed.CoatIs, as, bs []*placed.Placed) {
	type piece struct {
		*placed.Placed
		of *placed.CoatIs
	}
	var all []piece
	for _, p := range as {
		all = append(all, piece{p, a})
	}
	for _, p := range bs {
		all = append(all, piece{p, b})
	}
	slices.SortFunc(all, func(x, y piece) int {
		if startsBefore(x.Placed, y.Placed) {
			return -1
		}
		return 1
	})
	least := 0.0
	for i := 1; i < len(all); i++ {
		if all[i-1].of == all[i].of {
			continue
		}
		x := s.Consumed(all[i-1].of, all[i-1].Placed, all[i].From)
		if k.least == nil || x < least {
			least, k.least = x, all[i].Placed
		}
		if k.From == nil {
			k.Low, k.From, k.To, k.coat = x, all[i-1].Placed, all[i].Placed, all[i-1].of
		}
	}
	k.High = k.Low
	s.extremes(k, a, as, bs)
	s.extremes(k, b, bs, as)
}

// extremes widens the range of a joint to what the pieces of one side allow.
func (s *Joints) extremes(k *Contact, c *placed.CoatIs, own, others []*placed.Placed) {
	last := others[len(others)-1]
	for _, p := range own {
		i := slices.IndexFunc(others, func(q *placed.Placed) bool { return startsBefore(p, q) })
		if i < 0 {
			continue
		}
		if !k.Known {
			k.Low = min(k.Low, s.Consumed(c, p, others[i].From))
		}
		k.High = max(k.High, s.Consumed(c, p, last.From))
	}
}

// ContactsIn are the joints inside the coats of a zone and of coat on coat, worked out when they are first asked for.
func (s *Joints) ContactsIn(name event.Zone, z *placed.Zone) []Contact {
	if is, ok := s.inZone[name]; ok && is.of == z {
		return is.contacts
	}
	is := inside{of: z}
	for _, id := range z.Order {
		c := z.Coats[id]
		is.contacts = append(is.contacts, s.insideContacts(c)...)
		is.contacts = append(is.contacts, s.belowContacts(z, c)...)
	}
	if s.inZone == nil {
		s.inZone = map[event.Zone]inside{}
	}
	s.inZone[name] = is
	return is.contacts
}

// Contacts are all joints that are made, inside coats, along edges and coat on coat. The caller must not change them.
func (s *Joints) Contacts() []Contact {
	s.ComputeZones()
	if s.contacts == nil || s.counted != len(s.Arrived()) {
		s.contacts, s.counted = slices.Clip(s.allContacts()), len(s.Arrived())
	}
	return s.contacts
}

func (s *Joints) allContacts() []Contact {
	all := []Contact{}
	for _, name := range s.Current.ZoneNames() {
		if st := s.ByZone[name]; st != nil && st.Is != nil {
			all = append(all, s.ContactsIn(name, st.Is)...)
		}
	}
	for _, e := range s.Current.Edges {
		s.EachPair(e, func(a, b *placed.CoatIs) {
			if k, ok := s.EdgeContact(e, a, b); ok {
				all = append(all, k)
			}
		})
	}
	return all
}

// EachPair calls for each coat that both zones of an edge have.
func (s *Joints) EachPair(e planned.Edge, each func(a, b *placed.CoatIs)) {
	za, zb := s.ByZone[e.A], s.ByZone[e.B]
	if za == nil || zb == nil || za.Is == nil || zb.Is == nil {
		return
	}
	for _, id := range za.Is.Order {
		other := event.Coat{Zone: e.B, Face: id.Face, Number: id.Number}
		if b := zb.Is.Coats[other]; b != nil {
			each(za.Is.Coats[id], b)
		}
	}
}

// Fronts are all joints that are open: where a coat is under way, and along each edge whose other side is still to
// come.
func (s *Joints) Fronts() []Front {
	s.ComputeZones()
	return s.frontsOf(func(event.Zone) bool { return true })
}

// frontsOf are the joints that are open of some zones' material.
func (s *Joints) frontsOf(in func(event.Zone) bool) []Front {
	var all []Front
	for _, name := range s.Current.ZoneNames() {
		st := s.ByZone[name]
		if st == nil || st.Is == nil || !in(name) {
			continue
		}
		for _, id := range st.Is.Order {
			c := st.Is.Coats[id]
			if n := len(c.Placed); n > 0 && s.Filled(c).TakesMore() {
				last := c.Placed[n-1]
				all = append(all, Front{
					Kind: Inside, Coat: id, First: last, Last: last,
					Treated: treatedOf(c, "", last.To), Known: true, coat: c,
				})
			}
		}
	}
	for _, e := range s.Current.Edges {
		s.EachPair(e, func(a, b *placed.CoatIs) {
			if in(e.A) {
				if f, ok := s.edgeFront(e, a, b); ok {
					all = append(all, f)
				}
			}
			if in(e.B) {
				if f, ok := s.edgeFront(e, b, a); ok {
					all = append(all, f)
				}
			}
		})
	}
	return all
}

// edgeFront is the open edge from a coat to the same coat of a neighbour that is not done and has not yet met all of
// it.
func (s *Joints) edgeFront(e planned.Edge, from, to *placed.CoatIs) (Front, bool) {
	if len(from.Placed) == 0 || !s.Filled(to).TakesMore() {
		return Front{}, false
	}
	other := to.Name().Zone
	candidates, known := Along(from, other)
	waiting := candidates
	if met, _ := Along(to, from.Name().Zone); len(met) > 0 {
		waiting = nil
		for _, p := range candidates { // what was placed since the neighbour's last still waits for it
			if startsBefore(met[len(met)-1], p) {
				waiting = append(waiting, p)
			}
		}
	}
	if len(waiting) == 0 {
		return Front{}, false
	}
	f := Front{Kind: AlongEdge, Coat: from.Name(), Other: other, Length: e.Length, Known: known, coat: from}
	if k := s.edgeContactOf(e, from, to); k.Metres != nil {
		f.Metres, f.Known = k.Metres, true
		side := 0
		if e.B == from.Name().Zone {
			side = 1
		}
		if waiting = f.Metres.waiting[side]; len(waiting) == 0 || f.Metres.Open < SomeMetres {
			return Front{}, false
		}
		f.Length = unit.Length(f.Metres.Open)
	} else {
		f.Untold = k.Untold
	}
	f.First, f.Last = s.soonestAndLatest(from, waiting)
	f.Treated = treatedOf(from, other, f.First.To)
	if len(to.Placed) == 0 { // where nothing lies across, what is told of that side can only mean this front
		f.Treated = append(f.Treated, treatedOf(to, from.Name().Zone, f.First.To)...)
		slices.SortFunc(f.Treated, func(x, y placed.Treated) int { return history.ByTime(x.Record, y.Record) })
	}
	return f, true
}

// edgeContactOf is edgeContact with the coats in the edge's order; where they have not met it has metres only.
func (s *Joints) edgeContactOf(e planned.Edge, from, to *placed.CoatIs) Contact {
	if e.A != from.Name().Zone {
		from, to = to, from
	}
	k, _ := s.EdgeContact(e, from, to)
	return k
}

// soonestAndLatest are the placements whose material turns first and last. With unlike mixes or temperatures these need
// not be the oldest and the newest.
func (s *Joints) soonestAndLatest(c *placed.CoatIs, all []*placed.Placed) (soonest, latest *placed.Placed) {
	soonest, latest = all[0], all[0]
	turns := func(p *placed.Placed) time.Time {
		if t, ok := s.Turns(c, p, 1); ok {
			return t
		}
		return p.From.Add(placed.Horizon)
	}
	for _, p := range all[1:] {
		if turns(p).Before(turns(soonest)) {
			soonest = p
		}
		if !turns(p).Before(turns(latest)) {
			latest = p
		}
	}
	return soonest, latest
}

// Standing of an open joint at an instant.
type Standing struct {
	Low, High      float64 // share of initial set used up, by the last and by the first candidate
	Closes, Turns  time.Time
	TurnsLatest    time.Time
	Material       unit.Celsius
	MaterialSource string
	Set            setting.Set
	SetSaid        bool
}

// At an instant, the front's standing.
func (s *Joints) At(f Front, now time.Time) Standing {
	st := Standing{
		Low: s.ConsumedBy(f.coat, f.Last, now), High: s.ConsumedBy(f.coat, f.First, now),
		Set: f.First.Batch.Mix.Set, SetSaid: f.First.Batch.Mix.SetSaid,
	}
	if t, ok := s.Turns(f.coat, f.First, float64(s.Current.Closing)); ok {
		st.Closes = t
	}
	if t, ok := s.Turns(f.coat, f.First, 1); ok {
		st.Turns = t
	}
	if t, ok := s.Turns(f.coat, f.Last, 1); ok && f.Last != f.First {
		st.TurnsLatest = t
	}
	st.Material, st.MaterialSource = s.MaterialAt(f.coat, f.First, now)
	return st
}

// Met is the standing of a contact at the moment when it was made.
func (s *Joints) Met(k Contact) Standing {
	st := Standing{Low: k.Low, High: k.High, Set: k.From.Batch.Mix.Set, SetSaid: k.From.Batch.Mix.SetSaid}
	st.Material, st.MaterialSource = s.MaterialAt(k.coat, k.From, k.To.From)
	return st
}

// IsCold says that the earlier side had surely passed initial set when it was met, along some of the joint at least.
func (k Contact) IsCold() bool {
	if k.Metres != nil {
		return k.Metres.Surely >= SomeMetres
	}
	return setting.Rounded(k.Low) >= 1
}

// someMetres is the least length of a joint that is told of: a millimetre is less than a trowel can tell.
const SomeMetres = 0.001

// Where says in words where the joint lies.
func (k Contact) Where() string {
	switch k.Kind {
	case AlongEdge:
		return fmt.Sprintf("%s along %s", k.Coat, k.Other)
	case Below:
		return fmt.Sprintf("on %s", k.Coat)
	}
	return "in " + k.Coat.String()
}

// FreshSurface is the temperature of the warmest fresh surface that lies uncovered at an instant, where that is from
// (empty if there is none), and the coats that lie so.
func (s *Joints) FreshSurface(now time.Time) (surface unit.Celsius, source string, coats []string) {
	s.ComputeZones()
	for _, name := range s.Current.ZoneNames() {
		st := s.ByZone[name]
		if st == nil || st.Is == nil {
			continue
		}
		for _, id := range st.Is.Order {
			c := st.Is.Coats[id]
			before := placed.BeganBefore(c.Placed, now)
			if len(before) == 0 || st.Is.Covered(id.Face, now) {
				continue
			}
			last := before[len(before)-1]
			if s.ConsumedBy(c, last, now) >= 1 {
				continue
			}
			coats = append(coats, id.String())
			if t, from := s.MaterialAt(c, last, now); source == "" || t > surface {
				surface, source = t, fmt.Sprintf("%s: %s", id, from)
			}
		}
	}
	return surface, source, coats
}

// Percent is a share of initial set in words, or the range of it.
func Percent(low, high float64) string {
	show := func(x float64) string {
		if x >= setting.Saturated {
			return "over 400 %"
		}
		return fmt.Sprintf("%.0f %%", 100*x)
	}
	if a, b := show(low), show(high); a != b {
		return a + " to " + b
	}
	return show(low)
}

// TurnedCold is when the earlier side of a contact turned cold, if it did in the time that is looked at.
func (s *Joints) TurnedCold(k Contact) (time.Time, bool) { return s.Turns(k.coat, k.From, 1) }
