package fold

import (
	"fmt"
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/setting"
	"hod/internal/trade/shell"
	"hod/internal/unit"
)

// Zones are all zones of a site: what lies in them, and its temperature through time.
type Zones struct {
	Mixing
	Air
	zones      map[event.Zone]*zoneState
	staleZones []*zoneState
	zonesBy    *Plan // the plan by which they were worked out
	way        struct {
		steps  map[event.Crew][]step
		worked int // of the batches, when the steps were gathered
	}
	breaks struct {
		of     map[event.Mix]*[]*Record
		stale  bool
		worked int // of the batches, when they were judged
	}
}

// NewZones is without zones.
func NewZones(mixing Mixing) Zones {
	s := Zones{Mixing: mixing, zones: map[event.Zone]*zoneState{}}
	s.breaks.of = map[event.Mix]*[]*Record{}
	return s
}

// zoneState is all that concerns one zone.
type zoneState struct {
	name                                  event.Zone
	placements, treated, tended, readings []*Record
	said                                  []*Record // coats finished, and how far they are
	stale                                 bool
	is                                    *zoneIs
	warm                                  map[event.Name]*warmth     // kept from one computing to the next
	probes                                map[event.Coat]*probesKept // of the planned coats that have readings
}

// zoneIs is a zone as the record has it.
type zoneIs struct {
	coats    map[event.Coat]*CoatIs
	order    []event.Coat
	tended   []Tended
	covers   map[event.Face][]Cover // when each face lay covered
	from, to time.Time              // of its placements
}

// CoatIs is one coat as the record has it.
type CoatIs struct {
	Coat
	Placed   []*Placed                // by time
	treated  map[event.Zone][]Treated // of the joint with each other zone, none named for inside and below; by time
	Readings []*Record                // cure readings
	Probes   []Probe                  // by name
	known    unit.Volume              // of weighed batches and stated volumes
	design   map[yieldKey]unit.Volume // of the others, by their design and what their yield is learned from
	mixes    map[yieldKey]*Mix
	Batches  float64
	Volume   unit.Volume
	Last     time.Time
	words    []word // said about it, beside its placements
	laid     *Laid  // as last worked out, see strips.go

	State    CoatState
	Finish   Finish  // where it is finished
	Complete *Stated // the last that was said of how much is complete; nil: nobody said
	Again    *Placed // by which it is open again, after it was finished
}

// Placed is one part of a batch in the coat.
type Placed struct {
	Part
	Batch  *Batch
	Then   event.CoatPlanned // the coat as it was planned when this was placed
	Volume unit.Volume
	Basis  string // weighed, stated, estimated
	warm   *warmth
}

// Treated is a treatment of a joint.
type Treated struct {
	Record *Record
	At     time.Time
	Other  event.Zone
	Method string
	// Ended says that nothing was made ready: the front was ended on purpose, waits for nobody any more, and is treated
	// before anybody places on.
	Ended bool
}

// treatment of a joint that a record says, and the coat.
func treatment(r *Record) (Treated, event.Coat) {
	if b, ended := r.Now.(event.FrontEnded); ended {
		return Treated{r, r.When, b.OtherZone, b.Treatment, true}, b.Coat
	}
	b := r.Now.(event.JointTreated)
	return Treated{r, r.When, b.OtherZone, b.Method, false}, b.Coat
}

// Ready reports whether one of some treatments made the joint ready for material: an end on purpose does not.
func Ready(all []Treated) bool { return lastReady(all) >= 0 }

// lastReady is the last treatment that made a joint ready; −1 where none did.
func lastReady(all []Treated) int {
	for i := len(all) - 1; i >= 0; i-- {
		if !all[i].Ended {
			return i
		}
	}
	return -1
}

// Tended is a covering, uncovering or wetting.
type Tended struct {
	Record *Record
	At     time.Time
	Face   event.Face
	What   event.Tending
	With   string
}

func (s *Zones) zone(z event.Zone) *zoneState {
	if s.zones[z] == nil {
		s.zones[z] = &zoneState{name: z}
	}
	return s.zones[z]
}

func (s *Zones) staleZone(z event.Zone) {
	if z == "" {
		return
	}
	state := s.zone(z)
	if !state.stale {
		state.stale = true
		s.staleZones = append(s.staleZones, state)
	}
}

// followBatches brings all batches up to date and marks the zones stale in which something lies otherwise by that.
func (s *Zones) followBatches() {
	s.computeBatches()
	if s.zonesBy != s.plan {
		s.zonesBy = s.plan
		for z := range s.zones {
			s.staleZone(z)
		}
		for z := range s.plan.Zones {
			s.staleZone(z)
		}
	}
	for _, z := range s.takeTouched() {
		s.staleZone(z)
	}
}

