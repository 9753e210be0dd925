package main

import (
	"bufio"
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	"hod/client/cli"
	"hod/client/journal"
	"hod/client/remote"
	contact "hod/client/sync"
	"hod/internal/auth"
	"hod/internal/bus"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/server/host"
)

var rounds = flag.Int("rounds", 0, "how many kills, cuts and damages the long form tries; 0 is the short form")

// roundsOr is how many rounds a test has: short ones under the race detector and in -short, usual ones else.
func roundsOr(usual, short int) int {
	switch {
	case *rounds > 0:
		return *rounds
	case testing.Short():
		return short
	}
	return usual
}

// Programs that the test's own program stands in for; see TestMain.
const (
	asHod  = "HODD_TEST_AS_HOD"  // hod
	asHand = "HODD_TEST_AS_HAND" // a device that writes without end; the value is its folder
)

// standIn runs what the environment asks for, and says whether it did.
func standIn() bool {
	switch {
	case os.Getenv(asMain) != "":
		main()
	case os.Getenv(asHod) != "":
		os.Exit(cli.Run(context.Background(), &cli.Env{
			Args: os.Args[1:], Stdin: strings.NewReader(""), Stdout: os.Stdout, Stderr: os.Stderr,
			Now: time.Now, Getenv: os.Getenv, Local: time.UTC,
		}))
	case os.Getenv(asNode) != "":
		if err := runNode(os.Getenv(asNode)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	case os.Getenv(asHand) != "":
		if err := hand(os.Getenv(asHand)); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	default:
		return false
	}
	return true
}

// enough is how many events a hand leaves waiting before it writes no more until they are sent.
const enough = 40

// hand writes notes and syncs, without end. It prints what it was told, once it was told: "kept SEQ HASH" when an event
// is on its disk, "stored FIRST LAST" when the stream has acknowledged its events from first to last, "at N" when the
// server has said that N of them are in its archive.
func hand(dir string) error {
	ctx := context.Background()
	j, err := journal.Open(dir)
	if err != nil {
		return err
	}
	defer j.Close()
	st, err := j.Status(ctx)
	if err != nil {
		return err
	}
	last, waiting := st.Kept, st.Kept-st.AtServer
	begun := time.Now().UnixNano()
	var session *remote.Session
	for i := 0; ; i++ {
		var drafts []event.Event
		for n := range 1 + i%3 {
			drafts = append(drafts, event.Event{Body: event.Noted{Text: fmt.Sprintf("by hand %d-%d-%d", begun, i, n)}})
		}
		if waiting < enough {
			written, err := j.Append(ctx, time.Now(), drafts...)
			if err != nil {
				return err
			}
			for _, e := range written {
				h := e.Hash()
				fmt.Printf("kept %d %x\n", e.Seq, h[:])
				last = e.Seq
			}
		}
		if session == nil {
			session, err = remote.Open(ctx, j)
		}
		pushed := 0
		if err == nil {
			limited, end := context.WithTimeout(ctx, time.Minute)
			out, bad := session.Contact(limited, contact.Clock{Now: time.Now})
			end()
			pushed, err = out.Pushed, bad
		}
		st, bad := j.Status(ctx)
		if bad != nil {
			return bad
		}
		waiting = st.Kept - st.AtServer
		fmt.Printf("at %d\n", st.AtServer)
		if err != nil {
			if session != nil {
				session.Close()
			}
			session, err = nil, nil
			time.Sleep(20 * time.Millisecond) // the server is away; it is not asked without a pause
			continue
		}
		if pushed > 0 && uint64(pushed) <= last {
			fmt.Printf("stored %d %d\n", last-uint64(pushed)+1, last)
		}
		time.Sleep(10 * time.Millisecond) // as fast as it could, it would write more than anybody reads
	}
}

// told is what one device was told. It is kept by the test, outside of what is killed.
type told struct {
	kept   map[uint64]event.Hash
	stored map[uint64]bool
	at     uint64
}

func newTold() *told { return &told{kept: map[uint64]event.Hash{}, stored: map[uint64]bool{}} }

func (d *told) copy() told {
	return told{maps.Clone(d.kept), maps.Clone(d.stored), d.at}
}

// hear takes in one line of a hand. Half a line, as death leaves it, promises nothing.
func (d *told) hear(line string) {
	words := strings.Fields(line)
	var n []uint64
	for _, w := range words[min(1, len(words)):] {
		if v, err := strconv.ParseUint(w, 10, 64); err == nil {
			n = append(n, v)
		}
	}
	switch {
	case len(words) == 3 && words[0] == "kept" && len(words[2]) == 64:
		raw, err := hex.DecodeString(words[2])
		seq, bad := strconv.ParseUint(words[1], 10, 64)
		if err == nil && bad == nil {
			d.kept[seq] = event.Hash(raw)
		}
	case len(words) == 3 && words[0] == "stored" && len(n) == 2:
		for seq := n[0]; seq <= n[1]; seq++ {
			d.stored[seq] = true
		}
	case len(words) == 2 && words[0] == "at" && len(n) == 1:
		d.at = max(d.at, n[0])
	}
}

// device is a tablet and what it was told.
type device struct {
	*tablet
	access bus.Access
	mu     sync.Mutex
	told   *told
	hand   *exec.Cmd
	said   chan struct{} // the hand's output was read to its end
	side   *buffer
}

func (d *device) ledger() told {
	d.mu.Lock()
	defer d.mu.Unlock()
	return d.told.copy()
}

// start the hand.
func (d *device) start() {
	d.t.Helper()
	d.hand, d.side = exec.Command(os.Args[0]), &buffer{}
	d.hand.Env = append(os.Environ(), asHand+"="+d.dir)
	d.hand.Stderr = d.side
	dieWithTest(d.hand)
	out, err := d.hand.StdoutPipe()
	if err != nil {
		d.t.Fatal(err)
	}
	if err := d.hand.Start(); err != nil {
		d.t.Fatal(err)
	}
	said := make(chan struct{})
	d.said = said
	go func() {
		defer close(said)
		lines := bufio.NewReader(out)
		for {
			line, err := lines.ReadString('\n')
			if err != nil {
				return // a line without its end was not said
			}
			d.mu.Lock()
			d.told.hear(line)
			d.mu.Unlock()
		}
	}()
	d.t.Cleanup(d.kill)
}

// kill the hand with -9, and hear what it had said.
func (d *device) kill() {
	if d.hand == nil {
		return
	}
	_ = d.hand.Process.Kill()
	<-d.said
	_ = d.hand.Wait()
	if text := d.side.String(); text != "" {
		d.t.Errorf("the hand of %s ended by itself: %s", d.name, text)
	}
	d.hand = nil
}

// deviceOf a code, which reaches the server by roads that stay where they are however often it starts.
func deviceOf(t *testing.T, code auth.Code, crew event.Crew, dir string, w *way) *device {
	t.Helper()
	_, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	joining, err := remote.Join(t.Context(), code, remote.Newcomer{Key: key, Crew: crew, Label: "a tablet"})
	if err != nil {
		t.Fatalf("join: %v", err)
	}
	joining.Server = w.grpc.address()
	if !strings.Contains(joining.Bus, ",") { // several servers have bridges of their own
		joining.Bus = w.bus.address()
	}
	j, err := journal.Create(dir, joining)
	if err != nil {
		t.Fatal(err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	return &device{tablet: &tablet{t, dir, joining.Name}, access: recordOf(joining).access(), told: newTold()}
}

// way is where devices reach a server that is killed and comes back at other ports.
type way struct{ grpc, bus *bridge }

func newWay(t *testing.T) *way { return &way{newBridge(t), newBridge(t)} }

// served is a hodd that runs, and the way to it.
type served struct {
	*ran
	t   *testing.T
	dir string
	way *way
}

func serving(t *testing.T, dir string, w *way, args ...string) *served {
	t.Helper()
	s := &served{ran: hodd(t, dir, append([]string{"--log", "warn"}, args...)...), t: t, dir: dir, way: w}
	until(t, "hodd serves", func() bool {
		if len(s.ended) > 0 {
			t.Fatalf("hodd ended by itself:\n%s\n%s", s.out, s.errors)
		}
		return strings.Contains(s.out.String(), "Ctrl-C")
	})
	for line := range strings.Lines(s.out.String()) {
		if rest, ok := strings.CutPrefix(line, "Listening: "); ok {
			grpc, rest, _ := strings.Cut(rest, " for joining and questions, ")
			bus, _, _ := strings.Cut(rest, " for events")
			w.grpc.leadTo(grpc)
			w.bus.leadTo(bus)
		}
	}
	return s
}

// killed with -9.
func (s *served) killed() {
	s.t.Helper()
	if err := s.cmd.Process.Kill(); err != nil {
		s.t.Fatalf("kill hodd: %v\n%s", err, s.errors)
	}
	<-s.ended
}

// bridge passes connections on to an address that may change. With a fate, it hinders them.
type bridge struct {
	net.Listener

	mu   sync.Mutex
	to   string
	fate func() fate // nil: all goes well
	live map[net.Conn]bool
	met  map[string]int // fates by name
}

// fate is what happens to one connection.
type fate struct {
	name  string
	delay time.Duration // before each piece
	after int           // bytes after which it ends; 0: never
	mute  bool          // it ends by silence, and only later by a cut
	small bool          // pieces of a few bytes
}

const silence = 800 * time.Millisecond

func newBridge(t *testing.T) *bridge {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	b := &bridge{Listener: ln, live: map[net.Conn]bool{}, met: map[string]int{}}
	var running sync.WaitGroup
	running.Go(func() {
		for {
			near, err := ln.Accept()
			if err != nil {
				return
			}
			running.Go(func() { b.pass(near) })
		}
	})
	t.Cleanup(func() {
		_ = ln.Close()
		b.cut()
		running.Wait()
	})
	return b
}

func (b *bridge) address() string { return b.Addr().String() }

func (b *bridge) leadTo(address string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.to = address
}

func (b *bridge) hinder(f func() fate) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.fate = f
}

// cut all that is connected.
func (b *bridge) cut() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for c := range b.live {
		_ = c.Close()
	}
}

func (b *bridge) pass(near net.Conn) {
	b.mu.Lock()
	to, f := b.to, fate{name: "passed"}
	if b.fate != nil {
		f = b.fate()
	}
	b.met[f.name]++
	b.live[near] = true
	b.mu.Unlock()
	defer b.end(near)
	if f.name == "refused" {
		return
	}
	far, err := net.Dial("tcp", to)
	if err != nil {
		return
	}
	b.mu.Lock()
	b.live[far] = true
	b.mu.Unlock()
	defer b.end(far)
	left := &budget{n: f.after, endless: f.after == 0}
	var both sync.WaitGroup
	for _, pair := range [][2]net.Conn{{near, far}, {far, near}} {
		both.Go(func() {
			f.carry(pair[1], pair[0], left)
			// One side that ends ends both: half a connection is of no use to anybody here.
			_ = near.Close()
			_ = far.Close()
		})
	}
	both.Wait()
}

func (b *bridge) end(c net.Conn) {
	_ = c.Close()
	b.mu.Lock()
	delete(b.live, c)
	b.mu.Unlock()
}

// budget is how many bytes a connection carries, in both directions together.
type budget struct {
	sync.Mutex
	n       int
	endless bool
}

func (b *budget) take(n int) int {
	b.Lock()
	defer b.Unlock()
	if b.endless {
		return n
	}
	n = min(n, b.n)
	b.n -= n
	return n
}

func (f fate) carry(to io.Writer, from io.Reader, left *budget) {
	buf := make([]byte, 16<<10)
	if f.small {
		buf = buf[:7]
	}
	for {
		n, err := from.Read(buf)
		time.Sleep(f.delay)
		may := left.take(n)
		if _, bad := to.Write(buf[:may]); bad != nil || err != nil {
			return
		}
		if may < n {
			if f.mute {
				// What comes is read and goes nowhere, as on a line that is up and dead.
				end := time.After(silence)
				gone := make(chan struct{})
				go func() { defer close(gone); _, _ = io.Copy(io.Discard, from) }()
				select {
				case <-end:
				case <-gone:
				}
			}
			return
		}
	}
}

// underway is hod as a process of its own.
type underway struct {
	cmd        *exec.Cmd
	text, side buffer
	ended      chan struct{}
}

// begin starts a command. Online is with a moment's try to send at its end.
func (d *device) begin(dir string, online bool, args ...string) *underway {
	d.t.Helper()
	u := &underway{cmd: exec.Command(os.Args[0], args...), ended: make(chan struct{})}
	u.cmd.Env = append(os.Environ(), asHod+"=1", "HOD_DIR="+dir)
	if !online {
		u.cmd.Env = append(u.cmd.Env, "HOD_SYNC=off")
	}
	dieWithTest(u.cmd)
	u.cmd.Stdout, u.cmd.Stderr = &u.text, &u.side
	if err := u.cmd.Start(); err != nil {
		d.t.Fatal(err)
	}
	go func() {
		defer close(u.ended)
		_ = u.cmd.Wait() // how it ended is in the state of the process
	}()
	return u
}

// outcome waits for the end; done says that it ended by itself, with its exit code.
func (u *underway) outcome() (out string, code int, done bool) {
	<-u.ended
	switch state := u.cmd.ProcessState; {
	case !state.Exited():
		return u.text.String(), -1, false
	case state.ExitCode() != 0:
		return u.text.String() + u.side.String(), state.ExitCode(), true
	}
	return u.text.String(), 0, true
}

// settle lets each device sync until the server has all that it has and it has all that the server has.
func settle(t *testing.T, devices ...*device) {
	t.Helper()
	var last string
	until(t, "every device and the server hold the same; at last "+last, func() bool {
		counts := map[int]bool{}
		for _, d := range devices {
			if _, code, _ := d.begin(d.dir, true, "sync").outcome(); code != 0 {
				return false
			}
			var s struct {
				Kept   uint64 `json:"kept_here"`
				At     uint64 `json:"at_the_server"`
				Record int    `json:"events_held"`
			}
			if err := json.Unmarshal([]byte(d.hod("status", "--json")), &s); err != nil {
				t.Fatal(err)
			}
			last = fmt.Sprintf("%s: %+v", d.name, s)
			counts[s.Record] = true
			if s.Kept != s.At {
				return false
			}
		}
		return len(counts) == 1
	})
}

// tally is what is said at the end.
type tally struct{ told, lost, doubled int }

// account looks whether all that was told is in the server's folder, each event once, whether its devices show the same
// board, and whether the record stands verification. No hodd may run there.
func account(t *testing.T, dir string, devices ...*device) (sum tally) {
	t.Helper()
	if err := run(t.Context(), []string{"verify", "--data", dir}); err != nil {
		t.Errorf("verification: %v", err)
	}
	h, err := host.Open(dir, host.Config{})
	if err != nil {
		t.Fatal(err)
	}
	defer h.Close()
	now := time.Now()
	at := map[event.Name]event.Hash{}
	written := map[string][]event.Name{}
	h.View(func(s *fold.Site) {
		for _, r := range s.Records() {
			at[r.Name] = r.Hash()
			e := r.Event
			e.Seq = 1 // the same thing, said at the same time, under another name is the same thing twice
			same, err := event.Write(e)
			if err != nil {
				t.Errorf("%s cannot be written: %v", r.Name, err)
				continue
			}
			written[string(same.Bytes())] = append(written[string(same.Bytes())], r.Name)
			if b, ok := r.Body.(event.Noted); ok { // at whatever time
				written[b.Text] = append(written[b.Text], r.Name)
			}
		}
	})
	for _, names := range written {
		if len(names) > 1 {
			sum.doubled += len(names) - 1
			t.Errorf("the same is in the record as %v", names)
		}
	}
	want := boards(t, h, now)
	for _, d := range devices {
		for seq, hash := range d.ledger().kept {
			sum.told++
			if at[event.Name{Device: d.name, Seq: seq}] != hash {
				sum.lost++
				t.Errorf("event %s/%d, which was said to be kept, is not at the server", d.name, seq)
			}
		}
		j, err := journal.Open(d.dir)
		if err != nil {
			t.Fatal(err)
		}
		v, err := j.Verify(t.Context())
		if err != nil || len(v.Faults) > 0 {
			t.Errorf("the journal of %s: %v, %q", d.name, err, v.Faults)
		}
		events, err := j.Events(t.Context())
		if err := errors.Join(err, j.Close()); err != nil {
			t.Fatal(err)
		}
		root, _ := h.Root()
		site := fold.New(h.Site(), root)
		for _, e := range events {
			site.Add(e)
		}
		if got := boardsOf(t, site, now); got != want {
			t.Errorf("%s shows\n%s\nthe server\n%s", d.name, got, want)
		}
	}
	return sum
}

func boardsOf(t *testing.T, s *fold.Site, now time.Time) string {
	t.Helper()
	day, err := daily.DayOf(s, now, time.UTC, now.UTC().Format(time.DateOnly))
	var text []byte
	if err == nil {
		text, err = json.Marshal([]any{daily.BoardOf(s, now, time.UTC), view.JointsOf(s, now, time.UTC), day})
	}
	if err != nil {
		t.Error(err)
	}
	return string(text)
}

// crew starts a site with a planned shell and devices of crews on it, and the hodd that lets them in.
func crew(t *testing.T, root string, w *way, n int, args ...string) (*served, []*device) {
	t.Helper()
	s := serving(t, filepath.Join(root, "server"), w, append([]string{"--site", "dune"}, args...)...)
	all := s.codes(t)
	foreman := deviceOf(t, all[0], "", filepath.Join(root, "foreman"), w)
	foreman.online("sync")
	foreman.work()
	foreman.online("sync")
	devices := []*device{foreman}
	for i := range n {
		devices = append(devices, deviceOf(t, all[1], "south", filepath.Join(root, fmt.Sprint("device", i)), w))
	}
	return s, devices
}

// sumOf what devices were told so far.
func sumOf(devices []*device) (kept int, at uint64) {
	for _, d := range devices {
		l := d.ledger()
		kept, at = kept+len(l.kept), at+l.at
	}
	return kept, at
}
