package host

import (
	"context"
	"sync"
	"time"

	"hod/internal/bus"
	"hod/internal/event"
)

// Stream is the way that segments come and go. bus.Host is one.
type Stream interface {
	// State says what the stream holds.
	State(ctx context.Context) (bus.State, error)
	// Consume hands on each message from a number on until the context ends; a *bus.StreamResetError says that the
	// numbers mean nothing any more.
	Consume(ctx context.Context, from uint64, take func(bus.Message) error) error
	// Publish returns nil once the stream holds the segment.
	Publish(ctx context.Context, carrier event.Device, segment []byte) error
}

// atOnce is how many messages are taken in with one flush.
const atOnce = 256

// Follow takes in what the stream holds and what comes, gives it what it lacks of the archive, and outlasts any fault
// of the stream. It returns nil when ctx ends, and an *Error of kind Disk when the archive cannot be written.
//
// What is done, and when, the Loop decides. Follow waits, and carries between it and the stream.
func (h *Host) Follow(ctx context.Context, s Stream) error {
	ctx, stop := context.WithCancel(ctx)
	inputs := make(chan Input, atOnce)
	var running sync.WaitGroup
	defer running.Wait()
	defer stop()
	log, scrub := reader{stream: s, inputs: inputs}, reader{stream: s, inputs: inputs}
	loop, rest := h.Loop(), []Input{nil}
	for {
		ready, err := loop.Step(time.Now(), rest[0])
		if err != nil {
			return err
		}
		rest = rest[1:]
		log.become(ctx, &running, ready.Log)
		scrub.become(ctx, &running, ready.Scrub)
		for _, task := range ready.Tasks {
			running.Go(func() { tell(ctx, inputs, task(ctx, s)) })
		}
		if len(rest) > 0 {
			continue
		}
		timer := time.NewTimer(time.Until(ready.At))
		select {
		case in := <-inputs:
			rest = gather(in, inputs)
		case <-h.wake:
			rest = []Input{nil}
		case <-timer.C:
			rest = []Input{nil}
		case <-ctx.Done():
			timer.Stop()
			h.writing.Lock()
			defer h.writing.Unlock()
			return h.saveCheckpoint()
		}
		timer.Stop()
	}
}

// tell reports whether the loop was told.
func tell(ctx context.Context, inputs chan<- Input, in Input) bool {
	select {
	case inputs <- in:
		return true
	case <-ctx.Done():
		return false
	}
}

// gather makes one of consecutive messages that have come already, so that they are flushed together.
func gather(first Input, inputs <-chan Input) []Input {
	all := []Input{first}
	for range atOnce - 1 {
		select {
		case in := <-inputs:
			last, ok := all[len(all)-1].(Messages)
			more, goesOn := in.(Messages)
			if ok && goesOn && last.ID == more.ID {
				all[len(all)-1] = Messages{last.ID, append(last.List, more.List...)}
			} else {
				all = append(all, in)
			}
		default:
			return all
		}
	}
	return all
}

// reader has one reading of the stream under way.
type reader struct {
	stream Stream
	inputs chan<- Input
	is     Reading
	stop   context.CancelFunc
}

// become begins a reading, if it is another than the one under way, and stops that.
func (r *reader) become(ctx context.Context, running *sync.WaitGroup, want Reading) {
	if want == r.is {
		return
	}
	if r.stop != nil {
		r.stop()
	}
	if r.is, r.stop = want, nil; want.ID == 0 {
		return
	}
	ctx, r.stop = context.WithCancel(ctx)
	running.Go(func() {
		err := r.stream.Consume(ctx, want.From, func(m bus.Message) error {
			if !tell(ctx, r.inputs, Messages{want.ID, []bus.Message{m}}) {
				return ctx.Err()
			}
			return nil
		})
		tell(ctx, r.inputs, Ended{want.ID, err})
	})
}
