// Package limit says how much of a server one address may use, so that a flood from one address leaves to the others
// what they need.
//
// It promises that what it keeps is bounded, however many addresses there are. It knows nothing of who calls: whoever
// stands behind the same address as a flood waits with it. Its users are server/api and server/web; the bus has limits
// of its own, in server/broker.
package limit

import (
	"net"
	"net/netip"
	"sync"
	"time"

	"golang.org/x/time/rate"
)

// mostAddresses is how many addresses have a limiter of their own at one time; those beyond share one.
const mostAddresses = 4096

// Rate is how often something may happen by address. It is safe for several goroutines.
type Rate struct {
	each  rate.Limit
	burst int

	mu     sync.Mutex
	of     map[netip.Prefix]*rate.Limiter
	beyond *rate.Limiter
	swept  time.Time // when those that have all of their share were last dropped
}

// NewRate returns a Rate of so many events a second and address, and so many at once.
func NewRate(each rate.Limit, burst int) *Rate {
	return &Rate{each: each, burst: burst, of: map[netip.Prefix]*rate.Limiter{}, beyond: rate.NewLimiter(each, burst)}
}

// Allow reports whether remote, host:port, may go on now, and counts it.
func (r *Rate) Allow(remote string) bool { return r.limiter(prefixOf(remote)).Allow() }

func (r *Rate) limiter(from netip.Prefix) *rate.Limiter {
	r.mu.Lock()
	defer r.mu.Unlock()
	if l, ok := r.of[from]; ok {
		return l
	}
	if now := time.Now(); len(r.of) >= mostAddresses && now.Sub(r.swept) >= time.Second {
		r.swept = now
		for p, l := range r.of { // who has all of its share is as good as new
			if l.Tokens() >= float64(r.burst) {
				delete(r.of, p)
			}
		}
	}
	if len(r.of) >= mostAddresses {
		return r.beyond
	}
	l := rate.NewLimiter(r.each, r.burst)
	r.of[from] = l
	return l
}

// prefixOf is what counts as one address: the whole of it in IPv4, the network that a subscriber gets in IPv6. What is
// no address counts as one, too.
func prefixOf(remote string) netip.Prefix {
	at, err := netip.ParseAddrPort(remote)
	if err != nil {
		return netip.Prefix{}
	}
	ip := at.Addr().Unmap()
	bits := 64
	if ip.Is4() {
		bits = 32
	}
	p, err := ip.Prefix(bits)
	if err != nil {
		return netip.Prefix{}
	}
	return p
}

// Address is what counts as one address for a limit of another package, as it does for Allow.
func Address(remote string) string { return prefixOf(remote).String() }

// Listen returns l with at most so many connections of one address open at a time; more are closed as they come.
func Listen(l net.Listener, most int) net.Listener {
	return &listener{Listener: l, most: most, open: map[netip.Prefix]int{}}
}

type listener struct {
	net.Listener
	most int

	mu   sync.Mutex
	open map[netip.Prefix]int
}

func (l *listener) Accept() (net.Conn, error) {
	for {
		c, err := l.Listener.Accept()
		if err != nil {
			return nil, err
		}
		from := prefixOf(c.RemoteAddr().String())
		if l.take(from) {
			return &conn{Conn: c, leave: func() { l.leave(from) }}, nil
		}
		_ = c.Close() // nothing was said on it
	}
}

func (l *listener) take(from netip.Prefix) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.open[from] >= l.most {
		return false
	}
	l.open[from]++
	return true
}

func (l *listener) leave(from netip.Prefix) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.open[from]--; l.open[from] <= 0 {
		delete(l.open, from)
	}
}

// conn is a connection that is counted until it is closed.
type conn struct {
	net.Conn
	once  sync.Once
	leave func()
}

func (c *conn) Close() error {
	c.once.Do(c.leave)
	return c.Conn.Close()
}
