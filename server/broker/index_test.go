package broker

import (
	"bytes"
	"encoding/binary"
	"os"
	"path/filepath"
	"runtime"
	"testing"

	"hod/internal/event"
)

// A record's length is not under its checksum. Here one has changed so that the next record seems to begin inside a
// message, at what looks like the sixty millionth. A broker that trusts its summary of the file takes some memory for
// each number up to that one; most numbers that stand there by chance are a billion times that.
func TestARecordWhoseLengthChangedIsCutOff(t *testing.T) {
	const (
		head, tail  = 22, 8 // bytes of a record before its subject and after its message
		whole       = 512   // a record
		other       = whole ^ 64
		before, all = 10, 24
	)
	s := newSite(t)
	d := s.dial(s.enrol("n1", event.CrewRole))
	blocks := func() string {
		found, err := filepath.Glob(filepath.Join(s.dir, "jetstream", "*", "streams", "*", "msgs", "1.blk"))
		if err != nil || len(found) != 1 {
			t.Fatalf("the stream's files are %v: %v", found, err)
		}
		return found[0]
	}
	publish := func(message []byte) {
		t.Helper()
		if err := d.Publish(t.Context(), message); err != nil {
			t.Fatal(err)
		}
	}
	lengthAt := func(i int) int {
		data, err := os.ReadFile(blocks())
		if err != nil {
			t.Fatal(err)
		}
		return int(binary.LittleEndian.Uint32(data[i:]))
	}
	publish([]byte("x"))
	first := lengthAt(0)
	subject := first - head - tail - 1
	message := make([]byte, whole-head-tail-subject)
	looksLike := make([]byte, 64)
	binary.LittleEndian.PutUint32(looksLike, uint32(len(looksLike)))
	binary.LittleEndian.PutUint64(looksLike[4:], 60_000_000)
	binary.LittleEndian.PutUint16(looksLike[20:], 4)
	copy(message[other-whole-head-subject:], bytes.Repeat(looksLike, whole/len(looksLike)))
	for range all {
		publish(message)
	}
	if n := lengthAt(first); n != whole {
		t.Fatalf("a record is %d bytes, want %d", n, whole)
	}
	s.Stop()
	data, err := os.ReadFile(blocks())
	if err != nil {
		t.Fatal(err)
	}
	binary.LittleEndian.PutUint32(data[first+before*whole:], other)
	if err := os.WriteFile(blocks(), data, 0o600); err != nil {
		t.Fatal(err)
	}
	var was, is runtime.MemStats
	runtime.ReadMemStats(&was)
	s.start("127.0.0.1:0")
	runtime.ReadMemStats(&is)
	if took := is.TotalAlloc - was.TotalAlloc; took > 100<<20 {
		t.Errorf("the start took %d MiB of memory in all", took>>20)
	}
	state, err := s.host.State(t.Context())
	if err != nil || state.Messages != 1+before || state.Last != 1+before {
		t.Errorf("the stream says it holds %d messages up to %d, want the %d before the damage: %v", state.Messages,
			state.Last, 1+before, err)
	}
	d = s.dial(s.enrol("n2", event.CrewRole))
	got, err := d.Read(t.Context(), 1, all)
	if err != nil || len(got) != 1+before {
		t.Errorf("%d messages can be read, want %d: %v", len(got), 1+before, err)
	}
	publish(message) // on the numbers that are free again
}
