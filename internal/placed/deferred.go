package placed

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/packed"
	"hod/internal/unit"
)

// Invariant: a zone is worked out only after EnsureZones fetched all that concerns it, and the air of an instant is
// told only after EnsureAir. What a crew did next is asked of batches that were not fetched, too: keptWay.

// airBefore is how much more of the weather is fetched than an instant needs, so that the next needs none.
const airBefore = 48 * time.Hour

// EnsureZones fetches all that concerns some zones, with the batches that went there, and brings those up to date.
func (s *Zones) EnsureZones(names ...event.Zone) {
	s.ComputePlan()
	if d := s.Deferred; d != nil {
		var want []packed.Place
		for _, name := range s.withEnded(names) {
			i, filed := d.Zone(name)
			if !filed || d.ZoneIn[i] {
				continue
			}
			d.ZoneIn[i] = true
			want = append(want, d.Zones[i].Events...)
			for _, b := range d.Zones[i].Batches {
				if !d.BatchIn[b] {
					want = s.WantBatch(b, want)
				}
			}
		}
		s.Load(want)
	}
	s.followBatches()
}

// withEnded adds to some zones those on which it hangs whether fronts of theirs were ended: see notTheirs. What ends a
// front is never filed.
func (s *Zones) withEnded(names []event.Zone) []event.Zone {
	all := slices.Clone(names)
	for _, name := range names {
		if s.ByZone[name] == nil {
			continue
		}
		for _, r := range s.ByZone[name].Treated {
			if b, ended := r.Now.(event.FrontEnded); ended {
				all = append(all, b.Coat.Zone, b.OtherZone)
			}
		}
	}
	return all
}

// ComputeOf brings some zones up to date.
func (s *Zones) ComputeOf(names []event.Zone) {
	s.EnsureZones(names...)
	if s.Deferred == nil {
		s.ComputeZones()
		return
	}
	s.renewAir()
	for _, z := range names {
		if st := s.ByZone[z]; st != nil && st.stale {
			s.computeZone(st)
		}
	}
}

// EnsureAir fetches the weather that tells the air from an instant on.
func (s *Zones) EnsureAir(from time.Time) {
	d := s.Deferred
	if d == nil || d.AirIn || !d.AirFrom.IsZero() && !from.Before(d.AirFrom) {
		return
	}
	s.LoadAir(from.Add(-airBefore))
	if s.Deferred != nil && !s.Timeline().Tells(from, airBefore) { // none was read for days
		s.LoadAir(time.Time{})
		d.AirIn = true
	}
	d.AirFrom = from
}

// AirAt is the air at an instant and where that is from.
func (s *Zones) AirAt(at time.Time) (unit.Celsius, string) {
	s.EnsureAir(at)
	return s.Timeline().AirAt(at)
}

func (s *Zones) airAtStart(at time.Time) (unit.Celsius, string) {
	air, source := s.AirAt(at)
	return air, "batch not measured, taken at the air's temperature; " + source
}

// noAir says that nobody has read or forecast any air.
func (s *Zones) noAir() bool {
	return (s.Deferred == nil || !s.Deferred.HasAir) && s.Timeline().None()
}

// FreshZones are those in which something may not have turned cold before an instant, as far as is told without their
// events.
func (s *Zones) FreshZones(since time.Time) []event.Zone {
	d := s.Deferred
	late := s.lateAir()
	var all []event.Zone
	for _, z := range s.Current.ZoneNames() {
		i, filed := d.Zone(z)
		if s.ByZone[z].touched() || filed && d.ZoneIn[i] {
			all = append(all, z)
			continue
		}
		if !filed || !d.Zones[i].Placed {
			continue
		}
		of := d.Zones[i]
		if of.Cold.IsZero() || !of.Cold.Before(since) || !late.IsZero() && !late.After(of.Known) {
			all = append(all, z)
		}
	}
	return all
}

// lateAir is the earliest sample of the weather that was added beside what is filed; zero if there is none.
func (s *Zones) lateAir() time.Time {
	var first time.Time
	for _, r := range slices.Concat(s.Observed, s.Forecasts) {
		if s.Deferred.Holds(r.Name) {
			continue
		}
		for _, w := range samplesOf(r.Now) {
			if at := r.OnSite(w.At); first.IsZero() || at.Before(first) {
				first = at
			}
		}
	}
	return first
}

func samplesOf(b event.Body) []event.Weather {
	switch b := b.(type) {
	case event.WeatherObserved:
		return b.Samples
	case event.WeatherForecast:
		return b.Samples
	default:
		return nil
	}
}

// touched says whether any event of the zone was added.
func (st *ZoneState) touched() bool {
	return st != nil && len(st.Placements)+len(st.Treated)+len(st.Tended)+len(st.Readings)+len(st.Said) > 0
}

