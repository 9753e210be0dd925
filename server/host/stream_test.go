package host

import (
	"context"
	"slices"
	"sync"
	"time"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
)

// memoryStream is a stream that can be hurt. Its conduct is that of bus.Host, whose own tests hold it to a real server.
type memoryStream struct {
	mu      sync.Mutex
	made    time.Time
	stored  []bus.Message
	last    uint64
	more    chan struct{}
	refuses error // what Publish answers
}

func newStream() *memoryStream {
	return &memoryStream{made: time.Unix(1, 0), more: make(chan struct{})}
}

func (s *memoryStream) State(context.Context) (bus.State, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	st := bus.State{Last: s.last, Messages: uint64(len(s.stored)), Created: s.made}
	if len(s.stored) > 0 {
		st.First = s.stored[0].Seq
	}
	return st, nil
}

func (s *memoryStream) Consume(ctx context.Context, from uint64, take func(bus.Message) error) error {
	s.mu.Lock()
	made := s.made
	s.mu.Unlock()
	for {
		s.mu.Lock()
		if s.last+1 < from || !s.made.Equal(made) {
			defer s.mu.Unlock()
			return &bus.StreamResetError{Read: from - 1, Last: s.last}
		}
		i, _ := slices.BinarySearchFunc(s.stored, from, func(m bus.Message, n uint64) int {
			return int(m.Seq) - int(n)
		})
		batch, more := slices.Clone(s.stored[i:]), s.more
		s.mu.Unlock()
		for _, m := range batch {
			if err := take(m); err != nil {
				return err
			}
			from = m.Seq + 1
		}
		if len(batch) > 0 {
			continue
		}
		select {
		case <-more:
		case <-ctx.Done():
			return ctx.Err()
		}
	}
}

func (s *memoryStream) Publish(_ context.Context, carrier event.Device, segment []byte) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.refuses != nil {
		return s.refuses
	}
	s.last++
	s.stored = append(s.stored, bus.Message{Seq: s.last, Carrier: carrier, Data: slices.Clone(segment)})
	s.wake()
	return nil
}

func (s *memoryStream) wake() {
	close(s.more)
	s.more = make(chan struct{})
}

// makeAnew is what a deleted stream looks like: nothing in it, numbers from 1 again.
func (s *memoryStream) makeAnew() {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.stored, s.last, s.made = nil, 0, s.made.Add(time.Second)
	s.wake()
}

// cut takes messages away; their numbers are given out again if they were the last.
func (s *memoryStream) cut(from, to int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	tail := to == len(s.stored)
	s.stored = slices.Delete(s.stored, from, to)
	if tail {
		s.last = 0
		if n := len(s.stored); n > 0 {
			s.last = s.stored[n-1].Seq
		}
	}
}

// holds counts the events of a device that lie in the stream.
func (s *memoryStream) holds(d event.Device) int {
	s.mu.Lock()
	defer s.mu.Unlock()
	seen := map[uint64]bool{}
	for _, m := range s.stored {
		if seg, err := chain.ReadSegment(m.Data); err == nil && seg.Before.Device == d {
			for _, e := range seg.Events {
				seen[e.Seq] = true
			}
		}
	}
	return len(seen)
}
