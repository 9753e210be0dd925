// Package hosttest steps a host's loop in one goroutine, by instants that a test gives: what the server does in hours
// is done in a moment, and the same way each time.
package hosttest

import (
	"context"
	"time"

	"hod/internal/bus"
	"hod/server/host"
)

// Steps drives a loop over a stream whose Consume returns nil at the stream's end instead of waiting.
type Steps struct {
	Loop   *host.Loop
	Stream host.Stream
	Now    time.Time // the loop's own; it goes forward only

	ready      host.Ready
	told       []host.Input
	log, scrub cursor
}

// cursor is how far a reading came.
type cursor struct {
	host.Reading
	next uint64
}

// batch is how many messages are taken in by one step.
const batch = 256

// Run takes the loop from now to an instant: it steps until nothing more is to be done before. The error is the loop's.
func (s *Steps) Run(ctx context.Context, now, until time.Time) error {
	if now.After(s.Now) {
		s.Now = now
	}
	for first := true; ; first = false { // the first step is as if the loop had been woken
		in := s.input(ctx)
		if in == nil && !first {
			if s.ready.At.After(until) {
				s.Now = until
				return nil
			}
			if s.ready.At.After(s.Now) {
				s.Now = s.ready.At
			}
		}
		ready, err := s.Loop.Step(s.Now, in)
		if err != nil {
			return err
		}
		s.ready = ready
		s.log.become(ready.Log)
		s.scrub.become(ready.Scrub)
		for _, task := range ready.Tasks {
			s.told = append(s.told, task(ctx, s.Stream))
		}
	}
}

// input is what the loop is told next; nil if nothing happened.
func (s *Steps) input(ctx context.Context) host.Input {
	if len(s.told) > 0 {
		in := s.told[0]
		s.told = s.told[1:]
		return in
	}
	if in := s.log.read(ctx, s.Stream); in != nil {
		return in
	}
	return s.scrub.read(ctx, s.Stream)
}

func (c *cursor) become(r host.Reading) {
	if r != c.Reading {
		*c = cursor{r, r.From}
	}
}

// enough ends a reading that has as many messages as one step takes.
type enough struct{ error }

func (c *cursor) read(ctx context.Context, s host.Stream) host.Input {
	if c.ID == 0 {
		return nil
	}
	var list []bus.Message
	err := s.Consume(ctx, c.next, func(m bus.Message) error {
		if list = append(list, m); len(list) == batch {
			return enough{}
		}
		return nil
	})
	switch {
	case len(list) > 0: // what came before a fault stands
		c.next = list[len(list)-1].Seq + 1
		return host.Messages{ID: c.ID, List: list}
	case err != nil:
		id := c.ID
		*c = cursor{}
		return host.Ended{ID: id, Err: err}
	}
	return nil
}
