package host

import (
	"bytes"
	"crypto/ed25519"
	"encoding/binary"
	"errors"
	"hash/crc32"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	portable "hod/internal/archive"
	"hod/internal/event"
)

// run is a record as an archive gets it: the root's enrolment of n1, then n1's notes one by one.
func signedRun(t *testing.T, notes int) (portable.Header, [][]byte) {
	t.Helper()
	head := headOf("dune")
	root := &writer{key: ed25519.NewKeyFromSeed(make([]byte, ed25519.SeedSize)), site: "dune", name: rootDevice}
	n1 := &writer{key: newKey(t), site: "dune", name: "n1"}
	e, err := event.Write(event.Event{
		Name: event.Name{Device: rootDevice, Seq: 1}, HappenedAt: morning, LoggedAt: morning,
		Body: event.DeviceEnrolled{Device: "n1", PublicKey: publicKey(n1.key), Role: event.CrewRole, Crew: "north"},
	})
	if err != nil {
		t.Fatal(err)
	}
	root.events = append(root.events, e)
	all := [][]byte{root.segment(t, 1, 1).Bytes()}
	n1.notes(t, notes)
	for i := range notes {
		all = append(all, n1.segment(t, i+1, i+1).Bytes())
	}
	return head, all
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
		closing, err := scan(data, func([]byte) error { return nil }, func(from, n int) { t.Errorf("%s: %d bytes of damage at %d", name, n, from) })
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
		if torn := len(hurt) == 1 && hurt[0].torn; torn != (cut > 0) {
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
		old = portable.AppendRecord(old, raw)
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
func backedUp(t *testing.T) (r *running, n *writer, dir, to string) {
	t.Helper()
	dir, to = t.TempDir(), filepath.Join(t.TempDir(), "backup")
	r = start(t, dir, newStream())
	n = join(t, r, "north").notes(t, 9)
	n.send(t, r.stream, 1, 4)
	r.reaches("n1", 4)
	if b, err := MakeBackup(dir, to, morning); err != nil || b.Events != 5 || len(b.Heads) != 2 || b.Copied == 0 {
		t.Fatalf("backup: %+v, %v", b, err)
	}
	return r, n, dir, to
}

func TestABackupOfARunningServerIsRememberedAndGoesOn(t *testing.T) {
	r, n, dir, to := backedUp(t)
	if got := r.BackedUp(); !slices.Equal(got, r.Heads()) {
		t.Errorf("backed up: %+v, want %+v", got, r.Heads())
	}
	n.send(t, r.stream, 5, 6)
	r.reaches("n1", 6)
	if got := r.BackedUp(); len(got) != 2 || got[0].Seq != 4 {
		t.Errorf("what was written since counts as backed up: %+v", got)
	}
	b, err := MakeBackup(dir, to, morning)
	if err != nil || b.Events != 7 || b.Copied == 0 || b.Copied >= b.Bytes {
		t.Errorf("the second backup: %+v, %v; want it to add to the first", b, err)
	}
	if got := r.BackedUp(); !slices.Equal(got, r.Heads()) {
		t.Errorf("backed up: %+v, want %+v", got, r.Heads())
	}
	if info, err := os.Stat(filepath.Join(to, keyFile)); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the root key in the backup: %v, %v; want it for this user only", info, err)
	}
	want := r.Heads()
	r.stop()
	restored := start(t, to, newStream())
	if got := restored.Heads(); !slices.Equal(got, want) {
		t.Errorf("restored: %+v, want %+v", got, want)
	}
}

// A backup is never made worse: not by another site, not by a record that was changed, not by one that holds less.
func TestABackupIsNotSpoilt(t *testing.T) {
	r, _, dir, to := backedUp(t)
	r.stop()
	file := filepath.Join(archiveDir, "000001"+archiveEnding)
	good, err := os.ReadFile(filepath.Join(to, file))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := MakeBackup(dir, filepath.Join(dir, "backup"), morning); kindOf(err) != Invalid {
		t.Errorf("into the data folder itself: %v", err)
	}
	full := t.TempDir()
	if err := os.WriteFile(filepath.Join(full, "letter.txt"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := MakeBackup(dir, full, morning); kindOf(err) != Conflict {
		t.Errorf("into a folder with other things: %v", err)
	}
	other := t.TempDir()
	start(t, other, newStream()).stop()
	if _, err := MakeBackup(other, to, morning); kindOf(err) != Conflict {
		t.Errorf("over another site's: %v", err)
	}
	if _, err := MakeBackup(t.TempDir(), to, morning); kindOf(err) != NotFound {
		t.Errorf("of a folder without a site: %v", err)
	}
	changed := bytes.Clone(good)
	changed[len(changed)-40] ^= 1
	for name, data := range map[string][]byte{"changed": changed, "shorter": good[:len(good)-100]} {
		if err := os.WriteFile(filepath.Join(dir, file), data, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := MakeBackup(dir, to, morning); kindOf(err) != Conflict || !strings.Contains(err.Error(), "not a continuation") {
			t.Errorf("of a record that is %s: %v", name, err)
		}
	}
	if now, err := os.ReadFile(filepath.Join(to, file)); err != nil || !bytes.Equal(now, good) {
		t.Errorf("the backup was changed (%v)", err)
	}
	if _, err := MakeBackup(dir, filepath.Join(t.TempDir(), "new"), morning); err != nil {
		t.Errorf("a record that ends within a record: %v", err) // the torn end is left out
	}
	middle := bytes.Clone(good)
	middle[len(headOf("dune").Bytes())+20] ^= 1
	if err := os.WriteFile(filepath.Join(dir, file), middle, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := MakeBackup(dir, filepath.Join(t.TempDir(), "new"), morning); kindOf(err) != Disk || !strings.Contains(err.Error(), "does not verify") {
		t.Errorf("of a damaged record, to a new folder: %v", err)
	}
}

// A byte changed anywhere in the archive is found at the next verification, and its file is named.
func TestVerifyFindsAByteChangedAnywhereInTheArchive(t *testing.T) {
	r, _, dir, _ := backedUp(t)
	if v, err := Verify(dir); err != nil || len(v.Faults) > 0 || len(v.Events) != 5 || v.Files != 1 {
		t.Fatalf("a sound record that is in use: %+v, %v", v, err)
	}
	r.stop()
	path := filepath.Join(dir, archiveDir, "000001"+archiveEnding)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for at := 0; at < len(good); at += 3 {
		bad := bytes.Clone(good)
		bad[at] ^= 0x10
		if err := os.WriteFile(path, bad, 0o600); err != nil {
			t.Fatal(err)
		}
		v, err := Verify(dir)
		named := len(v.Notes) > 0 // the last record is told apart from one that is being written by nothing
		for _, f := range v.Faults {
			named = named || f.File == "000001"+archiveEnding
		}
		if err != nil || !named {
			t.Fatalf("byte %d changed: %+v, notes %q, %v", at, v.Faults, v.Notes, err)
		}
	}
	if _, err := Verify(t.TempDir()); !errors.As(err, new(*Error)) || kindOf(err) != NotFound {
		t.Errorf("a folder without a site: %v", err)
	}
}
