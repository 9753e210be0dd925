package store

import (
	"bytes"
	"crypto/ed25519"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	portable "hod/internal/archive"
	"hod/server/fault"
)

func readAll(t interface {
	Helper()
	Fatalf(string, ...any)
}, a *archive,
) [][]byte {
	t.Helper()
	var all [][]byte
	if err := a.each(func(raw []byte) error { all = append(all, bytes.Clone(raw)); return nil }); err != nil {
		t.Fatalf("read the archive: %v", err)
	}
	return all
}

// headOf a site whose key is no secret.
func headOf(site string) portable.Header {
	return portable.Header{
		Site: site, Root: RootDevice,
		RootKey: ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize)).Public().(ed25519.PublicKey),
	}
}

func begin(t *testing.T, dir string) *archive {
	t.Helper()
	a, _, err := openArchive(dir, headOf("dune"))
	if err != nil {
		t.Fatalf("open the archive: %v", err)
	}
	t.Cleanup(func() { _ = a.close() })
	return a
}

// sentences are records that are found again by eye.
func sentences(n int) [][]byte {
	all := make([][]byte, n)
	for i := range all {
		all[i] = append(bytes.Repeat([]byte{byte('a' + i%26)}, 40), byte(i))
	}
	return all
}

func TestAnArchiveRollsAndIsReadInOrder(t *testing.T) {
	dir := t.TempDir()
	a := begin(t, dir)
	a.roll = 200
	want := sentences(20)
	for _, s := range slices.Collect(slices.Chunk(want, 3)) {
		if err := a.append(s...); err != nil {
			t.Fatal(err)
		}
	}
	if got := readAll(t, a); !slices.EqualFunc(got, want, bytes.Equal) {
		t.Errorf("read %d records, want the %d that were written", len(got), len(want))
	}
	if len(a.files) < 4 {
		t.Errorf("%d files; a file should end at about 200 bytes here", len(a.files))
	}
	if err := a.close(); err != nil {
		t.Fatal(err)
	}
	if got := readAll(t, begin(t, dir)); !slices.EqualFunc(got, want, bytes.Equal) {
		t.Errorf("opened again it holds %d records, want %d", len(got), len(want))
	}
}

// A power cut leaves a prefix of what was being written. Nothing that was flushed before may go, whatever the length of
// the prefix, and what is written afterwards must be read again.
func TestATornTailCostsOnlyWhatWasNotFlushed(t *testing.T) {
	for _, kept := range []int{0, 1, 7, 8, 9, 30, 48} {
		dir := t.TempDir()
		a := begin(t, dir)
		all := sentences(4)
		if err := a.append(all[:3]...); err != nil {
			t.Fatal(err)
		}
		flushed := a.size
		if err := a.append(all[3]); err != nil {
			t.Fatal(err)
		}
		if err := a.close(); err != nil {
			t.Fatal(err)
		}
		path := filepath.Join(dir, a.files[0])
		if err := os.Truncate(path, flushed+int64(kept)); err != nil {
			t.Fatal(err)
		}
		b, hurt, err := openArchive(dir, headOf("dune"))
		if err != nil {
			t.Fatalf("%d bytes of a torn record: %v", kept, err)
		}
		if kept > 0 && (len(hurt) != 1 || !hurt[0].Torn || hurt[0].Size != kept) {
			t.Errorf("%d bytes of a torn record: reported as %+v", kept, hurt)
		}
		if err := b.append([]byte("after")); err != nil {
			t.Fatal(err)
		}
		want := append(slices.Clone(all[:3]), []byte("after"))
		if got := readAll(t, b); !slices.EqualFunc(got, want, bytes.Equal) {
			t.Errorf("%d bytes of a torn record: read %q, want %q", kept, got, want)
		}
		_ = b.close()
		if _, hurt, err := openArchive(dir, headOf("dune")); err != nil || len(hurt) > 0 {
			t.Errorf("%d bytes of a torn record: they are still there, %+v (%v)", kept, hurt, err)
		}
	}
}

func TestATornBeginningOfAFileIsBegunAnew(t *testing.T) {
	dir := t.TempDir()
	a := begin(t, dir)
	if err := a.append(sentences(1)...); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, "000002"+archiveEnding), []byte("hod"), 0o600); err != nil {
		t.Fatal(err)
	}
	b := begin(t, dir)
	if err := b.append([]byte("more")); err != nil {
		t.Fatal(err)
	}
	if got := readAll(t, b); len(got) != 2 || string(got[1]) != "more" {
		t.Errorf("read %q", got)
	}
}

func TestAnArchiveOfAnotherSiteIsRefused(t *testing.T) {
	dir := t.TempDir()
	if err := begin(t, dir).append(sentences(1)...); err != nil {
		t.Fatal(err)
	}
	if _, _, err := openArchive(dir, headOf("reef")); kindOf(err) != fault.Disk ||
		!strings.Contains(err.Error(), "reef") {
		t.Errorf("got %v", err)
	}
}

// Any one bit that flips, and any page that turns to zeros, costs what it touched and is reported; nothing else goes,
// and nothing is read that was not written.
func TestDamageIsReportedAndCostsWhatItTouched(t *testing.T) {
	dir := t.TempDir()
	a := begin(t, dir)
	want := sentences(30)
	if err := a.append(want...); err != nil {
		t.Fatal(err)
	}
	whole, err := os.ReadFile(filepath.Join(dir, a.files[0]))
	if err != nil {
		t.Fatal(err)
	}
	head := len(headOf("dune").Bytes())
	rapid.Check(t, func(t *rapid.T) {
		data := bytes.Clone(whole)
		at := rapid.IntRange(head, len(data)-1).Draw(t, "at")
		size := 1
		if rapid.Bool().Draw(t, "zeros") {
			size = min(rapid.IntRange(1, 400).Draw(t, "size"), len(data)-at)
			clear(data[at : at+size])
			if bytes.Equal(data, whole) {
				return
			}
		} else {
			data[at] ^= 1 << rapid.IntRange(0, 7).Draw(t, "bit")
		}
		var got [][]byte
		reported := 0
		_, _ = scan(data, func(raw []byte) error { got = append(got, raw); return nil },
			func(_, n int) { reported += n })
		record := len(portable.AppendEntry(nil, want[0]))
		touched := (at+size-1-head)/record - (at-head)/record + 1
		if len(want)-len(got) > touched || reported == 0 {
			t.Fatalf("%d bytes at %d: %d of %d records lost, %d touched, %d bytes reported", size, at,
				len(want)-len(got), len(want), touched, reported)
		}
		for _, g := range got {
			if !slices.ContainsFunc(want, func(w []byte) bool { return bytes.Equal(w, g) }) {
				t.Fatalf("read what was never written: %q", g)
			}
		}
	})
}

// A disk that fails, or fills up: what was not flushed is told to nobody, and the server takes no more.
var morning = time.Date(2026, 7, 18, 7, 0, 0, 0, time.UTC)

func kindOf(err error) fault.Kind {
	var e *fault.Error
	if errors.As(err, &e) {
		return e.Kind
	}
	return -1
}
