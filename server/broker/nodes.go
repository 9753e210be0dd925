package broker

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"github.com/nats-io/nats.go"

	"hod/internal/event"
)

// What the host may ask of a cluster's servers, where their configuration lets its account import it from the system's.
// deploy/cluster.conf does, under these names.
const (
	connectionsSubject = "hod.nodes.connections"
	storageSubject     = "$SYS.REQ.SERVER.PING.JSZ" // named so for the system's own account, too
	kickSubject        = "$SYS.REQ.SERVER.%s.KICK"
)

// sweeps are the waits between later looks for a revoked device's connections: one that was being let in as the device
// was revoked shows up later, but within the time that a connection has to prove who it is.
var sweeps = []time.Duration{time.Second, 2 * time.Second, 4 * time.Second}

// ErrCannotKick is returned when a cluster does not let the host end connections. They end when their pass does,
// userLifetime at most.
var ErrCannotKick = errors.New("the cluster's configuration does not let the host end connections")

// KickLate does again what Kick did, for some seconds: a connection may have been on its way in.
func (c *Cluster) KickLate(ctx context.Context, device event.Device) (ended int, err error) {
	for _, wait := range sweeps {
		select {
		case <-ctx.Done():
			return ended, ctx.Err()
		case <-time.After(wait):
		}
		n, err := c.Kick(ctx, device)
		ended += n
		if err != nil {
			return ended, err
		}
	}
	return ended, nil
}

// Kick ends the connections that a device has to any server of the cluster, and says how many there were. Admit must
// refuse the device before. The error is ErrCannotKick, or that of the host's own connection.
func (c *Cluster) Kick(ctx context.Context, device event.Device) (ended int, err error) {
	answers, err := askNodes(ctx, c.conn, connectionsSubject, map[string]any{
		"auth": true, "acc": crewAccount,
		"limit": maxConnections,
	})
	switch {
	case errors.Is(err, nats.ErrNoResponders):
		return 0, ErrCannotKick
	case err == nil && len(answers) == 0:
		err = errors.New("no server answers")
	}
	if err != nil {
		return 0, fmt.Errorf("ask the cluster who is connected: %w", err)
	}
	for _, raw := range answers {
		var node struct {
			Server struct {
				ID string `json:"id"`
			} `json:"server"`
			Data struct {
				Connections []struct {
					ID   uint64 `json:"cid"`
					Name string `json:"authorized_user"` // as pass gave it
				} `json:"connections"`
			} `json:"data"`
		}
		if err := json.Unmarshal(raw, &node); err != nil {
			return ended, fmt.Errorf("decode who is connected: %w", err)
		}
		for _, one := range node.Data.Connections {
			if one.Name != string(device) {
				continue
			}
			order, err := json.Marshal(map[string]uint64{"cid": one.ID})
			if err != nil {
				return ended, fmt.Errorf("encode a connection's number: %w", err)
			}
			if err := c.order(ctx, fmt.Sprintf(kickSubject, node.Server.ID), order); errors.Is(err,
				nats.ErrNoResponders) {
				return ended, ErrCannotKick
			} else if err != nil {
				return ended, fmt.Errorf("end a connection of %s: %w", device, err)
			}
			ended++
		}
	}
	return ended, nil
}

// order a server to do something, and wait a little for it to say that it did.
func (c *Cluster) order(ctx context.Context, subject string, what []byte) error {
	ctx, stop := context.WithTimeout(ctx, flushTimeout)
	defer stop()
	_, err := c.conn.RequestWithContext(ctx, subject, what)
	return err
}

// askNodes asks all servers at once and gives the answers that come until none has come for a while; the error is
// nats.ErrNoResponders if nobody may be asked.
func askNodes(ctx context.Context, conn *nats.Conn, subject string, question any) (answers [][]byte, err error) {
	const silence = 400 * time.Millisecond
	asked, err := json.Marshal(question)
	if err != nil {
		return nil, fmt.Errorf("encode a question: %w", err)
	}
	inbox := conn.NewInbox()
	sub, err := conn.SubscribeSync(inbox)
	if err != nil {
		return nil, err
	}
	defer func() { _ = sub.Unsubscribe() }() // it fails only with the connection
	if err := conn.PublishRequest(subject, inbox, asked); err != nil {
		return nil, err
	}
	timeout := flushTimeout
	for {
		waiting, stop := context.WithTimeout(ctx, timeout)
		m, err := sub.NextMsgWithContext(waiting)
		stop()
		switch {
		case errors.Is(err, context.DeadlineExceeded) && ctx.Err() == nil:
			return answers, nil
		case err != nil:
			return answers, err
		}
		answers, timeout = append(answers, m.Data), silence
	}
}
