package sim_test

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"time"

	"hod/client/journal"
	"hod/client/sync"
	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
)

// stream is the site's stream on the bus: it numbers what comes, and may lose it, or be made anew and number again. Its
// conduct is that of bus.Host, whose own tests hold it to a real server.
type stream struct {
	w      *world
	stored []message
	last   uint64
}

type message struct {
	bus.Message
	facts  []event.Hash
	rotten bool // it is counted, and cannot be read any more
}

func (s *stream) State(context.Context) (bus.State, error) {
	st := bus.State{Last: s.last, Messages: uint64(len(s.stored)), Created: time.Unix(1, 0)}
	if len(s.stored) > 0 {
		st.First = s.stored[0].Seq
	}
	return st, nil
}

// from is what can be read of it from a number on.
func (s *stream) from(seq uint64) []message {
	i, _ := slices.BinarySearchFunc(s.stored, seq, func(m message, n uint64) int { return int(m.Seq) - int(n) })
	if !slices.ContainsFunc(s.stored[i:], func(m message) bool { return m.rotten }) {
		return s.stored[i:]
	}
	return slices.DeleteFunc(slices.Clone(s.stored[i:]), func(m message) bool { return m.rotten })
}

// rot makes a message unreadable. The stream counts it all the same.
func (s *stream) rot(i int) {
	m := &s.stored[i]
	for _, f := range m.facts {
		s.w.held[f]--
	}
	m.facts, m.rotten = nil, true
}

// Consume hands on what there is, and returns at its end.
func (s *stream) Consume(_ context.Context, from uint64, take func(bus.Message) error) error {
	if s.last+1 < from {
		return &bus.StreamResetError{Read: from - 1, Last: s.last}
	}
	for _, m := range s.from(from) {
		if err := take(m.Message); err != nil {
			return err
		}
	}
	return nil
}

func (s *stream) Publish(_ context.Context, carrier event.Device, segment []byte) error {
	s.store(carrier, segment)
	return nil
}

func (s *stream) store(carrier event.Device, data []byte) {
	s.last++
	m := message{Message: bus.Message{Seq: s.last, Carrier: carrier, Data: data}, facts: s.w.factsIn(data)}
	s.stored = append(s.stored, m)
	for _, f := range m.facts {
		s.w.held[f]++
	}
}

// lose the messages from the ith to the one before the jth.
func (s *stream) lose(i, j int) {
	for _, m := range s.stored[i:j] {
		for _, f := range m.facts {
			s.w.held[f]--
		}
	}
	s.stored = slices.Delete(s.stored, i, j)
}

var (
	errCut     = errors.New("the line broke, or the process died")
	errFull    = &journal.Error{Kind: journal.Full, Msg: "the disk is full"}
	errRefused = errors.New("the server lets this device in no more")
	errDown    = errors.New("the server does not answer")
)

// cut is where a contact ends before its end: at the nth step, before its effect or after it.
type cut struct {
	in    int // steps until then; below 0 for never
	after bool
	// it is the device's disk that fails: a step that writes leaves nothing, and the contact ends with that error
	disk   bool
	revoke bool // the device is revoked in that moment; nothing is cut but what the server then refuses
}

// contact is one contact under way: the device's line to the server, and its record, both of which may fail at any
// step.
type contact struct {
	*journal.Journal
	w    *world
	d    *device
	cut  cut
	dead error
	lag  int // messages at the stream's end that the copy which answers this device has not got yet
}

// step runs one step of a contact. what is told where it is cut.
func step[V any](c *contact, what string, writes bool, do func() (V, error)) (V, error) {
	var none V
	if c.dead != nil {
		return none, c.dead
	}
	hit := c.cut.in == 0
	c.cut.in--
	if hit && c.cut.revoke {
		c.w.revoke(c.d.writes)
		hit = false
	}
	if !hit {
		return do()
	}
	switch c.dead = errCut; {
	case c.cut.disk && writes:
		c.dead = errFull
		c.w.tally.DiskErrors++
		return none, c.dead
	case what == "publish" && c.cut.after:
		c.w.tally.LostAcks++
	case what == "publish":
		c.w.tally.LostRequests++
	case writes:
		c.w.tally.Crashes++
	default:
		c.w.tally.Cuts++
	}
	c.w.say("cut at %s, after it: %v", what, c.cut.after)
	if c.cut.after {
		_, _ = do()
	}
	return none, c.dead
}

func (c *contact) IngestAt(ctx context.Context, at journal.Position, segs ...chain.Segment) (journal.Kept, error) {
	return step(c, "keep", true, func() (journal.Kept, error) { return c.Journal.IngestAt(ctx, at, segs...) })
}

func (c *contact) Rewrite(ctx context.Context, now time.Time, h chain.Head, segs ...chain.Segment) (journal.Rewritten,
	error,
) {
	return step(c, "rewrite", true, func() (journal.Rewritten, error) {
		return c.Journal.Rewrite(ctx, now, h, segs...)
	})
}

