package host

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"

	portable "hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
	"hod/server/fault"
	"hod/server/store"
)

// What a test started has ended when all are done.
func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

var morning = time.Date(2026, 7, 18, 7, 0, 0, 0, time.UTC)

// running is a host that follows a stream, and what it logged.
type running struct {
	*Host
	t      *testing.T
	stream *memoryStream
	log    *lockedBuffer
	stop   func()
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *lockedBuffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

func start(t *testing.T, dir string, s *memoryStream) *running {
	t.Helper()
	log := &lockedBuffer{}
	h, err := Open(dir, Config{Site: "dune", Now: func() time.Time { return morning }, Log: zerolog.New(log)})
	if err != nil {
		t.Fatalf("open %s: %v", dir, err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	done := make(chan error, 1)
	go func() { done <- h.Follow(ctx, s) }()
	stop := sync.OnceFunc(func() {
		cancel()
		if err := <-done; err != nil {
			t.Errorf("follow: %v", err)
		}
		if err := h.Close(); err != nil {
			t.Errorf("close: %v", err)
		}
	})
	t.Cleanup(stop)
	return &running{h, t, s, log, stop}
}

// until waits for what the host does in its own time; it fails with the test's own deadline only.
func (r *running) until(what string, holds func() bool) {
	r.t.Helper()
	for end := time.Now().Add(20 * time.Second); !holds(); time.Sleep(5 * time.Millisecond) {
		if time.Now().After(end) {
			r.t.Fatalf("never came true: %s\nlog:\n%s", what, r.log)
		}
	}
}

func (r *running) head(d event.Device) chain.Head {
	for _, h := range r.Heads() {
		if h.Device == d {
			return h
		}
	}
	return chain.Head{Device: d, Chain: chain.Root(r.Site(), d)}
}

func (r *running) reaches(d event.Device, seq uint64) {
	r.t.Helper()
	r.until(fmt.Sprintf("the record of %s reaches %d", d, seq), func() bool { return r.head(d).Seq == seq })
}

func (r *running) folded() int {
	n := 0
	r.View(func(s *fold.Site) { n = s.Len() })
	return n
}

// writer is a device with its record.
type writer struct {
	key    ed25519.PrivateKey
	site   string
	name   event.Device
	events []event.Event
}

func join(t *testing.T, r *running, crew event.Crew) *writer {
	t.Helper()
	w := &writer{key: newKey(t), site: r.Site()}
	m, err := r.Enrol(t.Context(),
		applicant(t, r.Host, w.key, enrol.Invitation{Role: event.CrewRole, Crew: crew, For: time.Hour, Uses: 1}))
	if err != nil {
		t.Fatalf("enrol: %v", err)
	}
	w.name = m.Device
	return w
}

func newKey(t *testing.T) ed25519.PrivateKey {
	t.Helper()
	_, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	return key
}

func applicant(t *testing.T, h *Host, key ed25519.PrivateKey, i enrol.Invitation) enrol.Applicant {
	t.Helper()
	secret, err := h.Invite(i)
	if err != nil {
		t.Fatalf("invite: %v", err)
	}
	return apply(secret.String(), key)
}

func apply(secret string, key ed25519.PrivateKey) enrol.Applicant {
	return enrol.Applicant{Secret: secret, Key: publicKey(key), Proof: ed25519.Sign(key, []byte(secret))}
}

func (w *writer) write(t *testing.T, text string) {
	t.Helper()
	e, err := event.Write(event.Event{
		Name:       event.Name{Device: w.name, Seq: uint64(len(w.events)) + 1},
		HappenedAt: morning.Add(time.Duration(len(w.events)) * time.Minute), LoggedAt: morning,
		Body: event.Noted{Text: text},
	})
	if err != nil {
		t.Fatalf("write: %v", err)
	}
	w.events = append(w.events, e)
}

// segment of events from first to last, both included.
func (w *writer) segment(t *testing.T, first, last int) chain.Segment {
	t.Helper()
	before := chain.Head{Device: w.name, Chain: chain.Root(w.site, w.name)}
	for _, e := range w.events[:first-1] {
		before.Seq, before.Chain = e.Seq, before.Chain.Next(e.Bytes())
	}
	s, err := chain.Sign(w.key, w.site, before, w.events[first-1:last])
	if err != nil {
		t.Fatalf("sign: %v", err)
	}
	return s
}

func (w *writer) send(t *testing.T, s *memoryStream, first, last int) {
	t.Helper()
	if err := s.Publish(t.Context(), w.name, w.segment(t, first, last).Bytes()); err != nil {
		t.Fatalf("publish: %v", err)
	}
}

func (w *writer) notes(t *testing.T, n int) *writer {
	t.Helper()
	for range n {
		w.write(t, fmt.Sprintf("note %d", len(w.events)+1))
	}
	return w
}

func TestEventsReachTheRecordInAnyOrderAndOnce(t *testing.T) {
	s := newStream()
	r := start(t, t.TempDir(), s)
	n := join(t, r, "north").notes(t, 9)
	if n.name != "n1" {
		t.Fatalf("the first device of crew north is %s, want n1", n.name)
	}
	n.send(t, s, 7, 9) // waits for 4 to 6
	n.send(t, s, 1, 3)
	n.send(t, s, 2, 5) // overlaps
	n.send(t, s, 1, 3) // repeats
	n.send(t, s, 5, 7) // closes the gap
	r.reaches("n1", 9)
	if got, want := r.head("n1"), n.segment(t, 1, 9).After; got != want {
		t.Errorf("head %v, want %v", got, want)
	}
	if got := r.folded(); got != 10 {
		t.Errorf("%d events are folded, want 9 and the enrolment", got)
	}
}

func TestARestartKnowsAllAndReadsOnlyTheTail(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	n := join(t, r, "north").notes(t, 5)
	n.send(t, s, 1, 3)
	r.reaches("n1", 3)
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
	r.until("all of the stream is read", func() bool {
		h := r.settled()
		st, _ := s.State(t.Context())
		return h == st.Last
	})
	r.stop()

	n.send(t, s, 4, 5) // while the server is down
	again := start(t, dir, s)
	if again.Site() != "dune" {
		t.Errorf("the site is %q after a restart", again.Site())
	}
	again.reaches("n1", 5)
	again.until("nothing is read twice", func() bool { return again.settled() > 0 })
	if got := again.folded(); got != 6 {
		t.Errorf("%d events are folded after a restart, want 6", got)
	}
	if m, ok := again.Rights(publicKey(n.key)); !ok || m.Device != "n1" || m.Crew != "north" ||
		m.Role != event.CrewRole {
		t.Errorf("after a restart the device is %+v, %v", m, ok)
	}
	if strings.Contains(again.log.String(), "read again") || strings.Contains(again.log.String(), "gave the stream") {
		t.Errorf("a restart read or filled the stream without need:\n%s", again.log)
	}
}

// given reports whether the stream holds all of the record, as far as it was read.
func (r *running) given() bool {
	r.writing.Lock()
	defer r.writing.Unlock()
	return len(r.unsent) == 0 && !r.lacks()
}

func (r *running) settled() uint64 {
	r.writing.Lock()
	defer r.writing.Unlock()
	return r.checkpoint.Settled.Seq
}

func TestAnotherHistoryIsSetAside(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	n := join(t, r, "north").notes(t, 4)
	n.send(t, s, 1, 3)
	r.reaches("n1", 3)

	copied := &writer{key: n.key, site: n.site, name: n.name, events: slices.Clone(n.events[:2])}
	copied.write(t, "another third note")
	copied.send(t, s, 2, 3)
	copied.send(t, s, 2, 3)
	n.send(t, s, 4, 4)
	r.reaches("n1", 4)
	if got, want := r.head("n1"), n.segment(t, 1, 4).After; got != want {
		t.Errorf("the second history changed the record: head %v, want %v", got, want)
	}
	if !strings.Contains(r.log.String(), "two histories") {
		t.Errorf("nobody is told of the fork; log:\n%s", r.log)
	}
	kept := recordsIn(t, filepath.Join(dir, forksDir, "n1"+archiveEnding))
	if len(kept) != 1 || !bytes.Equal(kept[0], copied.segment(t, 2, 3).Bytes()) {
		t.Errorf("%d segments are set aside, want the one that contradicts", len(kept))
	}
}

// The second history may be told of from its middle on: what it goes on from is not what is held.
func TestAnotherHistoryIsKnownByWhatItGoesOnFrom(t *testing.T) {
	s := newStream()
	r := start(t, t.TempDir(), s)
	n := join(t, r, "north").notes(t, 4)
	n.send(t, s, 1, 3)
	r.reaches("n1", 3)
	copied := &writer{key: n.key, site: n.site, name: n.name, events: slices.Clone(n.events[:2])}
	copied.write(t, "another third note")
	copied.write(t, "another fourth note")
	copied.send(t, s, 4, 4)
	n.send(t, s, 4, 4)
	r.reaches("n1", 4)
	if got, want := r.head("n1"), n.segment(t, 1, 4).After; got != want {
		t.Errorf("the second history went on from the first: head %v, want %v", got, want)
	}
	if !strings.Contains(r.log.String(), "two histories") {
		t.Errorf("nobody is told of the fork; log:\n%s", r.log)
	}
}

func TestWhoIsNotEnrolledWaitsAndWhoForgesIsRefused(t *testing.T) {
	s := newStream()
	r := start(t, t.TempDir(), s)
	n := join(t, r, "north").notes(t, 2)
	early := &writer{key: newKey(t), site: "dune", name: "n2"}
	early.notes(t, 2).send(t, s, 1, 2)
	thief := &writer{key: newKey(t), site: "dune", name: "n1"}
	thief.write(t, "never said")
	thief.send(t, s, 1, 1)
	if err := s.Publish(t.Context(), "n1", []byte("no segment")); err != nil {
		t.Fatal(err)
	}
	n.send(t, s, 1, 2)
	r.reaches("n1", 2)
	if got, want := r.head("n1"), n.segment(t, 1, 2).After; got != want {
		t.Fatalf("a forged segment got in: head %v, want %v", got, want)
	}
	if r.head("n2").Seq != 0 {
		t.Fatal("a stranger's events got in")
	}
	m, err := r.Enrol(t.Context(), applicant(t, r.Host, early.key, enrol.Invitation{
		Role: event.CrewRole, Crew: "north",
		For: time.Hour, Uses: 1,
	}))
	if err != nil || m.Device != "n2" {
		t.Fatalf("enrol the stranger: %v, %v", m, err)
	}
	r.reaches("n2", 2)
}

func TestAnEnrolmentInASegmentThatIsNotTakenInCountsForNothing(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	join(t, r, "north")
	// A second device that may enrol was copied: each copy signs another first event.
	second := &writer{key: newKey(t), site: "dune", name: "second"}
	r.until("the stream is read", r.isWhole)
	if _, err := r.Append(event.DeviceEnrolled{
		Device: second.name, PublicKey: publicKey(second.key),
		Role: event.SiteRole,
	}); err != nil {
		t.Fatal(err)
	}
	enrols := func(d event.Device, key ed25519.PrivateKey) {
		e, err := event.Write(event.Event{
			Name: event.Name{Device: second.name, Seq: 1}, HappenedAt: morning, LoggedAt: morning,
			Body: event.DeviceEnrolled{Device: d, PublicKey: publicKey(key), Role: event.Foreman},
		})
		if err != nil {
			t.Fatal(err)
		}
		second.events = []event.Event{e}
		second.send(t, s, 1, 1)
	}
	guest := newKey(t)
	enrols("x2", newKey(t))
	r.reaches("second", 1)
	enrols("x1", guest)
	r.until("the fork is seen", func() bool { return strings.Contains(r.log.String(), "two histories") })
	if _, ok := r.Rights(publicKey(guest)); ok {
		t.Error("a segment that contradicts the record let a device in")
	}
	r.writing.Lock()
	defer r.writing.Unlock()
	if r.chains.Keys().Key("x1") != nil {
		t.Error("the ring trusts a device that only a contradicting segment enrols")
	}
}

// A server is restored from yesterday's backup and its stream is lost with it; before a device is in touch, it writes.
// What it had written and the devices then bring back, a revocation say, must not be lost for that.
func TestARestoredServerThatWroteOnTakesBackWhatItHadWritten(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	join(t, r, "north")
	join(t, r, "south")
	r.until("the enrolments are in the stream", func() bool { return s.holds("site") == 2 })
	r.stop()
	yesterday := filepath.Join(t.TempDir(), "backup")
	if err := os.CopyFS(yesterday, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}

	r = start(t, dir, s)
	r.until("the stream is read", r.isWhole)
	if err := r.Revoke("s1", "lost"); err != nil {
		t.Fatal(err)
	}
	r.until("the revocation is in the stream", func() bool { return s.holds("site") == 3 })
	lost := slices.Clone(s.stored)
	r.stop()

	again, fresh := start(t, yesterday, newStream()), newKey(t)
	again.until("the stream is read", again.isWhole)
	if _, err := again.Append(event.DeviceEnrolled{
		Device: "n2", PublicKey: publicKey(fresh), Role: event.CrewRole,
		Crew: "north",
	}); err != nil {
		t.Fatal(err)
	}
	if m, _ := again.Member("s1"); m.Revoked {
		t.Fatal("the revocation is there already; there is nothing to see")
	}
	for _, m := range lost { // a device brings what it has
		if err := again.stream.Publish(t.Context(), "n1", m.Data); err != nil {
			t.Fatal(err)
		}
	}
	again.until("s1 is revoked again", func() bool { m, _ := again.Member("s1"); return m.Revoked })
	again.reaches("site", 4)
	if _, ok := again.Member("n2"); !ok {
		t.Error("what the server wrote after it was restored is gone")
	}
	again.View(func(s *fold.Site) {
		if r, ok := s.Record(event.Name{Device: "site", Seq: 4}); !ok || r.State != fold.Holds || r.StandsFor.IsZero() {
			t.Errorf("site/4 is %+v; it should stand for the revocation first written as site/3", r)
		}
	})
	again.stop()

	// Who can write the folder and has no key puts by what the server should sign.
	stranger := &writer{key: newKey(t), site: "dune", name: store.RootDevice}
	stranger.write(t, "let me in")
	path := filepath.Join(yesterday, forksDir, "site"+archiveEnding)
	lies, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, portable.AppendEntry(lies, stranger.segment(t, 1, 1).Bytes()), 0o600); err != nil {
		t.Fatal(err)
	}

	third := start(t, yesterday, newStream())
	third.until("the stream is given what it lacks", func() bool { return third.stream.holds("site") == 4 })
	if h := third.head("site"); h.Seq != 4 {
		t.Errorf("after another start the server's own record ends at %d, not 4: it was written again once more", h.Seq)
	}
}

// The server wrote five events after its backup. Restored, it writes one of its own, so the first two that the devices
// bring back contradict its record at once, and the later ones seem to come after what it lacks. They wait until
// writing the first ones again closes that gap, and must be written again then and there, not at the next reading of
// the whole stream.
func TestWhatWaitsBehindWhatIsWrittenAgainIsWrittenAgainAtOnce(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	join(t, r, "north")
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
	r.stop()
	yesterday := filepath.Join(t.TempDir(), "backup")
	if err := os.CopyFS(yesterday, os.DirFS(dir)); err != nil {
		t.Fatal(err)
	}
	r = start(t, dir, s)
	r.until("the stream is read", r.isWhole)
	names := []event.Device{"s1", "s2", "s3", "s4", "s5"}
	for i, name := range names {
		if _, err := r.Append(event.DeviceEnrolled{
			Device: name, PublicKey: publicKey(newKey(t)), Role: event.CrewRole,
			Crew: "south",
		}); err != nil {
			t.Fatal(err)
		}
		r.until("it is in the stream", func() bool { return s.holds("site") == i+2 })
	}
	lost := slices.Clone(s.stored)
	r.stop()

	again := start(t, yesterday, newStream())
	again.until("the stream is read", again.isWhole)
	if _, err := again.Append(event.Noted{Text: "restored"}); err != nil {
		t.Fatal(err)
	}
	for _, m := range lost { // a device brings what it has
		if err := again.stream.Publish(t.Context(), "n1", m.Data); err != nil {
			t.Fatal(err)
		}
	}
	again.until("all five stand again", func() bool {
		return !slices.ContainsFunc(names, func(d event.Device) bool { _, ok := again.Member(d); return !ok })
	})
	again.reaches("site", 7)
}

func TestTheStreamGetsBackWhatItLost(t *testing.T) {
	for _, c := range []struct {
		name string
		hurt func(*memoryStream)
	}{
		{"all of it, made anew", (*memoryStream).makeAnew},
		{"its end, numbers to be given out again", func(s *memoryStream) { s.cut(2, 4) }},
		{"a piece of its middle", func(s *memoryStream) { s.cut(1, 3) }},
		{"its beginning", func(s *memoryStream) { s.cut(0, 2) }},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir, s := t.TempDir(), newStream()
			r := start(t, dir, s)
			n := join(t, r, "north").notes(t, 7)
			r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
			for _, run := range [][2]int{{1, 2}, {3, 4}, {5, 6}} {
				n.send(t, s, run[0], run[1])
			}
			r.reaches("n1", 6)
			head := r.head("n1")
			r.stop()
			c.hurt(s)
			n.send(t, s, 7, 7)
			again := start(t, dir, s)
			again.reaches("n1", 7)
			again.until("the stream holds all again", func() bool { return s.holds("n1") == 7 && s.holds("site") == 1 })
			if held, _ := again.chains.At("n1", 6); held != head.Chain {
				t.Error("the record changed")
			}
			if got := again.folded(); got != 8 {
				t.Errorf("%d events are folded, want 8", got)
			}
		})
	}
}

