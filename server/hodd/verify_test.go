package main

import (
	"fmt"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/server/enrol"
)

// A byte that changes anywhere in the files that hold the stream's messages is found and named, whether the server runs
// or not.
func TestAChangedByteInTheStreamIsNamed(t *testing.T) {
	rounds := 25
	if testing.Short() {
		rounds = 4
	}
	dir := t.TempDir()
	w := started(t, here(dir))
	n := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}))
	for i := range 12 {
		n.publish(t, n.segment(t,
			event.Noted{Text: fmt.Sprintf("note %d: %s", i, strings.Repeat("what happened ", 20))}))
	}
	until(t, "all is at the server", func() bool { h := reached(w, n.Name); return len(h) == 1 && h[0].Seq == 12 })
	running, there, err := checkStream(t.Context(), dir)
	if err != nil || !there || len(running.Faults) > 0 || running.Messages < 13 || running.Events != 13 {
		t.Fatalf("while the server runs: %+v, %v, %v", running, there, err)
	}
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}
	still, there, err := checkStream(t.Context(), dir)
	if err != nil || !there || len(still.Faults) > 0 || still.Messages != running.Messages || still.Events != 13 {
		t.Fatalf("while none runs: %+v, %v, %v", still, there, err)
	}
	var block string
	if err := filepath.WalkDir(filepath.Join(dir, streamDir), func(path string, e fs.DirEntry, err error) error {
		if err == nil && strings.HasSuffix(path, ".blk") {
			block = path
		}
		return err
	}); err != nil || block == "" {
		t.Fatalf("no file of messages: %v", err)
	}
	whole, err := os.ReadFile(block)
	if err != nil {
		t.Fatal(err)
	}
	r := rand.New(rand.NewPCG(4, 2))
	for range rounds {
		at := r.IntN(len(whole))
		hurt := append([]byte(nil), whole...)
		hurt[at] ^= 1 << r.IntN(8)
		if err := os.WriteFile(block, hurt, 0o600); err != nil {
			t.Fatal(err)
		}
		got, _, err := checkStream(t.Context(), dir)
		named := slices.ContainsFunc(got.Faults, func(says string) bool {
			return strings.Contains(says, filepath.Base(block)) || strings.HasPrefix(says, "message ")
		})
		if err == nil && !named {
			t.Errorf("byte %d of %d changed, and nobody names the place: %+v", at, len(whole), got)
		}
	}
	if err := os.WriteFile(block, whole, 0o600); err != nil {
		t.Fatal(err)
	}
	// The stream gone altogether.
	if err := os.RemoveAll(filepath.Join(dir, streamDir, "jetstream")); err != nil {
		t.Fatal(err)
	}
	if gone, _, err := checkStream(t.Context(), dir); err != nil || len(gone.Faults) == 0 {
		t.Errorf("a stream that is gone: %+v, %v", gone, err)
	}
}