func (c *contact) Follow(ctx context.Context, now time.Time, h chain.Head, segs ...chain.Segment) (journal.Rewritten,
	error,
) {
	return step(c, "follow", true, func() (journal.Rewritten, error) { return c.Journal.Follow(ctx, now, h, segs...) })
}

func (c *contact) Again(ctx context.Context) ([]event.Event, error) {
	return step(c, "write again", true, func() ([]event.Event, error) { return c.Journal.Again(ctx) })
}

func (c *contact) SetContact(ctx context.Context, known journal.Contact) error {
	_, err := step(c, "note the contact", true,
		func() (struct{}, error) {
			err := c.Journal.SetContact(ctx, known)
			if err == nil {
				c.w.tells(c.d)
			}
			return struct{}{}, err
		})
	return err
}

// line is the same contact as the sync core sees the server through it.
type line struct{ *contact }

func (l line) Heads(context.Context) (sync.Heads, error) {
	return step(l.contact, "ask", false, func() (sync.Heads, error) {
		w := l.w
		if w.calm || w.r.IntN(5) > 0 {
			w.serve()
		}
		if err := l.open(); err != nil {
			return sync.Heads{}, err
		}
		heads := w.server.host.Heads()
		w.promise(heads)
		return sync.Heads{Heads: heads, Now: w.clock(), RoundTrip: 40 * time.Millisecond}, nil
	})
}

func (l line) Publish(_ context.Context, segment []byte) error {
	_, err := step(l.contact, "publish", false, func() (struct{}, error) {
		w := l.w
		if err := l.open(); err != nil {
			return struct{}{}, err
		}
		w.stream.store(l.d.writes, segment)
		if !w.calm && w.r.IntN(12) == 0 {
			w.tally.Replays++
			w.stream.store(l.d.writes, segment)
		}
		if !w.calm && w.r.IntN(10) == 0 {
			w.later(l.d.writes, segment)
		}
		return struct{}{}, nil
	})
	if errors.Is(err, errCut) && !l.cut.after && l.cut.in == -1 && l.w.r.IntN(3) == 0 {
		l.w.later(l.d.writes, segment) // the request was slow, not lost
	}
	return err
}

func (l line) Read(_ context.Context, from uint64, most int) ([]sync.Message, error) {
	return step(l.contact, "read", false, func() ([]sync.Message, error) {
		if err := l.open(); err != nil {
			return nil, err
		}
		found := l.w.stream.from(from)
		if behind := l.w.stream.last - min(l.w.stream.last, uint64(l.lag)); l.lag > 0 {
			found = slices.DeleteFunc(slices.Clone(found), func(m message) bool { return m.Seq > behind })
		}
		if !l.w.calm {
			most = min(most, 24) // in several answers, for more places to cut
		}
		var msgs []sync.Message
		if l.w.foe != nil {
			l.w.foe.read += min(most, len(found))
		}
		for _, m := range found[:min(most, len(found))] {
			msgs = append(msgs, sync.Message{Seq: m.Seq, Data: m.Data})
		}
		return msgs, nil
	})
}

func (l line) open() error {
	switch {
	case l.w.revoked[l.d.writes]:
		return errRefused
	case l.w.server.host == nil:
		return errDown
	}
	return nil
}

// later puts a message under way that arrives hours from now, or days.
func (w *world) later(carrier event.Device, segment []byte) {
	w.tally.Replays++
	at := w.now.Add(time.Duration(w.r.Int64N(int64(72 * time.Hour))))
	w.slow = append(w.slow, slowMessage{at, carrier, segment})
}

type slowMessage struct {
	at      time.Time
	carrier event.Device
	data    []byte
}

// deliver what has arrived by now.
func (w *world) deliver(all bool) {
	var left []slowMessage
	for _, m := range w.slow {
		if all || !m.at.After(w.now) {
			w.stream.store(m.carrier, m.data)
		} else {
			left = append(left, m)
		}
	}
	w.slow = left
}

// factsIn are those of a message that its author signed.
func (w *world) factsIn(data []byte) []event.Hash {
	sum := sha256.Sum256(data)
	if facts, ok := w.read[sum]; ok {
		return facts
	}
	var facts []event.Hash
	if s, err := chain.ReadSegment(data); err == nil && s.Site == site {
		if key := w.keys[s.Before.Device]; key != nil && s.Verify(key) == nil {
			for _, e := range s.Events {
				facts = append(facts, e.Origin())
			}
		}
	}
	w.read[sum] = facts
	return facts
}

func brief(heads []chain.Head) (s []string) {
	for _, h := range heads {
		s = append(s, fmt.Sprintf("%s/%d:%x", h.Device, h.Seq, h.Chain[:2]))
	}
	return s
}
