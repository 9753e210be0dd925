package host

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/server/fault"
	"hod/server/store"
)

// StreamChecked says what a full reading of the stream found.
type StreamChecked struct {
	Messages int      `json:"messages"` // that could be read
	Events   int      `json:"events"`   // of the record that lie in it
	Faults   []string `json:"faults,omitempty"`
	Notes    []string `json:"notes,omitempty"` // what is no fault, and good to know
}

// checkPatience is how long a full reading waits for the next message before it takes what is left for unreadable.
const checkPatience = 3 * time.Second

// streamCheck compares what is read with the record that the archive gave.
type streamCheck struct {
	found      StreamChecked
	chains     *chain.Log
	checkpoint checkpoint
	missing    []run // numbers that were given out and hold nothing that can be read
	cut        []string
	seen       checkpoint
	next       uint64
}

// CheckStream reads the whole stream again and holds each message against the record: unreadable ones, ones that are no
// segment of this site, and signatures that are not their device's are named by their number.
func (h *Host) CheckStream(ctx context.Context, s Stream) (StreamChecked, error) {
	h.writing.Lock()
	known := h.checkpoint.clone()
	h.writing.Unlock()
	return checkStream(ctx, s, &streamCheck{chains: h.chains, checkpoint: known}, func(do func()) {
		h.writing.Lock()
		defer h.writing.Unlock()
		do()
	})
}

// CheckStreamOf does what CheckStream does for a folder on which no server runs; open opens its stream, and says in words
// what had to be cut off for that. The Error is of kind Busy if one does: server/admin has that server do it.
func CheckStreamOf(ctx context.Context, dir string, open func(site string) (s Stream, cut []string, end func(), err error)) (StreamChecked, error) {
	lock, err := store.Lock(dir)
	if err != nil {
		return StreamChecked{}, err
	}
	defer func() { _ = lock.Close() }() // nothing is written to it
	id, err := store.ReadIdentity(dir)
	if err != nil {
		return StreamChecked{}, err
	}
	c := &streamCheck{chains: newLog(id)}
	if saved, err := readReached(dir, id); err == nil {
		c.checkpoint = saved.checkpoint()
	}
	err = store.Records(dir, func(raw []byte) error {
		if segment, err := chain.ReadSegment(raw); err == nil {
			c.chains.Take(segment, nil)
		}
		return nil
	})
	if err != nil {
		return StreamChecked{}, err
	}
	s, cut, end, err := open(id.Site)
	if err != nil {
		return StreamChecked{}, err
	}
	defer end()
	c.cut = cut
	return checkStream(ctx, s, c, func(do func()) { do() })
}

func checkStream(ctx context.Context, s Stream, c *streamCheck, guarded func(func())) (StreamChecked, error) {
	state, err := s.State(ctx)
	switch {
	case errors.Is(err, bus.ErrNoStream):
		c.found.Faults = append(c.found.Faults, "there is no stream")
	case err != nil:
		return StreamChecked{}, err
	}
	c.next = 1
	if state.Last > 0 {
		reading, done := context.WithCancel(ctx)
		idle := time.AfterFunc(checkPatience, done)
		err = s.Consume(reading, 1, func(m bus.Message) error {
			idle.Reset(checkPatience)
			if m.Seq > state.Last {
				done()
				return nil
			}
			guarded(func() { c.take(m) })
			if m.Seq == state.Last {
				done()
			}
			return nil
		})
		idle.Stop()
		done()
		if ctx.Err() != nil {
			return StreamChecked{}, ctx.Err()
		}
		if err != nil && !errors.Is(err, context.Canceled) {
			return StreamChecked{}, err
		}
	}
	guarded(func() { c.end(state) })
	return c.found, nil
}

// take one message that could be read.
func (c *streamCheck) take(m bus.Message) {
	if m.Seq > c.next {
		c.missing = append(c.missing, run{c.next, m.Seq - 1})
	}
	c.next = m.Seq + 1
	c.found.Messages++
	wrong := func(format string, args ...any) {
		c.found.Faults = append(c.found.Faults, fmt.Sprintf("message %d of the stream, brought by %s, ", m.Seq, fault.Quote(m.Carrier))+fmt.Sprintf(format, args...))
	}
	if at := c.checkpoint.Top; at.Seq == m.Seq && at != positionOf(m) {
		wrong("is another than the server read there")
	}
	s, err := chain.ReadSegment(m.Data)
	if err != nil {
		wrong("is no segment: %v", err)
		return
	}
	d := s.Before.Device
	err = c.chains.Keys().Verify(s) // that of one that is held already, too
	verdict := c.chains.Judge(s, func(chain.Head) bool { return true }).Verdict
	switch {
	case errors.Is(err, chain.ErrWrongSite):
		wrong("is of the site %q", s.Site)
	case errors.Is(err, chain.ErrNotEnrolled):
		c.found.Notes = append(c.found.Notes, fmt.Sprintf("message %d of the stream is of device %s, which nobody enrolled as far as the record goes", m.Seq, fault.Quote(d)))
	case err != nil:
		wrong("holds events %d to %d of %s, not signed by that device", s.First(), s.After.Seq, d)
	case verdict == chain.Duplicate:
		c.seen.saw(d, s.First(), s.After.Seq)
	case verdict == chain.Fork:
		c.found.Notes = append(c.found.Notes, fmt.Sprintf("message %d of the stream holds another history of %s than the record, events %d to %d: a fork, set aside", m.Seq, d, s.First(), s.After.Seq))
	default:
		c.found.Notes = append(c.found.Notes, fmt.Sprintf("message %d of the stream holds events %d to %d of %s, which the record has not taken in", m.Seq, s.First(), s.After.Seq, d))
	}
}

// end says what is missing, and whether what it held is there all the same.
func (c *streamCheck) end(state bus.State) {
	if c.next <= state.Last {
		c.missing = append(c.missing, run{c.next, state.Last})
	}
	if top := c.checkpoint.Top.Seq; top > state.Last {
		c.found.Faults = append(c.found.Faults, fmt.Sprintf("the stream ends at message %d; the server once read message %d", state.Last, top))
	}
	var lacks []string
	for _, h := range c.chains.Heads() {
		for _, r := range c.seen.Seen[h.Device] {
			c.found.Events += int(min(r[1], h.Seq) - r[0] + 1)
		}
		if h.Seq > 0 && !c.seen.has(h.Device, 1, h.Seq) {
			lacks = append(lacks, string(h.Device))
		}
	}
	slices.Sort(lacks)
	if len(lacks) > 0 {
		c.found.Faults = append(c.found.Faults, c.cut...)
	} else { // what was never acknowledged, mostly
		c.found.Notes = append(c.found.Notes, c.cut...)
	}
	for _, r := range c.missing {
		says := fmt.Sprintf("messages %d to %d of the stream cannot be read", r[0], r[1])
		if r[0] == r[1] {
			says = fmt.Sprintf("message %d of the stream cannot be read", r[0])
		}
		if len(lacks) == 0 {
			c.found.Notes = append(c.found.Notes, says+"; all that the record holds lies in the stream again")
		} else {
			c.found.Faults = append(c.found.Faults, says)
		}
	}
	if len(lacks) > 0 {
		says := fmt.Sprintf("the stream lacks events of %s that the archive holds; the server gives them to it while it runs", strings.Join(lacks, ", "))
		if len(c.found.Faults) > 0 {
			c.found.Faults = append(c.found.Faults, says)
		} else { // they were on their way when it was read
			c.found.Notes = append(c.found.Notes, says)
		}
	}
}
