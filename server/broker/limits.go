package broker

import (
	"context"
	"errors"
	"slices"
	"time"

	"github.com/nats-io/nats-server/v2/server"

	"hod/internal/event"
)

// Limits of one broker.
const (
	maxConnections   = 4096     // sockets; few of them may be of one device, or of one address before they sign in
	maxOfDevice      = 4        // connections of one device that have signed in
	maxUnsigned      = 32       // connections of one address that have not signed in yet
	maxSubscriptions = 64       // of one connection; a device has three
	maxPending       = 8 << 20  // bytes that wait for one slow connection before it is ended; a read asks for 2 MiB
	maxPendingOfAll  = 96 << 20 // bytes that wait for all connections together

	limitsInterval = 100 * time.Millisecond
	startTimeout   = 30 * time.Second
)

// errTooMany is returned when a device has as many connections as one may.
var errTooMany = errors.New("the device has as many connections as one may")

// noneAccount takes no connections: one that is registered there hears from the server that there are too many, where
// a plain refusal would say that it may not come in at all.
const noneAccount = "NONE"

// takingNone returns that account. Its limit can be set by a configuration only.
func takingNone() (*server.Account, error) {
	var o server.Options
	if err := o.ProcessConfigString("accounts: { " + noneAccount +
		": { limits: { max_connections: 0 } } }"); err != nil {
		return nil, err
	}
	for _, a := range o.Accounts {
		if a.Name == noneAccount {
			return a, nil
		}
	}
	return nil, errors.New("the server made no account " + noneAccount)
}

// keepLimits ends, until ctx ends, what goes beyond the limits that the server itself does not know: connections of one
// address that do not sign in, and bytes that wait for all connections together.
func (d *authenticator) keepLimits(ctx context.Context) {
	tick := time.NewTicker(limitsInterval)
	defer tick.Stop()
	for {
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
		open, err := d.server.Connz(&server.ConnzOptions{Username: true, Limit: maxConnections})
		if err != nil {
			continue // it fails only for options that make no sense
		}
		for _, id := range beyond(open.Conns) {
			_ = d.server.DisconnectClientByID(id) // it has gone by itself
		}
	}
}

// beyond returns the connections to end. Of those that have not signed in it is the oldest of an address: who means to
// sign in does so at once. Of those that read too slowly it is the ones for which most waits.
func beyond(open []*server.ConnInfo) (ended []uint64) {
	unsigned, waiting := map[string][]*server.ConnInfo{}, 0
	var devices []*server.ConnInfo
	for _, c := range open {
		waiting += c.Pending
		switch c.AuthorizedUser {
		case hostUser:
		case "":
			unsigned[c.IP] = append(unsigned[c.IP], c)
		default:
			devices = append(devices, c)
		}
	}
	for _, of := range unsigned {
		slices.SortFunc(of, func(a, b *server.ConnInfo) int { return a.Start.Compare(b.Start) })
		for _, c := range of[:max(len(of)-maxUnsigned, 0)] {
			ended = append(ended, c.Cid)
		}
	}
	slices.SortFunc(devices, func(a, b *server.ConnInfo) int { return b.Pending - a.Pending })
	for _, c := range devices {
		if waiting <= maxPendingOfAll {
			break
		}
		waiting -= c.Pending
		ended = append(ended, c.Cid)
	}
	return ended
}

// register counts a connection of a device among those that have signed in. It returns errTooMany where there are
// enough.
func (d *authenticator) register(device event.Device, id uint64) error {
	d.mu.Lock()
	defer d.mu.Unlock()
	live := slices.DeleteFunc(d.conns[device], func(id uint64) bool { return d.server.GetClient(id) == nil })
	if len(live) >= maxOfDevice {
		d.conns[device] = live
		return errTooMany
	}
	d.conns[device] = append(live, id)
	return nil
}
