package host

import (
	"context"
	"sync"
	"time"

	"hod/internal/bus"
	"hod/internal/event"
)

// Stream carries segments to and from the site's log. bus.Host implements it.
type Stream interface {
	// State returns which messages the stream holds.
	State(ctx context.Context) (bus.State, error)
	// Consume calls back with each message from a number on, in order, until the context ends. It returns a
	// *bus.StreamResetError where the stream was made anew, so that earlier numbers mean nothing.
	Consume(ctx context.Context, from uint64, take func(bus.Message) error) error
	// Publish returns nil once the stream holds the segment, flushed.
	Publish(ctx context.Context, carrier event.Device, segment []byte) error
}

// atOnce is the greatest number of messages that are archived with one flush.
const atOnce = 256

// Follow reads the stream and adds what is new to the log, and publishes what the stream lacks of it. It goes on after
// any fault of the stream. It returns nil when ctx ends, and an *Error of kind Disk when the archive cannot be written.
//
// The Loop decides what is done and when. Follow only waits, and passes messages and results between the Loop and the
// stream.
//
// Invariant: the loop is stepped by this goroutine alone, so its decisions are made one after the other; the goroutines
// that read and publish only report back, and what a stopped reading still reports carries an ID that the loop passes
// over.
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

// tell passes a result on to the loop, and reports whether it did: false once the context has ended.
func tell(ctx context.Context, inputs chan<- Input, in Input) bool {
	select {
	case inputs <- in:
		return true
	case <-ctx.Done():
		return false
	}
}

// gather collects consecutive messages of one reading that have arrived already into one step, so that they are
// archived with one flush. It waits for none.
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

// reader runs at most one reading of the stream at a time.
type reader struct {
	stream Stream
	inputs chan<- Input
	is     Reading
	stop   context.CancelFunc
}

// become starts a reading and stops the one that runs; it does nothing where the two are the same.
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
