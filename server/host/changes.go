package host

import (
	"context"
	"sync"

	"hod/internal/event"
)

// kept is how many changes are held in memory for watchers. A watcher that falls further behind is told how many it
// missed.
const kept = 4096

// Change is an event that was added to the log since the server started.
type Change struct {
	Number uint64 // in the order in which this server took them in since it started, from 1
	Event  event.Event
}

// changes is a ring of the last changes. Watchers read it, each at its own pace. No watcher has a buffer of its own, so
// a slow one costs no memory.
type changes struct {
	mu    sync.Mutex
	ring  [kept]event.Event
	count uint64
	more  chan struct{} // closed at the next change; nil while nobody waits for it
}

func newChanges() *changes { return &changes{} }

func (c *changes) add(e event.Event) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.ring[c.count%kept] = e
	c.count++
	if c.more != nil {
		close(c.more)
		c.more = nil
	}
}

// Changes returns the changes after a number, oldest first and at most most of them. It blocks until there is one or
// ctx ends, and then returns ctx's error. Missed is how many changes after that number are no longer held.
func (h *Host) Changes(ctx context.Context, after uint64, most int) (list []Change, missed uint64, err error) {
	c := h.changes
	for {
		c.mu.Lock()
		oldest := c.count - min(c.count, kept)
		if after < oldest {
			missed, after = missed+oldest-after, oldest
		}
		for n := after; n < c.count && len(list) < most; n++ {
			list = append(list, Change{n + 1, c.ring[n%kept]})
		}
		if len(list) > 0 {
			c.mu.Unlock()
			return list, missed, nil
		}
		if c.more == nil {
			c.more = make(chan struct{})
		}
		more := c.more
		c.mu.Unlock()
		select {
		case <-more:
		case <-ctx.Done():
			return nil, missed, ctx.Err()
		}
	}
}

// Latest returns the number of the last change, 0 if there was none since the server started.
func (h *Host) Latest() uint64 {
	h.changes.mu.Lock()
	defer h.changes.mu.Unlock()
	return h.changes.count
}

// ChangeOf returns the number of the change that added an event; false if it is no longer held, or never was a change.
func (h *Host) ChangeOf(name event.Name) (uint64, bool) {
	c := h.changes
	c.mu.Lock()
	defer c.mu.Unlock()
	for n := c.count; n > c.count-min(c.count, kept); n-- {
		if c.ring[(n-1)%kept].Name == name {
			return n, true
		}
	}
	return 0, false
}
