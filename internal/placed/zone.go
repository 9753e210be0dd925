package placed

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"hod/internal/air"
	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/mixed"
	"hod/internal/packed"
	"hod/internal/planned"
	"hod/internal/trade/setting"
	"hod/internal/trade/shell"
	"hod/internal/unit"
)

// Zones are all zones of a site: what lies in them, and its temperature through time.
type Zones struct {
	mixed.Mixing
	air.Air
	ByZone     map[event.Zone]*ZoneState
	staleZones []*ZoneState
	zonesBy    *planned.Plan     // the plan by which they were worked out
	zonesOf    *history.Deferred // beside which they were worked out
	way        struct {
		steps  map[event.Crew][]step
		worked int                  // of the batches, when the steps were gathered
		kept   map[event.Crew][]way // by filed batches
		keptOf *history.Deferred
	}
	Broken struct {
		Of     map[event.Mix]*[]*history.Record
		Stale  bool
		worked int // of the batches, when they were judged
	}
}

// NewZones is without zones.
func NewZones(mixing mixed.Mixing) Zones {
	s := Zones{Mixing: mixing, ByZone: map[event.Zone]*ZoneState{}}
	s.Broken.Of = map[event.Mix]*[]*history.Record{}
	return s
}

// ZoneState is all that concerns one zone.
type ZoneState struct {
	name                                  event.Zone
	Placements, Treated, Tended, Readings []*history.Record
	Said                                  []*history.Record // coats finished, and how far they are
	stale                                 bool
	Is                                    *Zone
	warm                                  map[event.Name]*warmth     // kept from one computing to the next
	probes                                map[event.Coat]*probesKept // of the planned coats that have readings
}

// zoneIs is a zone as the record has it.
type Zone struct {
	Coats    map[event.Coat]*CoatIs
	Order    []event.Coat
	tended   []Tended
	covers   map[event.Face][]Cover // when each face lay covered
	from, to time.Time              // of its placements
}

// CoatIs is one coat as the record has it.
type CoatIs struct {
	planned.Coat
	Placed []*Placed // by time
	// of the joint with each other zone, none named for inside and below; by time
	Treated  map[event.Zone][]Treated
	Readings []*history.Record                // cure readings
	Probes   []Probe                          // by name
	known    unit.Volume                      // of weighed batches and stated volumes
	design   map[planned.YieldKey]unit.Volume // of the others, by their design and what their yield is learned from
	mixes    map[planned.YieldKey]*planned.Mix
	Batches  float64
	Volume   unit.Volume
	Last     time.Time
	words    []word // said about it, beside its placements
	Laid     *Laid  // as last worked out, see strips.go

	Progress
}

// Progress is how far a coat is.
type Progress struct {
	State    CoatState
	Finish   Finish  // where it is finished
	Complete *Stated // the last that was said of how much is complete; nil: nobody said
	Again    *Placed // by which it is open again, after it was finished
}

// Placed is one part of a batch in the coat.
type Placed struct {
	mixed.Part
	Batch  *mixed.Batch
	Then   event.CoatPlanned // the coat as it was planned when this was placed
	Volume unit.Volume
	Basis  string // weighed, stated, estimated
	Warm   *warmth
}

// Treated is a treatment of a joint.
type Treated struct {
	Record *history.Record
	At     time.Time
	Other  event.Zone
	Method string
	// Ended says that nothing was made ready: the front was ended on purpose, waits for nobody any more, and is treated
	// before anybody places on.
	Ended bool
}

// treatment of a joint that a record says, and the coat.
func treatment(r *history.Record) (Treated, event.Coat) {
	if b, ended := r.Now.(event.FrontEnded); ended {
		return Treated{r, r.When, b.OtherZone, b.Treatment, true}, b.Coat
	}
	b := r.Now.(event.JointTreated)
	return Treated{r, r.When, b.OtherZone, b.Method, false}, b.Coat
}

// Ready reports whether one of some treatments made the joint ready for material: an end on purpose does not.
func Ready(all []Treated) bool { return LastReady(all) >= 0 }

// LastReady is the last treatment that made a joint ready; −1 where none did.
func LastReady(all []Treated) int {
	for i := len(all) - 1; i >= 0; i-- {
		if !all[i].Ended {
			return i
		}
	}
	return -1
}

// Tended is a covering, uncovering or wetting.
type Tended struct {
	Record *history.Record
	At     time.Time
	Face   event.Face
	What   event.Tending
	With   string
}

