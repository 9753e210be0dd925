// Package sync brings this device's record and its site's server to the same: it reads what others wrote, and offers
// whatever the server lacks, whoever wrote it and whether or not it was acknowledged before.
//
// It promises that it may be killed between any two steps, that every step may be repeated, and that nothing is taken
// as sent that the server does not say it has: where to go on is decided by the head that the server has accepted, seq
// and hash, never by what this device believes. What is read is checked by the site's ring of keys before it is kept.
// It knows neither how the record lies on the disk nor how the bus carries it.
//
// Once is one contact. What it does is decided in decide.go, which touches nothing; how a fork is mended is in fork.go.
//
// # Decisions
//
// Acknowledged is not forgotten: a contact begins by comparing heads, by hash, and offers whatever the server lacks,
// whoever wrote it. Not "sent, so done": a bus can lose what it acknowledged. Nor does the fold trust the bus's own
// dropping of duplicates: it drops repeats by name and hash.
package sync

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"slices"
	"time"

	"hod/client/journal"
	"hod/internal/auth"
	"hod/internal/chain"
	"hod/internal/event"
)

// record is this device's record, as *journal.Journal keeps it.
type journalOf interface {
	Device() journal.Device
	Heads(context.Context) ([]chain.Head, error)
	HeadAt(context.Context, event.Device, uint64) (chain.Head, bool, error)
	IngestAt(context.Context, journal.Position, ...chain.Segment) (journal.Kept, error)
	Rewrite(context.Context, time.Time, chain.Head, ...chain.Segment) (journal.Rewritten, error)
	Follow(context.Context, time.Time, chain.Head, ...chain.Segment) (journal.Rewritten, error)
	Again(context.Context) ([]event.Event, error)
	Offer(context.Context, event.Device, chain.Head) ([]chain.Segment, error)
	Contact(context.Context) (journal.Contact, error)
	SetContact(context.Context, journal.Contact) error
}

// line is the way to the server, up for as long as it works; any error of it ends the contact.
type line interface {
	// Heads asks the server how far its archive reaches, and for the time.
	Heads(context.Context) (Heads, error)
	// Publish returns once the stream has stored the segment.
	Publish(ctx context.Context, segment []byte) error
	// Read gives up to most messages of the stream from the seq from on, in order; none if there are no more. Seqs may
	// be missing among them.
	Read(ctx context.Context, from uint64, most int) ([]Message, error)
}

// Message is one of the site's stream.
type Message struct {
	Seq  uint64
	Data []byte
}

// Heads is what a server answers.
type Heads struct {
	Heads     []chain.Head  // how far its archive of each device reaches, flushed
	BackedUp  []chain.Head  // how far its last backup reaches
	Now       time.Time     // its clock as it answered
	RoundTrip time.Duration // from the question to the answer
	Notice    string        // what people should know of the server; may be empty
}

// Outcome says what a contact did. The sentences in it are for people.
type Outcome struct {
	Pulled      int           // events that this device did not have
	Pushed      int           // events that the server did not have
	Unconfirmed int           // of them, those that it does not say yet that it has
	Waiting     int           // segments read that nothing can be made of yet: a gap before them, or no enrolment
	Reread      bool          // the stream was read from its start
	Forks       []string      // what was found, and what was done about it
	Refused     []string      // messages of the stream that are not what they say
	Offset      time.Duration // the server's clock less this device's
	// ServerClock is what the server's clock says where that cannot be: no time of this device is corrected by it.
	// Zero: it can.
	ServerClock time.Time
	// Notice is what people should know of the server, in sentences; empty: nothing.
	Notice string
	// by how much that changed since the contact before: the clock was set; 0 before the first
	Set time.Duration
}

