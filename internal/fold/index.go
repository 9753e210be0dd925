package fold

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/setting"
	"hod/internal/trade/stock"
)

// index files a record under all that it concerns and has that computed anew. What a kind of event concerns is its line
// in kindOf.
func (s *Site) index(r *Record) {
	is := s.kindOf(r.Now)
	for _, list := range is.in {
		if list != nil {
			s.indexIn(r, list)
		}
	}
	for i, flag := range is.answers {
		if !slices.Contains(is.answers[:i], flag) {
			s.indexIn(r, listOf(s.answers, flag))
		}
	}
	s.invalidate(r, is)
}

// unindex takes a record out of all that it is indexed under and marks that stale.
func (s *Site) unindex(r *Record) {
	for _, list := range r.in {
		if i := slices.Index(*list, r); i >= 0 {
			*list = slices.Delete(*list, i, i+1)
		}
	}
	r.in = nil
	s.invalidate(r, s.kindOf(r.Now))
}

// invalidate marks all stale that is computed from how a record is read now.
func (s *Site) invalidate(r *Record, is kind) {
	if is.plan {
		s.plan = nil
	}
	if is.batch != (event.Batch{}) {
		s.staleBatch(is.batch)
	}
	for _, z := range is.zones {
		s.staleZone(z)
	}
	if len(is.air) > 0 {
		s.staleAir(r, is.air)
	}
	if is.ledgers {
		s.known.ledgers = nil
	}
	s.stale.breaks = s.stale.breaks || is.strength
}

func (s *Site) indexIn(r *Record, list *[]*Record) {
	*list = append(*list, r)
	r.in = append(r.in, list)
}

func (s *Site) device(d event.Device) *device {
	if s.devices[d] == nil {
		s.devices[d] = &device{}
	}
	return s.devices[d]
}

func (s *Site) batch(b event.Batch) *batchState {
	if s.batches[b] == nil {
		s.batches[b] = &batchState{id: b}
	}
	return s.batches[b]
}

func (s *Site) zone(z event.Zone) *zoneState {
	if s.zones[z] == nil {
		s.zones[z] = &zoneState{name: z}
	}
	return s.zones[z]
}

// staleBatch marks a batch for computing. The zones that it went to are marked when it is computed, and those that it
// went to before by the placements that left.
func (s *Site) staleBatch(b event.Batch) {
	state := s.batch(b)
	if !state.stale {
		state.stale = true
		s.stale.batches = append(s.stale.batches, state)
	}
}

func (s *Site) staleZone(z event.Zone) {
	if z == "" {
		return
	}
	state := s.zone(z)
	if !state.stale {
		state.stale = true
		s.stale.zones = append(s.stale.zones, state)
	}
}

// compute brings all that is stale up to date: plan, then batches, then zones. What is judged of a zone waits until it
// is asked for, see judged; so do the joints between zones. Whoever asks for less brings less up to date: computePlan,
// computeBatches and computeZones each rest on the one before.
func (s *Site) compute() {
	s.computeBatches()
	if s.known.ledgers == nil {
		s.judgeStock()
		s.known.ledgers = map[event.Material]stock.Ledger{}
	}
	if s.stale.breaks {
		s.judgeBreaks()
		s.stale.breaks = false
	}
	s.renewAir()
	for _, z := range s.stale.zones {
		if z.stale {
			s.computeZone(z)
		}
	}
	s.stale.zones = nil
}

// computePlan reads what is marked and brings the plan up to date. All else hangs on it.
func (s *Site) computePlan() {
	s.settle()
	if s.plan != nil {
		return
	}
	s.plan = s.resolvePlan()
	if s.packed != nil && s.planMark() != s.packed.plan {
		s.unpack()
		s.settle()
		s.plan = s.resolvePlan()
	}
	s.known.ledgers = nil
	for b := range s.batches {
		s.staleBatch(b)
	}
	for z := range s.zones {
		s.staleZone(z)
	}
	for z := range s.plan.Zones {
		s.staleZone(z)
	}
}

// computeBatches brings all batches up to date, and with them what the mixes yield.
func (s *Site) computeBatches() {
	s.computePlan()
	for _, b := range s.stale.batches {
		if b.stale {
			s.computeOne(b)
		}
	}
	s.stale.batches = nil
}

// computeOne brings one batch up to date and marks the zones that it went to.
func (s *Site) computeOne(b *batchState) {
	s.computeBatch(b)
	s.stale.breaks = true
	for _, r := range b.placements {
		s.staleZone(r.Now.(event.Placement).Coat.Zone)
	}
}

// computeTheZone brings one zone up to date, and all batches: they say what its coats hold.
func (s *Site) computeTheZone(name event.Zone) {
	s.computeBatches()
	s.renewAir()
	if st := s.zones[name]; st != nil && st.stale {
		s.computeZone(st)
	}
}

// renewAir brings the weather up to date and marks the zones stale that were fresh or curing in a time of which the air
// was learned anew.
func (s *Site) renewAir() {
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
