package broker

import (
	"cmp"
	"context"
	"crypto/ed25519"
	"crypto/rand"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"path/filepath"
	"strconv"
	"sync"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/rs/zerolog"

	"hod/internal/bus"
	"hod/internal/event"
)

// Config of a broker.
type Config struct {
	Dir    string      // holds the stream; one process at a time
	Listen string      // host:port; port 0 lets the system choose
	TLS    *tls.Config // as Authority.TLS gives it
	Site   string      // the site's name on the bus
	Log    zerolog.Logger
	// Admit says whom a key belongs to, or why it may not come in. It is called for each connection, twice, from
	// several goroutines. A device must be refused here before it is kicked.
	Admit func(ed25519.PublicKey) (Rights, error)

	most int // connections, where it is not maxConnections
}

// Broker is the NATS server inside the process.
type Broker struct {
	server  *server.Server
	auth    *authenticator
	conn    *nats.Conn
	stop    context.CancelFunc // ends what keeps the limits
	keeping sync.WaitGroup
}

// openTimeout is how long the reading of the stream's files may take. It is a guess on the long side: no stream of a
// site took more than seconds here.
const openTimeout = 5 * time.Minute

// errStuck is returned when the files of the stream cannot be read to their end.
var errStuck = errors.New(
	"its files are damaged and cannot be read to their end; move that folder away and start again: the archive fills the stream anew")

// Start starts the server and waits until it serves. What it acknowledges is flushed to Dir first, always.
func Start(ctx context.Context, c Config) (*Broker, error) {
	if err := bus.CheckSite(c.Site); err != nil {
		return nil, err
	}
	if c.TLS == nil || c.Admit == nil || c.Dir == "" {
		return nil, errors.New("a broker needs a folder, a certificate and someone who admits devices")
	}
	d := &authenticator{
		site: c.Site, secret: rand.Text(), admit: c.Admit, log: c.Log,
		conns: map[event.Device][]uint64{}, accounts: map[event.Device]*server.Account{},
	}
	options, err := optionsOf(c, d)
	if err != nil {
		return nil, err
	}
	if err := forgetIndexes(c.Dir); err != nil {
		return nil, err
	}
	s, err := server.NewServer(options)
	if err != nil {
		return nil, fmt.Errorf("set up the broker in %s: %w", c.Dir, err)
	}
	d.server = s
	heard := &listener{log: c.Log, now: time.Now}
	s.SetLoggerV2(heard, false, false, false)
	// The limits hold for as long as the broker does, not for as long as its start may take.
	keep, stop := context.WithCancel(context.WithoutCancel(ctx))
	b := &Broker{server: s, auth: d, stop: stop}
	s.Start()
	b.keeping.Go(func() { d.keepLimits(keep) })
	if err := b.ready(ctx, c, heard); err != nil {
		if !errors.Is(err, errStuck) { // what is stuck holds what a stop would wait for
			b.Stop()
		}
		return nil, err
	}
	return b, nil
}

// optionsOf returns the settings of the server inside; auth says who may connect.
func optionsOf(c Config, auth *authenticator) (*server.Options, error) {
	host, port, err := listenOn(c.Listen)
	if err != nil {
		return nil, err
	}
	account, err := isolate(c.Site)
	if err != nil {
		return nil, err
	}
	none, err := takingNone()
	if err != nil {
		return nil, fmt.Errorf("make an account that takes no connections: %w", err)
	}
	return &server.Options{
		ServerName:        "hod-" + c.Site,
		Host:              host,
		Port:              port,
		NoSigs:            true,
		JetStream:         true,
		StoreDir:          c.Dir,
		SyncAlways:        true,
		JetStreamMaxStore: 1 << 50, // how much it may hold is the limit of the stream, server/space's
		MaxPayload:        bus.MaxPayload,
		MaxConn:           cmp.Or(c.most, maxConnections),
		MaxSubs:           maxSubscriptions,
		MaxPending:        maxPending,
		MaxControlLine:    4096,
		// what a phone left behind that lost its network is not counted for long
		PingInterval:           10 * time.Second,
		MaxPingsOut:            2,
		WriteDeadline:          10 * time.Second,
		AuthTimeout:            5,
		TLS:                    true,
		TLSTimeout:             5,
		TLSConfig:              c.TLS,
		Accounts:               []*server.Account{account, none},
		DisableJetStreamBanner: true,

		CustomClientAuthentication: auth,
		AlwaysEnableNonce:          true,
	}, nil
}

func (b *Broker) ready(ctx context.Context, c Config, heard *listener) error {
	ctx, stop := context.WithTimeout(ctx, startTimeout)
	defer stop()
	for !b.server.ReadyForConnections(100 * time.Millisecond) {
		if err := errors.Join(heard.fatal(), ctx.Err()); err != nil {
			return fmt.Errorf(
				"the broker did not start at %s in %s; the address may be taken, or the folder not be writable: %w",
				c.Listen, c.Dir, err)
		}
	}
	if js := b.server.JetStreamConfig(); js == nil || !js.SyncAlways {
		return fmt.Errorf(
			"the broker in %s cannot keep a stream that is flushed before it acknowledges; see whether the folder may be written", c.Dir)
	}
	account, err := b.server.LookupAccount(siteAccount)
	if err != nil {
		return fmt.Errorf("find the site's account: %w", err)
	}
	// Damage that sends this round and round is kept from it by forgetIndexes, as far as is known. It cannot be
	// stopped, only left.
	opened := make(chan error, 1)
	go func() { opened <- account.EnableJetStream(nil, nil) }()
	select {
	case err = <-opened:
	case <-time.After(openTimeout):
		err = errStuck
	}
	if err != nil {
		return fmt.Errorf("open the stream in %s: %w", filepath.Join(c.Dir, "jetstream"), err)
	}
	b.conn, err = nats.Connect("", nats.InProcessServer(b.server), nats.UserInfo(hostUser, b.auth.secret),
		nats.Name(hostUser),
		nats.Timeout(startTimeout), nats.MaxReconnects(-1), nats.ReconnectWait(100*time.Millisecond))
	if err != nil {
		return fmt.Errorf("connect the host to its own broker: %w", err)
	}
	return nil
}

// Conn is the host's own connection, which has all rights at the site. It is closed by Stop.
func (b *Broker) Conn() *nats.Conn { return b.conn }

// Address is where devices reach the broker, host:port.
func (b *Broker) Address() string { return b.server.Addr().String() }

// Kick ends the live connections of a device and says how many there were. Admit must refuse the device before.
func (b *Broker) Kick(device event.Device) int { return b.auth.disconnect(device) }

// Stop ends all connections and returns when the stream is closed on the disk.
func (b *Broker) Stop() {
	if b.stop != nil {
		b.stop()
		b.keeping.Wait()
	}
	if b.conn != nil {
		// What the host has sent is with the server before it stops; what is not acknowledged the host has not counted
		// on.
		_ = b.conn.FlushTimeout(2 * time.Second)
		b.conn.Close()
	}
	b.server.Shutdown()
	b.server.WaitForShutdown()
}

// listenOn reads host:port. An empty host is all of the machine's addresses.
func listenOn(address string) (string, int, error) {
	host, word, err := net.SplitHostPort(address)
	port, bad := strconv.Atoi(word)
	if err != nil || bad != nil || port < 0 || port > 65535 {
		return "", 0, fmt.Errorf("%q is not an address to listen on; one looks like 0.0.0.0:4222", address)
	}
	if host == "" {
		host = "0.0.0.0"
	}
	if port == 0 {
		port = server.RANDOM_PORT
	}
	return host, port, nil
}
