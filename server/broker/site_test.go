package broker

import (
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"sync"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nkeys"
	"github.com/rs/zerolog"

	"hod/internal/bus"
	"hod/internal/event"
)

const north = "north-dome"

// site is a broker with a stream, and a book of who is enrolled.
type site struct {
	*Broker
	t    *testing.T
	dir  string
	ca   *Authority
	tls  *tls.Config
	host *bus.Host

	most    int      // connections that it takes; 0 for the usual number
	cluster *Cluster // that it is connected to; nil with the broker inside

	mu   sync.Mutex
	book map[string]Rights // by public key
}

func newSite(t *testing.T) *site { return newSiteOf(t, 0) }

func newSiteOf(t *testing.T, most int) *site {
	t.Helper()
	s := &site{t: t, dir: t.TempDir(), book: map[string]Rights{}, most: most}
	var err error
	if s.ca, err = OpenAuthority(t.TempDir(), time.Now()); err != nil {
		t.Fatal(err)
	}
	if s.tls, err = s.ca.TLS(time.Now, "127.0.0.1"); err != nil {
		t.Fatal(err)
	}
	s.start("127.0.0.1:0")
	t.Cleanup(func() { s.Stop() })
	return s
}

func (s *site) start(listen string) {
	s.t.Helper()
	b, err := Start(s.t.Context(), Config{
		Dir: s.dir, Listen: listen, TLS: s.tls, Site: north, Log: zerolog.Nop(),
		Admit: s.admit, most: s.most,
	})
	if err != nil {
		s.t.Fatal(err)
	}
	s.Broker = b
	if err := bus.Ensure(s.t.Context(), b.Conn(), north, 1); err != nil {
		s.t.Fatal(err)
	}
	if s.host, err = bus.NewHost(b.Conn(), north); err != nil {
		s.t.Fatal(err)
	}
	if _, err := s.host.ServeHeads(func() bus.Heads { return bus.Heads{} }); err != nil {
		s.t.Fatal(err)
	}
}

func (s *site) admit(key ed25519.PublicKey) (Rights, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	r, ok := s.book[string(key)]
	if !ok {
		return Rights{}, errors.New("not enrolled")
	}
	return r, nil
}

// keyOf makes the same key for the same name.
func keyOf(name string) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte(name))
	return ed25519.NewKeyFromSeed(seed[:])
}

func (s *site) enrol(device event.Device, role event.Role) bus.Access {
	key := keyOf(string(device))
	s.mu.Lock()
	defer s.mu.Unlock()
	s.book[string(key.Public().(ed25519.PublicKey))] = Rights{device, role}
	return bus.Access{Address: s.Address(), Site: north, Device: device, Key: key, CA: s.ca.PEM()}
}

func (s *site) revoke(device event.Device) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.book, string(keyOf(string(device)).Public().(ed25519.PublicKey)))
}

func (s *site) dial(a bus.Access) *bus.Line {
	s.t.Helper()
	l, err := bus.Dial(s.t.Context(), a)
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(l.Close)
	return l
}

// raw is a connection with a device's key that asks for what it likes.
func (s *site) raw(a bus.Access) (*nats.Conn, <-chan error) {
	s.t.Helper()
	pair, err := nkeys.FromRawSeed(nkeys.PrefixByteUser, a.Key.Seed())
	if err != nil {
		s.t.Fatal(err)
	}
	name, err := pair.PublicKey()
	if err != nil {
		s.t.Fatal(err)
	}
	refusals := make(chan error, 64)
	nc, err := nats.Connect("nats://"+a.Address, nats.Nkey(name, pair.Sign), nats.Secure(s.trusting()),
		nats.CustomInboxPrefix(bus.Inbox(a.Device)), nats.NoReconnect(),
		nats.ErrorHandler(func(_ *nats.Conn, _ *nats.Subscription, err error) { refusals <- err }))
	if err != nil {
		s.t.Fatal(err)
	}
	s.t.Cleanup(nc.Close)
	return nc, refusals
}

func (s *site) trusting() *tls.Config {
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(s.ca.PEM())
	return &tls.Config{RootCAs: pool, ServerName: bus.ServerName, MinVersion: tls.VersionTLS13}
}

// log reads all that the stream holds, as the host.
func (s *site) log() []bus.Message {
	s.t.Helper()
	state, err := s.host.State(s.t.Context())
	if err != nil {
		s.t.Fatal(err)
	}
	var all []bus.Message
	done := errors.New("done")
	if state.Messages == 0 {
		return nil
	}
	err = s.host.Consume(s.t.Context(), 1, func(m bus.Message) error {
		all = append(all, m)
		if m.Seq == state.Last {
			return done
		}
		return nil
	})
	if !errors.Is(err, done) {
		s.t.Fatal(err)
	}
	return all
}

func kind(err error) bus.Kind {
	var e *bus.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return bus.Internal
}

func wantKind(t *testing.T, err error, want bus.Kind) {
	t.Helper()
	if err == nil {
		t.Fatalf("got no error, want kind %d", want)
	}
	if got := kind(err); got != want {
		t.Fatalf("got kind %d (%v), want %d", got, err, want)
	}
}

func wait(t *testing.T, refusals <-chan error) error {
	t.Helper()
	select {
	case err := <-refusals:
		return err
	case <-time.After(20 * time.Second):
		t.Fatal("the server said nothing")
		return nil
	}
}

// kick ends a device's connections and says how many there were.
func (s *site) kick(d event.Device) int {
	s.t.Helper()
	if s.cluster == nil {
		return s.Kick(d)
	}
	n, err := s.cluster.Kick(s.t.Context(), d)
	if err != nil {
		s.t.Error(err)
	}
	return n
}
