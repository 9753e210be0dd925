package host

import (
	"context"
	"errors"
	"time"

	"hod/internal/bus"
	"hod/internal/chain"
)

// Intervals of the loop.
const (
	interval      = 2 * time.Second  // between checkpoints, and between attempts to send what the stream did not take
	lookInterval  = 30 * time.Second // between questions whether the stream lost something
	silence       = 6 * time.Second  // without a message, after which a reading counts as at the stream's end
	scrubInterval = 12 * time.Hour   // between readings of the whole stream, in search of what it lost without knowing
	firstPause    = interval / 4     // after a fault of the stream; each further one doubles it
	maxPause      = 30 * time.Second
)

// errChanged is returned when the stream is not what was read: it is read again from its first message.
var errChanged = errors.New("the stream is not what it was")

// Loop decides what a host does about its stream: what it reads, archives, folds, sends and gives back, and when. It is
// stepped: Step takes what happened and the instant, archives what is new, folds what is archived, and returns what is
// to be done with the stream next. It reads no clock, waits for nothing and starts no goroutine, so that the server
// (Follow) and a simulation run the same one.
//
// Invariant: its fields are read and written with the host's lock writing held; a reading whose ID is not that of log
// or scrub has been stopped, and what it still brings is passed over.
type Loop struct {
	host *Host
	ids  uint64 // of readings, so that what a stopped one still brings is known and passed over

	log   logReading // follows the stream; none while that is at fault
	scrub *scrub
	lacks bool // the stream was read to its end, and lacks some of the log
	pause time.Duration

	busy struct{ asking, sending, republishing bool }
	at   struct{ retry, look, send, save, scrub time.Time } // no earlier than then
}

// logReading is the reading of what is new.
type logReading struct {
	Reading
	expect []position // what must stand where the one before ended
	top    uint64     // the last message that it brought
	end    uint64     // the stream's last message when it began
	atEnd  bool       // it has reached that
	began  time.Time
	heard  time.Time // when it last brought something
}

// scrub is a reading of the whole stream. A stream counts by its index a message that a flipped bit has made
// unreadable: devices that join would never get it.
type scrub struct {
	Reading
	last   uint64 // message to read
	heard  time.Time
	before checkpoint // what the stream was known to hold
	seen   checkpoint // what it holds
}

// Reading of the stream that is to be under way; the zero value is none.
type Reading struct {
	ID   uint64
	From uint64 // number of its first message
}

// Ready is what a step has decided. What it has to archive and to fold is done already.
type Ready struct {
	Log, Scrub Reading   // what is to be read: Messages, and Ended if a reading fails. Any other reading is to stop
	Tasks      []Task    // to be done with the stream, in any order; each gives what to tell a later step
	At         time.Time // step again no later than this
}

// Task is one errand to the stream. It may take as long as the network does.
type Task func(context.Context, Stream) Input

// Input is what happened: Messages, Ended, or what a Task gave. Nil says only that time went by, or that something was
// written which is to be sent.
type Input interface{ input() }

// Messages came by a reading, in order.
type Messages struct {
	ID   uint64 // of the reading
	List []bus.Message
}

// Ended says that a reading failed.
type Ended struct {
	ID  uint64
	Err error
}

type (
	// stated is what the stream says of itself, and whether another message than was read stands where reading ended.
	stated struct {
		state  bus.State
		change bool
		err    error
	}
	sent struct {
		segments []chain.Segment // that the stream has
		waiting  int
		err      error
	}
	republished struct {
		segments int
		err      error
	}
)

func (Messages) input()    {}
func (Ended) input()       {}
func (stated) input()      {}
func (sent) input()        {}
func (republished) input() {}

// Loop begins to follow a stream. A host has one at a time.
func (h *Host) Loop() *Loop { return &Loop{host: h, pause: firstPause} }

// Step takes in what happened, at an instant no earlier than that of the step before. An error is final: the disk
// refused a write, and nobody knows what it holds.
func (l *Loop) Step(now time.Time, in Input) (Ready, error) {
	h := l.host
	h.writing.Lock()
	defer h.writing.Unlock()
	err := l.take(now, in)
	if err == nil {
		err = l.due(now)
	}
	if h.broken != nil {
		return Ready{}, h.broken
	}
	if err != nil {
		l.fault(now, err)
	}
	return l.ready(now), nil
}

