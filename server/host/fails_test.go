package host_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"

	portable "hod/internal/archive"
	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
	"hod/server/host"
	"hod/server/host/hosttest"
	"hod/server/store"
)

// life is a server that opens, lets a device in, takes in what it writes, sets its second history aside, revokes it and
// ends, while one call fails. Whatever ends it is followed by another start, as a service is started again.
type life struct {
	t      *testing.T
	dir    string
	stream host.Stream
	h      *host.Host
	steps  *hosttest.Steps
	now    time.Time
	starts int

	key    ed25519.PrivateKey
	secret string
	told   map[event.Device]uint64 // how far heads reached that were told
	joined event.Device
	other  chain.Segment // of the second history
	call   func() string // that failed
}

func newLife(t *testing.T, s host.Stream) *life {
	t.Helper()
	seed := [ed25519.SeedSize]byte{7}
	return &life{
		t: t, dir: t.TempDir(), stream: s, now: noon, key: ed25519.NewKeyFromSeed(seed[:]),
		told: map[event.Device]uint64{},
	}
}

// up starts the server unless it runs.
func (l *life) up() {
	l.t.Helper()
	for l.h == nil {
		if l.starts++; l.starts > 20 {
			l.t.Fatal("it is started again and again")
		}
		h, err := host.Open(l.dir, host.Config{Site: "dune", Now: func() time.Time { return noon }, Log: zerolog.Nop()})
		if err == nil {
			l.h, l.steps = h, &hosttest.Steps{Loop: h.Loop(), Stream: l.stream, Now: l.now}
			l.held()
		}
	}
}

// held holds what was told against what a server finds on its disk as it opens, before it has asked the stream.
func (l *life) held() {
	l.t.Helper()
	is := map[event.Device]uint64{}
	for _, h := range l.h.Heads() {
		is[h.Device] = h.Seq
	}
	for d, seq := range l.told {
		if is[d] < seq {
			l.t.Errorf("%s: the archive holds the log of %s up to %d, and %d was told", l.call(), d, is[d], seq)
		}
	}
}

func (l *life) down() {
	if l.h != nil {
		_ = l.h.Close() // it may be what fails
		l.h = nil
	}
}

// pass lets time go by, in which a server that ends is started again.
func (l *life) pass(d time.Duration) {
	l.t.Helper()
	for until := l.now.Add(d); ; l.down() {
		l.up()
		if err := l.steps.Run(l.t.Context(), l.now, until); err == nil {
			l.now = until
			break
		}
	}
	for _, h := range l.h.Heads() {
		l.told[h.Device] = max(l.told[h.Device], h.Seq)
	}
}

// order has the server do something, and do it again after it was started anew where it fails.
func (l *life) order(what string, do func() error) {
	l.t.Helper()
	for try := 0; ; try++ {
		l.pass(time.Minute)
		err := do()
		if err == nil {
			return
		}
		if try == 3 {
			l.t.Fatalf("%s: %v", what, err)
		}
		if try > 0 {
			l.down()
		}
	}
}

