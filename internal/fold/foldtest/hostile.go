package foldtest

import (
	"hod/internal/event"
)

func (d *Desk) Enrolled(name event.Device) {
	d.By("site", 0, event.DeviceEnrolled{
		Device: name, PublicKey: make([]byte, 32), Role: event.CrewRole,
		Crew: "north",
	})
}
