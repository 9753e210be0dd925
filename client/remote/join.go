package remote

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"net"
	"strings"
	"time"

	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"

	"hod/client/journal"
	"hod/internal/auth"
	"hod/internal/bus"
	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
)

// ErrImpostor is returned when who answers at the address of an invitation is not the server that gave it.
var ErrImpostor = errors.New(
	"another server answers there: its certificate authority is not the one in the code; nothing was sent to it")

// Newcomer is a device that wants to join a site.
type Newcomer struct {
	Key   ed25519.PrivateKey // made on this device; only its public half and a proof leave it
	Crew  event.Crew         // may be empty where the invitation says it
	Label string             // what people call the device
	// A device that was let in before, and that its server may not know any more, says who it is.
	Name event.Device
	Site string
	Role event.Role
	// Enrolment is the segment by which the site's root enrolled it, where its journal holds that.
	Enrolment []byte
}

// Join takes an invitation up with the server that gave it, and answers with who the device is from now on. Errors of
// the call carry a gRPC status; ErrImpostor is in the chain where the server is not the invitation's,
// *auth.OutOfDateError where its certificate is not good by this device's clock.
func Join(ctx context.Context, code auth.Code, n Newcomer) (journal.Device, error) {
	var authority []byte
	var doubted error // why the server's certificate does not do: the call itself only says that there was no handshake
	pinned := &tls.Config{
		MinVersion: tls.VersionTLS13, ServerName: bus.ServerName,
		InsecureSkipVerify: true, // no authority is known yet: VerifyConnection pins the code's
		VerifyConnection: func(state tls.ConnectionState) error {
			der, err := verify(state, code.Fingerprint)
			doubted, authority = err, der
			return err
		},
	}
	conn, err := grpc.NewClient("passthrough:///"+code.Address,
		grpc.WithTransportCredentials(credentials.NewTLS(pinned)))
	if err != nil {
		return journal.Device{}, fmt.Errorf("prepare to call %s: %w", code.Address, err)
	}
	defer conn.Close()
	secret := code.Secret.String()
	public, _ := n.Key.Public().(ed25519.PublicKey)
	q := &hodv1.EnrolRequest{
		Secret: secret, PublicKey: public, Proof: ed25519.Sign(n.Key, []byte(secret)), Crew: string(n.Crew),
		Label:  n.Label,
		Device: string(n.Name), Site: n.Site, Enrolment: n.Enrolment,
	}
	if n.Name != "" {
		q.Role = n.Role.String()
	}
	reply, err := hodv1.NewEnrolServiceClient(conn).Enrol(ctx, q)
	if err != nil && doubted != nil {
		return journal.Device{}, fmt.Errorf("join at %s: %w", code.Address, doubted)
	}
	if err != nil {
		return journal.Device{}, err
	}
	role, err := event.ParseRole(reply.GetRole())
	if err != nil {
		return journal.Device{}, fmt.Errorf("the server gave a role that this version does not know: %w", err)
	}
	if len(reply.GetRootKey()) != ed25519.PublicKeySize || reply.GetSite() == "" || reply.GetDevice() == "" {
		return journal.Device{}, fmt.Errorf("the server's answer is not whole")
	}
	return journal.Device{
		Site: reply.GetSite(), Name: event.Device(reply.GetDevice()), Crew: event.Crew(reply.GetCrew()), Role: role,
		Key: n.Key,
		Bus: reachable(reply.GetBus(), code.Address), Server: code.Address,
		CA:   pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: authority}),
		Root: event.Device(reply.GetRootDevice()), RootKey: reply.GetRootKey(),
	}, nil
}

// verify lets in only a chain that ends at the authority of the code, and gives that authority.
func verify(state tls.ConnectionState, want auth.Fingerprint) ([]byte, error) {
	for _, c := range state.PeerCertificates {
		if got := auth.FingerprintOf(c.Raw); !bytes.Equal(got[:], want[:]) {
			continue
		}
		if err := auth.VerifyServer([]*x509.Certificate{c}, state.PeerCertificates, bus.ServerName,
			time.Now()); err != nil {
			return nil, fmt.Errorf("the server's certificate does not hold: %w", err)
		}
		return c.Raw, nil
	}
	return nil, ErrImpostor
}

// reachable is where the bus is, seen from a device: a server that listens everywhere is reached where it was reached
// for joining.
func reachable(bus, server string) string {
	all := strings.Split(bus, ",")
	for i, one := range all {
		host, port, err := net.SplitHostPort(one)
		if err != nil {
			continue
		}
		if ip := net.ParseIP(host); host == "" || ip != nil && ip.IsUnspecified() {
			if at, _, err := net.SplitHostPort(server); err == nil {
				all[i] = net.JoinHostPort(at, port)
			}
		}
	}
	return strings.Join(all, ",")
}
