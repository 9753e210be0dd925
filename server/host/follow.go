package host

import (
	"context"
	"errors"
	"sync"
	"time"

	"hod/internal/bus"
	"hod/internal/event"
)

// Stream is the road that segments come and go by. bus.Host is one.
type Stream interface {
	// State says what the stream holds.
	State(ctx context.Context) (bus.State, error)
	// Consume hands on each message from a number on until the context ends; a *bus.Rewound says that the numbers mean
	// nothing any more.
	Consume(ctx context.Context, from uint64, take func(bus.Message) error) error
	// Publish returns nil once the stream holds the segment.
	Publish(ctx context.Context, carrier event.Device, segment []byte) error
}

// Pace of the loop.
const (
	beat      = 2 * time.Second // between savings, and tries to send what is unsent
	lookEvery = 15              // beats between looks at whether the stream lost something
	quiet     = 3               // beats without a message after which the stream counts as read to its end
	atOnce    = 256             // messages taken in with one flush
	maxPause  = 30 * time.Second
	readAgain = 12 * time.Hour // between readings of the whole stream, in search of what it lost without knowing
)

// errChanged is that the stream is not what was read: it is read again from its first message.
var errChanged = errors.New("the stream is not what it was")

// Follow takes in what the stream holds and what comes, gives it what it lacks of the archive, and outlasts any fault of
// the stream. It returns nil when ctx ends, and an *Error of kind Disk when the archive cannot be written.
func (h *Host) Follow(ctx context.Context, s Stream) error {
	pause := beat / 4
	for {
		began := time.Now()
		err := h.session(ctx, s)
		h.writing.Lock()
		saved := h.save()
		broken := h.broken
		h.writing.Unlock()
		var rewound *bus.Rewound
		switch {
		case broken != nil:
			return broken
		case ctx.Err() != nil:
			return saved
		case errors.Is(err, errChanged), errors.As(err, &rewound):
			h.log.Warn().Err(err).Msg("the stream lost messages or was made anew; it is read again, and given what it lacks")
			h.forget()
		default:
			h.log.Warn().Err(err).Msg("the stream cannot be read; trying again")
		}
		if time.Since(began) > maxPause {
			pause = beat / 4
		}
		if !rest(ctx, pause) {
			return nil
		}
		pause = min(2*pause, maxPause)
	}
}

// forget what is known of the stream, but nothing of the record.
func (h *Host) forget() {
	h.writing.Lock()
	defer h.writing.Unlock()
	h.place, h.dropped, h.unsaved = place{}, false, true
	h.gaps.forgetStream()
	h.unknown.forgetStream()
}

// session follows the stream until something goes wrong.
func (h *Host) session(ctx context.Context, s Stream) error {
	state, err := s.State(ctx)
	if err != nil {
		return err
	}
	check, from, err := h.resume(state)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	var helpers sync.WaitGroup
	defer helpers.Wait()
	defer stop()
	messages, ended := make(chan bus.Message, atOnce), make(chan error, 1)
	helpers.Go(func() {
		ended <- s.Consume(ctx, from, func(m bus.Message) error {
			if err := check(m); err != nil {
				return err
			}
			select {
			case messages <- m:
				return nil
			case <-ctx.Done():
				return ctx.Err()
			}
		})
	})
	tick := time.NewTicker(beat)
	defer tick.Stop()
	top, refilling, idle, beats := from-1, false, 0, 0
	for {
		if !refilling && (top >= state.Last || idle >= quiet) {
			refilling = true
			if err := h.readWhole(); err != nil {
				return err
			}
			helpers.Go(func() {
				for ok := true; ok; ok = rest(ctx, readAgain) {
					h.reread(ctx, s)
					for h.Refill(ctx, s) != nil && rest(ctx, maxPause) {
					}
				}
			})
		}
		select {
		case m := <-messages:
			idle = 0
			batch := gather(m, messages)
			if err := h.take(batch); err != nil {
				return err
			}
			top = batch[len(batch)-1].Seq
		case <-h.nudge:
			h.send(ctx, s)
		case <-tick.C:
			idle++
			beats++
			h.send(ctx, s)
			if err := h.tend(); err != nil {
				return err
			}
			if beats%lookEvery == 0 {
				if err := h.look(ctx, s); err != nil {
					return err
				}
			}
		case err := <-ended:
			return err
		}
	}
}

