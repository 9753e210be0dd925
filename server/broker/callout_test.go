package broker

import (
	"crypto/ed25519"
	"crypto/x509"
	"encoding/pem"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"
	"github.com/rs/zerolog"

	"hod/internal/bus"
	"hod/internal/event"
)

// everyWay runs a test against the broker inside and against a server outside that asks the host whom to let in. What a
// device may do must be the same.
func everyWay(t *testing.T, test func(*testing.T, *site)) {
	t.Run("the broker inside", func(t *testing.T) { test(t, newSite(t)) })
	t.Run("a server outside", func(t *testing.T) { test(t, newOutside(t)) })
}

// newOutside is a site whose server runs by deploy/cluster.conf, alone.
func newOutside(t *testing.T) *site {
	t.Helper()
	s := &site{t: t, dir: t.TempDir(), book: map[string]Rights{}}
	var err error
	if s.ca, err = OpenAuthority(filepath.Join(s.dir, "authority"), time.Now()); err != nil {
		t.Fatal(err)
	}
	shown, err := s.ca.issue(time.Now(), []string{"127.0.0.1"})
	if err != nil {
		t.Fatal(err)
	}
	raw, err := x509.MarshalPKCS8PrivateKey(shown.PrivateKey)
	if err != nil {
		t.Fatal(err)
	}
	file := func(name string, data []byte) string {
		path := filepath.Join(s.dir, name)
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
		return path
	}
	var chain []byte
	for _, der := range shown.Certificate {
		chain = append(chain, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})...)
	}
	cert, key := file("server.crt", chain), file("server.key",
		pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw}))
	host, issuer, credentials := hostKeys(t)
	for name, value := range map[string]string{
		"NODE": "alone", "LISTEN": "127.0.0.1:-1", "ROUTE": "127.0.0.1:-1", "ROUTES": "[]", "STORE": filepath.Join(
			s.dir, "stream"),
		"CERT": cert, "KEY": key, "ROUTE_CERT": cert, "ROUTE_KEY": key, "ROUTE_CA": file("ca.crt",
			s.ca.PEM()), "HOST": host, "ISSUER": issuer,
	} {
		t.Setenv("HOD_"+name, value)
	}
	options, err := server.ProcessConfigFile("../../deploy/cluster.conf")
	if err != nil {
		t.Fatal(err)
	}
	options.Cluster, options.Routes, options.NoSigs, options.NoLog = server.ClusterOpts{}, nil, true, true
	outside, err := server.NewServer(options)
	if err != nil {
		t.Fatal(err)
	}
	outside.Start()
	s.Broker = &Broker{server: outside}
	t.Cleanup(func() { s.Stop() })
	if !outside.ReadyForConnections(time.Minute) {
		t.Fatal("not ready")
	}
	c, err := Connect(t.Context(), Outside{
		URL:         "tls://" + outside.Addr().String(),
		Credentials: file("host.nk", credentials), CA: s.ca.PEM(),
	})
	if err != nil {
		t.Fatal(err)
	}
	s.conn = c.Conn()
	s.cluster = c
	if c.Warning != "" {
		t.Errorf("the host may ask how the servers flush, and says: %s", c.Warning)
	}
	if _, err := c.ServeAuthCallout(north, s.admit, zerolog.Nop()); err != nil {
		t.Fatal(err)
	}
	if err := bus.Ensure(t.Context(), c.Conn(), north, 1); err != nil {
		t.Fatal(err)
	}
	if s.host, err = bus.NewHost(c.Conn(), north); err != nil {
		t.Fatal(err)
	}
	if _, err := s.host.ServeHeads(func() bus.Heads { return bus.Heads{} }); err != nil {
		t.Fatal(err)
	}
	return s
}

