package main

import (
	"bytes"
	"database/sql"
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
	_ "modernc.org/sqlite" // the way to a journal's own address of its server

	"hod/client/cli"
	"hod/client/journal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/enrol"
	"hod/server/host"
)

// damaged is a file of a site that was hurt.
type damaged struct{ file, how string }

// hurt one of the files below dir that match, at a place and in a way that random says.
func hurt(t *testing.T, random *rand.Rand, dir string, matches func(string) bool) damaged {
	t.Helper()
	var files []string
	if err := filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() && matches(path) {
			if info, err := e.Info(); err == nil && info.Size() > 0 {
				files = append(files, path)
			}
		}
		return err
	}); err != nil || len(files) == 0 {
		t.Fatalf("nothing to hurt in %s: %v", dir, err)
	}
	file := files[random.IntN(len(files))]
	data, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	at, how := random.IntN(len(data)), ""
	switch random.IntN(3) {
	case 0:
		bit := random.IntN(8)
		data[at] ^= 1 << bit
		how = fmt.Sprintf("bit %d of byte %d of %d flipped", bit, at, len(data))
	case 1:
		data, how = data[:at], fmt.Sprintf("cut to %d of %d bytes", at, len(data))
	default:
		from, to := at/4096*4096, min(len(data), at/4096*4096+4096)
		clear(data[from:to])
		how = fmt.Sprintf("bytes %d to %d of %d zeroed", from, to, len(data))
	}
	if err := os.WriteFile(file, data, 0o600); err != nil {
		t.Fatal(err)
	}
	name, _ := filepath.Rel(dir, file)
	return damaged{name, how}
}

// whole is a site at rest, with devices that have all of its record, and what is in it.
type whole struct {
	root    string
	devices []string // folders below root
	events  map[event.Name]event.Hash
}

// wholeSite makes one. unsent are notes that the last device has not sent.
func wholeSite(t *testing.T, unsent int) whole {
	t.Helper()
	root := t.TempDir()
	w := started(t, here(filepath.Join(root, "server")))
	v := whole{root: root}
	var tablets []*tablet
	for i := range 3 {
		invitation := firstForeman
		if i > 0 {
			invitation = enrol.Invitation{Role: event.CrewRole, Crew: "south", For: time.Hour, Uses: 1}
		}
		dir := filepath.Join(root, fmt.Sprint("device", i))
		j, err := journal.Create(dir, joined(t, w, invitation))
		if err != nil {
			t.Fatal(err)
		}
		tablets = append(tablets, &tablet{t, dir, j.Device().Name})
		v.devices = append(v.devices, filepath.Base(dir))
		if err := j.Close(); err != nil {
			t.Fatal(err)
		}
	}
	tablets[0].online("sync")
	tablets[0].work()
	for _, d := range tablets {
		for i := range 12 {
			d.hod("note", fmt.Sprintf("%s wrote this as number %d", d.name, i))
		}
		d.online("sync")
	}
	for range 2 {
		for _, d := range tablets {
			d.online("sync")
		}
	}
	for i := range unsent {
		tablets[2].hod("note", fmt.Sprint("not sent ", i))
	}
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}
	v.events = map[event.Name]event.Hash{}
	for _, d := range v.devices {
		maps.Copy(v.events, eventsOf(t, filepath.Join(root, d)))
	}
	return v
}

func eventsOf(t *testing.T, dir string) map[event.Name]event.Hash {
	t.Helper()
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	all, err := j.Events(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return hashes(all)
}

func hashes(all []event.Event) map[event.Name]event.Hash {
	m := map[event.Name]event.Hash{}
	for _, e := range all {
		m[e.Name] = e.Hash()
	}
	return m
}

func recordAt(h *host.Host) map[event.Name]event.Hash {
	m := map[event.Name]event.Hash{}
	h.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			m[r.Name] = r.Hash()
		}
	})
	return m
}

// copied is the site anew in another folder, with everything as it was.
func (v whole) copied(t *testing.T) string {
	t.Helper()
	dir := t.TempDir()
	if err := filepath.WalkDir(v.root, func(path string, e os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		rel, err := filepath.Rel(v.root, path)
		if err != nil || rel == "." {
			return err
		}
		if e.IsDir() {
			return os.Mkdir(filepath.Join(dir, rel), 0o700)
		}
		data, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		return os.WriteFile(filepath.Join(dir, rel), data, 0o600)
	}); err != nil {
		t.Fatal(err)
	}
	return dir
}

