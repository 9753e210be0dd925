// Package remote is this device's call to the site's server: who calls is proved by the device's key on each call, whom
// it reaches by the site's certificate authority.
//
// It promises that no call leaves without TLS. It holds no state and asks nothing by itself; the messages are in
// proto/hod/v1. The check on the other side is in server/api.
//
// # Decisions
//
// TLS always, by the site's own authority, pinned by the join code. Not plain text on a trusted network: a site's
// network is a phone's hot spot, and a switch that turns it off would be left off.
package remote

import (
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"

	"hod/client/journal"
	"hod/internal/auth"
	"hod/internal/bus"
)

// Dial makes the connection with which an enrolled device calls its site's server. Nothing is sent before the first
// call. now is the server's clock as far as the device knows it: a call is good for minutes of that clock only.
func Dial(d journal.Device, now func() time.Time) (*grpc.ClientConn, error) {
	trusted, err := auth.Certificates(d.CA)
	if err != nil {
		return nil, fmt.Errorf("this device's copy of the site's certificate authority cannot be read: join again: %w",
			err)
	}
	conn, err := grpc.NewClient("passthrough:///"+d.Server,
		grpc.WithTransportCredentials(credentials.NewTLS(bus.TLS(trusted, time.Now))),
		grpc.WithPerRPCCredentials(caller{d, now}))
	if err != nil {
		return nil, fmt.Errorf("prepare to call %s: %w", d.Server, err)
	}
	return conn, nil
}

// CheckServer returns why this device takes the certificate of who answers at its server's address for none of its
// site; nil where it does not, and where nobody answers. Nothing but a handshake is sent.
func CheckServer(ctx context.Context, d journal.Device) error {
	trusted, err := auth.Certificates(d.CA)
	if err != nil {
		return fmt.Errorf("read the site's certificate authority: %w", err)
	}
	settings := bus.TLS(trusted, time.Now)
	check, doubt := settings.VerifyConnection, error(nil)
	settings.VerifyConnection = func(state tls.ConnectionState) error {
		doubt = check(state)
		return doubt
	}
	if conn, err := (&tls.Dialer{Config: settings}).DialContext(ctx, "tcp", d.Server); err == nil {
		_ = conn.Close()
	}
	return doubt
}

// caller proves on each call which device it is.
type caller struct {
	device journal.Device
	now    func() time.Time
}

func (c caller) GetRequestMetadata(ctx context.Context, _ ...string) (map[string]string, error) {
	method := ""
	if info, ok := credentials.RequestInfoFromContext(ctx); ok {
		method = info.Method
	}
	now := strconv.FormatInt(c.now().UnixMilli(), 10)
	proof := ed25519.Sign(c.device.Key, auth.Call(c.device.Site, string(c.device.Name), method, now))
	return map[string]string{
		auth.DeviceHeader: string(c.device.Name), auth.TimeHeader: now,
		auth.ProofHeader: strings.ToLower(hex.EncodeToString(proof)),
	}, nil
}

func (caller) RequireTransportSecurity() bool { return true }
