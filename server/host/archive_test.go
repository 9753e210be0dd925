package host

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"

	portable "hod/internal/archive"
	"hod/internal/event"
	"hod/server/fault"
	"hod/server/store"
)

func TestWhatIsNotFlushedIsToldToNobody(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	var full atomic.Bool
	h, err := Open(dir, Config{Site: "dune", Log: zerolog.Nop(), Flush: func(f store.File) error {
		if full.Load() {
			return syscall.ENOSPC
		}
		return f.Sync()
	}})
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- h.Follow(t.Context(), s) }()
	r := &running{Host: h, t: t, stream: s, log: &lockedBuffer{}}
	n := join(t, r, "north").notes(t, 2)
	n.send(t, s, 1, 1)
	r.reaches("n1", 1)
	full.Store(true)
	n.send(t, s, 2, 2)
	select {
	case err := <-done:
		if kindOf(err) != fault.Disk || !strings.Contains(err.Error(), "full") {
			t.Errorf("a full disk ended it with %v", err)
		}
	case <-time.After(20 * time.Second):
		t.Fatal("a server whose disk is full goes on")
	}
	if got := r.head("n1").Seq; got != 1 {
		t.Errorf("the head told is %d, but only 1 is flushed", got)
	}
	if got := r.folded(); got != 2 {
		t.Errorf("%d events are shown, but only the enrolment and one more are flushed", got)
	}
	if _, err := h.Append(event.Noted{Text: "more"}); kindOf(err) != fault.Disk {
		t.Errorf("a server whose disk failed took another event: %v", err)
	}
	if err := h.Close(); err != nil {
		t.Fatal(err)
	}
	again := start(t, dir, s)
	again.reaches("n1", 2)
}

func TestAnArchiveThatIsDamagedIsMendedFromTheStream(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	n := join(t, r, "north").notes(t, 6)
	for i := range 6 {
		n.send(t, s, i+1, i+1)
		r.reaches("n1", uint64(i+1))
	}
	r.until("the enrolment is in the stream", func() bool { return s.holds("site") == 1 })
	want := r.head("n1")
	r.stop()

	path := filepath.Join(dir, archiveDir, firstFile)
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	third := bytes.Index(data, []byte("note 3"))
	data[third] ^= 1
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	again := start(t, dir, s)
	again.reaches("n1", 6)
	if again.head("n1") != want {
		t.Error("the record is another one")
	}
	if !strings.Contains(again.log.String(), "archive is damaged") {
		t.Errorf("nobody is told; log:\n%s", again.log)
	}
	again.stop()
	last := start(t, dir, newStream()) // the archive alone must do now
	last.reaches("n1", 6)
}

// Whoever can write the folder but has no key must not get a segment in by writing it into the archive.
func TestASegmentSlippedIntoTheArchiveIsRefused(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	n := join(t, r, "north").notes(t, 2)
	n.send(t, s, 1, 2)
	r.reaches("n1", 2)
	want := r.head("n1")
	r.stop()

	thief := &writer{key: newKey(t), site: "dune", name: "n1"}
	thief.write(t, "never said")
	thief.write(t, "nor this")
	path := filepath.Join(dir, archiveDir, firstFile)
	head := r.folder.Header().Bytes()
	records := recordsIn(t, path)
	// the enrolment, then the forged ones before the true ones
	slipped := portable.AppendEntry(bytes.Clone(head), records[0])
	slipped = portable.AppendEntry(slipped, thief.segment(t, 1, 2).Bytes())
	for _, raw := range records[1:] {
		slipped = portable.AppendEntry(slipped, raw)
	}
	if err := os.WriteFile(path, slipped, 0o600); err != nil {
		t.Fatal(err)
	}
	again := start(t, dir, s)
	again.reaches("n1", 2)
	if again.head("n1") != want {
		t.Error("a forged segment got in by the archive")
	}
	if !strings.Contains(again.log.String(), "not what this server once verified") {
		t.Errorf("nobody is told; log:\n%s", again.log)
	}
}
