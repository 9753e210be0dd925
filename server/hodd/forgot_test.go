package main

import (
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
)

// Acknowledged is not forgotten: whatever a server loses, once the devices were in touch nothing that any of them holds
// is missing, the board is the same, and a device that joins gets all of it.
func TestAServerThatForgot(t *testing.T) {
	t.Parallel()
	v := wholeSite(t, 3)
	for name, forget := range map[string]func(t *testing.T, v *whole, dir string) (data string){
		"the stream is deleted": func(t *testing.T, _ *whole, dir string) string {
			data := filepath.Join(dir, "server")
			if err := os.RemoveAll(filepath.Join(data, streamDir)); err != nil {
				t.Fatal(err)
			}
			return data
		},
		"bits are flipped all over the stream": func(t *testing.T, _ *whole, dir string) string {
			data := filepath.Join(dir, "server")
			random := rand.New(rand.NewPCG(1, 48))
			for range 12 {
				hurt(t, random, filepath.Join(data, streamDir),
					func(path string) bool { return strings.HasSuffix(path, ".blk") })
			}
			return data
		},
		"stream and archive are gone": func(t *testing.T, _ *whole, dir string) string {
			data := filepath.Join(dir, "server")
			for _, part := range []string{streamDir, "archive", "reached.json"} {
				if err := os.RemoveAll(filepath.Join(data, part)); err != nil {
					t.Fatal(err)
				}
			}
			// Nobody is known to it, so nobody is let in: a device's record is carried to it by hand.
			carried(t, dir, data)
			return data
		},
		"yesterday's backup is restored": func(t *testing.T, v *whole, dir string) string {
			stick := filepath.Join(t.TempDir(), "stick")
			if err := run(t.Context(), []string{"backup", stick, "--data", filepath.Join(dir, "server")}); err != nil {
				t.Fatal(err)
			}
			w := started(t, here(filepath.Join(dir, "server")))
			for _, d := range v.devices {
				redirect(t, filepath.Join(dir, d), w)
				for _, args := range [][]string{{"note", "written after the backup"}, {"note", "and this"}, {"sync"}} {
					if said, code := typed(t, filepath.Join(dir, d), args...); code != 0 {
						t.Fatalf("hod %v: %s", args, said)
					}
				}
				maps.Copy(v.events, eventsOf(t, filepath.Join(dir, d)))
			}
			until(t, "the server has what was written after the backup",
				func() bool { return len(recordAt(w.host)) >= len(v.events) })
			if err := w.stop(); err != nil {
				t.Fatal(err)
			}
			return restoredFrom(t, stick)
		},
		"the data folder is gone, and the server is set up anew from its keys": func(t *testing.T, _ *whole,
			dir string,
		) string {
			data := filepath.Join(t.TempDir(), "anew")
			for _, name := range []string{"root.key", "authority/authority.key", "authority/authority.crt"} {
				text, err := os.ReadFile(filepath.Join(dir, "server", name))
				if err != nil {
					t.Fatal(err)
				}
				to := filepath.Join(data, name)
				if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
					t.Fatal(err)
				}
				if err := os.WriteFile(to, text, 0o600); err != nil {
					t.Fatal(err)
				}
			}
			carried(t, dir, data)
			return data
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			v := whole{root: v.root, devices: v.devices, events: maps.Clone(v.events)}
			dir := v.copied(t)
			data := forget(t, &v, dir)
			w := started(t, here(data))
			had := len(recordAt(w.host))
			v.inTouch(t, dir, w)
			v.newcomer(t, w)
			for _, d := range v.devices {
				sameBoard(t, filepath.Join(dir, d), w)
			}
			t.Logf("%d events before the devices were in touch, %d after", had, len(recordAt(w.host)))
		})
	}
}

// carried is a device's record, on a stick, to a server that lost its own.
func carried(t *testing.T, dir, data string) {
	t.Helper()
	stick := filepath.Join(t.TempDir(), "all.hodlog")
	if said, code := typed(t, filepath.Join(dir, "device1"), "export", stick); code != 0 {
		t.Fatalf("export: %s", said)
	}
	for range 2 { // twice is once
		if err := run(t.Context(), []string{"import", stick, "--data", data, "--site", "dune"}); err != nil {
			t.Fatal(err)
		}
	}
	if err := run(t.Context(), []string{"import", stick, "--data", t.TempDir(), "--site", "dune"}); code(
		err) == exitDone {
		t.Error("a server with another root key takes it in")
	}
}

// A device that joined after the backup that was restored, and that nobody else heard of: a new code lets it in again,
// at the server's new address, with what it wrote; who joined meanwhile has another name.
func TestADeviceThatARestoredServerForgot(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	foreman := tabletOf(t, joined(t, w, firstForeman))
	foreman.online("sync")
	foreman.work()
	foreman.online("sync")
	stick := filepath.Join(t.TempDir(), "stick")
	if err := run(t.Context(), []string{"backup", stick, "--data", dir}); err != nil {
		t.Fatal(err)
	}
	crew := enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}
	forgotten := tabletOf(t, joined(t, w, crew))
	forgotten.online("sync")
	forgotten.online("note", "what only this device holds")
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}

	w = started(t, here(restoredFrom(t, stick)))
	newcomer := tabletOf(t, joined(t, w, crew))
	if newcomer.name == forgotten.name {
		t.Fatalf("two devices are %s", newcomer.name)
	}
	code, err := w.code(crew)
	if err != nil {
		t.Fatal(err)
	}
	for _, join := range []string{"lets it in", "changes nothing"} {
		if said, exit := typed(t, forgotten.dir, "join", code.String()); exit != 0 ||
			!strings.Contains(said, "lets this device in as "+string(forgotten.name)) {
			t.Fatalf("a new code %s: exit %d, %s", join, exit, said)
		}
	}
	// One that the server knows learns by a code where the server is now.
	if code, err = w.code(firstForeman); err != nil {
		t.Fatal(err)
	}
	if said, exit := typed(t, foreman.dir, "join", code.String()); exit != 0 ||
		!strings.Contains(said, w.address+" lets this device in as f1") {
		t.Fatalf("a code on a device that is known: exit %d, %s", exit, said)
	}
	for _, d := range []*tablet{forgotten, foreman, newcomer} {
		sameBoard(t, d.dir, w)
	}
	found := false
	w.host.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			b, ok := r.Now.(event.Noted)
			found = found || ok && b.Text == "what only this device holds" && r.State != fold.SetAside
		}
	})
	if !found {
		t.Error("what it wrote does not stand")
	}
}

// restoredFrom a backup, as a copy with its modes is.
func restoredFrom(t *testing.T, stick string) string {
	t.Helper()
	restored := filepath.Join(t.TempDir(), "restored")
	if err := os.CopyFS(restored, os.DirFS(stick)); err != nil {
		t.Fatal(err)
	}
	if err := filepath.WalkDir(restored, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() {
			return err
		}
		return os.Chmod(path, 0o600)
	}); err != nil {
		t.Fatal(err)
	}
	return restored
}