// computeZones brings all zones up to date, and what their batches broke at.
func (s *Zones) computeZones() {
	s.followBatches()
	if s.breaks.stale || s.breaks.worked != s.worked {
		s.judgeBreaks()
		s.breaks.stale, s.breaks.worked = false, s.worked
	}
	s.renewAir()
	for _, z := range s.staleZones {
		if z.stale {
			s.computeZone(z)
		}
	}
	s.staleZones = nil
}

// computeTheZone brings one zone up to date, and all batches: they say what its coats hold.
func (s *Zones) computeTheZone(name event.Zone) {
	s.followBatches()
	s.renewAir()
	if st := s.zones[name]; st != nil && st.stale {
		s.computeZone(st)
	}
}

// renewAir brings the weather up to date and marks the zones stale that were fresh or curing in a time of which the air
// was learned anew.
func (s *Zones) renewAir() {
	known := len(s.airChanges)
	s.weather()
	changes := s.airChanges[known:]
	if len(changes) == 0 {
		return
	}
	for name, z := range s.zones { // outside: where all are stale, as in a first fold, no change is looked at
		if z.stale || z.is == nil || z.is.from.IsZero() {
			continue
		}
		from, to := z.is.from.Add(-2*time.Hour), z.is.to.Add(setting.Longest)
		if slices.ContainsFunc(changes, func(change span) bool { return change.meets(from, to) }) {
			s.staleZone(name)
		}
	}
}

func (s *Zones) computeZone(st *zoneState) {
	st.stale = false
	z := &zoneIs{coats: map[event.Coat]*CoatIs{}}
	st.is = z
	plan := s.plan.Zones[st.name]
	if plan == nil {
		for _, list := range [][]*Record{st.treated, st.tended, st.readings, st.said} {
			for _, r := range list {
				r.lacks(&Aside{UnknownZone, fmt.Sprintf("no zone %s is planned", st.name)})
			}
		}
		return
	}
	for _, c := range plan.Coats {
		z.coats[c.name()] = &CoatIs{Coat: c, design: map[yieldKey]unit.Volume{}, mixes: map[yieldKey]*Mix{},
			treated: map[event.Zone][]Treated{}}
		z.order = append(z.order, c.name())
	}
	s.place(st, z)
	s.fileOthers(st, z)
	z.coverFaces()
	for _, id := range z.order {
		c := z.coats[id]
		s.warmCoat(st, c)
	}
	s.Cost.Zones++
}

// name of the coat that the plan is of.
func (c Coat) name() event.Coat { return c.CoatPlanned.Coat }