// While a stranger's segment waits, the place from which a restart reads stays before it; what was read beyond may be
// lost all the same, and its number given out again.
func TestTheStreamGetsBackWhatItLostBehindAStranger(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	n := join(t, r, "north").notes(t, 5)
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
	stranger := &writer{key: newKey(t), site: "dune", name: "x1"}
	stranger.notes(t, 1).send(t, s, 1, 1)
	n.send(t, s, 1, 2)
	n.send(t, s, 3, 4)
	r.reaches("n1", 4)
	r.stop()
	s.cut(3, 4)
	n.send(t, s, 5, 5)
	again := start(t, dir, s)
	again.reaches("n1", 5)
	again.until("the stream holds all again", func() bool { return s.holds("n1") == 5 })
}

// What waits is lost with the process but not with the stream: a restart reads it again.
func TestWhatWaitsIsReadAgainAfterARestart(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	n := join(t, r, "north").notes(t, 6)
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
	n.send(t, s, 1, 1)
	n.send(t, s, 4, 6) // waits for 2 and 3
	n.send(t, s, 1, 1) // a message that waits for nothing lies behind it
	r.reaches("n1", 1)
	r.until("all is read", func() bool {
		r.writing.Lock()
		defer r.writing.Unlock()
		return r.checkpoint.Top.Seq == 4
	})
	r.stop()
	n.send(t, s, 2, 3)
	start(t, dir, s).reaches("n1", 6)
}