const (
	batch        = 128 // messages in one read: at most 8 MiB
	maxWaiting   = 256 // segments that wait in memory: at most 16 MiB
	maxRefused   = 20  // sentences
	maxAsks      = 9   // how often the server is asked whether it has what was sent
	rescanAfter  = time.Hour
	clockSamples = 3
	maxOffset    = 50 * 365 * 24 * time.Hour // a clock further off tells nothing
)

// Clock is what this device tells the time by.
type Clock struct {
	Now    func() time.Time
	Uptime func() journal.Uptime // nil: it has none
}

// Contact is what one contact works with; see Once.
type Contact struct {
	Journal journalOf
	Line    line
	Ring    *chain.KeyRing // of the record's events. It learns from what is read
	Clock   Clock
	Pause   func(context.Context, time.Duration) error // nil: until so long has passed
	// Progress is told what was done so far, after each piece that was kept or sent; nil: nobody asks.
	Progress func(Outcome)
	// SendOnly has nothing taken in that others wrote: there is no room for it.
	SendOnly bool
}

// Once is one contact with the server, from beginning to end. It returns an error when the line or the record failed;
// what was done until then stands and is told in the Outcome, and the next contact goes on from there.
func (c Contact) Once(ctx context.Context) (Outcome, error) {
	if c.Pause == nil {
		c.Pause = pause
	}
	s := session{Contact: c, own: c.Journal.Device().Name, sent: map[event.Device]chain.Head{}}
	err := s.run(ctx)
	s.out.Waiting = len(s.unenrolled) + len(s.gaps)
	return s.out, err
}

// session is one contact under way.
type session struct {
	Contact
	own        event.Device
	out        Outcome
	known      journal.Contact
	server     []chain.Head
	unenrolled []chain.Segment // not admitted yet
	gaps       []chain.Segment // admitted, not kept yet
	forked     map[event.Device]bool
	sent       map[event.Device]chain.Head
}

func (s *session) run(ctx context.Context) error {
	var err error
	if s.known, err = s.Journal.Contact(ctx); err != nil {
		return err
	}
	if err := s.clock(ctx); err != nil {
		return err
	}
	if !s.SendOnly {
		if err := s.pull(ctx); err != nil {
			return err
		}
		if err := s.fillIn(ctx); err != nil {
			return err
		}
	}
	if err := s.push(ctx); err != nil {
		return err
	}
	return s.confirm(ctx)
}

// clock asks for the heads and measures how far the device's clock is off, by the quickest of a few round trips. Both
// are stored at once: a line that breaks later has still told the time.
func (s *session) clock(ctx context.Context) error {
	var best time.Duration
	before := s.known
	for i := range clockSamples {
		h, err := s.ask(ctx)
		if i == 0 && err != nil {
			return err
		} else if err != nil {
			break // the next step will say that the line broke
		}
		if at := s.Clock.Now(); i == 0 || h.RoundTrip < best {
			best = h.RoundTrip
			s.known.At, s.known.Offset = at, h.Now.Add(h.RoundTrip/2).Sub(at)
			s.known.Offset = min(max(s.known.Offset, -maxOffset), maxOffset)
			s.out.ServerClock = time.Time{}
			if h.Now.Before(auth.FirstBuilt) {
				s.out.ServerClock, s.known.Offset = h.Now, before.Offset
			}
			s.known.Uptime = journal.Uptime{}
			if s.Clock.Uptime != nil {
				s.known.Uptime = s.Clock.Uptime()
			}
		}
	}
	s.out.Offset = s.known.Offset
	if !before.At.IsZero() {
		s.out.Set = s.known.Offset - before.Offset
	}
	return s.Journal.SetContact(ctx, s.known)
}

func (s *session) ask(ctx context.Context) (Heads, error) {
	h, err := s.Line.Heads(ctx)
	if err != nil {
		return h, fmt.Errorf("ask the server how far its record reaches: %w", err)
	}
	s.server, s.known.Server, s.known.BackedUp = h.Heads, h.Heads, h.BackedUp
	s.out.Notice = h.Notice
	return h, nil
}

