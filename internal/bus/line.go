package bus

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"net"
	"strings"
	"sync"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nkeys"

	"hod/internal/auth"
	"hod/internal/event"
)

// dialTimeout is how long a connection may take to be made.
const dialTimeout = 5 * time.Second

// Access is all that a device needs to reach its site.
type Access struct {
	Address string             // host:port, or several, parted by commas, of which any will do
	Site    string             // its name on the bus
	Device  event.Device       // the name under which it was enrolled
	Key     ed25519.PrivateKey // the device's own; it signs the server's challenge and never leaves the device
	CA      []byte             // the certificate of the site's authority, PEM; no other is trusted
}

// Line is a device's connection to its site. It is not made again when it goes: dial anew, and begin by comparing
// heads. Safe for several goroutines.
type Line struct {
	*wire
	device event.Device
}

// Dial connects to the site's server, within a few seconds or not at all. The error is an *Error: Unreachable, Refused,
// WrongSite, Clock or Invalid.
func Dial(ctx context.Context, a Access) (*Line, error) {
	if err := CheckSite(a.Site); err != nil {
		return nil, err
	}
	if err := CheckDevice(a.Device); err != nil {
		return nil, err
	}
	urls := strings.Split(a.Address, ",")
	for i, address := range urls {
		if _, _, err := net.SplitHostPort(address); err != nil {
			return nil, fail(Invalid, err, "%q is not the address of a server; one looks like site.example:4222",
				address)
		}
		urls[i] = "nats://" + address
	}
	trusted, err := auth.Certificates(a.CA)
	if err != nil {
		return nil, fail(Invalid, err,
			"there is no certificate of the site's authority, so its server cannot be known; enrol this device again")
	}
	name, sign, err := signer(a.Key)
	if err != nil {
		return nil, err
	}
	limit := dialTimeout
	if deadline, ok := ctx.Deadline(); ok {
		limit = min(limit, time.Until(deadline))
	}
	if err := ctx.Err(); err != nil || limit <= 0 {
		return nil, dialError(a, errors.Join(err, nats.ErrTimeout), &opening{})
	}
	l, heard := &Line{wire: newWire(a.Site), device: a.Device}, &opening{}
	l.nc, err = nats.Connect(strings.Join(urls, ","),
		nats.Nkey(name, sign),
		nats.Secure(TLS(trusted, time.Now)),
		nats.CustomInboxPrefix(Inbox(a.Device)),
		nats.Timeout(limit),
		nats.SetCustomDialer(dialer{ctx, limit, heard}),
		nats.NoReconnect(),
		nats.IgnoreDiscoveredServers(),
		nats.PingInterval(20*time.Second),
		nats.MaxPingsOutstanding(2),
		nats.ErrorHandler(l.onError),
		nats.ClosedHandler(l.onClose),
	)
	if err != nil {
		return nil, dialError(a, err, heard)
	}
	return l, nil
}

// TLS is how a device reaches its site's server, for the bus and for calls: TLS 1.3 only, and the server known by the
// authorities that the device trusts. clock is the device's.
func TLS(trusted []*x509.Certificate, clock func() time.Time) *tls.Config {
	return &tls.Config{
		MinVersion: tls.VersionTLS13, ServerName: ServerName,
		// Invariant: VerifyConnection runs on every connection, resumed or not, and checks all that the standard check
		// does.
		InsecureSkipVerify: true,
		VerifyConnection: func(state tls.ConnectionState) error {
			return auth.VerifyServer(trusted, state.PeerCertificates, ServerName, clock())
		},
	}
}

// dialer lets the caller's context end a connection that is still being made.
type dialer struct {
	ctx   context.Context
	limit time.Duration
	heard *opening
}

func (d dialer) Dial(network, address string) (net.Conn, error) {
	c, err := (&net.Dialer{Timeout: d.limit}).DialContext(d.ctx, network, address)
	if err != nil {
		return nil, err
	}
	return &listening{c, d.heard}, nil
}

// opening is what servers said first, before anything was encrypted. A server that is full says so there, where the
// client below expects a handshake and makes no sense of it. Anybody on the way can have written it.
type opening struct {
	mu    sync.Mutex
	bytes []byte
}

