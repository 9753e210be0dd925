package limit

import (
	"context"
	"errors"
	"fmt"
	"sync"
	"sync/atomic"
	"testing"
	"testing/synctest"
)

func TestOneAskerLeavesTheOthersTheirPlacesAndWhatWaitsIsBounded(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s := NewSlots(2, 3, 2)
		enter := func(who string) func() {
			t.Helper()
			leave, err := s.Enter(t.Context(), who)
			if err != nil {
				t.Fatalf("%s: %v", who, err)
			}
			return leave
		}
		first, second := enter("n1"), enter("n1")
		if _, err := s.Enter(t.Context(), "n1"); !errors.Is(err, ErrShare) {
			t.Errorf("a third of n1: %v", err)
		}
		var turns []string
		var mu sync.Mutex
		for _, who := range []string{"n2", "n3", "n4"} {
			go func() {
				leave, err := s.Enter(t.Context(), who)
				mu.Lock()
				defer mu.Unlock()
				turns = append(turns, fmt.Sprintf("%s %v", who, err))
				if err == nil {
					leave()
				}
			}()
			synctest.Wait()
		}
		if _, err := s.Enter(t.Context(), "n5"); !errors.Is(err, ErrBusy) {
			t.Errorf("one more than may wait: %v", err)
		}
		gone, cancel := context.WithCancel(t.Context())
		cancel()
		if _, err := s.Enter(gone, "n5"); err == nil {
			t.Error("one that has gone has a place")
		}
		first()
		synctest.Wait()
		if got := fmt.Sprint(turns); got != "[n2 <nil> n3 <nil> n4 <nil>]" {
			t.Errorf("turns: %s", got)
		}
		second()
		enter("n1")()
		if s.taken != 0 || len(s.waiting) != 0 || len(s.of) != 0 {
			t.Errorf("all have left, and %d places are taken, %d wait, of %v", s.taken, len(s.waiting), s.of)
		}
	})
}

func TestNeverMoreAreUnderWayThanThereArePlaces(t *testing.T) {
	s := NewSlots(3, 1000, 1000)
	var now, most atomic.Int64
	var all sync.WaitGroup
	for i := range 200 {
		all.Go(func() {
			ctx, cancel := context.WithCancel(t.Context())
			defer cancel()
			if i%5 == 0 {
				go cancel()
			}
			leave, err := s.Enter(ctx, fmt.Sprint("n", i%7))
			if err != nil {
				return
			}
			most.Store(max(most.Load(), now.Add(1)))
			now.Add(-1)
			leave()
		})
	}
	all.Wait()
	if most.Load() > 3 || s.taken != 0 || len(s.waiting) != 0 || len(s.of) != 0 {
		t.Errorf("%d at once; after all: %d taken, %d wait, of %v", most.Load(), s.taken, len(s.waiting), s.of)
	}
}
