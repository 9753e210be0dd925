package foldtest

import (
	"slices"

	"hod/internal/event"
)

// Again writes an event again, as its device does after a fork.
func (d *Desk) Again(e event.Event) event.Event {
	d.TB.Helper()
	if err := d.Devices.Again(e); err != nil {
		d.TB.Fatal(err)
	}
	return d.Events[len(d.Events)-1]
}

// Lose takes an event out of the record, as a fork does with what was not accepted.
func (d *Desk) Lose(e event.Event) {
	d.Events = slices.DeleteFunc(d.Events, func(x event.Event) bool { return x.Hash() == e.Hash() })
}
