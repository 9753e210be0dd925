package host_test

import (
	"context"
	"crypto/ed25519"
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/host"
	"hod/server/host/hosttest"
)

var noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

// still is a stream that does not wait. It can be hurt.
type still struct {
	stored []bus.Message
	last   uint64
	rotten map[uint64]bool // numbers of messages that are counted and cannot be read
	broken error           // what every question is answered with
	asked  int
}

func (s *still) State(context.Context) (bus.State, error) {
	s.asked++
	return bus.State{Last: s.last, Messages: uint64(len(s.stored)), Created: noon}, s.broken
}

func (s *still) Consume(_ context.Context, from uint64, take func(bus.Message) error) error {
	if s.last+1 < from {
		return &bus.StreamResetError{Read: from - 1, Last: s.last}
	}
	for _, m := range slices.Clone(s.stored) {
		if m.Seq >= from && !s.rotten[m.Seq] {
			if err := take(m); err != nil {
				return err
			}
		}
	}
	return s.broken
}

func (s *still) Publish(_ context.Context, carrier event.Device, segment []byte) error {
	s.last++
	s.stored = append(s.stored, bus.Message{Seq: s.last, Carrier: carrier, Data: segment})
	return nil
}

// cut takes the last n messages away; their numbers are given out again.
func (s *still) cut(n int) {
	s.stored = s.stored[:len(s.stored)-n]
	s.last -= uint64(n)
}

// holds counts the events of a device that can be read in it.
func (s *still) holds(d event.Device) int {
	seqs := map[uint64]bool{}
	for _, m := range s.stored {
		if seg, err := chain.ReadSegment(m.Data); err == nil && seg.Before.Device == d && !s.rotten[m.Seq] {
			for _, e := range seg.Events {
				seqs[e.Seq] = true
			}
		}
	}
	return len(seqs)
}

// stepped is a host whose loop the test steps.
type stepped struct {
	*host.Host
	*hosttest.Steps
	t      *testing.T
	stream *still
}

func begin(t *testing.T) *stepped {
	t.Helper()
	h, err := host.Open(t.TempDir(), host.Config{
		Site: "dune", Now: func() time.Time { return noon },
		Log: zerolog.Nop(),
	})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := h.Close(); err != nil {
			t.Error(err)
		}
	})
	s := &still{rotten: map[uint64]bool{}}
	r := &stepped{h, &hosttest.Steps{Loop: h.Loop(), Stream: s, Now: noon}, t, s}
	r.pass(time.Second)
	return r
}

// pass lets time go by.
func (r *stepped) pass(d time.Duration) {
	r.t.Helper()
	if err := r.Run(r.t.Context(), r.Steps.Now, r.Steps.Now.Add(d)); err != nil {
		r.t.Fatal(err)
	}
}

// enrol a device of crew north and give its key.
func (r *stepped) enrol(d event.Device, key ed25519.PrivateKey) {
	r.t.Helper()
	_, err := r.Append(event.DeviceEnrolled{
		Device: d, PublicKey: key.Public().(ed25519.PublicKey), Role: event.CrewRole, Crew: "north",
	})
	if err != nil {
		r.t.Fatal(err)
	}
}

// notes of a device, one segment each.
func notes(t *testing.T, d event.Device, key ed25519.PrivateKey, texts ...string) (segs []chain.Segment) {
	t.Helper()
	before := chain.Head{Device: d, Chain: chain.Root("dune", d)}
	for _, text := range texts {
		e, err := event.Write(event.Event{
			Name: event.Name{Device: d, Seq: before.Seq + 1}, HappenedAt: noon, LoggedAt: noon,
			Body: event.Noted{Text: text},
		})
		if err != nil {
			t.Fatal(err)
		}
		s, err := chain.Sign(key, "dune", before, []event.Event{e})
		if err != nil {
			t.Fatal(err)
		}
		before, segs = s.After, append(segs, s)
	}
	return segs
}

func (r *stepped) brings(s chain.Segment) {
	r.t.Helper()
	if err := r.stream.Publish(r.t.Context(), s.Before.Device, s.Bytes()); err != nil {
		r.t.Fatal(err)
	}
}

func (r *stepped) reached(d event.Device) uint64 {
	for _, h := range r.Heads() {
		if h.Device == d {
			return h.Seq
		}
	}
	return 0
}

