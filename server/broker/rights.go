package broker

import (
	"fmt"

	"hod/internal/bus"
	"hod/internal/event"
)

// Rights is whom a key belongs to and in which role.
type Rights struct {
	Device event.Device
	Role   event.Role
}

// Permissions is all that a connection may do, as subjects.
type Permissions struct {
	Publish   []string
	Subscribe []string
}

// PermissionsOf decides what a device may do on the bus, whichever server asks. Whoever is on the site carries and
// reads, inspectors and probes too: anyone may carry what another signed, and to write one's own log safely takes
// reading it back. What a device's owner may say is judged in the fold.
func PermissionsOf(site string, r Rights) (Permissions, error) {
	if err := bus.CheckSite(site); err != nil {
		return Permissions{}, err
	}
	if err := bus.CheckDevice(r.Device); err != nil {
		return Permissions{}, err
	}
	switch r.Role {
	case event.CrewRole, event.Foreman, event.Inspector, event.Probe, event.SiteRole:
	default:
		return Permissions{}, fmt.Errorf("device %s has the role %v, which this server does not know", r.Device, r.Role)
	}
	return Permissions{
		Publish:   []string{bus.LogSubject(site, r.Device), bus.ReadSubject(site), bus.HeadsSubject(site)},
		Subscribe: []string{bus.Inbox(r.Device) + ".>", bus.NewSubjects(site)},
	}, nil
}
