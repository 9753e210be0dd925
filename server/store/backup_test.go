package store

import (
	"bytes"
	"crypto/ed25519"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"os"
	"path/filepath"
	"slices"
	"testing"

	portable "hod/internal/archive"
	"hod/internal/chain"
	"hod/internal/event"
)

// signedRun is the enrolment of n1 and so many notes of it, one segment each, and the header of their archive.
func signedRun(t *testing.T, notes int) (portable.Header, [][]byte) {
	t.Helper()
	id := Identity{"dune", RootDevice, ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize))}
	public, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	write := func(before chain.Head, key ed25519.PrivateKey, b event.Body) chain.Segment {
		e, err := event.Write(event.Event{
			Name: event.Name{Device: before.Device, Seq: before.Seq + 1}, HappenedAt: morning, LoggedAt: morning,
			Body: b,
		})
		if err != nil {
			t.Fatal(err)
		}
		s, err := chain.Sign(key, id.Site, before, []event.Event{e})
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	all := [][]byte{write(chain.Head{Device: id.Root, Chain: chain.Root(id.Site, id.Root)}, id.Key,
		event.DeviceEnrolled{Device: "n1", PublicKey: public, Role: event.CrewRole, Crew: "north"}).Bytes()}
	before := chain.Head{Device: "n1", Chain: chain.Root(id.Site, "n1")}
	for i := range notes {
		s := write(before, key, event.Noted{Text: fmt.Sprintf("note %d", i+1)})
		before, all = s.After, append(all, s.Bytes())
	}
	return id.Header(), all
}

// A file that is full is closed with its index and digest before the next begins; a cut between the two is mended.
func TestAFullFileIsClosed(t *testing.T) {
	dir := t.TempDir()
	head, want := signedRun(t, 12)
	a, _, err := openArchive(dir, head)
	if err != nil {
		t.Fatal(err)
	}
	a.roll = 900
	for _, raw := range want {
		if err := a.append(raw); err != nil {
			t.Fatal(err)
		}
	}
	if len(a.files) < 3 {
		t.Fatalf("%d files; the test needs some", len(a.files))
	}
	for i, name := range a.files {
		data, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			t.Fatal(err)
		}
		closing, err := scan(data, func([]byte) error { return nil },
			func(from, n int) { t.Errorf("%s: %d bytes of damage at %d", name, n, from) })
		if last := i == len(a.files)-1; err != nil || (closing != nil) == last || (closing != nil && !closing.Sound) {
			t.Errorf("%s of %d: closing %+v, %v", name, len(a.files), closing, err)
		}
	}
	// The power goes after the last was closed, and before, and while.
	if err := a.finish(); err != nil {
		t.Fatal(err)
	}
	closedAt, files := a.size, len(a.files)
	if err := a.close(); err != nil {
		t.Fatal(err)
	}
	path := filepath.Join(dir, a.files[files-1])
	for _, cut := range []int64{0, 1, 31, 33, 60} {
		if err := os.Truncate(path, closedAt-cut); err != nil {
			t.Fatal(err)
		}
		b, hurt, err := openArchive(dir, head)
		if err != nil {
			t.Fatal(err)
		}
		if got := readAll(t, b); !slices.EqualFunc(got, want, bytes.Equal) {
			t.Errorf("%d bytes cut from the closing: %d records are read, want %d", cut, len(got), len(want))
		}
		if torn := len(hurt) == 1 && hurt[0].Torn; torn != (cut > 0) {
			t.Errorf("%d bytes cut from the closing: reported as %+v", cut, hurt)
		}
		if cut > 0 { // it may go on where it was, or be closed again
			if err := b.finish(); err != nil || b.size != closedAt {
				t.Errorf("closed again it has %d bytes, want %d: %v", b.size, closedAt, err)
			}
		}
		if err := b.append(want[1]); err != nil {
			t.Fatal(err)
		}
		if len(b.files) != files+1 {
			t.Errorf("%d files after adding to a closed one, want %d", len(b.files), files+1)
		}
		_ = b.close()
		if err := os.Remove(filepath.Join(dir, b.files[files])); err != nil {
			t.Fatal(err)
		}
	}
}

// An archive that an earlier hodd wrote is read, and goes on.
func TestAnArchiveOfTheFirstFormIsRead(t *testing.T) {
	dir := t.TempDir()
	head, want := signedRun(t, 3)
	old := append([]byte("hodlog\x01\x00\x04\x00"), "dune"...)
	old = binary.LittleEndian.AppendUint32(old, crc32.Checksum(old, crc32.MakeTable(crc32.Castagnoli)))
	for _, raw := range want[:3] {
		old = portable.AppendEntry(old, raw)
	}
	if err := os.WriteFile(filepath.Join(dir, "000001"+archiveEnding), old, 0o600); err != nil {
		t.Fatal(err)
	}
	a, hurt, err := openArchive(dir, head)
	if err != nil || len(hurt) > 0 {
		t.Fatalf("%+v, %v", hurt, err)
	}
	if err := a.append(want[3]); err != nil {
		t.Fatal(err)
	}
	if err := a.begin(); err != nil {
		t.Fatal(err)
	}
	if err := a.close(); err != nil {
		t.Fatal(err)
	}
	b, hurt, err := openArchive(dir, head)
	if err != nil || len(hurt) > 0 {
		t.Fatalf("closed: %+v, %v", hurt, err)
	}
	if got := readAll(t, b); !slices.EqualFunc(got, want, bytes.Equal) {
		t.Errorf("%d records, want %d", len(got), len(want))
	}
	_ = b.close()
}

// backedUp is a site with some record, that runs, and a backup of it.