func TestALiveStreamThatIsMadeAnewIsFilledWhileTheServerRuns(t *testing.T) {
	s := newStream()
	r := start(t, t.TempDir(), s)
	n := join(t, r, "north").notes(t, 3)
	n.send(t, s, 1, 3)
	r.reaches("n1", 3)
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
	s.makeAnew()
	r.until("the stream holds all again", func() bool { return s.holds("n1") == 3 && s.holds("site") == 1 })
}

func TestOwnEventsOutlastAStreamThatRefuses(t *testing.T) {
	s := newStream()
	s.refuses = errors.New("full")
	r := start(t, t.TempDir(), s)
	join(t, r, "north")
	if r.head("site").Seq != 1 {
		t.Fatal("an enrolment must not wait for the stream")
	}
	s.mu.Lock()
	s.refuses = nil
	s.mu.Unlock()
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
}

func TestASecondServerOnTheFolderIsRefused(t *testing.T) {
	dir := t.TempDir()
	start(t, dir, newStream())
	_, err := Open(dir, Config{Log: zerolog.Nop()})
	if kindOf(err) != fault.Busy {
		t.Errorf("got %v, want an error of kind Busy", err)
	}
}

func TestAFolderOfAnotherSiteIsRefused(t *testing.T) {
	dir := t.TempDir()
	start(t, dir, newStream()).stop()
	_, err := Open(dir, Config{Site: "other", Log: zerolog.Nop()})
	if kindOf(err) != fault.Conflict || !strings.Contains(fmt.Sprint(err), "dune") {
		t.Errorf("got %v, want a fault.Conflict that names the site that the folder is of", err)
	}
}