// pull reads the stream from where the last contact ended, and from its start if what stands there is not what stood
// there: after damage a stream uses its numbers again.
func (s *session) pull(ctx context.Context) error {
	var first []Message
	from := uint64(1)
	if at := s.known.Position; at.Seq > 0 {
		msgs, err := s.next(ctx, at.Seq)
		if err != nil {
			return err
		}
		if stands(at, msgs) {
			first, from = msgs[1:], at.Seq+1
		}
	}
	s.out.Reread = from == 1 && s.known.Position.Seq > 0
	return s.readFrom(ctx, from, first, nil)
}

// readFrom reads to the end of the stream and keeps what can be kept. visit, if there is one, sees each segment that
// the ring admits.
func (s *session) readFrom(ctx context.Context, from uint64, msgs []Message, visit func(chain.Segment)) error {
	for {
		if len(msgs) == 0 {
			var err error
			if msgs, err = s.next(ctx, from); err != nil {
				return err
			}
			if len(msgs) == 0 {
				return nil
			}
		}
		read := verify(s.Ring, s.unenrolled, msgs)
		for _, seg := range read.verified {
			if visit != nil {
				visit(seg)
			}
		}
		s.refuse(read.refused)
		last := msgs[len(msgs)-1]
		at := journal.Position{Seq: last.Seq, Hash: sha256.Sum256(last.Data)}
		kept, err := s.Journal.IngestAt(ctx, at, append(s.gaps, read.verified...)...)
		if err != nil {
			return err
		}
		s.known.Position = at
		s.out.Pulled += kept.New
		s.tell()
		// What is too much to hold waits in the stream: the server's heads tell that it is lacking.
		s.unenrolled, s.gaps = newest(read.unenrolled), newest(kept.Waiting)
		for _, f := range kept.Forks {
			s.fork(f.Device)
		}
		from, msgs = last.Seq+1, nil
	}
}

func (s *session) next(ctx context.Context, from uint64) ([]Message, error) {
	msgs, err := s.Line.Read(ctx, from, batch)
	if err != nil {
		return nil, fmt.Errorf("read the site's stream from %d: %w", from, err)
	}
	for i, m := range msgs {
		if m.Seq < from || (i > 0 && m.Seq <= msgs[i-1].Seq) {
			return nil, fmt.Errorf("the site's stream gave message %d when asked for those from %d on, in order", m.Seq,
				from)
		}
	}
	return msgs, nil
}

// fillIn mends what reading on from the last position did not bring, by reading the stream from its start: what the
// server has of a device and this one lacks, and forks.
func (s *session) fillIn(ctx context.Context) error {
	if s.out.Pulled > 0 || s.out.Reread {
		if _, err := s.ask(ctx); err != nil { // the server went on meanwhile
			return err
		}
	}
	p, err := s.plan(ctx)
	if err != nil {
		return err
	}
	if len(p.lacking) > 0 { // perhaps it came since
		if err := s.readFrom(ctx, s.known.Position.Seq+1, nil, nil); err != nil {
			return err
		}
		if p, err = s.plan(ctx); err != nil {
			return err
		}
	}
	if needsFullRescan(s.own, p, s.forked, s.known, s.out.Reread, s.Clock.Now()) {
		if err := s.rescan(ctx, p); err != nil {
			return err
		}
		if p, err = s.plan(ctx); err != nil {
			return err
		}
	}
	if s.out.Reread {
		s.known.Whole = s.Clock.Now()
		s.known.Missing = slices.Concat(p.lacking, p.forked)
	} else if len(p.lacking)+len(p.forked) == 0 {
		s.known.Missing = nil
	}
	return s.writeAgain(ctx, p)
}

