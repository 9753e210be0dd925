package main

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/client/journal"
	"hod/internal/bus"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/host"
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
		until(t, "the server says that it has more",
			func() bool { _, now := sumOf(devices); return now >= at+uint64(more) })
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
				t.Errorf("round %d: the server had said that it has %d events of %s, and after its death has %d", round,
					heard[d.name], d.name, got[d.name])
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

// hod dies at all moments of its work: commands that record, carry, join and send, and a device that does both without
// end. Each command that said what it had to say counts as told, whether it was killed afterwards or not.
func TestKilledDevice(t *testing.T) {
	t.Parallel()
	n := roundsOr(len(errands), 2)
	random := rand.New(rand.NewPCG(1, 42))
	root, w := t.TempDir(), newWay(t)
	s, devices := crew(t, root, w, 3)
	busy, d, away := devices[1], devices[2], devices[3]
	busy.start()
	d.online("sync")
	away.online("sync")
	g := &grounds{device: d, away: away, server: s.dir, root: root, usual: map[string][]time.Duration{}}
	died, of := map[string]int{}, map[string]map[string]int{} // by how far they had got, and by noun
	atServer := 0
	for round := range n {
		// One device dies at endless work, after it said a little; the other at commands, one by one.
		said, more := len(busy.ledger().kept), random.IntN(8)
		until(t, "the device has kept more", func() bool { return len(busy.ledger().kept) >= said+more })
		busy.kill()
		busy.start()
		do := errands[round%len(errands)]
		e := do.prepare(g, round)
		e.noun, e.dir, e.online = do.noun, cmp.Or(e.dir, d.dir), random.IntN(3) > 0
		sign, share := random.IntN(len(e.signs)+2), random.Float64()
		switch usual, met := g.usual[e.pace()]; {
		case !met: // how long it takes is not known yet: it dies as soon as the sign is seen
			sign, share = max(sign, 1), 0
		case len(usual) < len(e.signs)+2: // one is let go to its end, to learn it
			sign = len(e.signs) + 2
		}
		out, code, ended := g.strike(e, sign, share)
		wrote := e.wrote()
		told := json.Valid([]byte(out)) && strings.HasSuffix(out, "\n")
		far := "nothing written"
		switch {
		case ended && code != 0:
			t.Errorf("round %d: hod %q ended with %d: %s", round, e.args, code, out)
		case ended:
			far = "not killed"
		case told:
			far = "told"
		case wrote:
			far = "written"
		}
		died[far]++
		if of[e.noun] == nil {
			of[e.noun] = map[string]int{}
		}
		of[e.noun][far]++
		if told && !wrote {
			t.Errorf("round %d: hod %q said %s, and it is not so", round, e.args, out)
		}
		if told && e.records {
			d.remember(out)
		}
		if own := d.own(); !ended && (e.records && e.online && wrote || e.sends) &&
			headsOf(t, devices[0])[d.name] >= own {
			atServer++
		}
		if e.again != nil {
			e.again()
		}
	}
	busy.kill()
	settle(t, devices...)
	settle(t, devices...)
	s.killed()
	sum := account(t, s.dir, devices...)
	enrolledOnce(t, s.dir, g.newcomers)
	for _, do := range errands {
		far := of[do.noun]
		t.Logf("%s: %d with nothing written, %d written, %d told, %d not killed", do.noun, far["nothing written"],
			far["written"], far["told"], far["not killed"])
	}
	t.Logf(
		"hod killed %d times within %d commands: %d before they had written anything, %d when they had and had not said so, %d when they had said so; %d times what one of them had written or sent was at the server; "+
			"and %d times at endless work: %d events acknowledged, %d lost, %d doubled",
		n-died["not killed"], n, died["nothing written"], died["written"], died["told"], atServer, n, sum.told,
		sum.lost, sum.doubled)
	if least := min(died["nothing written"], died["written"], died["told"]); n >= 100 && least < n/20 {
		t.Errorf("%v; the test does not hit all of a command", died)
	}
}

// errand is a command that is killed, and how the test sees from outside how far it got.
type errand struct {
	noun    string
	dir     string // its HOD_DIR, if it is not the device's
	online  bool
	args    []string
	signs   []string    // files in whose changes its work shows, in this order; the last sign of all is what it says
	wrote   func() bool // what it is for is done
	records bool        // it writes events of the device
	sends   bool        // it sends one that waits
	again   func()      // what a person does next
}

// pace is what errands have in common that take the same time.
func (e errand) pace() string { return fmt.Sprint(e.noun, " ", e.online) }

// grounds are where commands are killed.
type grounds struct {
	*device
	away         *device // without a network
	server, root string
	newcomers    []string                   // by label
	usual        map[string][]time.Duration // what passed from each sign to the next when it was last seen, by pace
}

