package foldtest

import (
	"hod/internal/event"
	"hod/internal/unit"
)

// Face is the small plan's mix in a revision, changed, replacing what it names.
func Face(revision int, change func(*event.MixPlanned), replaces ...event.Event) event.MixPlanned {
	for _, b := range SmallPlan() {
		if m, ok := b.(event.MixPlanned); ok {
			m.Revision = revision
			change(&m)
			for _, e := range replaces {
				m.Replaces = append(m.Replaces, e.Hash())
			}
			return m
		}
	}
	panic("the small plan has no mix")
}

// Planned is the event of a desk that plans a thing first.
func (d *Desk) Planned(is func(event.Body) bool) event.Event {
	d.TB.Helper()
	for _, e := range d.Events {
		if is(e.Body) {
			return e
		}
	}
	d.TB.Fatal("it is not planned")
	return event.Event{}
}

func IsMix(b event.Body) bool { _, is := b.(event.MixPlanned); return is }

// ByRevision is a batch that carries one.
func ByRevision(revision, n, minute int) event.BatchMixed {
	b := Mixed(n, minute)
	b.Revision = revision
	return b
}

// ColdPair is two batches in A1 of which the second meets the first 170 min after its water contact at 23 °C, the mix's
// own temperature: past the 150 min of its initial set, so cold (ASTM C403, C1074).
func ColdPair(d *Desk) {
	air := unit.Celsius(23)
	for hour := -1; hour < 12; hour++ {
		d.By("n1", 60*hour, event.WeatherObserved{
			Station: "crew", WindHeight: As(unit.Length(2)),
			Samples: []event.Weather{{At: Clock(60 * hour), Air: &air}},
		})
	}
	d.By("n1", 5, ByRevision(1, 1, 5))
	d.By("n1", 20, Put(1, "A1", 10, 20))
	d.By("n1", 168, ByRevision(1, 2, 168))
	d.By("n1", 179, Put(2, "A1", 170, 179))
}