// ZoneOf is the state of a zone of that name, made when it is first asked for.
func (s *Zones) ZoneOf(z event.Zone) *ZoneState {
	if s.ByZone[z] == nil {
		s.ByZone[z] = &ZoneState{name: z}
	}
	return s.ByZone[z]
}

// StaleZone marks a zone to be worked out again when it is asked about.
func (s *Zones) StaleZone(z event.Zone) {
	if z == "" {
		return
	}
	state := s.ZoneOf(z)
	if !state.stale {
		state.stale = true
		s.staleZones = append(s.staleZones, state)
	}
	s.staleEnded(z) // also where z is stale already: its neighbours may have been worked out since
}

// followBatches brings all batches up to date and marks the zones stale in which something lies otherwise by that.
func (s *Zones) followBatches() {
	s.ComputeFetched()
	if s.zonesBy != s.Current || s.zonesOf != s.Deferred { // some were worked out without all around them
		s.zonesBy, s.zonesOf = s.Current, s.Deferred
		for z := range s.ByZone {
			s.StaleZone(z)
		}
		for z := range s.Current.Zones {
			s.StaleZone(z)
		}
	}
	for _, z := range s.TakeTouched() {
		s.StaleZone(z)
	}
}

// ComputeZones brings all zones up to date, and what their batches broke at.
func (s *Zones) ComputeZones() {
	s.LoadAll()
	s.followBatches()
	if s.Broken.Stale || s.Broken.worked != s.Worked {
		s.judgeBreaks()
		s.Broken.Stale, s.Broken.worked = false, s.Worked
	}
	s.renewAir()
	for _, z := range s.staleZones {
		if z.stale {
			s.computeZone(z)
		}
	}
	s.staleZones = nil
}

// ComputeTheZone brings one zone up to date, and all batches: they say what its coats hold.
func (s *Zones) ComputeTheZone(name event.Zone) {
	s.EnsureZones(name)
	s.renewAir()
	if st := s.ByZone[name]; st != nil && st.stale {
		s.computeZone(st)
	}
}

// renewAir brings the weather up to date and marks the zones stale that were fresh or curing in a time of which the air
// was learned anew.
func (s *Zones) renewAir() {
	known := len(s.AirChanges)
	s.Timeline()
	changes := s.AirChanges[known:]
	if len(changes) == 0 {
		return
	}
	for name, z := range s.ByZone { // outside: where all are stale, as in a first fold, no change is looked at
		if z.stale || z.Is == nil || z.Is.from.IsZero() {
			continue
		}
		from, to := z.Is.from.Add(-2*time.Hour), z.Is.to.Add(setting.Longest)
		if slices.ContainsFunc(changes, func(change air.Span) bool { return change.Meets(from, to) }) {
			s.StaleZone(name)
		}
	}
}

func (s *Zones) computeZone(st *ZoneState) {
	st.stale = false
	z := &Zone{Coats: map[event.Coat]*CoatIs{}}
	st.Is = z
	plan := s.Current.Zones[st.name]
	if plan == nil {
		for _, list := range [][]*history.Record{st.Treated, st.Tended, st.Readings, st.Said} {
			for _, r := range list {
				r.Lacks(&history.Aside{Code: history.UnknownZone, Why: fmt.Sprintf("no zone %s is planned", st.name)})
			}
		}
		return
	}
	for _, c := range plan.Coats {
		z.Coats[c.Name()] = &CoatIs{
			Coat: c, design: map[planned.YieldKey]unit.Volume{},
			mixes:   map[planned.YieldKey]*planned.Mix{},
			Treated: map[event.Zone][]Treated{},
		}
		z.Order = append(z.Order, c.Name())
	}
	s.place(st, z)
	s.fileOthers(st, z)
	z.coverFaces()
	for _, id := range z.Order {
		c := z.Coats[id]
		s.warmCoat(st, c)
	}
	s.Cost.Zones++
}

