// Package simtest writes the work of an invented job down, as the devices of its crews would: events for tests and
// benchmarks of the fold, the views and the simulation. Not for use outside tests. Start at Written; a whole season is
// in season.go.
package simtest

import (
	"fmt"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
)

// Root is the device of the invented site's server.
const Root event.Device = "site"

// Devices write work down as real ones would, each with its own record.
type Devices struct {
	seq    map[event.Device]uint64
	Events []event.Event
}

// NewDevices are devices that have written nothing.
func NewDevices() *Devices { return &Devices{seq: map[event.Device]uint64{}} }

// Continue is devices that have written these events.
func Continue(events []event.Event) *Devices {
	d := NewDevices()
	for _, e := range events {
		d.seq[e.Device] = max(d.seq[e.Device], e.Seq)
	}
	d.Events = append(d.Events, events...)
	return d
}

// Written is all that the devices of an invented job write: enrolments by the root, the plan by a foreman, the work by
// a device a crew.
func Written(plan []event.Body, work []sim.Work, from time.Time) ([]event.Event, error) {
	d := NewDevices()
	enrol := func(name event.Device, crew event.Crew, role event.Role) error {
		return d.Write(Root, "", from, true, event.DeviceEnrolled{
			Device: name, PublicKey: make([]byte, 32), Role: role,
			Crew: crew, Label: string(name),
		})
	}
	if err := enrol("f1", "office", event.Foreman); err != nil {
		return nil, err
	}
	for _, b := range plan {
		if err := d.Write("f1", "office", from, true, b); err != nil {
			return nil, err
		}
	}
	of := map[event.Crew]event.Device{}
	for _, w := range work {
		if of[w.Crew] == "" {
			of[w.Crew] = event.Device(string(w.Crew)[:1] + fmt.Sprint(len(of)+1))
			if err := enrol(of[w.Crew], w.Crew, event.CrewRole); err != nil {
				return nil, err
			}
		}
		if err := d.Write(of[w.Crew], w.Crew, w.At, w.Typed, w.Body); err != nil {
			return nil, err
		}
	}
	return d.Events, nil
}

// Write one event on a device.
func (d *Devices) Write(on event.Device, crew event.Crew, at time.Time, typed bool, body event.Body) error {
	d.seq[on]++
	e, err := event.Write(event.Event{
		Name: event.Name{Device: on, Seq: d.seq[on]}, Crew: crew, HappenedAt: at, LoggedAt: at, Typed: typed,
		Body: body,
	})
	if err != nil {
		return fmt.Errorf("device %s writes a %s: %w", on, event.KindOf(body), err)
	}
	d.Events = append(d.Events, e)
	return nil
}

// Again writes an event again on top of its device's record, standing for the one first written, as a device does with
// what was not accepted after a fork.
func (d *Devices) Again(e event.Event) error {
	d.seq[e.Device]++
	origin := e.Origin()
	e.Seq, e.StandsFor = d.seq[e.Device], origin
	again, err := event.Write(e)
	if err != nil {
		return fmt.Errorf("device %s writes a %s again: %w", e.Device, event.KindOf(e.Body), err)
	}
	d.Events = append(d.Events, again)
	return nil
}