// Turn is what Follow does over and over, once and in the caller's own goroutine: it takes in what came since the last
// turn, sends what is the server's own, and saves how far it came. The stream's Consume must return nil at its end. changed
// says that the stream is not what was read: the next turn reads it from its first message, and Refill gives it what it
// lacks. An *Error of kind Disk is final, as for Follow.
func (h *Host) Turn(ctx context.Context, s Stream) (changed bool, err error) {
	changed, err = h.turn(ctx, s)
	h.writing.Lock()
	defer h.writing.Unlock()
	saved := h.save()
	if h.broken != nil {
		return false, h.broken
	}
	return changed, errors.Join(err, saved)
}

func (h *Host) turn(ctx context.Context, s Stream) (changed bool, err error) {
	state, err := s.State(ctx)
	if err != nil {
		return false, err
	}
	check, from, err := h.resume(state)
	var batch []bus.Message
	if err == nil {
		err = s.Consume(ctx, from, func(m bus.Message) error {
			if err := check(m); err != nil {
				return err
			}
			if batch = append(batch, m); len(batch) < atOnce {
				return nil
			}
			full := batch
			batch = nil
			return h.take(full)
		})
	}
	if len(batch) > 0 { // what came before a fault stands
		if taken := h.take(batch); taken != nil {
			return false, taken
		}
	}
	var rewound *bus.Rewound
	if errors.Is(err, errChanged) || errors.As(err, &rewound) {
		h.forget()
		return true, nil
	}
	if err != nil {
		return false, err
	}
	if err := h.readWhole(); err != nil {
		return false, err
	}
	h.send(ctx, s)
	return false, nil
}

// readWhole says that the stream was read to its end.
func (h *Host) readWhole() error {
	h.wholeNow.Do(func() { close(h.whole) })
	h.writing.Lock()
	defer h.writing.Unlock()
	return h.again()
}

// gather what has already come after m.
func gather(m bus.Message, messages <-chan bus.Message) []bus.Message {
	batch := []bus.Message{m}
	for len(batch) < atOnce {
		select {
		case m := <-messages:
			batch = append(batch, m)
		default:
			return batch
		}
	}
	return batch
}

func (h *Host) tend() error {
	h.writing.Lock()
	defer h.writing.Unlock()
	return h.save()
}

// resume says from which message on to read, and what must stand where reading stopped the last time. The one where
// nothing waited is read again, for the sake of its hash.
func (h *Host) resume(state bus.State) (check func(bus.Message) error, from uint64, err error) {
	h.writing.Lock()
	defer h.writing.Unlock()
	h.dropped = false
	lost := lostOf(state)
	p := &h.place
	if p.Top.Seq > state.Last || lost > p.Lost && p.Top.Seq > 0 {
		return nil, 0, errChanged
	}
	p.Lost = lost
	settled, top := p.Settled, p.Top
	from = max(settled.Seq, 1)
	return func(m bus.Message) error {
		if settled.Seq > 0 && m.Seq >= settled.Seq {
			if markOf(m) != settled {
				return errChanged
			}
			settled = mark{}
		}
		if top.Seq > 0 && m.Seq >= top.Seq {
			if markOf(m) != top {
				return errChanged
			}
			top = mark{}
		}
		return nil
	}, from, nil
}

// look whether the stream lost something since it was read.
func (h *Host) look(ctx context.Context, s Stream) error {
	state, err := s.State(ctx)
	if err != nil {
		return err
	}
	h.writing.Lock()
	defer h.writing.Unlock()
	if h.place.Top.Seq > state.Last || lostOf(state) > h.place.Lost {
		return errChanged
	}
	return nil
}

// lostOf is how many of the numbers that were given out have no message.
func lostOf(s bus.State) uint64 {
	if s.Messages >= s.Last {
		return 0
	}
	return s.Last - s.Messages
}

