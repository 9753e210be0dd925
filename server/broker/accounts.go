package broker

import (
	"fmt"
	"time"

	"github.com/nats-io/nats-server/v2/server"

	"hod/internal/bus"
	"hod/internal/event"
)

// The accounts. A cluster's configuration has the two by name; the broker inside has one like CREW for each device.
const (
	siteAccount = "SITE" // the stream and the host
	crewAccount = "CREW" // the devices
)

// answerFor is how long the way back to a device stays open for the answers to one question.
const answerFor = 30 * time.Second

// isolate gives the account of the site. All that a device may ask of SITE goes through the one export ">", because the
// server stops a message that would pass an export a second time: an answer that a device has sent to a subject that is
// itself a way into SITE ends there.
func isolate(site string) (*server.Account, error) {
	host := server.NewAccount(siteAccount)
	if err := host.AddServiceExportWithResponse(">", server.Streamed, nil); err != nil {
		return nil, fmt.Errorf("export the site's services: %w", err)
	}
	if err := host.SetServiceExportResponseThreshold(">", answerFor); err != nil {
		return nil, fmt.Errorf("limit the site's answers: %w", err)
	}
	if err := host.AddStreamExport(bus.NewSubjects(site), nil); err != nil {
		return nil, fmt.Errorf("export what is new: %w", err)
	}
	return host, nil
}

// accountOf returns the account in which a device lives, alone: the server sends an answer to whatever subject a
// question names for it, so in an account with others a device could have the stream sent to one of them.
func (d *authenticator) accountOf(device event.Device) (*server.Account, error) {
	d.making.Lock()
	defer d.making.Unlock()
	name := crewAccount + "." + string(device)
	if a, ok := d.accounts[device]; ok {
		return a, nil
	}
	host, err := d.server.LookupAccount(siteAccount)
	if err != nil {
		return nil, fmt.Errorf("find the site's account: %w", err)
	}
	crew, _ := d.server.LookupOrRegisterAccount(name)
	for _, s := range []string{bus.LogSubject(d.site, device), bus.ReadSubject(d.site), bus.HeadsSubject(d.site)} {
		if err := crew.AddServiceImport(host, s, s); err != nil {
			return nil, fmt.Errorf("let device %s reach %s: %w", device, s, err)
		}
	}
	if err := crew.AddStreamImport(host, bus.NewSubjects(d.site), ""); err != nil {
		return nil, fmt.Errorf("let device %s hear what is new: %w", device, err)
	}
	d.accounts[device] = crew
	return crew, nil
}