// errands are what is killed, in turn.
var errands = []struct {
	noun    string
	prepare func(g *grounds, round int) errand
}{
	{"note", func(g *grounds, round int) errand { return g.recording(1, "note", fmt.Sprint("round ", round)) }},
	{"batch", func(g *grounds, _ int) errand { return g.recording(1, "batch", "face", "--moisture", "4%") }},
	{"place", func(g *grounds, _ int) errand {
		var doc struct {
			Batch string `json:"batch"`
		}
		g.say(&doc, "batch", "face")
		return g.recording(1, "place", doc.Batch, "A1", "1/2", "--along", "A2")
	}},
	{"amend", func(g *grounds, round int) errand {
		var doc struct {
			Event string `json:"event"`
		}
		g.say(&doc, "note", fmt.Sprint("to be amended in round ", round))
		return g.recording(1, "amend", doc.Event, fmt.Sprint("text=amended in round ", round))
	}},
	{"weather from a file", func(g *grounds, round int) errand {
		const readings = 300 // too many for one event: both are there or none
		var table strings.Builder
		table.WriteString("time,air_c,humidity\n")
		at := time.Date(2020, 7, 1, 0, 0, 0, 0, time.UTC)
		for i := range readings {
			fmt.Fprintf(&table, "%s,%d,60\n", at.Add(time.Duration(i)*time.Minute).Format(time.DateTime), 15+i%10)
		}
		path := filepath.Join(g.root, fmt.Sprintf("station%d.csv", round))
		if err := os.WriteFile(path, []byte(table.String()), 0o600); err != nil {
			g.t.Fatal(err)
		}
		e := g.recording(2, "weather", "--csv", path)
		e.again = func() { // what is there is left out, what is not is written
			if e.wrote() {
				if said, code := typed(g.t, g.dir, e.args...); !strings.Contains(said,
					fmt.Sprint(readings, " readings known already")) {
					g.t.Errorf("hod %q again: code %d: %s", e.args, code, said)
				}
			} else if g.say(nil, e.args...); !e.wrote() {
				g.t.Errorf("hod %q again wrote nothing", e.args)
			}
		}
		return e
	}},
	{"sync", func(g *grounds, round int) errand {
		g.hod("note", fmt.Sprint("for the server, round ", round))
		at := g.status().AtServer
		return errand{
			sends: true, args: []string{"sync"}, signs: []string{filepath.Join(g.dir, "journal.db-wal")},
			wrote: func() bool { return g.status().AtServer > at },
		}
	}},
	{"import", func(g *grounds, round int) errand {
		for i := range 3 {
			g.away.remember(g.away.hod("note", fmt.Sprintf("behind the shell, round %d-%d", round, i), "--json"))
		}
		stick := filepath.Join(g.root, fmt.Sprintf("stick%d.hodlog", round))
		g.away.hod("export", stick, "--unsent")
		had, want := len(g.held(g.away.name)), g.away.own()
		taken := func() bool {
			now := uint64(len(g.held(g.away.name)))
			if now != uint64(had) && now != want {
				g.t.Errorf("%s was taken in by part: %d events of %s before, %d after, %d in the file", stick, had,
					g.away.name, now, want)
			}
			return now == want
		}
		return errand{
			args: []string{"import", stick}, signs: []string{filepath.Join(g.dir, "journal.db-wal")}, wrote: taken,
			again: func() {
				if g.hod("import", stick); !taken() {
					g.t.Errorf("%s was imported again, and is not all there", stick)
				}
			},
		}
	}},
	{"export", func(g *grounds, round int) errand {
		stick := filepath.Join(g.root, fmt.Sprintf("all%d.hodlog", round))
		there := func() bool { _, err := os.Stat(stick); return err == nil }
		return errand{
			args: []string{"export", stick}, signs: []string{stick + ".part", stick}, wrote: there,
			again: func() { // the file is whole, or it is not there and can be written
				if !there() {
					g.hod("export", stick)
				}
				g.hod("verify", stick)
			},
		}
	}},
	{"join", func(g *grounds, round int) errand {
		label, dir := fmt.Sprint("newcomer of round ", round), filepath.Join(g.root, fmt.Sprint("newcomer", round))
		code := codeFrom(g.t, g.server)
		g.newcomers = append(g.newcomers, label)
		args := []string{"join", code, "--crew", "north", "--label", label}
		in := func() bool {
			j, err := journal.Open(dir)
			if err != nil {
				return false
			}
			return j.Close() == nil
		}
		var signs []string
		for _, name := range []string{"joining.key", "journal.db", "device.key", "journal.db-kept"} {
			signs = append(signs, filepath.Join(dir, name))
		}
		return errand{
			dir: dir, args: args, signs: signs, wrote: in,
			again: func() { // the same code lets the same device in
				newcomer := &tablet{g.t, dir, ""}
				if !in() {
					newcomer.online(args...)
				}
				newcomer.online("note", label+" is in")
				newcomer.online("sync")
			},
		}
	}},
}

// recording is a command that writes so many events of the device, all of them or none.
func (g *grounds) recording(events int, args ...string) errand {
	had := g.own()
	var signs []string
	for _, name := range []string{"journal.db-wal", "journal.db-kept"} { // its transaction is written; it is flushed
		signs = append(signs, filepath.Join(g.dir, name))
	}
	return errand{args: args, signs: signs, records: true, wrote: func() bool {
		now := g.own()
		if now != had && now != had+uint64(events) {
			g.t.Errorf("hod %q wrote %d events, not %d or none", args, now-had, events)
		}
		return now > had
	}}
}

