package foldtest

import (
	"slices"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// Later writes a body on a device that happened at one time and was written at another.
func (d *Desk) Later(device event.Device, crew event.Crew, happened, written time.Time, b event.Body) event.Event {
	d.TB.Helper()
	if err := d.Write(device, crew, happened, true, b); err != nil {
		d.TB.Fatal(err)
	}
	last := len(d.Events) - 1
	e := d.Events[last]
	e.LoggedAt = written
	e, err := event.Write(e)
	if err != nil {
		d.TB.Fatal(err)
	}
	d.Events[last] = e
	return e
}

// KnownBy is the site as a device had it that evening: what was written by then.
func (d *Desk) KnownBy(evening time.Time, but ...event.Event) *fold.Site {
	var known []event.Event
	for _, e := range d.Events {
		if e.LoggedAt.Before(evening) ||
			slices.ContainsFunc(but, func(o event.Event) bool { return o.Hash() == e.Hash() }) {
			known = append(known, e)
		}
	}
	return Folded(known...)
}

// Foreman writes on the third day and after it what moved the figures of past days before: plans of all kinds written
// anew, a treatment, an answer, a break, a delivery.
func (d *Desk) Foreman(t testing.TB) {
	t.Helper()
	write := func(hour int, b event.Body) event.Event {
		if err := d.Write("f1", "office", Midnight.Add(time.Duration(hour)*time.Hour), true, b); err != nil {
			t.Fatal(err)
		}
		return d.Events[len(d.Events)-1]
	}
	for _, e := range slices.Clone(d.Events) {
		hash := []event.Hash{e.Hash()}
		switch b := e.Body.(type) {
		case event.SitePlanned:
			b.Closing, b.Loss, b.EvaporationMetric, b.WorkTo, b.WorkFrom, b.Replaces = Ref(unit.Share(0.5)),
				Ref(unit.Share(0.2)), 2, 20*time.Hour, 6*time.Hour, hash
			write(73, b)
		case event.MixPlanned:
			b.Revision, b.InitialSet, b.Air, b.WaterLimit, b.Replaces = 2, 5*time.Hour, Ref(unit.Share(0.15)), 0.36,
				hash
			write(74, b)
		case event.ZonePlanned:
			b.Area.SI, b.Replaces = b.Area.SI*2, hash
			write(75, b)
		case event.CoatPlanned:
			b.Thickness.SI, b.Replaces = b.Thickness.SI*1.5, hash
			write(76, b)
		case event.EdgePlanned:
			b.Length.SI, b.Replaces = b.Length.SI*2, hash
			write(76, b)
		case event.CrewPlanned:
			b.People, b.Replaces = 9, hash
			write(76, b)
		}
	}
	write(77, event.ZonePlanned{Zone: "Z1", Area: As(unit.Area(40))})
	write(77, event.CoatPlanned{
		Coat:      event.Coat{Zone: "Z1", Face: event.Outer, Number: 1},
		Thickness: As(unit.Length(0.012)), Mix: "face",
	})
	write(78, event.StockReceived{Material: "sand", Amount: event.Amount{Mass: 4000}})
	write(78, event.SpecimensBroken{
		Mix: "face", Shape: event.Cube, Size: Ref(unit.Length(0.05)), Age: 48 * time.Hour,
		Loads: []unit.Force{40000},
	})
	for _, z := range []event.Zone{"A1", "A2", "A3", "A4"} {
		write(79, event.JointTreated{Coat: event.Coat{Zone: z, Face: event.Outer, Number: 1}, Method: "brushed"})
	}
}