// redirect a device to where its server is now.
func redirect(t *testing.T, dir string, w *site) {
	t.Helper()
	db, err := sql.Open("sqlite", filepath.Join(dir, "journal.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	for key, value := range map[string]string{"bus": w.bus, "server": w.address} {
		if _, err := db.ExecContext(t.Context(), `update meta set value = ? where key = ?`, []byte(value),
			key); err != nil {
			t.Fatal(err)
		}
	}
}

// typed is a command on a device that may fail.
func typed(t *testing.T, dir string, args ...string) (said string, code int) {
	t.Helper()
	var out, side bytes.Buffer
	code = cli.Run(t.Context(), &cli.Env{
		Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &side, Now: time.Now, Local: time.UTC,
		Getenv: func(key string) string { return map[string]string{"HOD_DIR": dir}[key] },
	})
	return out.String() + side.String(), code
}

// inTouch lets all devices sync until the server has all of the site's events.
func (v whole) inTouch(t *testing.T, dir string, w *site, but ...string) {
	t.Helper()
	var lacking []event.Name
	until(t, "the server has all that any device holds", func() bool {
		for _, d := range v.devices {
			if !slices.Contains(but, d) {
				redirect(t, filepath.Join(dir, d), w)
				if said, code := typed(t, filepath.Join(dir, d), "sync"); code != 0 && code != 6 {
					t.Errorf("sync of %s: code %d, %s", d, code, said)
				}
			}
		}
		got := recordAt(w.host)
		lacking = lacking[:0]
		for name, hash := range v.events {
			if got[name] != hash {
				lacking = append(lacking, name)
			}
		}
		return len(lacking) == 0
	})
}

// newcomer joins, and must get all of the record by the stream.
func (v whole) newcomer(t *testing.T, w *site) {
	t.Helper()
	dir := filepath.Join(t.TempDir(), "newcomer")
	j, err := journal.Create(dir, joined(t, w, enrol.Invitation{Role: event.Inspector, For: time.Hour, Uses: 1}))
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	missing := 0
	until(t, "a device that joins now gets the whole record", func() bool {
		if _, code := typed(t, dir, "sync"); code != 0 {
			return false
		}
		got := eventsOf(t, dir)
		missing = 0
		for name, hash := range v.events {
			if got[name] != hash {
				missing++
			}
		}
		return missing == 0
	})
}

// sameBoard waits until a device that is in touch shows what the server shows.
func sameBoard(t *testing.T, dir string, w *site) {
	t.Helper()
	until(t, "a device shows the same board", func() bool {
		now := time.Now()
		if _, code := typed(t, dir, "sync"); code != 0 {
			return false
		}
		j, err := journal.Open(dir)
		if err != nil {
			t.Fatal(err)
		}
		defer j.Close()
		all, err := j.Events(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		root, _ := w.host.Root()
		s := fold.New(w.host.Site(), root)
		for _, e := range all {
			s.Add(e)
		}
		return boardsOf(t, s, now) == boards(t, w.host, now)
	})
}

// TestDamage hurts the files of a server at random places: a bit flips, the end is gone, a page is zero. Whatever is
// missing then is said, and once the devices were in touch nothing that any of them holds is missing, and a device that
// joins gets all of it.
func TestDamage(t *testing.T) {
	t.Parallel()
	v := wholeSite(t, 0)
	n := (roundsOr(36, 4) + 1) / 2
	counts := map[string]int{}
	outcomes := make(chan string, 2*n)
	t.Run("rounds", func(t *testing.T) {
		for part, matches := range map[string]func(string) bool{
			"archive": func(path string) bool { return strings.HasSuffix(path, ".hodlog") },
			"stream":  func(path string) bool { return !strings.Contains(path, ".snap") },
		} {
			for round := range n {
				t.Run(fmt.Sprint(part, " ", round), func(t *testing.T) {
					t.Parallel()
					outcomes <- part + " " + v.hurtServer(t, part, matches, uint64(round))
				})
			}
		}
	})
	close(outcomes)
	for o := range outcomes {
		counts[o]++
	}
	for _, o := range slices.Sorted(maps.Keys(counts)) {
		t.Logf("%s: %d", o, counts[o])
	}
}

// A flipped bit in the middle of the stream: what follows it is gone from the stream, and given back.
func TestABitThatFlippedInTheStream(t *testing.T) {
	t.Parallel()
	v := wholeSite(t, 0)
	for name, part := range map[string]float64{"early": 0.18, "in the middle": 0.44} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := v.copied(t)
			file := filepath.Join(dir, "server", streamDir, "jetstream", "SITE", "streams", "HOD_dune", "msgs", "1.blk")
			data, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			data[int(part*float64(len(data)))] ^= 8
			if err := os.WriteFile(file, data, 0o600); err != nil {
				t.Fatal(err)
			}
			log := &buffer{}
			s := here(filepath.Join(dir, "server"))
			s.log = zerolog.New(log).Level(zerolog.WarnLevel)
			w := started(t, s)
			v.newcomer(t, w)
			if !strings.Contains(log.String(), "stream") {
				t.Error("nobody is told")
			}
		})
	}
}

