package fold

import (
	"time"

	"hod/internal/event"
)

// Until is the site as it stood at an instant, by what is known now: without what happened later, but with every plan and
// every correction, whenever it was made. It is a site of its own.
func (s *Site) Until(at time.Time) *Site {
	past := New(s.ID, s.root)
	for _, r := range s.arrival {
		e := r.Event
		var some bool
		if e.Body, some = before(e.Body, e, at); some {
			past.Add(e)
		}
	}
	return past
}

// before is what a body says of the time until an instant; false if nothing.
func before(b event.Body, e event.Event, at time.Time) (event.Body, bool) {
	switch b := b.(type) {
	case event.SitePlanned, event.ZonePlanned, event.EdgePlanned, event.CoatPlanned, event.MixPlanned, event.CrewPlanned, event.MaterialPlanned,
		event.DeviceEnrolled, event.DeviceRevoked, event.Voided, event.Settled:
		return b, true
	case event.Amended:
		switch run := b.Body.(type) { // an amendment goes with what it amends; of a run, with as much of it
		case event.WeatherObserved, event.CureReadings:
			if less, some := before(run, e, at); some {
				b.Body = less
			}
		}
		return b, true
	case event.WeatherObserved:
		var kept []event.Weather
		for _, k := range b.Samples {
			if !e.OnSite(k.At).After(at) {
				kept = append(kept, k)
			}
		}
		b.Samples = kept
		return b, len(kept) > 0
	case event.CureReadings:
		var kept []event.Reading
		for _, k := range b.Samples {
			if !e.OnSite(k.At).After(at) {
				kept = append(kept, k)
			}
		}
		b.Samples = kept
		return b, len(kept) > 0
	case event.WeatherForecast:
		return b, !e.OnSite(b.IssuedAt).After(at)
	}
	return b, !e.At().After(at)
}
