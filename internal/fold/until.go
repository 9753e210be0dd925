package fold

import (
	"slices"
	"time"

	"hod/internal/event"
)

// Until is the site as it stood at an instant, by what is known of the time until then. It is a site of its own.
//
// In it is what had happened by that instant, whenever it was written down: who reads of a day wants what was forgotten that
// evening. A correction, a settlement, and a revision of a mix that corrects another belong to what they correct, and are in
// it however late they were made. A plan that was written later is not, since it held from then on; only where something was
// placed by it before (its author's clock was fast, or the plan was written up late) its first form is.
func (s *Site) Until(at time.Time) *Site {
	s.settle()
	past := New(s.ID, s.root)
	past.until = at
	late := s.latePlans(at)
	for _, r := range s.arrival {
		if e, some := s.until1(r, at, late); some {
			past.Add(e)
		}
	}
	return past
}

// Without is the site as it would be if an event had not been written.
func (s *Site) Without(name event.Name) *Site {
	other := New(s.ID, s.root)
	other.until = s.until
	for _, r := range s.arrival {
		if r.Name != name {
			other.Add(r.Event)
		}
	}
	return other
}

// until1 is what an event says of the time until an instant; false if nothing.
func (s *Site) until1(r *Record, at time.Time, late map[*Record]bool) (event.Event, bool) {
	e := r.Event
	switch b := e.Body.(type) {
	case event.DeviceEnrolled, event.DeviceRevoked:
		return e, true
	case event.Settled:
		of := s.named(b.Holds)
		if of == nil {
			return e, !e.At().After(at)
		}
		first, known := s.FirstWriting(of)
		return e, known && s.happened(first, at, late)
	case event.Amended, event.Voided:
		first, known := s.FirstWriting(r)
		if !known {
			return e, !e.At().After(at)
		}
		if a, amends := b.(event.Amended); amends { // of a run, with as much of it
			var some bool
			if a.Body, some = trimmed(a.Body, e, at); some {
				e.Body = a
			}
		}
		return e, s.happened(first, at, late)
	}
	var some bool
	if e.Body, some = trimmed(e.Body, e, at); !some {
		return e, false
	}
	return e, s.happened(r, at, late)
}

// happened says whether a first writing is of the time until an instant.
func (s *Site) happened(r *Record, at time.Time, late map[*Record]bool) bool {
	switch b := r.Body.(type) {
	case event.WeatherObserved, event.CureReadings:
		_, some := trimmed(b, r.Event, at)
		return some
	case event.WeatherForecast:
		return !r.Event.OnSite(b.IssuedAt).After(at)
	case event.MixPlanned:
		if now, is := r.Now.(event.MixPlanned); is && now.Corrects > 0 {
			return true
		}
	}
	return !r.When.After(at) || late[r]
}

// trimmed is a run of readings as far as an instant, any other body as it is; false if nothing is left.
func trimmed(b event.Body, e event.Event, at time.Time) (event.Body, bool) {
	switch b := b.(type) {
	case event.WeatherObserved:
		b.Samples = slices.DeleteFunc(slices.Clone(b.Samples), func(k event.Weather) bool { return e.OnSite(k.At).After(at) })
		return b, len(b.Samples) > 0
	case event.CureReadings:
		b.Samples = slices.DeleteFunc(slices.Clone(b.Samples), func(k event.Reading) bool { return e.OnSite(k.At).After(at) })
		return b, len(b.Samples) > 0
	}
	return b, true
}

// latePlans are the first plans of things that were planned only after an instant and worked on before it.
func (s *Site) latePlans(at time.Time) map[*Record]bool {
	zones, mixes := map[event.Zone]bool{}, map[event.Mix]bool{}
	for _, r := range s.arrival {
		if r.When.After(at) {
			continue
		}
		switch b := r.Now.(type) {
		case event.Placement:
			zones[b.Coat.Zone] = true
		case event.BatchMixed:
			mixes[b.Mix] = true
		}
	}
	worked := func(r *Record) bool {
		switch b := r.Now.(type) {
		case event.SitePlanned:
			return true
		case event.ZonePlanned:
			return zones[b.Zone]
		case event.CoatPlanned:
			return zones[b.Coat.Zone]
		case event.EdgePlanned:
			return zones[b.A] && zones[b.B]
		case event.MixPlanned:
			return mixes[b.Mix]
		case event.MaterialPlanned: // what it weighs was so before anybody wrote it down
			return true
		}
		return false
	}
	late := map[*Record]bool{}
	for _, sl := range s.slots {
		if len(sl.plans) == 0 || slices.ContainsFunc(sl.plans, func(r *Record) bool { return !r.When.After(at) }) {
			continue
		}
		for _, r := range s.lineageOf(sl.plans).roots(sl.plans) {
			late[r] = worked(r)
		}
	}
	return late
}

// planned are those of a thing's plans that hold or held by the instant that the site is looked at; all where it is looked at
// now. Revisions that correct others are there though they came later, and are no plans of then.
func (s *Site) planned(plans []*Record) []*Record {
	if s.until.IsZero() {
		return plans
	}
	of := slices.DeleteFunc(slices.Clone(plans), func(r *Record) bool { return r.When.After(s.until) })
	if len(of) > 0 {
		return of
	}
	return slices.DeleteFunc(slices.Clone(plans), func(r *Record) bool {
		b, mix := r.Now.(event.MixPlanned)
		return mix && b.Corrects > 0
	})
}
