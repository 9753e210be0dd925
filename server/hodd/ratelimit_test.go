package main

import (
	"crypto/ed25519"
	"testing"
	"time"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/enrol"
)

func TestPace(t *testing.T) {
	now := time.Date(2031, 5, 12, 9, 0, 0, 0, time.UTC)
	out := map[event.Device]int{}
	p := newRateLimiter(func() time.Time { return now }, "site")
	p.out = func(d event.Device) { out[d]++ }
	at := now
	bring := func(d event.Device, n, size int) {
		for range n {
			at = at.Add(time.Nanosecond)
			p.count(bus.Message{Carrier: d, At: at, Data: make([]byte, size)})
		}
	}
	bring("n1", segmentsAtOnce, 10)
	bring("n2", 100, 10)
	bring("site", 2*segmentsAtOnce, 10)
	if len(out) > 0 || p.blocked("n1") {
		t.Fatalf("put out within what is allowed: %v", out)
	}
	bring("n1", 10, 10)
	if out["n1"] != 1 || len(out) != 1 || !p.blocked("n1") || p.blocked("n2") {
		t.Fatalf("put out: %v, want n1 once", out)
	}
	bring("n2", bytesAtOnce>>16, 1<<16)
	if out["n2"] != 1 {
		t.Fatalf("put out: %v, want n2 for its bytes", out)
	}
	full := segmentOf(t, chain.MaxSegmentEvents)
	for range eventsAtOnce/chain.MaxSegmentEvents + 1 {
		at = at.Add(time.Nanosecond)
		p.count(bus.Message{Carrier: "n4", At: at, Data: full})
	}
	if out["n4"] != 1 {
		t.Fatalf("put out: %v, want n4 for its events, which are few segments", out)
	}
	now = now.Add(blockedFor + time.Second)
	at = now
	bring("n1", segmentsASecond*int(blockedFor/time.Second), 10)
	if p.blocked("n1") || out["n1"] != 1 {
		t.Errorf("put out at a pace that may be kept: %v", out)
	}
	// The stream is read again from its start, a day later: that is not brought now.
	p = newRateLimiter(func() time.Time { return now.Add(24 * time.Hour) }, "site")
	p.out = func(d event.Device) { t.Errorf("%s is put out for what it once brought", d) }
	bring("n3", 2*segmentsAtOnce, 10)
}

// segmentOf so many notes.
func segmentOf(t *testing.T, n int) []byte {
	t.Helper()
	var events []event.Event
	for i := range n {
		e, err := event.Write(event.Event{
			Name:       event.Name{Device: "n4", Seq: uint64(i) + 1},
			HappenedAt: time.Unix(1e9, 0), LoggedAt: time.Unix(1e9, 0), Body: event.Noted{Text: "x"},
		})
		if err != nil {
			t.Fatal(err)
		}
		events = append(events, e)
	}
	_, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	s, err := chain.Sign(key, "dune", chain.Head{Device: "n4"}, events)
	if err != nil {
		t.Fatal(err)
	}
	if got := chain.Count(s.Bytes()); got != n {
		t.Fatalf("of %d events %d are counted", n, got)
	}
	return s.Bytes()
}

// A device that is put out is connected no more, comes in again, and has lost nothing.
func TestADeviceThatBringsTooMuchIsPutOut(t *testing.T) {
	w := started(t, here(t.TempDir()))
	n1 := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}))
	line, err := bus.Dial(t.Context(), n1.access())
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	n1.publish(t, n1.segment(t, event.Noted{Text: "one"}))
	until(t, "its event is at the server", func() bool { return len(reached(w, n1.Name)) == 1 })
	spent := bus.Message{Carrier: n1.Name, At: w.host.Now(), Data: make([]byte, bytesAtOnce)}
	w.stream.limiter.count(spent)
	spent.At = w.host.Now()
	w.stream.limiter.count(spent)
	until(t, "it is put out", func() bool {
		select {
		case <-line.Done():
			return true
		default:
			return false
		}
	})
	if again, err := bus.Dial(t.Context(), n1.access()); err == nil {
		again.Close()
		t.Error("it comes in again at once")
	}
	w.stream.limiter.mu.Lock()
	clear(w.stream.limiter.until) // a minute later
	w.stream.limiter.mu.Unlock()
	n1.publish(t, n1.segment(t, event.Noted{Text: "two"}))
	until(t, "what it writes then is at the server", func() bool {
		h := reached(w, n1.Name)
		return len(h) == 1 &&
			h[0].Seq == 2
	})
}