func (s *Zones) place(st *zoneState, z *zoneIs) {
	for _, r := range st.placements {
		p, ok := r.Now.(event.Placement)
		if !ok || r.State == SetAside {
			continue
		}
		b := s.batches[p.Batch]
		if b == nil || b.is == nil || b.is.Mixed == nil {
			continue
		}
		i := slices.IndexFunc(b.is.Parts, func(part Part) bool { return part.Record == r })
		if i < 0 {
			continue
		}
		part := b.is.Parts[i]
		c := z.coats[part.Coat]
		if c == nil {
			continue
		}
		c.Placed = append(c.Placed, &Placed{Part: part, Batch: b.is, Then: s.plan.CoatAt(c.Coat, part.From)})
	}
	for _, id := range z.order {
		c := z.coats[id]
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

func (s *Zones) fileOthers(st *zoneState, z *zoneIs) {
	for _, r := range st.treated {
		t, coat := treatment(r)
		if t.Other == st.name && coat.Zone != st.name {
			continue
		}
		if c := s.coatOf(z, r, coat); c != nil {
			c.treated[t.Other] = append(c.treated[t.Other], t)
		}
	}
	for _, r := range st.readings {
		b := r.Now.(event.CureReadings)
		if c := s.coatOf(z, r, b.Coat); c != nil {
			c.Readings = append(c.Readings, r)
		}
	}
	for _, r := range st.tended {
		b := r.Now.(event.SurfaceTended)
		r.stands()
		z.tended = append(z.tended, Tended{r, r.When, b.Face, b.Tending, b.With})
	}
	for _, r := range st.said {
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
	slices.SortFunc(z.tended, func(a, b Tended) int { return ByTime(a.Record, b.Record) })
	for _, c := range z.coats {
		for _, of := range c.treated {
			slices.SortFunc(of, func(a, b Treated) int { return ByTime(a.Record, b.Record) })
		}
		slices.SortFunc(c.Readings, ByTime)
		c.Probes = s.probesIn(st, c)
	}
}

// Probe is one thermometer in a coat with what it read, by time. Two probes are two histories.
type Probe struct {
	Name    string
	Samples []setting.Sample
	Records []*Record // but those that are packed
}

// probesKept are the probes of a coat as they were made of some readings, each as it was read then.
type probesKept struct {
	readings []*Record
	rounds   []int
	packed   *Packed
	probes   []Probe
}

func (k *probesKept) of(readings []*Record) bool {
	return k != nil && slices.Equal(k.readings, readings) &&
		slices.EqualFunc(k.rounds, readings, func(round int, r *Record) bool { return round == r.round })
}

// probesIn a coat. Its samples are put in order anew only where a reading came, went or was read anew: a batch placed
// in the zone changes none.
func (s *Zones) probesIn(st *zoneState, c *CoatIs) []Probe {
	if kept := st.probes[c.name()]; kept.of(c.Readings) && kept.packed == s.packed {
		return kept.probes
	}
	packed := s.packedIn(c.name())
	if len(c.Readings)+len(packed) == 0 {
		delete(st.probes, c.name())
		return nil
	}
	kept := &probesKept{readings: c.Readings, packed: s.packed, probes: s.probesOf(c.Readings, packed)}
	for _, r := range c.Readings {
		kept.rounds = append(kept.rounds, r.round)
		s.Cost.Samples += len(r.Now.(event.CureReadings).Samples)
	}
	if st.probes == nil {
		st.probes = map[event.Coat]*probesKept{}
	}
	st.probes[c.name()] = kept
	return kept.probes
}

func (s *Zones) probesOf(readings []*Record, held map[string][]sample) []Probe {
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
			p.merge(of, s.packed.devices)
			all = append(all, p)
			continue
		}
		slices.SortStableFunc(p.Samples, func(a, b setting.Sample) int { return a.At.Compare(b.At) })
		p.Samples = slices.CompactFunc(p.Samples, func(a, b setting.Sample) bool { return a.At.Equal(b.At) })
		all = append(all, p)
	}
	return all
}

// since are the samples from an instant on.
func (p Probe) since(from time.Time) []setting.Sample {
	i, _ := slices.BinarySearchFunc(p.Samples, from, func(k setting.Sample, at time.Time) int {
		return k.At.Compare(at)
	})
	return p.Samples[i:]
}

func (s *Zones) coatOf(z *zoneIs, r *Record, ref event.Coat) *CoatIs {
	planned, aside := s.plan.Coat(ref)
	if aside != nil {
		r.lacks(aside)
		return nil
	}
	r.stands()
	return z.coats[planned.name()]
}

// ZoneIs is a zone with its coats as the record has it.
type ZoneIs struct {
	*Zone
	Coats  []CoatIs // as planned, in order
	Tended []Tended
	covers map[event.Face][]Cover
}

// Zone by its name, if it is planned. What its coats hold is by what the mixes are known to yield now.
func (s *Zones) Zone(name event.Zone) (ZoneIs, bool) {
	s.computeTheZone(name)
	planned := s.plan.Zones[name]
	if planned == nil {
		return ZoneIs{}, false
	}
	out := ZoneIs{Zone: planned}
	st := s.zones[name]
	if st == nil || st.is == nil {
		return out, true
	}
	out.Tended, out.covers = st.is.tended, st.is.covers
	for _, id := range st.is.order {
		out.Coats = append(out.Coats, s.measured(st.is.coats[id]))
	}
	return out, true
}

// measured is a coat with its volumes, by what the mixes yield as far as is known now.
func (s *Zones) measured(c *CoatIs) CoatIs {
	out := *c
	out.Volume = c.known
	for _, k := range slices.SortedFunc(maps.Keys(c.design), yieldKey.compare) {
		out.Volume += c.design[k] * unit.Volume(s.yield(c.mixes[k]).Ratio)
	}
	for _, p := range out.Placed {
		if p.Basis == "estimated" {
			p.Volume = p.Batch.Volume(p.Share, s.yield(p.Batch.Mix).Ratio)
		}
	}
	var covers []Cover
	if st := s.zones[c.name().Zone]; st != nil && st.is != nil {
		covers = st.is.covers[c.name().Face]
	}
	s.finish(&out, covers)
	return out
}

// MeanThickness that the volume placed makes over the zone's area, loss allowed for; 0 where there is none.
func (c CoatIs) MeanThickness(z *Zone, loss unit.Share) unit.Length {
	t, err := shell.MeanThickness(c.Volume/unit.Volume(1+loss), z.Area.SI)
	if err != nil {
		return 0
	}
	return t
}

// until are the placements that began before an instant.
func until(all []*Placed, at time.Time) []*Placed {
	n := 0
	for n < len(all) && all[n].From.Before(at) {
		n++
	}
	return all[:n]
}
