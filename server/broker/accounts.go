package broker

import (
	"fmt"
	"time"

	"github.com/nats-io/nats-server/v2/server"

	"hod/internal/bus"
)

// The two accounts; a cluster's configuration has the same.
const (
	siteAccount = "SITE" // the stream and the host
	crewAccount = "CREW" // the devices
)

// answerFor is how long the way back to a device stays open for the answers to one question.
const answerFor = 30 * time.Second

// isolate gives the two accounts. All that CREW may ask of SITE goes through the one export ">", because the server
// stops a message that would pass an export a second time: an answer that a device has sent to a subject that is itself
// a way into SITE ends there.
func isolate(site string) ([]*server.Account, error) {
	host, crew := server.NewAccount(siteAccount), server.NewAccount(crewAccount)
	if err := host.AddServiceExportWithResponse(">", server.Streamed, nil); err != nil {
		return nil, fmt.Errorf("export the site's services: %w", err)
	}
	if err := host.SetServiceExportResponseThreshold(">", answerFor); err != nil {
		return nil, fmt.Errorf("limit the site's answers: %w", err)
	}
	if err := host.AddStreamExport(bus.NewSubjects(site), nil); err != nil {
		return nil, fmt.Errorf("export what is new: %w", err)
	}
	for _, s := range []string{bus.LogSubjects(site), bus.ReadSubject(site), bus.HeadsSubject(site)} {
		if err := crew.AddServiceImport(host, s, s); err != nil {
			return nil, fmt.Errorf("let devices reach %s: %w", s, err)
		}
	}
	if err := crew.AddStreamImport(host, bus.NewSubjects(site), ""); err != nil {
		return nil, fmt.Errorf("let devices hear what is new: %w", err)
	}
	return []*server.Account{host, crew}, nil
}
