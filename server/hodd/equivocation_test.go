package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
)

// A device's key is in two places, and a copy of the server in another: it tells one history to the one and another to
// the other, and a phone believes each. When the second phone meets the first server, both see that there are two: one
// holds, the same for all, the other is kept and named.
func TestADeviceThatTellsTwoServersTwoHistoriesIsFoundWhenTheyMeet(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(filepath.Join(dir, "one")))
	crew := enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}
	two := joined(t, w, crew)
	liar := tabletOf(t, two)
	first, second := tabletOf(t, joined(t, w, crew)), tabletOf(t, joined(t, w, crew))
	liar.online("note", "what both know")
	for _, d := range []*tablet{first, second} {
		d.online("sync")
	}
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}
	if err := os.CopyFS(filepath.Join(dir, "two"), os.DirFS(filepath.Join(dir, "one"))); err != nil {
		t.Fatal(err)
	}
	for _, key := range []string{"root.key", "authority/authority.key"} { // modes are not copied
		if err := os.Chmod(filepath.Join(dir, "two", key), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	copied := &tablet{t, filepath.Join(t.TempDir(), "copy"), liar.name}
	if err := os.CopyFS(copied.dir, os.DirFS(liar.dir)); err != nil {
		t.Fatal(err)
	}
	w, other := started(t, here(filepath.Join(dir, "one"))), started(t, here(filepath.Join(dir, "two")))
	for d, at := range map[*tablet]*site{liar: w, first: w, copied: other, second: other} {
		redirect(t, d.dir, at)
	}
	liar.online("note", "placed at the north side")
	copied.online("note", "placed at the south side")
	first.online("sync")
	second.online("sync")

	redirect(t, second.dir, w)
	said, code := typed(t, second.dir, "sync")
	if code != 0 || !strings.Contains(said, string(liar.name)) ||
		!strings.Contains(said, "had two histories after event 1") {
		t.Errorf("the phone that believed the other history is told: exit %d, %s", code, said)
	}
	until(t, "the first server has both", func() bool {
		return len(forked(t, filepath.Join(dir, "one"))) > 0
	})
	sameBoard(t, second.dir, w)
	stands := ""
	w.host.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			if b, ok := r.Now.(event.Noted); ok && r.State != fold.SetAside {
				stands += b.Text + ";"
			}
		}
	})
	if stands != "what both know;placed at the north side;" {
		t.Errorf("there stand %q", stands)
	}
}

// forked are the bytes that a server keeps of histories that do not stand.
func forked(t *testing.T, dir string) (kept []byte) {
	t.Helper()
	files, err := filepath.Glob(filepath.Join(dir, "forks", "*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			t.Fatal(err)
		}
		if strings.Contains(string(text), "placed at the south side") {
			kept = append(kept, text...)
		}
	}
	return kept
}