// hurtServer damages one file of a copy of the site's server and says what came of it.
func (v whole) hurtServer(t *testing.T, part string, matches func(string) bool, seed uint64) string {
	dir := v.copied(t)
	data := filepath.Join(dir, "server")
	d := hurt(t, rand.New(rand.NewPCG(seed, 46)), filepath.Join(data, part), matches)
	defer func() {
		if t.Failed() {
			t.Logf("seed %d: %s of the %s: %s", seed, d.file, part, d.how)
		}
	}()
	log := &buffer{}
	s := here(data)
	s.log = zerolog.New(log).Level(zerolog.WarnLevel)
	outcome := "without effect"
	w, err := startSite(t.Context(), s)
	if err != nil { // refused, with what to do; a person does it: the file is moved away
		if !strings.Contains(err.Error(), d.file) {
			t.Fatalf("it does not start, and does not name %s: %v", d.file, err)
		}
		outcome = "refused, and repaired by the devices"
		if err := os.Rename(filepath.Join(data, part, d.file), filepath.Join(t.TempDir(), "away")); err != nil {
			t.Fatal(err)
		}
		if w, err = startSite(t.Context(), s); err != nil {
			t.Fatal(err)
		}
	}
	t.Cleanup(func() {
		if err := w.stop(); err != nil {
			t.Error(err)
		}
	})
	if part == "archive" && err == nil && outcome == "without effect" {
		if got := recordAt(w.host); !maps.Equal(got, v.events) && !strings.Contains(log.String(), "archive") {
			t.Errorf("%d of %d events are there after a start that says nothing", len(got), len(v.events))
		}
	}
	v.inTouch(t, dir, w)
	v.newcomer(t, w)
	sameBoard(t, filepath.Join(dir, v.devices[0]), w)
	if outcome == "without effect" && log.String() != "" {
		outcome = "reported and repaired"
	}
	return outcome
}

// TestDamagedJournal hurts the files of a device: what is missing is said, or comes back at the next contact; what is
// damaged gets to nobody.
func TestDamagedJournal(t *testing.T) {
	t.Parallel()
	v := wholeSite(t, 8)
	w := started(t, here(filepath.Join(v.copied(t), "server")))
	before := recordAt(w.host)
	random := rand.New(rand.NewPCG(1, 47))
	counts := map[string]int{}
	n := roundsOr(30, 5)
	for round := range n {
		dir := filepath.Join(v.copied(t), v.devices[2])
		redirect(t, dir, w)
		// The last things written lie in SQLite's log, which is a file of its own; some of it is there already when the
		// last is.
		for i := range 1 + random.IntN(6) {
			d := &tablet{t, dir, ""}
			d.hod("note", fmt.Sprint("the last of round ", round, ".", i))
		}
		want := eventsOf(t, dir)
		d := hurt(t, random, dir, func(path string) bool { return !strings.HasSuffix(path, "-shm") })
		outcome := "reported"
		if said, code := typed(t, dir, "log"); code == 0 {
			outcome = "without effect"
			had := eventsOf(t, dir)
			for name, hash := range had {
				if want[name] != hash {
					t.Errorf("round %d, %s %s: event %s is not what was written", round, d.file, d.how, name)
				}
			}
			if !maps.Equal(had, want) {
				outcome = "lost events without a word"
				if said, code := typed(t, dir, "verify"); code != 0 {
					outcome = "reported by hod verify only"
				} else {
					t.Errorf("round %d, %s %s: %d of %d events are there, and hod says nothing: %s", round, d.file,
						d.how, len(had), len(want), said)
				}
			}
		} else if code != 5 {
			t.Errorf("round %d, %s %s: hod log ended with %d; want 5, a disk that cannot be used: %s", round, d.file,
				d.how, code, said)
		}
		counts[d.file+" "+outcome]++
	}
	if after := recordAt(w.host); !maps.Equal(before, after) {
		t.Error("the record at the server changed")
	}
	for _, o := range slices.Sorted(maps.Keys(counts)) {
		t.Logf("%s: %d", o, counts[o])
	}
}
