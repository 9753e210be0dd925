package session

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/json"
	"io"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"hod/client/journal"
	"hod/client/terminal"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim/simtest"
	"hod/internal/view"
	"hod/internal/view/daily"
)

var shelfNow = time.Date(2031, 5, 14, 15, 0, 0, 0, time.UTC)

func shelfKey(d event.Device) ed25519.PrivateKey {
	seed := sha256.Sum256([]byte(d))
	return ed25519.NewKeyFromSeed(seed[:])
}

// seasonIn is a folder whose journal holds a season of a site as one of its devices has it.
func seasonIn(t testing.TB, dir string, device event.Device, events []event.Event) {
	t.Helper()
	j, err := journal.Create(dir, journal.Device{
		Site: "bench", Name: device, Crew: "c0", Role: event.CrewRole, Key: shelfKey(device), Bus: "b.example:1",
		Server: "s.example:1", CA: []byte("none"),
		Root: simtest.Root, RootKey: shelfKey(simtest.Root).Public().(ed25519.PublicKey),
	})
	if err != nil {
		t.Fatal(err)
	}
	defer j.Close()
	keepIn(t, j, events)
}

func keepIn(t testing.TB, j *journal.Journal, events []event.Event) {
	t.Helper()
	of := map[event.Device][]event.Event{}
	for _, e := range events {
		of[e.Device] = append(of[e.Device], e)
	}
	for d, all := range of {
		at, held, err := j.HeadAt(t.Context(), d, all[0].Seq-1)
		if err != nil || !held {
			t.Fatal(d, all[0].Seq, held, err)
		}
		for len(all) > 0 {
			n := chain.Fit(all)
			s, err := chain.Sign(shelfKey(d), "bench", at, all[:n])
			if err != nil {
				t.Fatal(err)
			}
			if _, err := j.Keep(t.Context(), s); err != nil {
				t.Fatal(err)
			}
			at, all = s.After, all[n:]
		}
	}
}

// shown opens the record in a folder as a command does, and gives what it shows; and whether readings were held packed.
func shown(t testing.TB, dir string) (string, bool) {
	t.Helper()
	env := &Env{
		Streams: &terminal.Streams{Stderr: io.Discard, Stdout: io.Discard, Getenv: func(string) string { return "" }},
		Now:     func() time.Time { return shelfNow }, Local: time.UTC, Dir: dir,
	}
	s, err := Open(t.Context(), env)
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	return viewed(t, s.Fold), s.Fold.Packs()
}

func viewed(t testing.TB, s *fold.Site) string {
	t.Helper()
	last, _ := s.LastBatch("c1")
	face, _ := s.LastFace("c0")
	text, err := json.Marshal([]any{
		view.EdgesOf(s, shelfNow, time.UTC, "c0"), s.Bare(shelfNow), s.AsideOf("d0"),
		len(s.BatchesOn("c2", shelfNow.Format(time.DateOnly))), last.ID.String(), face,
		daily.BoardOf(s, shelfNow, time.UTC), view.JointsOf(s, shelfNow, time.UTC),
		daily.FlagsOf(s, shelfNow, time.UTC, true), s.Len(),
	})
	if err != nil {
		t.Fatal(err)
	}
	if err := s.Lost(); err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func folded(events []event.Event) *fold.Site {
	s := fold.New("bench", simtest.Root)
	for _, e := range events {
		s.Add(e)
	}
	return s
}

func TestAShelfIsNeverBelievedBlindly(t *testing.T) {
	if program() == "" {
		t.Skip("this program does not say what it was built from, so nothing is kept")
	}
	drafts, err := simtest.Season(9_000, shelfNow)
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.WriteSeason(drafts)
	if err != nil {
		t.Fatal(err)
	}
	cut := len(events) - 300
	top := t.TempDir()
	dir, other := filepath.Join(top, "d0"), filepath.Join(top, "d1")
	seasonIn(t, dir, "d0", events[:cut])
	seasonIn(t, other, "d1", events[:cut])
	part, whole := viewed(t, folded(events[:cut])), viewed(t, folded(events))
	path := filepath.Join(dir, shelfFile)
	ask := func(what, in, want string, packed bool) {
		t.Helper()
		got, holds := shown(t, in)
		if got != want {
			t.Fatalf("%s: the answer is another", what)
		}
		if holds != packed {
			t.Errorf("%s: readings are held packed: %t, not %t", what, holds, packed)
		}
	}
	ask("no shelf yet", dir, part, false)
	ask("a shelf", dir, part, true)
	good, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	put := func(data []byte) {
		t.Helper()
		if err := os.WriteFile(path, data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	ask("another device, no shelf yet", other, part, false)
	foreign, err := os.ReadFile(filepath.Join(other, shelfFile))
	if err != nil {
		t.Fatal(err)
	}
	put(foreign)
	ask("another device's shelf", dir, part, false)
	r := rand.New(rand.NewPCG(1, 2))
	times := 8
	if testing.Short() {
		times = 2
	}
	for range times {
		bad := slices.Clone(good)
		bad[r.IntN(len(bad))] ^= byte(1 << r.IntN(8))
		put(bad)
		ask("a flipped bit", dir, part, false)
		put(good[:r.IntN(len(good))])
		ask("cut off", dir, part, false)
	}
	put(bytes.Repeat([]byte{7}, 5000))
	ask("no shelf at all", dir, part, false)
	put(good)
	was := program
	program = func() string { return "another" }
	ask("made by another program", dir, part, false)
	program = was
	put(good)
	// its writer was killed
	if err := os.WriteFile(filepath.Join(dir, shelfFile+"-99"), good[:100], 0o600); err != nil {
		t.Fatal(err)
	}
	ask("a writer was killed", dir, part, true)
	j, err := journal.Open(dir)
	if err != nil {
		t.Fatal(err)
	}
	keepIn(t, j, events[cut:])
	_ = j.Close()
	ask("a shelf of yesterday", dir, whole, true)
	put(good)
	if err := os.Remove(path); err != nil {
		t.Fatal(err)
	}
	ask("deleted", dir, whole, false)
	newer, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	restored := filepath.Join(top, "restored") // the journal of before beside the shelf of later
	seasonIn(t, restored, "d0", events[:cut])
	if err := os.WriteFile(filepath.Join(restored, shelfFile), newer, 0o600); err != nil {
		t.Fatal(err)
	}
	ask("ahead of the record", restored, part, false)
}

func TestTwoCommandsAtOnceEachAnswerWhateverBecomesOfTheShelf(t *testing.T) {
	if program() == "" {
		t.Skip("this program does not say what it was built from, so nothing is kept")
	}
	drafts, err := simtest.Season(7_000, shelfNow)
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.WriteSeason(drafts)
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join(t.TempDir(), "d0")
	seasonIn(t, dir, "d0", events)
	want := viewed(t, folded(events))
	var running sync.WaitGroup
	for range 3 {
		running.Go(func() {
			for range 2 {
				if got, _ := shown(t, dir); got != want {
					t.Error("one of several commands at once answered otherwise")
				}
				_ = os.Remove(filepath.Join(dir, shelfFile))
			}
		})
	}
	running.Wait()
}
