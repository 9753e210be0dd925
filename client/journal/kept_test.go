package journal

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// SQLite takes a damaged end of its log for a transaction that was never finished, and says nothing.
func TestEventsThatDamageTookFromTheEndAreMissed(t *testing.T) {
	for name, hurt := range map[string]func([]byte) []byte{
		"the log is cut":       func(b []byte) []byte { return b[:len(b)/2] },
		"a page of it is zero": func(b []byte) []byte { clear(b[len(b)/2 : len(b)/2+4096]); return b },
		"the log is gone":      func([]byte) []byte { return nil },
	} {
		t.Run(name, func(t *testing.T) {
			j := create(t, "n2")
			for range 9 {
				appendNotes(t, j, strings.Repeat("x", 3000))
			}
			log, err := os.ReadFile(filepath.Join(j.dir, dbFile+"-wal"))
			if err != nil {
				t.Fatal(err)
			}
			base, err := os.ReadFile(filepath.Join(j.dir, dbFile))
			if err != nil {
				t.Fatal(err)
			}
			dir := t.TempDir() // as the disk has it, without the program's hand on it
			for file, data := range map[string][]byte{dbFile: base, dbFile + "-wal": hurt(log), keptFile: mark(9)} {
				if err := os.WriteFile(filepath.Join(dir, file), data, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			if err := writeKey(dir, j.device.Key); err != nil {
				t.Fatal(err)
			}
			damaged, err := Open(dir)
			if err == nil {
				_ = damaged.Close()
				t.Fatal("it opens as if nothing had happened")
			}
			if kindOf(err) == Missing { // the tables themselves were in the log
				return
			}
			if kindOf(err) != Damaged || !strings.Contains(err.Error(), "n2/9 was kept") ||
				!strings.Contains(err.Error(), keptFile) {
				t.Errorf("%v of kind %d; want kind Damaged, how far it went, and what to do", err, kindOf(err))
			}
			// What the sentence says to do.
			if err := os.Remove(filepath.Join(dir, keptFile)); err != nil {
				t.Fatal(err)
			}
			damaged, err = Open(dir)
			if err != nil {
				t.Fatal(err)
			}
			defer damaged.Close()
			appendNotes(t, damaged, "goes on")
		})
	}
}

func TestWhatWasKeptIsRememberedBesideTheRecord(t *testing.T) {
	j := create(t, "n2")
	appendNotes(t, j, "a", "b")
	appendNotes(t, j, "c")
	same(t, "remembered", readKept(j.dir), 3)
	for name, text := range map[string]string{
		"half of it": string(mark(4)[:9]), "nothing": "", "another number": strings.Replace(string(mark(4)), "4", "9",
			1),
	} {
		if err := os.WriteFile(filepath.Join(j.dir, keptFile), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
		if got := readKept(j.dir); got != 0 {
			t.Errorf("%s: read as %d", name, got)
		}
	}
}