// hostKeys are the host's NKey, public, the same as an issuer, and the seed.
func hostKeys(t *testing.T) (user, issuer string, seed []byte) {
	t.Helper()
	raw := keyOf("host")
	pair, err := nkeys.FromRawSeed(nkeys.PrefixByteUser, raw.Seed())
	if err != nil {
		t.Fatal(err)
	}
	if seed, err = pair.Seed(); err != nil {
		t.Fatal(err)
	}
	public := raw.Public().(ed25519.PublicKey)
	name := func(p nkeys.PrefixByte) string {
		b, err := nkeys.Encode(p, public)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	return name(nkeys.PrefixByteUser), name(nkeys.PrefixByteAccount), seed
}

// Who gets in, and what those who do can do, whichever server asks.
func TestWhoGetsIn(t *testing.T) {
	everyWay(t, func(t *testing.T, s *site) {
		for role, want := range map[event.Role]bool{
			event.CrewRole: true, event.Foreman: true, event.Inspector: true, event.Probe: true, event.NoRole: false,
		} {
			a := s.enrol(event.Device(fmt.Sprint("d", int(role))), role)
			l, err := bus.Dial(t.Context(), a)
			if (err == nil) != want {
				t.Errorf("a %v: got %v, want let in %v", role, err, want)
			}
			if err != nil {
				wantKind(t, err, bus.Refused)
				continue
			}
			if err := l.Publish(t.Context(), []byte("x")); err != nil {
				t.Errorf("a %v publishes: %v", role, err)
			}
			if _, err := l.Heads(t.Context()); err != nil {
				t.Errorf("a %v asks for the heads: %v", role, err)
			}
			if m, err := l.Read(t.Context(), 1, 10); err != nil || len(m) == 0 {
				t.Errorf("a %v reads: %d messages, %v", role, len(m), err)
			}
			l.Close()
		}
		stranger := s.enrol("n1", event.CrewRole)
		stranger.Key = keyOf("stranger")
		_, err := bus.Dial(t.Context(), stranger)
		wantKind(t, err, bus.Refused)

		known := s.enrol("n2", event.CrewRole)
		s.revoke("n2")
		_, err = bus.Dial(t.Context(), known)
		wantKind(t, err, bus.Refused)

		// The name of a key without the key.
		name, err := nkeys.Encode(nkeys.PrefixByteUser, keyOf("n1").Public().(ed25519.PublicKey))
		if err != nil {
			t.Fatal(err)
		}
		other := keyOf("stranger")
		nc, err := nats.Connect("nats://"+s.Address(), nats.Secure(s.trusting()),
			nats.Nkey(string(name), func(nonce []byte) ([]byte, error) { return ed25519.Sign(other, nonce), nil }))
		if err == nil {
			nc.Close()
			t.Error("a key's name alone was enough")
		}
		if nc, err = nats.Connect("nats://"+s.Address(), nats.Secure(s.trusting())); err == nil {
			nc.Close()
			t.Error("no name was enough")
		}
	})
}

// A revoked device's connections end, all of them and no other's, whichever server they are to.
func TestARevokedDeviceIsPutOut(t *testing.T) {
	everyWay(t, func(t *testing.T, s *site) {
		out, stays := s.enrol("n1", event.CrewRole), s.dial(s.enrol("n12", event.CrewRole))
		first, second := s.dial(out), s.dial(out)
		for _, l := range []*bus.Line{first, second, stays} {
			if _, err := l.Heads(t.Context()); err != nil {
				t.Fatal(err)
			}
		}
		s.revoke("n1")
		if n := s.kick("n1"); n != 2 {
			t.Errorf("%d connections ended, want 2", n)
		}
		for _, l := range []*bus.Line{first, second} {
			if _, err := l.Heads(t.Context()); err == nil {
				t.Error("a revoked device is answered")
			}
		}
		if _, err := stays.Heads(t.Context()); err != nil {
			t.Errorf("another device: %v", err)
		}
		if n := s.kick("n1"); n != 0 {
			t.Errorf("%d more connections ended", n)
		}
	})
}

// A device finds a cluster by any of its servers.
func TestAnyOfSeveralAddressesWillDo(t *testing.T) {
	s := newSite(t)
	a := s.enrol("n1", event.CrewRole)
	a.Address = "127.0.0.1:1," + a.Address
	if err := s.dial(a).Publish(t.Context(), []byte("x")); err != nil {
		t.Error(err)
	}
	a.Address += ",nowhere"
	_, err := bus.Dial(t.Context(), a)
	wantKind(t, err, bus.Invalid)
	if !strings.Contains(err.Error(), `"nowhere"`) {
		t.Errorf("got %v, want the address that is none", err)
	}
}
