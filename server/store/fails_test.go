package store

import (
	"fmt"
	"io/fs"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// broken is the disk of this machine with one call that fails.
type broken struct {
	system
	left int    // calls until it fails; 0: none does
	what string // the one that failed
}

func (b *broken) fails(what string) error {
	if b.left == 0 {
		return nil
	}
	if b.left--; b.left > 0 {
		return nil
	}
	b.what = what
	return &fs.PathError{Op: what, Path: "the archive", Err: syscall.ENOSPC}
}

func (b *broken) read(path string) ([]byte, error) {
	if err := b.fails("read"); err != nil {
		return nil, err
	}
	return b.system.read(path)
}

func (b *broken) names(dir string) ([]fs.DirEntry, error) {
	if err := b.fails("names"); err != nil {
		return nil, err
	}
	return b.system.names(dir)
}

func (b *broken) makeDir(path string) error {
	if err := b.fails("makeDir"); err != nil {
		return err
	}
	return b.system.makeDir(path)
}

func (b *broken) begin(dir string) (File, error) {
	if err := b.fails("begin"); err != nil {
		return nil, err
	}
	f, err := b.system.begin(dir)
	return brokenFile{f, b}, err
}

func (b *broken) extend(path string) (File, error) {
	if err := b.fails("extend"); err != nil {
		return nil, err
	}
	f, err := b.system.extend(path)
	return brokenFile{f, b}, err
}

func (b *broken) rename(from, to string) error {
	if err := b.fails("rename"); err != nil {
		return err
	}
	return b.system.rename(from, to)
}

func (b *broken) remove(path string) error {
	if err := b.fails("remove"); err != nil {
		return err
	}
	return b.system.remove(path)
}

func (b *broken) flushNames(dir string) error {
	if err := b.fails("flushNames"); err != nil {
		return err
	}
	return b.system.flushNames(dir)
}

type brokenFile struct {
	File
	disk *broken
}

// Write has half of the bytes written where it fails, as a disk that is full does.
func (f brokenFile) Write(p []byte) (int, error) {
	if err := f.disk.fails("write"); err != nil {
		n, _ := f.File.Write(p[:len(p)/2])
		return n, err
	}
	return f.File.Write(p)
}

func (f brokenFile) Sync() error {
	if err := f.disk.fails("flush"); err != nil {
		return err
	}
	return f.File.Sync()
}

func (f brokenFile) Truncate(size int64) error {
	if err := f.disk.fails("truncate"); err != nil {
		return err
	}
	return f.File.Truncate(size)
}

// Each call to the disk fails once while an archive is made, written to, rolled over and opened again. Who wrote hears
// of it; what was told to be kept is there when it is opened the next time, once and in order, and it goes on.
func TestEachCallToTheDiskFailsOnceAndTheArchiveLosesNothingThatItTold(t *testing.T) {
	seen := map[string]bool{}
	for k := 1; ; k++ {
		dir, disk := filepath.Join(t.TempDir(), "data", archiveDir), &broken{left: k}
		var told []string
		i := 0
		for i < 12 {
			a, _, err := openArchiveOn(disk, dir, headOf("dune"))
			if err != nil { // a server that stops there, and is started again
				if disk.what == "" {
					t.Fatal(err)
				}
				if a, _, err = openArchiveOn(disk, dir, headOf("dune")); err != nil {
					t.Fatalf("call %d (%s): it does not open any more: %v", k, disk.what, err)
				}
			}
			a.roll = 1500
			for range 4 {
				record := fmt.Sprintf("%d %s", i, strings.Repeat("x", 400))
				i++
				if err := a.append([]byte(record)); err != nil {
					break // a host stops there
				}
				told = append(told, record)
			}
			_ = a.close() // it may be what fails
		}
		failed := disk.what
		disk.left = 0
		a, _, err := openArchive(dir, headOf("dune"))
		if err != nil {
			t.Fatalf("call %d (%s): %v", k, failed, err)
		}
		if err := a.append([]byte("last")); err != nil {
			t.Fatalf("call %d (%s): it takes no more: %v", k, failed, err)
		}
		var got []string
		for _, r := range readAll(t, a) {
			got = append(got, string(r))
		}
		_ = a.close()
		// What was not told may be there, whole: its flush failed, not its writing.
		lost := slices.DeleteFunc(slices.Clone(told), func(s string) bool { return slices.Contains(got, s) })
		if len(lost) > 0 || len(got) > i+1 || !slices.IsSortedFunc(got[:len(got)-1], byNumber) {
			t.Fatalf("call %d (%s): lost %d of %d told; it holds %d", k, failed, len(lost), len(told), len(got))
		}
		if failed == "" {
			break
		}
		seen[failed] = true
	}
	for _, what := range []string{
		"makeDir", "begin", "extend", "rename", "write", "flush", "flushNames", "read",
		"names",
	} {
		if !seen[what] {
			t.Errorf("no %s failed", what)
		}
	}
}

// byNumber orders records by the number that they begin with, and finds one that is there twice out of order.
func byNumber(a, b string) int {
	var x, y int
	_, _ = fmt.Sscan(a, &x)
	_, _ = fmt.Sscan(b, &y)
	if x == y {
		return 1
	}
	return x - y
}
