package main

import (
	"fmt"
	"runtime"
	"sync"
	"testing"
	"time"

	"hod/client/journal"
	"hod/client/remote"
	contact "hod/client/sync"
	"hod/internal/event"
	"hod/server/enrol"
)

// Two weeks without a network, many times over: one device comes with a hundred thousand events while another goes on
// writing one at a time.
func TestALongBacklogStarvesNobody(t *testing.T) {
	many := 100_000
	if testing.Short() {
		many = 5_000
	}
	w := started(t, here(t.TempDir()))
	open := func(crew event.Crew) *journal.Journal {
		t.Helper()
		j, err := journal.Create(t.TempDir(),
			joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: crew, For: time.Hour, Uses: 1}))
		if err != nil {
			t.Fatal(err)
		}
		t.Cleanup(func() { _ = j.Close() })
		return j
	}
	away, near := open("north"), open("south")
	at := time.Date(2026, 7, 18, 9, 0, 0, 0, time.UTC)
	for n := 0; n < many; n += 1000 {
		var drafts []event.Event
		for i := range min(1000, many-n) {
			drafts = append(drafts, event.Event{
				HappenedAt: at, Typed: true,
				Body: event.Noted{Text: fmt.Sprintf("note %d of a long time away", n+i)},
			})
		}
		if _, err := away.Append(t.Context(), at, drafts...); err != nil {
			t.Fatal(err)
		}
	}

	contact := func(j *journal.Journal) {
		t.Helper()
		session, err := remote.Open(t.Context(), j)
		if err != nil {
			t.Error(err)
			return
		}
		defer session.Close()
		if _, err := session.Contact(t.Context(), contact.Clock{Now: time.Now}); err != nil {
			t.Error(err)
		}
	}
	var all sync.WaitGroup
	done := make(chan struct{})
	all.Go(func() { defer close(done); contact(away) })
	// The other device is served in between: its events are at the server before the backlog is.
	during := 0
	var most uint64
	for ended := false; !ended; {
		select {
		case <-done:
			ended = true
		default:
			if _, err := near.Append(t.Context(), at, event.Event{
				HappenedAt: at, Typed: true,
				Body: event.Noted{Text: "one more"},
			}); err != nil {
				t.Fatal(err)
			}
			contact(near)
			s, err := near.Status(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if s.AtServer == s.Kept {
				select {
				case <-done:
				default:
					during++
				}
			}
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			most = max(most, m.HeapInuse)
		}
	}
	all.Wait()
	if during == 0 {
		t.Error("while the backlog went up, no event of the other device reached the server")
	}
	s, err := away.Status(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	if s.Kept != uint64(many) || s.AtServer != s.Kept {
		t.Errorf("of %d events %d are at the server", s.Kept, s.AtServer)
	}
	t.Logf(
		"%d events went up while %d of the other device reached the server; at most %d MiB of heap for both devices and the server", many, during, most>>20)
}