func (s *Zones) place(st *ZoneState, z *Zone) {
	for _, r := range st.Placements {
		p, ok := r.Now.(event.Placement)
		if !ok || r.State == history.SetAside {
			continue
		}
		b := s.ByBatch[p.Batch]
		if b == nil || b.Is == nil || b.Is.Mixed == nil {
			continue
		}
		i := slices.IndexFunc(b.Is.Parts, func(part mixed.Part) bool { return part.Record == r })
		if i < 0 {
			continue
		}
		part := b.Is.Parts[i]
		c := z.Coats[part.Coat]
		if c == nil {
			continue
		}
		c.Placed = append(c.Placed, &Placed{Part: part, Batch: b.Is, Then: s.Current.CoatAt(c.Coat, part.From)})
	}
	for _, id := range z.Order {
		c := z.Coats[id]
		slices.SortFunc(c.Placed, func(a, b *Placed) int {
			if d := a.From.Compare(b.From); d != 0 {
				return d
			}
			return event.CompareNames(a.Record.Name, b.Record.Name)
		})
		for _, p := range c.Placed {
			switch {
			case p.Stated > 0:
				p.Basis, p.Volume = "stated", p.Stated
				c.known += p.Stated
			case p.Batch.Yield > 0:
				p.Basis, p.Volume = "weighed", p.Batch.Volume(p.Share, 1)
				c.known += p.Volume
			default:
				p.Basis = "estimated"
				c.mixes[p.Batch.Mix.Yields] = p.Batch.Mix
				c.design[p.Batch.Mix.Yields] += p.Batch.Design * unit.Volume(p.Share)
			}
			c.Batches += float64(p.Share)
			if p.To.After(c.Last) {
				c.Last = p.To
			}
			if z.from.IsZero() || p.From.Before(z.from) {
				z.from = p.From
			}
			if p.To.After(z.to) {
				z.to = p.To
			}
		}
	}
}

func (s *Zones) fileOthers(st *ZoneState, z *Zone) {
	for _, r := range st.Treated {
		t, coat := treatment(r)
		if t.Other == st.name && coat.Zone != st.name {
			continue
		}
		if no := s.notTheirs(r); no != nil {
			r.Lacks(no)
			continue
		}
		if c := s.coatOf(z, r, coat); c != nil {
			c.Treated[t.Other] = append(c.Treated[t.Other], t)
		}
	}
	for _, r := range st.Readings {
		b := r.Now.(event.CureReadings)
		if c := s.coatOf(z, r, b.Coat); c != nil {
			c.Readings = append(c.Readings, r)
		}
	}
	for _, r := range st.Tended {
		b := r.Now.(event.SurfaceTended)
		r.Stands()
		z.tended = append(z.tended, Tended{r, r.When, b.Face, b.Tending, b.With})
	}
	for _, r := range st.Said {
		if b, closed := r.Now.(event.CoatFinished); closed {
			if c := s.coatOf(z, r, b.Coat); c != nil {
				c.words = append(c.words, word{r: r, at: r.When, closed: true})
			}
			continue
		}
		b := r.Now.(event.ProgressStated)
		if c := s.coatOf(z, r, b.Coat); c != nil {
			c.words = append(c.words, word{r: r, at: r.When, share: b.Complete.SI})
		}
	}
	slices.SortFunc(z.tended, func(a, b Tended) int { return history.ByTime(a.Record, b.Record) })
	for _, c := range z.Coats {
		for _, of := range c.Treated {
			slices.SortFunc(of, func(a, b Treated) int { return history.ByTime(a.Record, b.Record) })
		}
		slices.SortFunc(c.Readings, history.ByTime)
		c.Probes = s.probesIn(st, c)
	}
}

// Probe is one thermometer in a coat with what it read, by time. Two probes are two histories.
type Probe struct {
	Name    string
	Samples []setting.Sample
	Records []*history.Record // but those that are packed
}

// probesKept are the probes of a coat as they were made of some readings, each as it was read then.
type probesKept struct {
	readings []*history.Record
	rounds   []int
	packed   *packed.Readings
	probes   []Probe
}

func (k *probesKept) of(readings []*history.Record) bool {
	return k != nil && slices.Equal(k.readings, readings) &&
		slices.EqualFunc(k.rounds, readings, func(round int, r *history.Record) bool { return round == r.Round })
}

// probesIn a coat. Its samples are put in order anew only where a reading came, went or was read anew: a batch placed
// in the zone changes none.
func (s *Zones) probesIn(st *ZoneState, c *CoatIs) []Probe {
	if kept := st.probes[c.Name()]; kept.of(c.Readings) && kept.packed == s.Packed {
		return kept.probes
	}
	packed := s.packedIn(c.Name())
	if len(c.Readings)+len(packed) == 0 {
		delete(st.probes, c.Name())
		return nil
	}
	kept := &probesKept{readings: c.Readings, packed: s.Packed, probes: s.probesOf(c.Readings, packed)}
	for _, r := range c.Readings {
		kept.rounds = append(kept.rounds, r.Round)
		s.Cost.Samples += len(r.Now.(event.CureReadings).Samples)
	}
	if st.probes == nil {
		st.probes = map[event.Coat]*probesKept{}
	}
	st.probes[c.Name()] = kept
	return kept.probes
}

