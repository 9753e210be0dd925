package pages

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"hod/internal/report/paper"
)

func TestADiskThatFillsUpInTheMiddleLeavesTheOldFileAndNothingElse(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "monday.pdf")
	if err := os.WriteFile(path, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	full := func(w io.Writer) error {
		if _, err := w.Write([]byte("%PDF, half of it")); err != nil {
			return err
		}
		return syscall.ENOSPC
	}
	err := replaceBy(path, full)
	if says := unwritten(path, err); !errors.Is(err, syscall.ENOSPC) ||
		!strings.Contains(says.Error(), "the disk is full") {
		t.Errorf("%v is said as %v", err, says)
	}
	left, err := os.ReadDir(dir)
	if err != nil || len(left) != 1 {
		t.Errorf("what is left in the folder: %v, %v", left, err)
	}
	if text, err := os.ReadFile(path); err != nil || string(text) != "old" {
		t.Errorf("the old file holds %q, %v", text, err)
	}
}

func TestAFolderThatCannotBeWrittenToIsNamedWithWhatWouldDo(t *testing.T) {
	_, s := opened(t)
	p := paper.Paper{PDF: []byte("%PDF"), Pages: []int{1}}
	for _, c := range []struct {
		err  error
		says string
	}{
		{fs.ErrPermission, "name a file in another one"},
		{syscall.EROFS, "name a file in another one"},
		{fs.ErrNotExist, "there is no such folder"},
		{syscall.EISDIR, "a folder has that name"},
	} {
		if err := unwritten("x.pdf", &fs.PathError{Op: "open", Path: "x.pdf", Err: c.err}); !strings.Contains(
			err.Error(), c.says) {
			t.Errorf("%v is said as %q, want %q", c.err, err, c.says)
		}
	}
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o500); err != nil {
		t.Fatal(err)
	}
	f := PaperFlags{File: filepath.Join(dir, "x.pdf")}
	if err := f.Save(s.Env, p); err == nil {
		if os.Geteuid() == 0 {
			t.Skip("not checked to the end: whoever runs this may write everywhere")
		}
		t.Error("a file was written into a folder that is for reading only")
	} else if !strings.Contains(err.Error(), "that folder cannot be written to") {
		t.Error(err)
	}
}

func TestAPDFGoesToTheOutputOrIntoAFileWithItsEnding(t *testing.T) {
	_, s := opened(t)
	var out bytes.Buffer
	s.Env.Stdout = &out
	p := paper.Paper{PDF: []byte("%PDF"), Pages: []int{1}}
	dir := t.TempDir()
	for _, path := range []string{"-", filepath.Join(dir, "monday")} {
		f := PaperFlags{File: path}
		if err := f.Save(s.Env, p); err != nil {
			t.Fatal(err)
		}
	}
	if out.String() != "%PDF" {
		t.Errorf("the output holds %q", out.String())
	}
	if text, err := os.ReadFile(filepath.Join(dir, "monday.pdf")); err != nil || string(text) != "%PDF" {
		t.Errorf("the file holds %q, %v", text, err)
	}
}