func (l *life) run() {
	t := l.t
	l.order("invite", func() error {
		secret, err := l.h.Invite(enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
		l.secret = secret.String()
		return err
	})
	l.order("enrol", func() error {
		m, err := l.h.Enrol(t.Context(), enrol.Applicant{
			Secret: l.secret, Key: l.key.Public().(ed25519.PublicKey), Proof: ed25519.Sign(l.key, []byte(l.secret)),
		})
		l.joined = m.Device
		return err
	})
	first := notes(t, l.joined, l.key, "one", "two", "three", "four")
	other := notes(t, l.joined, l.key, "one", "two", "another three")
	l.other = other[2]
	for _, s := range []chain.Segment{first[0], first[2], first[1], other[2], first[3], other[2]} {
		// a device offers again what was not acknowledged
		for l.stream.Publish(t.Context(), l.joined, s.Bytes()) != nil {
			l.pass(time.Second)
		}
		l.pass(time.Minute)
	}
	l.order("revoke", func() error {
		m, _ := l.h.Member(l.joined)
		if m.Revoked {
			return nil // the order that failed was carried out
		}
		return l.h.Revoke(l.joined, "lost")
	})
	l.pass(time.Minute)
	l.down()
	l.pass(time.Minute)
}

// judge looks at what a server without faults has in the end.
func (l *life) judge() {
	t, call := l.t, l.call()
	t.Helper()
	l.down()
	l.pass(10 * time.Minute)
	defer l.down()
	is := map[event.Device]uint64{}
	for _, h := range l.h.Heads() {
		is[h.Device] = h.Seq
	}
	_, rootKey := l.h.Root()
	want := portable.AppendEntry(portable.Header{Site: "dune", Root: "site", RootKey: rootKey}.Bytes(), l.other.Bytes())
	if got, err := os.ReadFile(filepath.Join(l.dir, "forks", string(l.joined)+".hodlog")); err != nil ||
		!bytes.Equal(got, want) {
		t.Errorf("%s: what was set aside is %d bytes, %v, not the %d of one segment", call, len(got), err, len(want))
	}
	if is[l.joined] != 4 {
		t.Errorf("%s: the log of %s reaches %d, not 4", call, l.joined, is[l.joined])
	}
	if m, ok := l.h.Member(l.joined); !ok || !m.Revoked || len(l.h.Members()) != 1 {
		t.Errorf("%s: of %d devices it is %+v, %v", call, len(l.h.Members()), m, ok)
	}
	l.h.View(func(s *fold.Site) {
		if n := len(s.Records()); n != 4+int(is["site"]) {
			t.Errorf("%s: %d events are folded of %v", call, n, is)
		}
	})
}

func TestEachCallToTheDiskFailsOnceAndTheServerGoesOnOrEndsAndLosesNothingThatItTold(t *testing.T) {
	seen := map[string]int{}
	for k := 1; ; k++ {
		s, calls, failed := &still{rotten: map[uint64]bool{}}, 0, ""
		l := newLife(t, s)
		l.call = func() string { return fmt.Sprintf("call %d (%s)", k, failed) }
		end := store.Trouble(func(call string) error {
			if calls++; calls != k {
				return nil
			}
			failed = call
			return syscall.ENOSPC
		})
		l.run()
		end()
		l.judge()
		if n := s.holds(l.joined); n != 4 {
			t.Errorf("call %d (%s): the stream holds %d events of it, not 4", k, failed, n)
		}
		if failed == "" {
			break
		}
		if seen[failed]++; t.Failed() || k > 500 {
			t.Fatalf("after %d calls", k)
		}
	}
	if len(seen) < 8 {
		t.Errorf("only these calls failed: %v", seen)
	}
}

// lame is a stream with one call that fails, before its effect or after it.
type lame struct {
	*still
	left  int
	after bool
	what  string
}

var errLame = errors.New("the line to the stream broke")

func (s *lame) fails(what string) bool {
	s.left--
	if s.left == 0 {
		s.what = what
	}
	return s.left == 0
}

func (s *lame) State(ctx context.Context) (bus.State, error) {
	if s.fails("state") {
		return bus.State{}, errLame
	}
	return s.still.State(ctx)
}

func (s *lame) Consume(ctx context.Context, from uint64, take func(bus.Message) error) error {
	if !s.fails("consume") {
		return s.still.Consume(ctx, from, take)
	}
	if s.after {
		_ = s.still.Consume(ctx, from, take)
	}
	return errLame
}

func (s *lame) Publish(ctx context.Context, carrier event.Device, segment []byte) error {
	if !s.fails("publish") {
		return s.still.Publish(ctx, carrier, segment)
	}
	if s.after {
		_ = s.still.Publish(ctx, carrier, segment)
	}
	return errLame
}

func TestEachCallToTheStreamFailsOnceAndTheServerLosesNothing(t *testing.T) {
	seen := map[string]int{}
	for _, after := range []bool{false, true} {
		for k := 1; ; k += 1 + k/10 { // it asks the stream by the thousand
			s := &lame{still: &still{rotten: map[uint64]bool{}}, left: k, after: after}
			l := newLife(t, s)
			l.call = func() string { return fmt.Sprintf("call %d (%s), after its effect: %v", k, s.what, after) }
			l.run()
			failed := s.what
			s.left = 0
			l.judge()
			if n, own := s.holds(l.joined), s.holds("site"); n != 4 || own != int(l.told["site"]) {
				t.Errorf("call %d (%s): the stream holds %d events of it and %d of the server", k, failed, n, own)
			}
			if failed == "" {
				break
			}
			if seen[failed]++; t.Failed() {
				t.Fatalf("after %d calls", k)
			}
		}
	}
	if len(seen) < 3 {
		t.Errorf("only these calls failed: %v", seen)
	}
}