// rescan reads the stream from its start and mends what forks.
func (s *session) rescan(ctx context.Context, p plan) error {
	wanted := map[event.Device]chain.Head{}
	for _, h := range slices.Concat(p.lacking, p.forked) {
		wanted[h.Device] = h
	}
	found := map[event.Device][]chain.Segment{}
	s.out.Reread, s.unenrolled, s.gaps = true, nil, nil
	err := s.readFrom(ctx, 1, nil, func(seg chain.Segment) {
		if _, ok := wanted[seg.Before.Device]; ok {
			found[seg.Before.Device] = append(found[seg.Before.Device], seg)
		}
	})
	if err != nil {
		return err
	}
	for _, h := range p.lacking {
		if !s.forked[h.Device] { // there is only a gap, which no choice between histories fills
			delete(wanted, h.Device)
		}
	}
	return s.mend(ctx, wanted, found)
}

// push offers, device by device, what follows the head that the server has accepted.
func (s *session) push(ctx context.Context) error {
	p, err := s.plan(ctx)
	if err != nil {
		return err
	}
	if len(p.lacking)+len(p.forked) == 0 {
		s.known.Fetched = s.known.At.Add(s.known.Offset)
	}
	for _, after := range p.offer {
		accepted := after.Seq
		for {
			segs, err := s.Journal.Offer(ctx, after.Device, after)
			var fork *journal.Fork
			if errors.As(err, &fork) { // another process took in another history meanwhile
				s.fork(fork.Device)
				break
			} else if err != nil {
				return err
			}
			if len(segs) == 0 {
				break
			}
			for _, seg := range segs {
				if err := s.Line.Publish(ctx, seg.Bytes()); err != nil {
					return fmt.Errorf("send events %s/%d to %d: %w", after.Device, seg.First(), seg.After.Seq, err)
				}
				s.out.Pushed += int(seg.After.Seq - max(seg.Before.Seq, after.Seq))
				s.tell()
				after = seg.After
			}
			s.out.Unconfirmed += int(after.Seq - accepted)
			accepted = after.Seq
			s.sent[after.Device] = after
		}
	}
	return nil
}

// confirm asks the server until it says that it has what was sent, a bounded number of times, and stores what it said.
func (s *session) confirm(ctx context.Context) error {
	if len(s.sent) > 0 {
		wait := 5 * time.Millisecond
		for i := range maxAsks {
			if i > 0 {
				if err := s.Pause(ctx, wait); err != nil {
					return err
				}
				wait *= 2
			}
			if _, err := s.ask(ctx); err != nil {
				return err
			}
			if s.out.Unconfirmed = unconfirmed(s.sent, s.server); s.out.Unconfirmed == 0 {
				break
			}
		}
	}
	return s.Journal.SetContact(ctx, s.known)
}

// plan compares what is held now with the server's heads.
func (s *session) plan(ctx context.Context) (plan, error) {
	held, err := s.Journal.Heads(ctx)
	if err != nil {
		return plan{}, err
	}
	at := map[event.Device]chain.Head{}
	for _, h := range s.server {
		if here, ok, err := s.Journal.HeadAt(ctx, h.Device, h.Seq); err != nil {
			return plan{}, err
		} else if ok {
			at[h.Device] = here
		}
	}
	d := s.Journal.Device()
	return decide(d.Site, d.Root, held, at, s.server), nil
}

func (s *session) tell() {
	if s.Progress != nil {
		s.Progress(s.out)
	}
}

func (s *session) refuse(sentences []string) {
	for _, why := range sentences {
		if len(s.out.Refused) < maxRefused {
			s.out.Refused = append(s.out.Refused, why)
		}
	}
}

func (s *session) fork(d event.Device) {
	if s.forked == nil {
		s.forked = map[event.Device]bool{}
	}
	s.forked[d] = true
}

func newest(segs []chain.Segment) []chain.Segment {
	return segs[max(0, len(segs)-maxWaiting):]
}

func pause(ctx context.Context, d time.Duration) error {
	t := time.NewTimer(d)
	defer t.Stop()
	select {
	case <-t.C:
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