func (s *Zones) probesOf(readings []*history.Record, held map[string][]packed.Sample) []Probe {
	byName := map[string]*Probe{}
	for name := range held {
		byName[name] = &Probe{Name: name}
	}
	for _, r := range readings {
		b := r.Now.(event.CureReadings)
		if byName[b.Probe] == nil {
			byName[b.Probe] = &Probe{Name: b.Probe}
		}
		p := byName[b.Probe]
		p.Records = append(p.Records, r)
		for _, k := range b.Samples {
			p.Samples = append(p.Samples, setting.Sample{At: r.OnSite(k.At), Temp: k.Temperature})
		}
	}
	var all []Probe
	for _, name := range slices.Sorted(maps.Keys(byName)) {
		p := *byName[name]
		if of := held[name]; len(of) > 0 {
			p.merge(of, s.Packed.Devices)
			all = append(all, p)
			continue
		}
		slices.SortStableFunc(p.Samples, func(a, b setting.Sample) int { return a.At.Compare(b.At) })
		p.Samples = slices.CompactFunc(p.Samples, func(a, b setting.Sample) bool { return a.At.Equal(b.At) })
		all = append(all, p)
	}
	return all
}

// Since are the samples from an instant on.
func (p Probe) Since(from time.Time) []setting.Sample {
	i, _ := slices.BinarySearchFunc(p.Samples, from, func(k setting.Sample, at time.Time) int {
		return k.At.Compare(at)
	})
	return p.Samples[i:]
}

func (s *Zones) coatOf(z *Zone, r *history.Record, ref event.Coat) *CoatIs {
	planned, aside := s.Current.Coat(ref)
	if aside != nil {
		r.Lacks(aside)
		return nil
	}
	r.Stands()
	return z.Coats[planned.Name()]
}

// ZoneIs is a zone with its coats as the record has it.
type ZoneIs struct {
	*planned.Zone
	Coats  []CoatIs // as planned, in order
	Tended []Tended
	covers map[event.Face][]Cover
}

// Zone by its name, if it is planned. What its coats hold is by what the mixes are known to yield now.
func (s *Zones) Zone(name event.Zone) (ZoneIs, bool) {
	s.ComputeTheZone(name)
	planned := s.Current.Zones[name]
	if planned == nil {
		return ZoneIs{}, false
	}
	out := ZoneIs{Zone: planned}
	st := s.ByZone[name]
	if st == nil || st.Is == nil {
		return out, true
	}
	out.Tended, out.covers = st.Is.tended, st.Is.covers
	for _, id := range st.Is.Order {
		out.Coats = append(out.Coats, s.Measured(st.Is.Coats[id]))
	}
	return out, true
}

// Measured is a coat with its volumes, by what the mixes yield as far as is known now.
func (s *Zones) Measured(c *CoatIs) CoatIs {
	out := s.Filled(c)
	if k := out.Finish.by; out.Done() && k.r.Seq > 0 {
		out.Finish.Record = s.recordOf(k)
	}
	return out
}

// Filled is Measured without the record by which the coat's crew went on.
func (s *Zones) Filled(c *CoatIs) CoatIs {
	out := *c
	out.Volume = c.known
	for _, k := range slices.SortedFunc(maps.Keys(c.design), planned.YieldKey.Compare) {
		out.Volume += c.design[k] * unit.Volume(s.YieldFor(c.mixes[k]).Ratio)
	}
	for _, p := range out.Placed {
		if p.Basis == "estimated" {
			p.Volume = p.Batch.Volume(p.Share, s.YieldFor(p.Batch.Mix).Ratio)
		}
	}
	var covers []Cover
	if st := s.ByZone[c.Name().Zone]; st != nil && st.Is != nil {
		covers = st.Is.covers[c.Name().Face]
	}
	s.finish(&out, covers)
	return out
}

// MeanThickness that the volume placed makes over the zone's area, loss allowed for; 0 where there is none.
func (c CoatIs) MeanThickness(z *planned.Zone, loss unit.Share) unit.Length {
	t, err := shell.MeanThickness(c.Volume/unit.Volume(1+loss), z.Area.SI)
	if err != nil {
		return 0
	}
	return t
}

// BeganBefore are the placements that began before an instant.
func BeganBefore(all []*Placed, at time.Time) []*Placed {
	n := 0
	for n < len(all) && all[n].From.Before(at) {
		n++
	}
	return all[:n]
}
