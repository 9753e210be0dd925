//go:build unix

package cli

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// A note may turn the order of letters; JSON gives it back unchanged and shows none of it.
func TestJSONEscapesWhatSteersATerminal(t *testing.T) {
	dir := joined(t, "n2")
	if code, _, side := at(dir, tuesday, "note", "b\u202ec\u2066d\u00ade"); code != 0 {
		t.Fatalf("code %d: %s", code, side)
	}
	_, out, _ := at(dir, tuesday, "log", "--json")
	if strings.ContainsAny(out, "\u202e\u2066\u00ad") {
		t.Errorf("raw in %q", out)
	}
	var doc any
	if err := json.Unmarshal([]byte(out), &doc); err != nil || !strings.Contains(out, `b\u202ec\u2066d\u00ade`) {
		t.Errorf("%v in %s", err, out)
	}
}

// What lies beside the file that is to be written, a link least of all, is never written to.
func TestAnExportWritesToNothingThatWasThere(t *testing.T) {
	dir := joined(t, "n2")
	if code, _, side := at(dir, tuesday, "note", "one"); code != 0 {
		t.Fatalf("code %d: %s", code, side)
	}
	folder := t.TempDir()
	letter := filepath.Join(folder, "letter.txt")
	if err := os.WriteFile(letter, []byte("dear"), 0o600); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(folder, "stick.hodlog")
	if err := os.Symlink(letter, file+".part"); err != nil {
		t.Skip("no links on this system:", err)
	}
	if code, _, side := at(dir, tuesday, "export", file); code != 0 {
		t.Fatalf("code %d: %s", code, side)
	}
	if text, err := os.ReadFile(letter); err != nil || string(text) != "dear" {
		t.Errorf("the letter reads %q, %v", text, err)
	}
	if _, err := os.Lstat(file + ".part"); err != nil {
		t.Errorf("the link is gone: %v", err)
	}
	left, err := filepath.Glob(filepath.Join(folder, "*.part"))
	if err != nil || len(left) != 1 {
		t.Errorf("left behind: %v, %v", left, err)
	}
	if code, _, side := at(dir, tuesday, "export", file); code == 0 || !strings.Contains(side, "there already") {
		t.Errorf("code %d: %s", code, side)
	}
}

func TestAnImportOfNoFileIsRefusedAtOnce(t *testing.T) {
	dir := joined(t, "n2")
	pipe := filepath.Join(t.TempDir(), "pipe")
	if err := syscall.Mkfifo(pipe, 0o600); err != nil {
		t.Skip("no pipes on this system:", err)
	}
	for path, kind := range map[string]string{pipe: "a pipe", t.TempDir(): "a folder"} {
		for _, command := range []string{"import", "verify"} {
			if code, _, side := at(dir, tuesday, command, path); code != 2 || !strings.Contains(side, kind) {
				t.Errorf("%s %s: code %d: %s", command, kind, code, side)
			}
		}
	}
}