// full reports whether a server said that it takes no more connections.
func (o *opening) full() bool {
	o.mu.Lock()
	defer o.mu.Unlock()
	return bytes.Contains(o.bytes, []byte("-ERR 'maximum connections exceeded'"))
}

// listening is a connection whose beginning is kept.
type listening struct {
	net.Conn
	heard *opening
}

const mostOpening = 16 << 10 // bytes, of all addresses that were tried

func (l *listening) Read(p []byte) (int, error) {
	n, err := l.Conn.Read(p)
	l.heard.mu.Lock()
	defer l.heard.mu.Unlock()
	if room := mostOpening - len(l.heard.bytes); room > 0 {
		l.heard.bytes = append(l.heard.bytes, p[:min(n, room)]...)
	}
	return n, err
}

var errNonce = errors.New("not a challenge: refused to sign it")

// signer makes the device's name at the broker from its key, and what answers the broker's challenge. The same key
// signs segments, so it signs nothing here but what can be no segment: a short word without spaces or zero bytes.
func signer(key ed25519.PrivateKey) (string, nats.SignatureHandler, error) {
	if len(key) != ed25519.PrivateKeySize {
		return "", nil, fail(Invalid, nil, "the device's key has %d bytes, not %d; enrol this device again", len(key),
			ed25519.PrivateKeySize)
	}
	pair, err := nkeys.FromRawSeed(nkeys.PrefixByteUser, key.Seed())
	if err != nil {
		return "", nil, fail(Invalid, err, "the device's key cannot be used; enrol this device again")
	}
	name, err := pair.PublicKey()
	if err != nil {
		return "", nil, fail(Invalid, err, "the device's key cannot be used; enrol this device again")
	}
	return name, func(nonce []byte) ([]byte, error) {
		if len(nonce) < 8 || len(nonce) > 64 {
			return nil, errNonce
		}
		for _, c := range nonce {
			letter := c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z'
			if !letter && (c < '0' || c > '9') && c != '-' && c != '_' && c != '+' && c != '/' && c != '=' {
				return nil, errNonce
			}
		}
		return pair.Sign(nonce)
	}, nil
}

// Publish puts a segment on the site's log. It returns nil when the site has it flushed on its disk; an error of kind
// Unreachable or Gone leaves open whether it arrived, and offering it again is harmless.
func (l *Line) Publish(ctx context.Context, segment []byte) error {
	return l.publish(ctx, l.device, segment)
}

// Read gives up to most messages (1000 at the most, and about 2 MiB) from the number from on, fewer when they are
// large, and none where the log ends. A number may be missing; none comes twice or out of order.
func (l *Line) Read(ctx context.Context, from uint64, most int) ([]Message, error) {
	messages, _, err := l.read(ctx, from, most)
	return messages, err
}

// Follow calls hear with each message that the site stores from now on, one at a time, until the line is closed or stop
// is called. It returns once the server has the subscription, so that a Read that begins afterwards misses nothing that
// hear is not told. A slow hear loses messages: what counts is Read, and Follow is the sign to read.
func (l *Line) Follow(ctx context.Context, hear func(Message)) (stop func(), err error) {
	subject := NewSubjects(l.site)
	asking, end := l.begin(ctx, "follow the log", subject)
	sub, err := l.nc.Subscribe(subject, func(m *nats.Msg) {
		if seq := lastNumber(m, jetstream.SequenceHeader); seq > 0 &&
			lastValue(m, jetstream.StreamHeader) == Stream(l.site) {
			hear(l.message(m, seq))
		}
	})
	if err != nil {
		return nil, end(err)
	}
	err = l.nc.FlushWithContext(asking)
	if said := l.nc.LastError(); err == nil && refuses(said, subject) {
		err = said // it came before the flush was answered, though its handler may not have run
	}
	if err := end(err); err != nil {
		_ = sub.Unsubscribe() // what went wrong is already on its way up
		return nil, err
	}
	return func() { _ = sub.Unsubscribe() }, nil // it fails only on a closed line, which hears nothing either
}

// Done is closed when the line is: by Close, by the server, or by the network.
func (l *Line) Done() <-chan struct{} { return l.closed }

// Close ends the line. What waits on it fails with kind Gone.
func (l *Line) Close() {
	l.nc.Close()
	<-l.closed
}
