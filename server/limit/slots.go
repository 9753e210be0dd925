package limit

import (
	"context"
	"errors"
	"sync"
)

var (
	// ErrBusy is returned when so many wait already that who comes now would wait for long.
	ErrBusy = errors.New("the server works out as many answers as it can, and as many more wait; try again in a moment")
	// ErrShare is returned when as many as one may have are under way or wait for the one who asks.
	ErrShare = errors.New(
		"as many questions as one may ask at once are being answered for you already; wait for one of them")
)

// Slots are places for work that is dear: so many are taken at a time, so many more wait for one in the order in which
// they came, and one asker has only so many of both. What is beyond is refused at once, so that what waits is bounded
// and nobody's questions starve the others'. Safe for several goroutines.
type Slots struct {
	most, queue, each int

	mu      sync.Mutex
	taken   int
	waiting []*waiter
	of      map[string]int // taken and waiting, by who
}

// Answers that are worked out at a time, that wait for their turn, and both of one device or one link's maker: what one
// costs in memory is bounded by the site's record, so this bounds the memory of all.
const (
	answersAtOnce  = 4
	answersWaiting = 64
	answersOfOne   = 16
)

// Answers are the places of a server for the answers that it works out.
func Answers() *Slots { return NewSlots(answersAtOnce, answersWaiting, answersOfOne) }

type waiter struct{ turn chan struct{} }

// NewSlots returns most places, with a queue, of both of which one asker has so many at the most.
func NewSlots(most, queue, each int) *Slots {
	return &Slots{most: most, queue: queue, each: each, of: map[string]int{}}
}

// Enter takes a place for who, or waits for one; leave gives it back, once. The error is ErrBusy, ErrShare, or that of
// ctx.
func (s *Slots) Enter(ctx context.Context, who string) (leave func(), err error) {
	s.mu.Lock()
	if s.of[who] >= s.each {
		s.mu.Unlock()
		return nil, ErrShare
	}
	if s.taken < s.most {
		s.taken++
		s.of[who]++
		s.mu.Unlock()
		return func() { s.leave(who) }, nil
	}
	if len(s.waiting) >= s.queue {
		s.mu.Unlock()
		return nil, ErrBusy
	}
	w := &waiter{make(chan struct{})}
	s.waiting = append(s.waiting, w)
	s.of[who]++
	s.mu.Unlock()
	select {
	case <-w.turn:
		return func() { s.leave(who) }, nil
	case <-ctx.Done():
	}
	s.mu.Lock()
	for i, other := range s.waiting {
		if other == w {
			s.waiting = append(s.waiting[:i], s.waiting[i+1:]...)
			s.forget(who)
			s.mu.Unlock()
			return nil, ctx.Err()
		}
	}
	s.mu.Unlock()
	s.leave(who) // its turn came meanwhile
	return nil, ctx.Err()
}

// leave hands the place on to who waits longest.
func (s *Slots) leave(who string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.forget(who)
	if len(s.waiting) == 0 {
		s.taken--
		return
	}
	next := s.waiting[0]
	s.waiting = s.waiting[1:]
	close(next.turn)
}

// forget counts one less of who. The caller holds mu.
func (s *Slots) forget(who string) {
	if s.of[who]--; s.of[who] <= 0 {
		delete(s.of, who)
	}
}
