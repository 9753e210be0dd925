package fold

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/setting"
	"hod/internal/trade/stock"
)

// index files a record under all that it concerns and marks that stale. To add a body, add its line here and, where
// something is computed from it, in touch.
func (s *Site) index(r *Record) {
	switch b := r.Now.(type) {
	case event.SitePlanned, event.ZonePlanned, event.EdgePlanned, event.CoatPlanned, event.MixPlanned, event.CrewPlanned, event.MaterialPlanned:
		s.file(r, &s.slot(slotOf(b)).plans)
	case event.BatchMixed:
		s.file(r, &s.batch(b.Batch).mixed)
	case event.BatchTested:
		s.file(r, &s.batch(b.Batch).tests)
	case event.Placement:
		s.file(r, &s.batch(b.Batch).placements)
		s.file(r, &s.zone(b.Coat.Zone).placements)
	case event.BatchDiscarded:
		s.file(r, &s.batch(b.Batch).discards)
	case event.JointTreated:
		s.file(r, &s.zone(b.Coat.Zone).treated)
	case event.SurfaceTended:
		s.file(r, &s.zone(b.Zone).tended)
	case event.CoatFinished:
		s.file(r, &s.zone(b.Coat.Zone).said)
	case event.ProgressStated:
		s.file(r, &s.zone(b.Coat.Zone).said)
	case event.MethodChanged:
		s.file(r, &s.methods)
	case event.CureReadings:
		s.file(r, &s.zone(b.Coat.Zone).readings)
	case event.WeatherObserved:
		s.file(r, &s.observed)
	case event.WeatherForecast:
		s.file(r, &s.forecasts)
	case event.StockReceived:
		fileIn(s, r, s.stock, b.Material)
	case event.StockCounted:
		fileIn(s, r, s.stock, b.Material)
	case event.StockSpoiled:
		fileIn(s, r, s.stock, b.Material)
	case event.SpecimensBroken:
		fileIn(s, r, s.breaks, b.Mix)
	case event.FlagAnswered:
		fileIn(s, r, s.answers, b.Flag)
		for _, line := range b.Lines {
			if line != b.Flag {
				fileIn(s, r, s.answers, line)
			}
		}
	case event.ShiftStarted, event.ShiftEnded:
		s.file(r, &s.shifts)
	case event.DeviceEnrolled:
		s.file(r, &s.device(b.Device).enrolled)
	case event.DeviceRevoked:
		s.file(r, &s.device(b.Device).revoked)
	}
	s.touch(r)
}

// withdraw takes a record out of all that it is filed under and marks that stale.
func (s *Site) withdraw(r *Record) {
	for _, list := range r.in {
		if i := slices.Index(*list, r); i >= 0 {
			*list = slices.Delete(*list, i, i+1)
		}
	}
	r.in = nil
	s.touch(r)
}

// touch marks all stale that is computed from how a record is read now.
func (s *Site) touch(r *Record) {
	switch b := r.Now.(type) {
	case event.SitePlanned, event.ZonePlanned, event.EdgePlanned, event.CoatPlanned, event.MixPlanned, event.CrewPlanned, event.MaterialPlanned:
		s.plan = nil
	case event.BatchMixed:
		s.staleBatch(b.Batch)
	case event.BatchTested:
		s.staleBatch(b.Batch)
	case event.Placement:
		s.staleBatch(b.Batch)
		s.staleZone(b.Coat.Zone)
	case event.BatchDiscarded:
		s.staleBatch(b.Batch)
	case event.JointTreated:
		s.staleZone(b.Coat.Zone)
		s.staleZone(b.OtherZone)
	case event.SurfaceTended:
		s.staleZone(b.Zone)
	case event.CoatFinished:
		s.staleZone(b.Coat.Zone)
	case event.ProgressStated:
		s.staleZone(b.Coat.Zone)
	case event.CureReadings:
		s.staleZone(b.Coat.Zone)
	case event.WeatherObserved:
		s.staleAir(r, b.Samples)
	case event.WeatherForecast:
		s.staleAir(r, b.Samples)
	case event.StockReceived, event.StockCounted, event.StockSpoiled:
		s.known.ledgers = nil
	case event.SpecimensBroken:
		s.stale.breaks = true
	}
}

func (s *Site) file(r *Record, list *[]*Record) {
	*list = append(*list, r)
	r.in = append(r.in, list)
}

func fileIn[K comparable](s *Site, r *Record, lists map[K]*[]*Record, key K) {
	if lists[key] == nil {
		lists[key] = new([]*Record)
	}
	s.file(r, lists[key])
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

// staleBatch marks a batch for computing. The zones that it went to are marked when it is computed, and those that it went
// to before by the placements that left.
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

// compute brings all that is stale up to date: plan, then batches, then zones, then the joints between them.
func (s *Site) compute() {
	s.settle()
	if s.plan == nil {
		s.plan = s.resolvePlan()
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
	if s.known.ledgers == nil {
		s.judgeStock()
		s.known.ledgers = map[event.Material]stock.Ledger{}
	}
	for _, b := range s.stale.batches {
		s.computeBatch(b)
		for _, r := range b.placements {
			s.staleZone(r.Now.(event.Placement).Coat.Zone)
		}
	}
	if s.stale.breaks || len(s.stale.batches) > 0 {
		s.judgeBreaks()
	}
	s.stale.batches, s.stale.breaks = nil, false
	s.renewAir()
	for _, z := range s.stale.zones {
		s.computeZone(z)
	}
	s.stale.zones = nil
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
