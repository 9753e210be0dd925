package foldtest

import (
	"time"

	"hod/internal/event"
)

// Noted is a note that n1 wrote when its clock, off by offset, showed so many minutes after seven.
func (d *Desk) Noted(seq uint64, minutes int, offset *time.Duration, basis event.ClockBasis, typed bool) {
	d.TB.Helper()
	e, err := event.Write(event.Event{
		Name: event.Name{Device: "n1", Seq: seq}, Crew: "north", HappenedAt: Clock(minutes), LoggedAt: Clock(minutes),
		Typed:  typed,
		Offset: offset, Basis: basis, Body: event.Noted{Text: "so it was"},
	})
	if err != nil {
		d.TB.Fatal(err)
	}
	d.Events = append(d.Events, e)
}
