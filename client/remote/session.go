package remote

import (
	"context"
	"fmt"

	"hod/client/journal"
	"hod/client/sync"
	"hod/internal/bus"
	"hod/internal/chain"
)

// Session is this device's way to its site's stream, up for as long as it works: contacts go over it. Not for several
// goroutines.
type Session struct {
	journal *journal.Journal
	line    *bus.Line
	ring    *chain.KeyRing

	// Progress is told what a contact did so far, after each piece; nil: nobody asks.
	Progress func(sync.Outcome)
	// SendOnly has contacts take in nothing that others wrote.
	SendOnly bool
}

// Open dials the site's bus, within a few seconds or not at all. The error is a *bus.Error, or the journal's own.
func Open(ctx context.Context, j *journal.Journal) (*Session, error) {
	d := j.Device()
	line, err := bus.Dial(ctx, bus.Access{Address: d.Bus, Site: d.Site, Device: d.Name, Key: d.Key, CA: d.CA})
	if err != nil {
		return nil, err
	}
	ring, err := j.KeyRing(ctx)
	if err != nil {
		line.Close()
		return nil, fmt.Errorf("read whom the record enrols: %w", err)
	}
	return &Session{journal: j, line: line, ring: ring}, nil
}

// Contact brings record and server to the same, once.
func (r *Session) Contact(ctx context.Context, clock sync.Clock) (sync.Outcome, error) {
	return sync.Contact{
		Journal: r.journal, Line: busConn{r.line}, Ring: r.ring, Clock: clock, Progress: r.Progress,
		SendOnly: r.SendOnly,
	}.Once(ctx)
}

// Changed calls tell whenever somebody wrote to the site's stream, until stop is called.
func (r *Session) Changed(ctx context.Context, tell func()) (stop func(), err error) {
	return r.line.Follow(ctx, func(bus.Message) { tell() })
}

// Gone is closed when the connection is.
func (r *Session) Gone() <-chan struct{} { return r.line.Done() }

// Close lets the connection go.
func (r *Session) Close() { r.line.Close() }

// busConn is the bus as the sync sees it.
type busConn struct{ line *bus.Line }

func (b busConn) Heads(ctx context.Context) (sync.Heads, error) {
	h, err := b.line.Heads(ctx)
	return sync.Heads{Heads: h.Heads, BackedUp: h.BackedUp, Now: h.Now, RoundTrip: h.RoundTrip, Notice: h.Notice}, err
}

func (b busConn) Publish(ctx context.Context, segment []byte) error {
	return b.line.Publish(ctx, segment)
}

func (b busConn) Read(ctx context.Context, from uint64, most int) ([]sync.Message, error) {
	read, err := b.line.Read(ctx, from, most)
	messages := make([]sync.Message, len(read))
	for i, m := range read {
		messages[i] = sync.Message{Seq: m.Seq, Data: m.Data}
	}
	return messages, err
}
