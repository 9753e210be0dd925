package host

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
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

// checkTimeout is how long a full reading waits for the next message before it takes what is left for unreadable.
const checkTimeout = 3 * time.Second

// streamCheck compares what is read with the log that the archive gave.
type streamCheck struct {
	found      StreamChecked
	chains     *chain.Log
	checkpoint checkpoint
	missing    []run // numbers that were given out and hold nothing that can be read
	cut        []string
	seen       checkpoint
	next       uint64
	strange    []*strange
}

// strange is messages of one carrier that are one thing that no hod writes. Whoever may write to the stream can put any
// bytes there, so they are faults only where something that the stream held is missing: one of them may have been it.
type strange struct {
	carrier event.Device
	what    string // of each, after "is"
	first   string // about the first of them; may be empty
	count   int
	at      []run // their numbers
	fault   bool  // also where nothing is missing
}

// ofNobody is what a message is that a device wrote which is not enrolled yet: it waits.
const ofNobody = "of a device that nobody enrolled, as far as the record goes"

// mostRuns is how many runs of numbers are written out of one carrier's strange messages.
const mostRuns = 20

func (c *streamCheck) note(m bus.Message, what, first string) *strange {
	for _, s := range c.strange {
		if s.carrier == m.Carrier && s.what == what {
			s.count++
			if last := &s.at[len(s.at)-1]; last[1]+1 == m.Seq {
				last[1] = m.Seq
			} else {
				s.at = append(s.at, run{m.Seq, m.Seq})
			}
			return s
		}
	}
	s := &strange{carrier: m.Carrier, what: what, first: first, count: 1, at: []run{{m.Seq, m.Seq}}}
	c.strange = append(c.strange, s)
	return s
}

func (s *strange) String() string {
	var at []string
	for i, r := range s.at {
		switch {
		case i == mostRuns:
			at = append(at, "others")
		case i > mostRuns:
		case r[0] == r[1]:
			at = append(at, strconv.FormatUint(r[0], 10))
		default:
			at = append(at, fmt.Sprintf("%d to %d", r[0], r[1]))
		}
	}
	says := fmt.Sprintf("message %s of the stream, brought by %s, is %s", at[0], fault.Quote(s.carrier), s.what)
	if s.count > 1 {
		says = fmt.Sprintf("messages %s of the stream, brought by %s: %d, of which each is %s", strings.Join(at, ", "),
			fault.Quote(s.carrier), s.count, s.what)
	}
	switch {
	case s.first == "":
		return says
	case s.count > 1:
		return says + " (the first: " + s.first + ")"
	}
	return says + ": " + s.first
}

// lost reports whether something that the server once read in the stream is not there any more. lacking says that
// something of the log is not there, which may also be on its way.
func (c *streamCheck) lost(lacking bool) bool {
	for d, runs := range c.checkpoint.Seen {
		for _, r := range runs {
			if !c.seen.has(d, r[0], r[1]) {
				return true
			}
		}
	}
	return lacking && len(c.checkpoint.Seen) == 0
}

// CheckStream reads the whole stream again and holds each message against the log: unreadable ones, ones that are no
// segment of this site, and signatures that are not their device's are named by their number. They are faults if
// something that was in the stream is missing there, and notes if all of it is there.
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

// CheckStreamOf does what CheckStream does for a folder on which no server runs; open opens its stream, and says in
// words what had to be cut off for that. The Error is of kind Busy if one does: server/admin has that server do it.
func CheckStreamOf(ctx context.Context, dir string, open func(site string) (s Stream, cut []string, end func(),
	err error),
) (StreamChecked, error) {
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
		idle := time.AfterFunc(checkTimeout, done)
		err = s.Consume(reading, 1, func(m bus.Message) error {
			idle.Reset(checkTimeout)
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
	if at := c.checkpoint.Top; at.Seq == m.Seq && at != positionOf(m) {
		c.note(m, "another than the server read there", "").fault = true
	}
	s, err := chain.ReadSegment(m.Data)
	if err != nil {
		c.note(m, "no segment", err.Error())
		return
	}
	d := s.Before.Device
	err = c.chains.Keys().Verify(s) // that of one that is held already, too
	verdict := c.chains.Judge(s, func(chain.Head) bool { return true }).Verdict
	switch {
	case errors.Is(err, chain.ErrWrongSite):
		c.note(m, "of another site", fmt.Sprintf("%q", s.Site))
	case errors.Is(err, chain.ErrNotEnrolled):
		c.note(m, ofNobody, "device "+fault.Quote(d))
	case err != nil:
		c.note(m, "not signed by the device that it names", fmt.Sprintf("events %d to %d of %s", s.First(), s.After.Seq,
			d))
	case verdict == chain.Duplicate:
		c.seen.saw(d, s.First(), s.After.Seq)
	case verdict == chain.Fork:
		c.found.Notes = append(c.found.Notes,
			fmt.Sprintf(
				"message %d of the stream holds another history of %s than the record, events %d to %d: a fork, set aside", m.Seq, d, s.First(), s.After.Seq))
	default:
		c.found.Notes = append(c.found.Notes,
			fmt.Sprintf("message %d of the stream holds events %d to %d of %s, which the record has not taken in",
				m.Seq, s.First(), s.After.Seq, d))
	}
}

// end says what is missing, and whether what it held is there all the same.
func (c *streamCheck) end(state bus.State) {
	if c.next <= state.Last {
		c.missing = append(c.missing, run{c.next, state.Last})
	}
	if top := c.checkpoint.Top.Seq; top > state.Last {
		c.found.Faults = append(c.found.Faults,
			fmt.Sprintf("the stream ends at message %d; the server once read message %d", state.Last, top))
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
	lost := c.lost(len(lacks) > 0)
	for _, s := range c.strange {
		if s.fault || lost && s.what != ofNobody {
			c.found.Faults = append(c.found.Faults, s.String())
		} else {
			c.found.Notes = append(c.found.Notes, s.String())
		}
	}
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
		says := fmt.Sprintf(
			"the stream lacks events of %s that the archive holds; the server gives them to it while it runs",
			strings.Join(lacks, ", "))
		if len(c.found.Faults) > 0 {
			c.found.Faults = append(c.found.Faults, says)
		} else { // they were on their way when it was read
			c.found.Notes = append(c.found.Notes, says)
		}
	}
}
