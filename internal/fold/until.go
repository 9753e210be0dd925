package fold

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
)

// Until is the site as it stood at an instant, by what is known of the time until then. It is a site of its own.
//
// In it is what had happened by that instant, whenever it was written down: who reads of a day wants what was forgotten
// that evening. A correction, a settlement, and a revision of a mix that corrects another belong to what they correct,
// and are in it however late they were made. A plan that was written later is not, since it held from then on; only
// where something was placed by it before (its author's clock was fast, or the plan was written up late) its first form
// is.
func (s *Site) Until(at time.Time) *Site {
	s.LoadAll()
	s.Unpack()
	s.Settle()
	past := New(s.ID, s.Root())
	past.AsOf = at
	past.Lose(s.Lost())
	late := s.latePlans(at)
	for _, r := range s.Arrived() {
		if e, some := s.until1(r, at, late); some {
			past.Add(e)
		}
	}
	return past
}

// Without is the site as it would be if an event had not been written.
func (s *Site) Without(name event.Name) *Site {
	s.LoadAll()
	s.Unpack()
	other := New(s.ID, s.Root())
	other.AsOf = s.AsOf
	other.Lose(s.Lost())
	for _, r := range s.Arrived() {
		if r.Name != name {
			other.Add(r.Event)
		}
	}
	return other
}

// until1 is what an event says of the time until an instant; false if nothing.
func (s *Site) until1(r *history.Record, at time.Time, late map[*history.Record]bool) (event.Event, bool) {
	e := r.Event
	later := func(t time.Time) bool { return e.OnSite(t).After(at) }
	if history.IsDevice(e.Body) {
		return e, true
	}
	if b, settles := e.Body.(event.Settled); settles {
		of := s.Named(b.Holds)
		if of == nil {
			return e, !e.At().After(at)
		}
		first, known := s.FirstWriting(of)
		return e, known && s.happened(first, at, late)
	}
	if _, fixes := event.TargetOf(e.Body); fixes {
		first, known := s.FirstWriting(r)
		if !known {
			return e, !e.At().After(at)
		}
		if a, amends := e.Body.(event.Amended); amends { // of a run, with as much of it
			var some bool
			if a.Body, some = event.Until(a.Body, later); some {
				e.Body = a
			}
		}
		return e, s.happened(first, at, late)
	}
	var some bool
	if e.Body, some = event.Until(e.Body, later); !some {
		return e, false
	}
	return e, s.happened(r, at, late)
}

// happened says whether a first writing is of the time until an instant.
func (s *Site) happened(r *history.Record, at time.Time, late map[*history.Record]bool) bool {
	if event.Dated(r.Body) {
		_, some := event.Until(r.Body, func(t time.Time) bool { return r.Event.OnSite(t).After(at) })
		return some
	}
	if now, mix := r.Now.(event.MixPlanned); mix && now.Corrects > 0 {
		return true
	}
	return !r.When.After(at) || late[r]
}

// latePlans are the first plans of things that were planned only after an instant and worked on before it.
func (s *Site) latePlans(at time.Time) map[*history.Record]bool {
	zones, mixes := map[event.Zone]bool{}, map[event.Mix]bool{}
	for _, r := range s.Arrived() {
		if r.When.After(at) {
			continue
		}
		if b, placed := r.Now.(event.Placement); placed {
			zones[b.Coat.Zone] = true
		}
		if b, mixed := r.Now.(event.BatchMixed); mixed {
			mixes[b.Mix] = true
		}
	}
	worked := func(r *history.Record) bool {
		p, _ := r.Now.(event.Plan)
		switch b := p.(type) {
		case event.SitePlanned:
			return true
		case event.ZonePlanned, event.CoatPlanned, event.EdgePlanned:
			return !slices.ContainsFunc(event.ZonesOf(b), func(z event.Zone) bool { return !zones[z] })
		case event.MixPlanned:
			return mixes[b.Mix]
		case event.MaterialPlanned: // what it weighs was so before anybody wrote it down
			return true
		case event.CrewPlanned:
		}
		return false
	}
	late := map[*history.Record]bool{}
	for _, sl := range s.Slots {
		if len(sl.Plans) == 0 ||
			slices.ContainsFunc(sl.Plans, func(r *history.Record) bool { return !r.When.After(at) }) {
			continue
		}
		for _, r := range s.LineageOf(sl.Plans).Roots(sl.Plans) {
			late[r] = worked(r)
		}
	}
	return late
}