func newKey(t *testing.T) ed25519.PrivateKey {
	t.Helper()
	_, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

// What the server gave back and the stream lost again before the server read it shows in no count of messages.
func TestWhatWasGivenBackAndLostAgainIsGivenBackOnceMore(t *testing.T) {
	r := begin(t)
	r.enrol("n1", newKey(t))
	r.pass(time.Second)
	if r.stream.holds("site") != 1 {
		t.Fatal("the enrolment is not sent")
	}
	r.stream.cut(1)
	// The reading notices, and begins again after a pause; what is then given back is lost before it is read.
	for range 3 {
		given := r.stream.last
		for i := 0; r.stream.last == given; i++ {
			if i == 100 {
				t.Fatal("the stream is never given what it lacks")
			}
			r.pass(time.Second)
		}
		r.stream.cut(1)
	}
	r.pass(2 * time.Minute)
	if got := r.stream.holds("site"); got != 1 {
		t.Errorf("the stream holds %d events of the server, want 1", got)
	}
}

// A stream that loses its tail gives the numbers out again: it has as many messages as it should, and the server, which
// reads on from the last number, would never see those that came in the place of what it had read.
func TestNumbersThatAreGivenOutAgainWhileTheServerReadsAreNoticed(t *testing.T) {
	r, key := begin(t), newKey(t)
	r.enrol("n1", key)
	r.pass(time.Second)
	segs := notes(t, "n1", key, "first", "second", "third")
	r.brings(segs[0])
	r.pass(time.Second)
	r.stream.cut(1)
	r.brings(segs[1])
	r.brings(segs[0])
	r.stream.cut(1)
	r.pass(time.Minute)
	if got := r.reached("n1"); got != 2 {
		t.Errorf("the record of n1 reaches %d, want 2: what came under a number that was given out twice was not read",
			got)
	}
	if got := r.stream.holds("n1"); got != 2 {
		t.Errorf("the stream holds %d events of n1, want 2", got)
	}
}

// A flipped bit makes a message unreadable that the stream still counts.
func TestWhatCannotBeReadAnyMoreIsGivenBackByTheNextScrub(t *testing.T) {
	r, key := begin(t), newKey(t)
	r.enrol("n1", key)
	r.pass(time.Second)
	for _, s := range notes(t, "n1", key, "first", "second", "third") {
		r.brings(s)
	}
	r.pass(time.Minute)
	r.stream.rotten[3] = true
	r.pass(11 * time.Hour)
	if got := r.stream.holds("n1"); got != 2 {
		t.Fatalf("the stream holds %d events of n1 that can be read, want 2", got)
	}
	r.pass(2 * time.Hour)
	if got := r.stream.holds("n1"); got != 3 {
		t.Errorf("after a scrub the stream holds %d events of n1 that can be read, want 3", got)
	}
	r.stream.rotten[r.stream.last] = true // the last of all: nothing comes after it
	r.pass(13 * time.Hour)
	if got := r.stream.holds("n1"); got != 3 {
		t.Errorf("after the next the stream holds %d events of n1 that can be read, want 3", got)
	}
}

// What waited for its device's enrolment, and was lost by the stream meanwhile, is given back when it is taken in, not
// at the next scrub.
func TestWhatIsTakenInLateIsGivenBackWithinALook(t *testing.T) {
	r, key := begin(t), newKey(t)
	r.enrol("n1", newKey(t))
	r.pass(time.Second)
	r.brings(notes(t, "n2", key, "early")[0])
	r.pass(time.Minute)
	r.stream.cut(1)
	r.pass(time.Minute) // it is noticed, and the stream read again
	r.enrol("n2", key)
	if got := r.reached("n2"); got != 1 {
		t.Fatalf("the record of n2 reaches %d, want 1", got)
	}
	r.pass(time.Minute)
	if got := r.stream.holds("n2"); got != 1 {
		t.Errorf("the stream holds %d events of n2, want 1", got)
	}
}

func TestAStreamThatCannotBeReadIsAskedMoreAndMoreRarely(t *testing.T) {
	r := begin(t)
	r.stream.broken = errors.New("no answer")
	r.pass(time.Minute)
	before := r.stream.asked
	r.pass(10 * time.Minute)
	if got := r.stream.asked - before; got < 15 || got > 25 {
		t.Errorf("it was asked %d times in ten minutes, want some 20, every half minute", got)
	}
	r.stream.broken = nil
	r.enrol("n1", newKey(t))
	r.pass(time.Minute)
	if got := r.stream.holds("site"); got != 1 {
		t.Errorf("once it can be read again it holds %d events of the server, want 1", got)
	}
}
