package bus_test

import (
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"
	"github.com/rs/zerolog"
	"go.uber.org/goleak"

	"hod/internal/bus"
	"hod/internal/event"
	"hod/server/broker"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

const north = "north-dome"

// site is the real broker, with whoever names a device let in as that device: its key is made from its name.
type site struct {
	*broker.Broker
	t       *testing.T
	dir     string
	ca      *broker.Authority
	devices []event.Device
}

func newSite(t *testing.T) *site {
	t.Helper()
	s := &site{t: t, dir: t.TempDir(), devices: []event.Device{"n1", "n2", "é-3"}}
	var err error
	if s.ca, err = broker.OpenAuthority(t.TempDir(), time.Now()); err != nil {
		t.Fatal(err)
	}
	s.start()
	t.Cleanup(func() { s.Stop() })
	return s
}

func (s *site) start() {
	s.t.Helper()
	settings, err := s.ca.TLS(time.Now)
	if err != nil {
		s.t.Fatal(err)
	}
	b, err := broker.Start(s.t.Context(), broker.Config{
		Dir: s.dir, Listen: "127.0.0.1:0", TLS: settings, Site: north, Log: zerolog.Nop(),
		Admit: func(key ed25519.PublicKey) (broker.Rights, error) {
			for _, d := range s.devices {
				if keyOf(d).Public().(ed25519.PublicKey).Equal(key) {
					return broker.Rights{Device: d, Role: event.CrewRole}, nil
				}
			}
			return broker.Rights{}, errors.New("not enrolled")
		},
	})
	if err != nil {
		s.t.Fatal(err)
	}
	s.Broker = b
	if err := bus.Ensure(s.t.Context(), b.Conn(), north, 1); err != nil {
		s.t.Fatal(err)
	}
}

func keyOf(d event.Device) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte(d))
	return ed25519.NewKeyFromSeed(seed[:])
}

func (s *site) access(d event.Device) bus.Access {
	return bus.Access{Address: s.Address(), Site: north, Device: d, Key: keyOf(d), CA: s.ca.PEM()}
}

func (s *site) line(d event.Device) *bus.Line {
	s.t.Helper()
	l, err := bus.Dial(s.t.Context(), s.access(d))
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(l.Close)
	return l
}

func (s *site) host() *bus.Host {
	s.t.Helper()
	h, err := bus.NewHost(s.Conn(), north)
	if err != nil {
		s.t.Fatal(err)
	}
	return h
}

// raw is a connection with a device's key that sends what it likes.
func (s *site) raw(d event.Device) *nats.Conn {
	s.t.Helper()
	pair, err := nkeys.FromRawSeed(nkeys.PrefixByteUser, keyOf(d).Seed())
	if err != nil {
		s.t.Fatal(err)
	}
	name, err := pair.PublicKey()
	if err != nil {
		s.t.Fatal(err)
	}
	nc, err := nats.Connect("nats://"+s.Address(), nats.Nkey(name, pair.Sign), nats.CustomInboxPrefix(bus.Inbox(d)),
		nats.Secure(s.trusting()))
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(nc.Close)
	return nc
}

func (s *site) trusting() *tls.Config {
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(s.ca.PEM())
	return &tls.Config{RootCAs: pool, ServerName: bus.ServerName, MinVersion: tls.VersionTLS13}
}

func wantKind(t *testing.T, err error, want bus.Kind) {
	t.Helper()
	var e *bus.Error
	if !errors.As(err, &e) || e.Kind != want {
		t.Fatalf("got %#v, want kind %d", err, want)
	}
}
