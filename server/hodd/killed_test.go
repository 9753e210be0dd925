package main

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"hod/client/journal"
	"hod/internal/bus"
	"hod/internal/event"
)

// hodd dies at random moments while devices write and send. What a device was told is kept, and what the server was
// heard to have, is there afterwards, once.
func TestKilledServer(t *testing.T) {
	t.Parallel()
	n := roundsOr(10, 2)
	random := rand.New(rand.NewPCG(1, 41))
	root, w := t.TempDir(), newWay(t)
	s, devices := crew(t, root, w, 2)
	for _, d := range devices[1:] {
		d.start()
	}
	for round := range n {
		kept, at := sumOf(devices)
		more := 1 + random.IntN(12)
		until(t, "the server says that it has more", func() bool { _, now := sumOf(devices); return now >= at+uint64(more) })
		time.Sleep(time.Duration(random.IntN(15)) * time.Millisecond) // at no particular moment
		heard := map[event.Device]uint64{}
		s.killed()
		for _, d := range devices {
			heard[d.name] = d.ledger().at // said before it died, heard before it comes back
		}
		s = serving(t, s.dir, w)
		until(t, "the server answers for the heads", func() bool { return headsOf(t, devices[0]) != nil })
		got := headsOf(t, devices[0])
		for _, d := range devices {
			if got[d.name] < heard[d.name] {
				t.Errorf("round %d: the server had said that it has %d events of %s, and after its death has %d", round, heard[d.name], d.name, got[d.name])
			}
		}
		if now, _ := sumOf(devices); now < kept {
			t.Fatalf("round %d: the ledger shrank", round)
		}
		if round%20 == 19 {
			kept, _ = sumOf(devices)
			t.Logf("after %d rounds: %d events acknowledged", round+1, kept)
		}
	}
	for _, d := range devices {
		d.kill()
	}
	settle(t, devices...)
	settle(t, devices...) // what the last of them brought reaches the first
	s.killed()
	sum := account(t, s.dir, devices...)
	t.Logf("hodd killed %d times: %d events acknowledged, %d lost, %d doubled", n, sum.told, sum.lost, sum.doubled)
	if sum.told < 2*n {
		t.Errorf("only %d events were acknowledged in %d rounds; the test does not hit", sum.told, n)
	}
}

// headsOf the server as a device hears them, by device; nil while it does not answer.
func headsOf(t *testing.T, d *device) map[event.Device]uint64 {
	t.Helper()
	l, err := bus.Dial(t.Context(), d.access)
	if err != nil {
		return nil
	}
	defer l.Close()
	told, err := l.Heads(t.Context())
	if err != nil {
		return nil
	}
	heads := map[event.Device]uint64{}
	for _, h := range told.Heads {
		heads[h.Device] = h.Seq
	}
	return heads
}

// hod dies at random moments: commands that record, commands that send, and a device that does both without end. Each
// command that ended well counts as told.
func TestKilledDevice(t *testing.T) {
	t.Parallel()
	n := roundsOr(10, 2)
	random := rand.New(rand.NewPCG(1, 42))
	root, w := t.TempDir(), newWay(t)
	s, devices := crew(t, root, w, 2)
	busy, d := devices[1], devices[2]
	busy.start()
	// How long a command takes here, so that it is killed within that time, or a little later.
	began := time.Now()
	if out, code, _ := d.command(nil, true, "note", "before the first round", "--json"); code != 0 {
		t.Fatal(out)
	}
	usual := time.Since(began)
	died := 0
	for round := range n {
		// One device dies at endless work, after it said a little; the other at commands, one by one.
		said, more := len(busy.ledger().kept), random.IntN(8)
		until(t, "the device has kept more", func() bool { return len(busy.ledger().kept) >= said+more })
		busy.kill()
		busy.start()
		args := []string{"note", fmt.Sprintf("round %d", round), "--json"}
		if round%4 == 3 {
			args = []string{"sync", "--json"}
		}
		out, code, ended := d.command(time.After(time.Duration(1.6*random.Float64()*float64(usual))), round%3 > 0, args...)
		switch {
		case !ended:
			died++
		case code != 0:
			t.Errorf("round %d: hod %q ended with %d: %s", round, args, code, out)
		case args[0] == "note":
			d.remember(out)
		}
	}
	busy.kill()
	settle(t, devices...)
	settle(t, devices...)
	s.killed()
	sum := account(t, s.dir, devices...)
	t.Logf("hod killed %d times within %d commands and %d times at endless work: %d events acknowledged, %d lost, %d doubled", died, n, n, sum.told, sum.lost, sum.doubled)
}

// remember what a command said, which ended well.
func (d *device) remember(out string) {
	d.t.Helper()
	var doc struct {
		Event string `json:"event"`
	}
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		d.t.Fatalf("%v in %q", err, out)
	}
	j, err := journal.Open(d.dir)
	if err != nil {
		d.t.Fatal(err)
	}
	defer j.Close()
	events, err := j.Events(d.t.Context())
	if err != nil {
		d.t.Fatal(err)
	}
	i := slices.IndexFunc(events, func(e event.Event) bool { return e.Name.String() == doc.Event })
	if i < 0 {
		d.t.Errorf("%s was said to be kept and is not in the journal", doc.Event)
		return
	}
	d.mu.Lock()
	defer d.mu.Unlock()
	d.told.kept[events[i].Seq] = events[i].Hash()
}