// send the server's own events that are not in the stream.
func (h *Host) send(ctx context.Context, s Stream) {
	h.writing.Lock()
	unsent := append([]event.Segment(nil), h.unsent...)
	h.writing.Unlock()
	for _, segment := range unsent {
		if err := s.Publish(ctx, h.id.root, segment.Bytes()); err != nil {
			h.odd.Warn().Err(err).Int("waiting", len(unsent)).Msg("the server's own events cannot be put on the stream; trying again")
			return
		}
		h.sent(segment)
	}
}

// errRead ends a reading of the stream that has come to its end.
var errRead = errors.New("read to the end")

// reread reads the whole stream and forgets of it what cannot be read any more, so that refill gives it again. A stream
// counts by its index a message that a flipped bit has made unreadable: devices that join would never get it.
func (h *Host) reread(ctx context.Context, s Stream) {
	h.writing.Lock()
	before := h.place.clone()
	h.writing.Unlock()
	state, err := s.State(ctx)
	if err != nil || state.Last == 0 {
		return // the session finds out by itself
	}
	reading, stop := context.WithCancel(ctx)
	defer stop()
	silent := time.AfterFunc(quiet*beat, stop) // the last message may be one of those that cannot be read
	defer silent.Stop()
	var seen place
	err = s.Consume(reading, 1, func(m bus.Message) error {
		silent.Reset(quiet * beat)
		if segment, err := event.ReadSegment(m.Data); err == nil && h.inRecord(segment) {
			seen.saw(segment.Before.Device, segment.First(), segment.After.Seq)
		}
		if m.Seq >= state.Last {
			return errRead
		}
		return nil
	})
	if !errors.Is(err, errRead) && (ctx.Err() != nil || reading.Err() == nil) {
		return
	}
	lost := 0
	for d, runs := range before.Seen {
		for _, r := range runs {
			if !seen.has(d, r[0], r[1]) {
				lost++
			}
		}
	}
	if lost == 0 {
		return
	}
	h.log.Error().Int("stretches", lost).Msg("the stream holds messages that cannot be read; it is given again what was in them")
	h.writing.Lock()
	defer h.writing.Unlock()
	h.place.Seen, h.unsaved = seen.Seen, true
}

func (h *Host) inRecord(s event.Segment) bool {
	h.writing.Lock()
	defer h.writing.Unlock()
	held, ok := h.record.at(s.Before.Device, s.After.Seq)
	return ok && held == s.After.Chain
}

// Refill gives the stream what the archive has and it lacks, once the stream was read to its end. Follow does so by itself.
func (h *Host) Refill(ctx context.Context, s Stream) error {
	given := 0
	err := h.archive.each(func(raw []byte) error {
		segment, err := event.ReadSegment(raw)
		if err != nil || !h.lacks(segment) {
			return nil //nolint:nilerr // opening the archive reported it
		}
		if err := s.Publish(ctx, h.id.root, raw); err != nil {
			return err
		}
		given++
		return nil
	})
	switch {
	case err != nil && ctx.Err() == nil:
		h.log.Warn().Err(err).Int("segments", given).Msg("the stream could not be given all that it lacks; trying again")
	case given > 0:
		h.log.Info().Int("segments", given).Msg("gave the stream what it lacked")
	}
	return err
}

// Lacks says that the stream, as far as it was read, does not hold all of the record. What was only just published counts
// as lacking until it was read.
func (h *Host) Lacks() bool {
	h.writing.Lock()
	defer h.writing.Unlock()
	for d, chain := range h.record.chains {
		if !h.place.has(d, 1, uint64(len(chain))) {
			return true
		}
	}
	return false
}

// rest says whether there is something to go on for.
func rest(ctx context.Context, d time.Duration) bool {
	select {
	case <-ctx.Done():
		return false
	case <-time.After(d):
		return true
	}
}

// lacks says that a segment is part of the record and not of the stream.
func (h *Host) lacks(s event.Segment) bool {
	h.writing.Lock()
	defer h.writing.Unlock()
	held, ok := h.record.at(s.Before.Device, s.After.Seq)
	return ok && held == s.After.Chain && !h.place.has(s.Before.Device, s.First(), s.After.Seq)
}
