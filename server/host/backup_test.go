package host

import (
	"bytes"
	"errors"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"hod/server/fault"
	"hod/server/store"
)

// run is a record as an archive gets it: the root's enrolment of n1, then n1's notes one by one.
func backedUp(t *testing.T) (r *running, n *writer, dir, to string) {
	t.Helper()
	dir, to = t.TempDir(), filepath.Join(t.TempDir(), "backup")
	r = start(t, dir, newStream())
	n = join(t, r, "north").notes(t, 9)
	n.send(t, r.stream, 1, 4)
	r.reaches("n1", 4)
	if b, err := store.MakeBackup(dir, to, morning); err != nil || b.Events != 5 || len(b.Heads) != 2 || b.Copied == 0 {
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
	b, err := store.MakeBackup(dir, to, morning)
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
	file := filepath.Join(archiveDir, firstFile)
	good, err := os.ReadFile(filepath.Join(to, file))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := store.MakeBackup(dir, filepath.Join(dir, "backup"), morning); kindOf(err) != fault.Invalid {
		t.Errorf("into the data folder itself: %v", err)
	}
	full := t.TempDir()
	if err := os.WriteFile(filepath.Join(full, "letter.txt"), []byte("x"), 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.MakeBackup(dir, full, morning); kindOf(err) != fault.Conflict {
		t.Errorf("into a folder with other things: %v", err)
	}
	other := t.TempDir()
	start(t, other, newStream()).stop()
	if _, err := store.MakeBackup(other, to, morning); kindOf(err) != fault.Conflict {
		t.Errorf("over another site's: %v", err)
	}
	if _, err := store.MakeBackup(t.TempDir(), to, morning); kindOf(err) != fault.NotFound {
		t.Errorf("of a folder without a site: %v", err)
	}
	changed := bytes.Clone(good)
	changed[len(changed)-40] ^= 1
	for name, data := range map[string][]byte{"changed": changed, "shorter": good[:len(good)-100]} {
		if err := os.WriteFile(filepath.Join(dir, file), data, 0o600); err != nil {
			t.Fatal(err)
		}
		if _, err := store.MakeBackup(dir, to, morning); kindOf(err) != fault.Conflict ||
			!strings.Contains(err.Error(), "not a continuation") {
			t.Errorf("of a record that is %s: %v", name, err)
		}
	}
	if now, err := os.ReadFile(filepath.Join(to, file)); err != nil || !bytes.Equal(now, good) {
		t.Errorf("the backup was changed (%v)", err)
	}
	if _, err := store.MakeBackup(dir, filepath.Join(t.TempDir(), "new"), morning); err != nil {
		t.Errorf("a record that ends within a record: %v", err) // the torn end is left out
	}
	middle := bytes.Clone(good)
	middle[len(r.folder.Header().Bytes())+20] ^= 1
	if err := os.WriteFile(filepath.Join(dir, file), middle, 0o600); err != nil {
		t.Fatal(err)
	}
	if _, err := store.MakeBackup(dir, filepath.Join(t.TempDir(), "new"), morning); kindOf(err) != fault.Disk ||
		!strings.Contains(err.Error(), "does not verify") {
		t.Errorf("of a damaged record, to a new folder: %v", err)
	}
}

// A byte changed anywhere in the archive is found at the next verification, and its file is named.
func TestVerifyFindsAByteChangedAnywhereInTheArchive(t *testing.T) {
	r, _, dir, _ := backedUp(t)
	if v, err := store.Verify(dir); err != nil || len(v.Faults) > 0 || len(v.Events) != 5 || v.Files != 1 {
		t.Fatalf("a sound record that is in use: %+v, %v", v, err)
	}
	r.stop()
	path := filepath.Join(dir, archiveDir, firstFile)
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
		v, err := store.Verify(dir)
		named := len(v.Notes) > 0 // the last record is told apart from one that is being written by nothing
		for _, f := range v.Faults {
			named = named || f.File == firstFile
		}
		if err != nil || !named {
			t.Fatalf("byte %d changed: %+v, notes %q, %v", at, v.Faults, v.Notes, err)
		}
	}
	if _, err := store.Verify(t.TempDir()); !errors.As(err, new(*fault.Error)) || kindOf(err) != fault.NotFound {
		t.Errorf("a folder without a site: %v", err)
	}
}