func TestAFolderThatCannotBeWrittenSaysSo(t *testing.T) {
	if os.Geteuid() == 0 {
		// Root may write anywhere but into a file.
		file := filepath.Join(t.TempDir(), "file")
		if err := os.WriteFile(file, nil, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := Open(filepath.Join(file, "data"), Config{Log: zerolog.Nop()}); kindOf(err) != fault.Disk {
			t.Errorf("got %v, want an error of kind Disk", err)
		}
		return
	}
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o500); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(filepath.Join(dir, "data"), Config{Log: zerolog.Nop()}); kindOf(err) != fault.Disk {
		t.Errorf("got %v, want an error of kind Disk", err)
	}
}

func TestALostFolderIsSetUpAnewFromTheRootKey(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	n := join(t, r, "north").notes(t, 3)
	n.send(t, s, 1, 3)
	r.reaches("n1", 3)
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
	want := r.head("n1")
	key, err := os.ReadFile(filepath.Join(dir, keyFile))
	if err != nil {
		t.Fatal(err)
	}
	enrolled := slices.Clone(s.stored)
	r.stop()

	fresh, empty := t.TempDir(), newStream()
	if err := os.WriteFile(filepath.Join(fresh, keyFile), key, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := Open(fresh, Config{Log: zerolog.Nop()}); kindOf(err) != fault.Invalid {
		t.Errorf("a key without a site's name: got %v, want an error that asks for --site", err)
	}
	again := start(t, fresh, empty)
	for _, m := range slices.Backward(enrolled) { // as devices would bring them, the enrolment last
		if err := empty.Publish(t.Context(), m.Carrier, m.Data); err != nil {
			t.Fatal(err)
		}
	}
	again.reaches("n1", 3)
	if again.head("n1") != want {
		t.Error("the record is another one")
	}
}

func TestChangesAreToldInOrderAndWhatWasMissedIsSaid(t *testing.T) {
	h := &Host{changes: newChanges()}
	add := func(n int) {
		for range n {
			h.changes.add(event.Event{Name: event.Name{Device: "n1", Seq: h.changes.count + 1}})
		}
	}
	add(3)
	list, missed, err := h.Changes(t.Context(), 1, 10)
	if err != nil || missed != 0 || len(list) != 2 || list[0].Number != 2 || list[1].Event.Seq != 3 {
		t.Fatalf("after 1: %v, %d missed, %v", list, missed, err)
	}
	add(kept + 5)
	if list, missed, err = h.Changes(t.Context(), 3, 1); err != nil || missed != 5 || list[0].Number != 9 {
		t.Fatalf("a slow reader: %v, %d missed, %v; want 5 missed and change 9", list, missed, err)
	}
	if n, ok := h.ChangeOf(event.Name{Device: "n1", Seq: 20}); !ok || n != 20 {
		t.Errorf("change of n1/20: %d, %v", n, ok)
	}
	if _, ok := h.ChangeOf(event.Name{Device: "n1", Seq: 2}); ok {
		t.Error("a change that is no longer held was found")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, _, err := h.Changes(ctx, h.Latest(), 1); !errors.Is(err, context.Canceled) {
		t.Errorf("waiting with an ended context: %v", err)
	}
}

func kindOf(err error) fault.Kind {
	var e *fault.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return -1
}

func exists(path string) bool {
	_, err := os.Stat(path)
	return !errors.Is(err, fs.ErrNotExist)
}