// say a command at the device, which records something, and let it end.
func (g *grounds) say(doc any, args ...string) {
	g.t.Helper()
	out := g.hod(append(args, "--json")...)
	g.remember(out)
	if doc == nil {
		return
	}
	if err := json.Unmarshal([]byte(out), doc); err != nil {
		g.t.Fatalf("%v in %q", err, out)
	}
}

// strike kills an errand once a share of the time that usually passes after its nth sign has passed, if it lives so
// long. The noughth sign is that it started; what is beyond the last one never comes.
func (g *grounds) strike(e errand, nth int, share float64) (out string, code int, ended bool) {
	g.t.Helper()
	before := make([]string, len(e.signs))
	for i, path := range e.signs {
		before[i] = trace(path)
	}
	began := time.Now()
	u := g.begin(e.dir, e.online, append(e.args, "--json")...)
	seen := []time.Duration{0}
	usual := g.usual[e.pace()]
	for alive := true; alive; {
		select {
		case <-u.ended:
			alive = false
		case <-time.After(50 * time.Microsecond):
		}
		for i := len(seen) - 1; i < len(e.signs) && trace(e.signs[i]) != before[i]; i++ {
			seen = append(seen, time.Since(began))
		}
		if u.text.String() != "" {
			for len(seen) < len(e.signs)+2 {
				seen = append(seen, time.Since(began))
			}
		}
		if nth < len(seen) && (nth >= len(usual) ||
			time.Since(began)-seen[nth] >= time.Duration(share*float64(usual[nth]))) {
			_ = u.cmd.Process.Kill()
			break
		}
	}
	out, code, ended = u.outcome()
	if ended {
		seen = append(seen, time.Since(began))
	}
	for i := range seen[1:] {
		if i == len(usual) {
			usual = append(usual, 0)
		}
		usual[i] = seen[i+1] - seen[i]
	}
	g.usual[e.pace()] = usual
	return out, code, ended
}

// trace is what changes of a file when it is written to.
func trace(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return ""
	}
	return fmt.Sprint(info.Size(), info.ModTime().UnixNano())
}

// codeFrom a server that runs, for one device.
func codeFrom(t *testing.T, data string) string {
	t.Helper()
	cmd := exec.Command(os.Args[0], "invite", "--data", data, "--role", "crew")
	cmd.Env = append(os.Environ(), asMain+"=1")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("hodd invite: %v", err)
	}
	return strings.TrimSpace(string(out))
}

// enrolledOnce looks whether each label is that of one device.
func enrolledOnce(t *testing.T, dir string, labels []string) {
	t.Helper()
	h, err := host.Open(dir, host.Config{})
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	times := map[string]int{}
	h.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			if b, ok := r.Body.(event.DeviceEnrolled); ok {
				times[b.Label]++
			}
		}
	})
	for _, label := range labels {
		if times[label] != 1 {
			t.Errorf("%s is enrolled %d times", label, times[label])
		}
	}
}

// held is what the journal has of a device, by seq.
func (d *device) held(of event.Device) map[uint64]event.Event {
	d.t.Helper()
	j, err := journal.Open(d.dir)
	if err != nil {
		d.t.Fatal(err)
	}
	defer j.Close()
	events, err := j.Events(d.t.Context())
	if err != nil {
		d.t.Fatal(err)
	}
	held := map[uint64]event.Event{}
	for _, e := range events {
		if e.Device == of {
			held[e.Seq] = e
		}
	}
	return held
}

// own is how many events of its own the device has: they count without gaps.
func (d *device) own() uint64 {
	d.t.Helper()
	j, err := journal.Open(d.dir)
	if err != nil {
		d.t.Fatal(err)
	}
	defer j.Close()
	head, err := j.Head(d.t.Context(), d.name)
	if err != nil {
		d.t.Fatal(err)
	}
	return head.Seq
}

// remember what a command said that records.
func (d *device) remember(out string) {
	d.t.Helper()
	var doc struct {
		Event  string   `json:"event"`
		Events []string `json:"events"`
	}
	if err := json.Unmarshal([]byte(out), &doc); err != nil {
		d.t.Fatalf("%v in %q", err, out)
	}
	names := doc.Events
	if doc.Event != "" && !slices.Contains(names, doc.Event) {
		names = append(names, doc.Event)
	}
	if len(names) == 0 {
		d.t.Fatalf("%q names no event", out)
	}
	held := d.held(d.name)
	d.mu.Lock()
	defer d.mu.Unlock()
	for _, name := range names {
		n, err := event.ParseName(name)
		if e, ok := held[n.Seq]; err != nil || !ok || n.Device != d.name {
			d.t.Errorf("%s was said to be kept and is not in the journal", name)
		} else {
			d.told.kept[n.Seq] = e.Hash()
		}
	}
}
