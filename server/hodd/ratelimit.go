package main

import (
	"context"
	"sync"
	"time"

	"golang.org/x/time/rate"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
)

// How fast one device may bring segments, its own or others'. A device that carries a whole site's log to a server
// that lost it stays below: a hundred thousand events are some 50 MB in some thirty thousand segments.
const (
	segmentsAtOnce  = 50_000
	segmentsASecond = 100
	eventsAtOnce    = 150_000 // each of which every device reads and folds
	eventsASecond   = 200
	bytesAtOnce     = 256 << 20
	bytesASecond    = 1 << 20
	blockedFor      = time.Minute      // how long one is put out that goes beyond
	maxAge          = 10 * time.Minute // what the stream stored longer ago is read again, not brought now
)

// rateLimiter ends the connections of a device for a while that brings too much at once: what one that went wrong
// writes fills the disk and delays everybody. Nothing that it sent is lost; what it did not get rid of, it offers
// again.
type rateLimiter struct {
	now  func() time.Time
	host event.Device       // which may
	out  func(event.Device) // ends a device's connections; set before anything is brought

	mu    sync.Mutex
	last  time.Time // of the messages counted: the stream is read again now and then
	spent map[event.Device]*budgets
	until map[event.Device]time.Time
}

type budgets struct{ segments, events, bytes *rate.Limiter }

func newRateLimiter(now func() time.Time, host event.Device) *rateLimiter {
	return &rateLimiter{now: now, host: host, spent: map[event.Device]*budgets{}, until: map[event.Device]time.Time{}}
}

// count counts a message by the time at which the server stored it.
func (p *rateLimiter) count(m bus.Message) {
	p.mu.Lock()
	now := p.now()
	counts := m.Carrier != p.host && m.At.After(p.last) && now.Sub(m.At) < maxAge
	over := false
	if counts {
		p.last = m.At
		b := p.spent[m.Carrier]
		if b == nil {
			b = &budgets{
				rate.NewLimiter(segmentsASecond, segmentsAtOnce), rate.NewLimiter(eventsASecond, eventsAtOnce),
				rate.NewLimiter(bytesASecond, bytesAtOnce),
			}
			p.spent[m.Carrier] = b
		}
		within := b.segments.AllowN(m.At, 1)
		within = b.events.AllowN(m.At, chain.Count(m.Data)) && within
		within = b.bytes.AllowN(m.At, len(m.Data)) && within
		over = !within && now.After(p.until[m.Carrier])
		if over {
			p.until[m.Carrier] = now.Add(blockedFor)
		}
	}
	p.mu.Unlock()
	if over {
		p.out(m.Carrier)
	}
}

// blocked reports whether a device is put out now.
func (p *rateLimiter) blocked(d event.Device) bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.now().Before(p.until[d])
}

// Consume counts what is brought as it is handed on.
func (r *siteStream) Consume(ctx context.Context, from uint64, take func(bus.Message) error) error {
	return r.Host.Consume(ctx, from, func(m bus.Message) error {
		r.limiter.count(m)
		return take(m)
	})
}
