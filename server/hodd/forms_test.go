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

// What the programs of a day wrote: a server's data folder and a device's journal, as they lay on the disk. The first
// are those of the earliest programs that could be built.
func TestWhatEarlierProgramsWroteIsOpenedAndGoesOn(t *testing.T) {
	for day, want := range map[string]struct{ holds, device string }{
		"2026-11-25": {"f1/1 f1/2 f1/3 n1/1 n1/2 n1/3 site/1 site/2", "n1"},
		// n3/1 is excluded
		"2026-11-28": {"f1/1 f1/2 f1/3 n1/1 n1/2 n4/1 site/1 site/2 site/3 site/4 site/5 site/6 site/7 site/8", "n4"},
	} {
		t.Run(day, func(t *testing.T) {
			from, dir := filepath.Join("..", "..", "testdata", "forms", day), t.TempDir()
			for _, part := range []string{"server", "device"} {
				if err := os.CopyFS(filepath.Join(dir, part), os.DirFS(filepath.Join(from, part))); err != nil {
					t.Fatal(err)
				}
			}
			// modes are not kept
			for _, key := range []string{"server/root.key", "server/authority/authority.key", "device/device.key"} {
				if err := os.Chmod(filepath.Join(dir, key), 0o600); err != nil {
					t.Fatal(err)
				}
			}
			w := started(t, here(filepath.Join(dir, "server")))
			if got := standingIn(w); got != want.holds {
				t.Errorf("the server holds %q, want %q", got, want.holds)
			}
			device := filepath.Join(dir, "device")
			redirect(t, device, w)
			if said, code := typed(t, device, "note", "by the program of now"); code != 0 ||
				!strings.HasPrefix(said, want.device+"/") {
				t.Errorf("exit %d, %s", code, said)
			}
			if said, code := typed(t, device, "sync"); code != 0 {
				t.Errorf("exit %d, %s", code, said)
			}
			newcomer := tabletOf(t, joined(t, w, enrol.Invitation{
				Role: event.CrewRole, Crew: "south", For: time.Hour,
				Uses: 1,
			}))
			newcomer.online("sync")
			sameBoard(t, device, w)
			sameBoard(t, newcomer.dir, w)
			for _, d := range []string{device, newcomer.dir} {
				if said, code := typed(t, d, "verify"); code != 0 || !strings.Contains(said, "No fault found") {
					t.Errorf("exit %d, %s", code, said)
				}
			}
		})
	}
}

// standingIn are the names of the events that count at a server, in order.
func standingIn(w *site) string {
	var names []string
	w.host.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			names = append(names, r.Name.String())
		}
	})
	return strings.Join(names, " ")
}