// Bare are the planned zones in which something lies that is not covered at an instant, in order.
func (s *Zones) Bare(now time.Time) []event.Zone {
	s.ComputeFetched()
	if s.Deferred != nil && now.Before(s.Deferred.AsOf) {
		s.LoadAll()
	}
	var all []event.Zone
	for _, name := range s.Plan().ZoneNames() {
		if d := s.Deferred; d != nil && !s.ByZone[name].touched() {
			if i, filed := d.Zone(name); !filed || !d.ZoneIn[i] {
				if filed && d.Zones[i].Placed && d.Zones[i].Bare {
					all = append(all, name)
				}
				continue
			}
		}
		z, _ := s.Zone(name)
		if slices.ContainsFunc(z.Coats, func(c CoatIs) bool {
			return len(c.Placed) > 0 &&
				!z.Covered(c.Name().Face, now)
		}) {
			all = append(all, name)
		}
	}
	return all
}

// IsBare says whether something lies in a zone that nothing covers, behind all that was written of it.
func (z *Zone) IsBare() bool {
	open := func(k Cover) bool { return k.To.IsZero() }
	return slices.ContainsFunc(z.Order, func(id event.Coat) bool {
		return len(z.Coats[id].Placed) > 0 && !slices.ContainsFunc(z.covers[id.Face], open)
	})
}

// LastFace is the face that a crew placed on last; false if it placed nothing.
func (s *Zones) LastFace(crew event.Crew) (event.Face, bool) {
	s.ComputeFetched()
	var last step
	take := func(k step) {
		if last.r.Seq == 0 || cmp.Or(k.to.Compare(last.to), compareBatches(k.batch, last.batch),
			compareSteps(k, last)) > 0 {
			last = k
		}
	}
	for _, k := range s.steps()[crew] {
		take(k)
	}
	for _, k := range s.keptWay(crew, time.Time{}) {
		if !s.Deferred.BatchIn[k.number] {
			take(k.step)
		}
	}
	return last.coat.Face, last.r.Seq > 0
}

func compareBatches(a, b event.Batch) int {
	return cmp.Or(cmp.Compare(a.Day, b.Day), cmp.Compare(a.Crew, b.Crew), cmp.Compare(a.Number, b.Number))
}

// way is a step of a filed batch, with the batch's number.
type way struct {
	step
	number int
}

// keptWay is the way of a crew from an instant on by filed batches, of those that are fetched too.
func (s *Zones) keptWay(crew event.Crew, from time.Time) []way {
	d := s.Deferred
	if d == nil {
		return nil
	}
	if s.way.keptOf != d {
		s.way.keptOf, s.way.kept = d, map[event.Crew][]way{}
		for i, b := range d.Batches {
			for _, p := range b.Parts {
				k := step{p.From, p.To, d.Coats[p.Coat], b.ID, d.Name(p.By)}
				s.way.kept[b.ID.Crew] = append(s.way.kept[b.ID.Crew], way{k, i})
			}
		}
		for _, all := range s.way.kept {
			slices.SortFunc(all, func(a, b way) int { return compareSteps(a.step, b.step) })
		}
	}
	all := s.way.kept[crew]
	i, _ := slices.BinarySearchFunc(all, from, func(k way, at time.Time) int { return k.at.Compare(at) })
	return all[i:]
}

// EachStep calls for each part of a batch that was placed after an instant and no later than another, in no order.
func (s *Zones) EachStep(after, until time.Time, each func(event.Crew, event.Coat)) {
	take := func(k step) {
		if k.at.After(after) && !k.at.After(until) {
			each(k.batch.Crew, k.coat)
		}
	}
	for _, own := range s.steps() {
		for _, k := range own {
			take(k)
		}
	}
	s.keptWay("", after)
	for crew := range s.way.kept {
		for _, k := range s.keptWay(crew, after) {
			if !s.Deferred.BatchIn[k.number] {
				take(k.step)
			}
		}
	}
}

// nextStep is a crew's first step from an instant on that fits.
func (s *Zones) nextStep(crew event.Crew, from time.Time, fits func(step) bool) (step, bool) {
	own := s.steps()[crew]
	i, _ := slices.BinarySearchFunc(own, from, func(k step, at time.Time) int { return k.at.Compare(at) })
	own = own[i:]
	next, found := step{}, false
	if i := slices.IndexFunc(own, fits); i >= 0 {
		next, found = own[i], true
	}
	for _, k := range s.keptWay(crew, from) {
		if found && compareSteps(k.step, next) > 0 {
			break
		}
		if !s.Deferred.BatchIn[k.number] && fits(k.step) {
			return k.step, true
		}
	}
	return next, found
}

// recordOf is the record of a step.
func (s *Zones) recordOf(k step) *history.Record {
	if s.Loaded(k.r) == nil {
		s.EnsureBatches(k.batch)
		s.followBatches()
	}
	return s.Loaded(k.r)
}

// Latest is when anything was placed or tended last.
func (z *Zone) Latest() time.Time {
	last := z.to
	for _, c := range z.Coats { // in any order: one is the latest
		for _, p := range c.Placed {
			if p.From.After(last) {
				last = p.From
			}
		}
	}
	for _, t := range z.tended {
		if t.At.After(last) {
			last = t.At
		}
	}
	return last
}