func (l *Loop) take(now time.Time, in Input) error {
	switch in := in.(type) {
	case Messages:
		return l.messages(now, in)
	case Ended:
		switch {
		case in.ID == l.log.ID:
			return in.Err
		case l.scrub != nil && in.ID == l.scrub.ID:
			l.endScrub()
			l.at.scrub = now.Add(maxPause)
		}
	case stated:
		l.busy.asking = false
		return l.stated(now, in)
	case sent:
		l.busy.sending = false
		l.host.sent(in.segments)
		if in.err != nil {
			l.at.send = now.Add(interval)
			l.host.odd.Warn().Err(in.err).Int("waiting",
				in.waiting).Msg("the server's own events cannot be put on the stream; trying again")
		}
	case republished:
		l.busy.republishing = false
		switch {
		case in.err != nil: // the next look finds that it is lacking still
			l.host.log.Warn().Err(in.err).Int("segments",
				in.segments).Msg("the stream could not be given all that it lacks; trying again")
		case in.segments > 0:
			l.host.log.Info().Int("segments", in.segments).Msg("gave the stream what it lacked")
		}
	}
	return nil
}

// messages takes in what a reading brought.
func (l *Loop) messages(now time.Time, in Messages) error {
	switch {
	case l.log.ID == in.ID:
		l.log.heard = now
		for i, m := range in.List {
			if !l.expected(m) {
				return errors.Join(l.host.take(in.List[:i]), errChanged)
			}
		}
		l.log.top = in.List[len(in.List)-1].Seq
		return l.host.take(in.List)
	case l.scrub != nil && l.scrub.ID == in.ID:
		l.scrub.heard = now
		n := 0
		for n < len(in.List) && in.List[n].Seq <= l.scrub.last {
			n++
		}
		if n < len(in.List) || n > 0 && in.List[n-1].Seq == l.scrub.last {
			l.scrub.last = 0 // all is read
		}
		return l.host.take(in.List[:n])
	}
	return nil
}

// expected reports whether a message is what stood there when the stream was last read: numbers are given out again
// after damage.
func (l *Loop) expected(m bus.Message) bool {
	for i, at := range l.log.expect {
		if at.Seq == 0 || m.Seq < at.Seq {
			continue
		}
		if positionOf(m) != at {
			return false
		}
		l.log.expect[i] = position{}
	}
	return true
}

// stated begins to read, or finds out whether the stream lost something since.
func (l *Loop) stated(now time.Time, in stated) error {
	if in.err != nil {
		return in.err
	}
	p, lost := &l.host.checkpoint, lostOf(in.state)
	if in.change || p.Top.Seq > in.state.Last || lost > p.Lost && p.Top.Seq > 0 {
		return errChanged
	}
	if l.log.ID != 0 {
		if l.log.top >= in.state.Last || now.Sub(l.log.heard) >= silence {
			l.lacks = l.host.lacks()
		}
		return nil
	}
	p.Lost = lost
	l.host.dropped = false
	from := max(p.Settled.Seq, 1)
	l.host.readTo.Store(max(p.Top.Seq, from-1))
	l.log = logReading{
		Reading: l.reading(from), expect: []position{p.Settled, p.Top}, top: from - 1, end: in.state.Last, began: now,
		heard: now,
	}
	l.at.look = now.Add(lookInterval)
	return nil
}

func (l *Loop) reading(from uint64) Reading {
	l.ids++
	return Reading{l.ids, from}
}

// due does what the instant asks for.
func (l *Loop) due(now time.Time) error {
	if l.log.ID == 0 {
		return nil
	}
	h := l.host
	if !l.log.atEnd && (l.log.top >= l.log.end || now.Sub(l.log.heard) >= silence) {
		l.log.atEnd, l.lacks = true, h.lacks()
		h.wholeNow.Do(func() { close(h.whole) })
		if err := h.writeOrphans(); err != nil {
			return err
		}
		if l.log.From == 1 { // all of it was read just now
			l.at.scrub = now.Add(scrubInterval)
		}
	}
	if s := l.scrub; s != nil && (s.last == 0 || now.Sub(s.heard) >= silence) {
		l.scrubbed()
	}
	if l.log.atEnd && l.scrub == nil && !now.Before(l.at.scrub) {
		l.at.scrub = now.Add(scrubInterval)
		if top := h.checkpoint.Top.Seq; top > 0 {
			l.scrub = &scrub{Reading: l.reading(1), last: top, heard: now, before: h.checkpoint.clone()}
			h.scrubbing = &l.scrub.seen
		}
	}
	if !now.Before(l.at.save) {
		l.at.save = now.Add(interval)
		return h.saveCheckpoint()
	}
	return nil
}

// scrubbed forgets of the stream what cannot be read any more, so that it is given back.
func (l *Loop) scrubbed() {
	h, s := l.host, l.scrub
	l.endScrub()
	lost := 0
	for d, runs := range s.before.Seen {
		for _, r := range runs {
			if !s.seen.has(d, r[0], r[1]) {
				lost++
			}
		}
	}
	if lost > 0 {
		h.log.Error().Int("stretches",
			lost).Msg("the stream holds messages that cannot be read; it is given again what was in them")
		h.checkpoint.Seen, h.unsaved = s.seen.Seen, true
		l.lacks = h.lacks()
	}
}

func (l *Loop) endScrub() { l.scrub, l.host.scrubbing = nil, nil }

// fault gives up what is under way, to begin again after a pause.
func (l *Loop) fault(now time.Time, err error) {
	var reset *bus.StreamResetError
	if errors.Is(err, errChanged) || errors.As(err, &reset) {
		l.host.log.Warn().Err(err).Msg(
			"the stream lost messages or was made anew; it is read again, and given what it lacks")
		l.host.forgetStream()
	} else {
		l.host.log.Warn().Err(err).Msg("the stream cannot be read; trying again")
	}
	if l.log.ID != 0 && now.Sub(l.log.began) > maxPause {
		l.pause = firstPause
	}
	l.at.retry, l.pause = now.Add(l.pause), min(2*l.pause, maxPause)
	l.log, l.lacks = logReading{}, false
	l.endScrub()
}

// ready says what is to be done now, and when to step again.
func (l *Loop) ready(now time.Time) Ready {
	h := l.host
	r := Ready{Log: l.log.Reading}
	if l.scrub != nil {
		r.Scrub = l.scrub.Reading
	}
	if l.log.ID == 0 {
		if !l.busy.asking && !now.Before(l.at.retry) {
			l.busy.asking = true
			r.Tasks = append(r.Tasks, askOf(h.checkpoint.Top))
		}
		if r.At = l.at.retry; l.busy.asking {
			r.At = now.Add(maxPause)
		}
		return r
	}
	if !l.busy.asking && !now.Before(l.at.look) {
		l.busy.asking, l.at.look = true, now.Add(lookInterval)
		r.Tasks = append(r.Tasks, askOf(h.checkpoint.Top))
	}
	if !l.busy.sending && len(h.unsent) > 0 && !now.Before(l.at.send) {
		l.busy.sending = true
		r.Tasks = append(r.Tasks, h.sendTask())
	}
	if l.lacks && l.scrub == nil && !l.busy.republishing {
		l.lacks, l.busy.republishing = false, true
		r.Tasks = append(r.Tasks, h.republish)
	}
	r.At = now.Add(interval)
	return r
}

// askOf asks the stream for its state, and reads again the last message that was read from it.
func askOf(top position) Task {
	return func(ctx context.Context, s Stream) Input {
		state, err := s.State(ctx)
		if err != nil || top.Seq == 0 || top.Seq > state.Last {
			return stated{state: state, err: err}
		}
		reading, stop := context.WithTimeout(ctx, silence) // it may be one that cannot be read, and nothing after it
		defer stop()
		var is position
		err = s.Consume(reading, top.Seq, func(m bus.Message) error {
			is = positionOf(m)
			return errRead
		})
		if err != nil && !errors.Is(err, errRead) && reading.Err() == nil {
			return stated{err: err}
		}
		return stated{state: state, change: is.Seq == top.Seq && is != top}
	}
}

// errRead ends a reading of the stream that has what it was for.
var errRead = errors.New("read")

// lostOf is how many of the numbers that were given out have no message.
func lostOf(s bus.State) uint64 {
	if s.Messages >= s.Last {
		return 0
	}
	return s.Last - s.Messages
}

// sendTask puts the server's own events on the stream, as far as it takes them. The caller holds writing.
func (h *Host) sendTask() Task {
	unsent := append([]chain.Segment(nil), h.unsent...)
	return func(ctx context.Context, s Stream) Input {
		for i, segment := range unsent {
			if err := s.Publish(ctx, h.folder.Root, segment.Bytes()); err != nil {
				return sent{unsent[:i], len(unsent), err}
			}
		}
		return sent{segments: unsent}
	}
}

// republish is the task that gives the stream what the archive has and it lacks.
func (h *Host) republish(ctx context.Context, s Stream) Input {
	given := 0
	err := h.folder.Each(func(raw []byte) error {
		segment, err := chain.ReadSegment(raw)
		if err != nil || !h.lacksSegment(segment) {
			return nil //nolint:nilerr // opening the archive reported it
		}
		if err := s.Publish(ctx, h.folder.Root, raw); err != nil {
			return err
		}
		given++
		return nil
	})
	return republished{given, err}
}
