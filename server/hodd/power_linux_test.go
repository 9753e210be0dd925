package main

import (
	"bytes"
	"context"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"

	"hod/client/journal"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/server/host"
)

// A power cut is made here of what the kernel does: programs write to a small disk that lies in a file, and what
// reached that file is what the disk holds. What they wrote and did not flush is in the memory of the file system, and
// not there.

// lossy is a disk of its own, mounted.
type lossy struct {
	t     *testing.T
	image string
	at    string
}

// withOwnMounts runs the test again as a process of its own, whose mounts nobody else sees and which go with it,
// however it ends. It returns in that process only.
func withOwnMounts(t *testing.T) (inside bool) {
	t.Helper()
	if os.Getenv(asMounted) != "" {
		return true
	}
	if os.Getuid() != 0 {
		t.Skip("only root can mount a disk whose power can be cut")
	}
	for _, program := range []string{"mkfs.ext4", "mount", "umount", "cp"} {
		if _, err := exec.LookPath(program); err != nil {
			t.Skipf("a disk whose power can be cut needs %s, which is not here", program)
		}
	}
	args := []string{
		"-test.run", "^" + t.Name() + "$", "-test.v", "-test.timeout", "0", "-rounds",
		strconv.Itoa(*rounds),
	}
	if testing.Short() {
		args = append(args, "-test.short")
	}
	cmd := exec.Command(os.Args[0], args...)
	cmd.Env = append(os.Environ(), asMounted+"=1", "TMPDIR="+t.TempDir())
	cmd.SysProcAttr = &syscall.SysProcAttr{Unshareflags: syscall.CLONE_NEWNS, Pdeathsig: syscall.SIGKILL}
	out, err := cmd.CombinedOutput()
	text := strings.TrimSpace(string(out))
	switch {
	case err != nil && len(out) == 0:
		t.Skipf("no mounts of its own can be made here: %v", err)
	case err != nil:
		t.Errorf("%v:\n%s", err, text)
	case strings.Contains(text, "--- SKIP"):
		t.Skip(text)
	default:
		t.Log(text)
	}
	return false
}

func newLossy(t *testing.T, megabytes int64) *lossy {
	t.Helper()
	d := &lossy{t: t, image: filepath.Join(t.TempDir(), "disk")}
	f, err := os.Create(d.image)
	if err != nil {
		t.Fatal(err)
	}
	if err := f.Truncate(megabytes << 20); err != nil {
		t.Fatal(err)
	}
	if err := f.Close(); err != nil {
		t.Fatal(err)
	}
	if out, err := exec.Command("mkfs.ext4", "-q", "-F", d.image).CombinedOutput(); err != nil {
		t.Skipf("no file system can be made here: %v: %s", err, out)
	}
	d.at = mounted(t, d.image)
	return d
}

// mounted puts the disk in the image on a folder, until the test ends.
func mounted(t *testing.T, image string) string {
	t.Helper()
	dir := t.TempDir()
	// Nothing is written but by a flush: not every five seconds, which is usual, and not what one program wrote because
	// another flushed. The device of the image goes with its mount.
	out, err := exec.Command("mount", "-t", "ext4", "-o", "loop,noatime,commit=600,data=writeback", image,
		dir).CombinedOutput()
	if err != nil {
		t.Skipf("the disk cannot be mounted here: %v: %s", err, out)
	}
	t.Cleanup(func() { unmount(t, dir) })
	return dir
}

func unmount(t *testing.T, dir string) {
	t.Helper()
	if out, err := exec.Command("umount", dir).CombinedOutput(); err != nil {
		t.Errorf("umount: %v: %s", err, out)
		_ = exec.Command("umount", "-l", dir).Run()
	}
}

// halted stands still: no program that writes runs, and what the kernel did for them is done.
func halted(t *testing.T, processes ...*os.Process) (resume func()) {
	t.Helper()
	for _, p := range processes {
		if err := p.Signal(syscall.SIGSTOP); err != nil {
			t.Fatal(err)
		}
	}
	for _, p := range processes {
		until(t, "every thread stands", func() bool {
			tasks, err := filepath.Glob(fmt.Sprintf("/proc/%d/task/*/stat", p.Pid))
			if err != nil || len(tasks) == 0 {
				t.Fatalf("process %d is gone", p.Pid)
			}
			for _, task := range tasks {
				text, err := os.ReadFile(task)
				if err != nil {
					return false
				}
				_, state, _ := strings.Cut(string(text[bytes.LastIndexByte(text, ')'):]), " ")
				if !strings.HasPrefix(state, "T") {
					return false
				}
			}
			return true
		})
	}
	return func() {
		for _, p := range processes {
			_ = p.Signal(syscall.SIGCONT)
		}
	}
}

// afterPowerCut is the disk as it comes back: what reached it until now, mounted anew.
func (d *lossy) afterPowerCut(t *testing.T) string {
	t.Helper()
	image := filepath.Join(t.TempDir(), "disk")
	if out, err := exec.Command("cp", "--sparse=always", d.image, image).CombinedOutput(); err != nil {
		t.Fatalf("%v: %s", err, out)
	}
	return mounted(t, image)
}

// The power of a whole site goes while devices write and send: the journals, the archive and the stream lie on the disk
// that forgets what was not flushed. What was said to be kept is in the journal, what the stream acknowledged is in the
// stream, what the server said it has is in its archive.
func TestPowerCutOfAWholeSite(t *testing.T) {
	if !withOwnMounts(t) {
		return
	}
	n := roundsOr(5, 2)
	random := rand.New(rand.NewPCG(1, 43))
	disk, w := newLossy(t, 192), newWay(t)
	s, devices := crew(t, disk.at, w, 2)
	hands := devices[1:]
	for _, d := range hands {
		d.start()
	}
	var kept, stored, archived int
	for round := range n {
		_, at := sumOf(devices)
		more := uint64(1 + random.IntN(20))
		until(t, "the server says that it has more", func() bool { _, now := sumOf(devices); return now >= at+more })
		time.Sleep(time.Duration(random.IntN(15)) * time.Millisecond) // at no particular moment
		var said []told
		resume := halted(t, s.cmd.Process, hands[0].hand.Process, hands[1].hand.Process)
		for _, d := range hands { // said before the power goes; the lines may still be on their way, which is safe
			said = append(said, d.ledger())
		}
		t.Run(fmt.Sprint("cut ", round), func(t *testing.T) {
			left := disk.afterPowerCut(t)
			resume()
			held := streamOf(t, filepath.Join(left, "server", streamDir, "jetstream"))
			h, err := host.Open(filepath.Join(left, "server"), host.Config{})
			if err != nil {
				t.Fatalf("the archive: %v", err)
			}
			defer h.Close()
			reached := map[event.Device]uint64{}
			for _, head := range h.Heads() {
				reached[head.Device] = head.Seq
			}
			for i, d := range hands {
				j, err := journal.Open(filepath.Join(left, filepath.Base(d.dir)))
				if err != nil {
					t.Fatalf("the journal of %s: %v", d.name, err)
				}
				defer j.Close()
				if v, err := j.Verify(t.Context()); err != nil || len(v.Faults) > 0 {
					t.Errorf("the journal of %s: %v, %q", d.name, err, v.Faults)
				}
				own := map[uint64]event.Hash{}
				events, err := j.Events(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				for _, e := range events {
					if e.Device == d.name {
						own[e.Seq] = e.Hash()
					}
				}
				for seq, hash := range said[i].kept {
					kept++
					if own[seq] != hash {
						t.Errorf("event %s/%d was said to be kept and is not in the journal", d.name, seq)
					}
				}
				for seq := range said[i].stored {
					stored++
					if !held[event.Name{Device: d.name, Seq: seq}] {
						t.Errorf("event %s/%d was acknowledged by the stream and is not in it", d.name, seq)
					}
				}
				archived += int(said[i].at)
				if reached[d.name] < said[i].at {
					t.Errorf("the server had said that it has %d events of %s; its archive has %d", said[i].at, d.name,
						reached[d.name])
				}
				h.View(func(f *fold.Site) {
					for _, r := range f.Records() {
						if r.Device == d.name && own[r.Seq] != (event.Hash{}) && own[r.Seq] != r.Hash() {
							t.Errorf("archive and journal hold two events %s", r.Name)
						}
					}
				})
			}
		})
	}
	for _, d := range hands {
		d.kill()
	}
	settle(t, devices...)
	settle(t, devices...)
	s.killed()
	sum := account(t, s.dir, devices...)
	t.Logf(
		"%d power cuts: told to be kept %d, acknowledged by the stream %d, told to be in the archive %d (each counted at each cut); at the end %d events, %d lost, %d doubled",
		n, kept, stored, archived, sum.told, sum.lost, sum.doubled)
	if kept == 0 || stored == 0 || archived == 0 {
		t.Error("the test does not hit")
	}
}

// streamOf is which events lie in the stream, by the server's own reading of its files.
func streamOf(t *testing.T, store string) map[event.Name]bool {
	t.Helper()
	held := map[event.Name]bool{}
	for _, data := range messagesIn(t, store, true) {
		s, err := chain.ReadSegment(data)
		if err != nil {
			t.Errorf("a message of the stream: %v", err)
			continue
		}
		for _, e := range s.Events {
			held[e.Name] = true
		}
	}
	return held
}

// openStore starts a server without a port over the files of streams; account says whose they are.
func openStore(t *testing.T, store string) jetstream.JetStream {
	t.Helper()
	js, stop, err := startStore(store, true)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(stop)
	return js
}

// startStore is openStore without a test.
func startStore(store string, always bool) (jetstream.JetStream, func(), error) {
	account := server.NewAccount("SITE")
	s, err := server.NewServer(&server.Options{
		DontListen: true, JetStream: true, StoreDir: strings.TrimSuffix(store, "/jetstream"), SyncAlways: always,
		NoSigs: true, NoLog: true,
		Accounts: []*server.Account{account},
		Users:    []*server.User{{Username: "host", Password: "here", Account: account}},
	})
	if err != nil {
		return nil, nil, err
	}
	s.Start()
	stop := func() { s.Shutdown(); s.WaitForShutdown() }
	if !s.ReadyForConnections(time.Minute) {
		stop()
		return nil, nil, fmt.Errorf("the stream's server does not start")
	}
	if account, err = s.LookupAccount("SITE"); err == nil {
		err = account.EnableJetStream(nil, nil)
	}
	var nc *nats.Conn
	if err == nil {
		nc, err = nats.Connect("", nats.InProcessServer(s), nats.UserInfo("host", "here"))
	}
	if err != nil {
		stop()
		return nil, nil, err
	}
	js, err := jetstream.New(nc)
	if err != nil {
		nc.Close()
		stop()
		return nil, nil, err
	}
	return js, func() { nc.Close(); stop() }, nil
}

// messagesIn a stream, as far as they can be read. One that is not there has none, which is a fault where it must be.
func messagesIn(t *testing.T, store string, must bool) (all [][]byte) {
	t.Helper()
	s, err := openStore(t, store).Stream(t.Context(), "HOD_dune")
	if err != nil {
		if must {
			t.Errorf("the stream: %v", err)
		}
		return nil
	}
	state := s.CachedInfo().State
	for seq := state.FirstSeq; seq <= state.LastSeq && state.Msgs > 0; seq++ {
		if m, err := s.GetMsg(t.Context(), seq); err == nil {
			all = append(all, m.Data)
		}
	}
	return all
}

// asStream makes the test's program a stream that is written to; the value says whether it flushes, and where it lies.
const (
	asStream  = "HODD_TEST_AS_STREAM"
	asMounted = "HODD_TEST_AS_MOUNTED"
)

func init() {
	if what := os.Getenv(asStream); what != "" {
		if err := stream(what); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
}

// stream publishes without end, and prints the number of each message that was acknowledged.
func stream(what string) error {
	always, dir, _ := strings.Cut(what, " ")
	js, _, err := startStore(dir, always == "always")
	if err != nil {
		return err
	}
	ctx := context.Background()
	if _, err := js.CreateStream(ctx, jetstream.StreamConfig{
		Name: "HOD_dune", Subjects: []string{"log"},
		Storage: jetstream.FileStorage,
	}); err != nil {
		return err
	}
	for i := 0; ; i++ {
		if _, err := js.Publish(ctx, "log", fmt.Appendf(nil, "%d %s", i, strings.Repeat("x", 200))); err != nil {
			return err
		}
		fmt.Println(i)
		if always != "always" {
			time.Sleep(time.Millisecond) // it would fill the disk
		}
	}
}

// A stream that flushes loses nothing to a power cut; the same one without flushing does, which is how this test knows
// that its disk forgets.
func TestPowerCutOfTheStreamIsNoticedWhereNothingIsFlushed(t *testing.T) {
	if !withOwnMounts(t) {
		return
	}
	for _, always := range []string{"always", "never"} {
		disk := newLossy(t, 96)
		cmd := exec.Command(os.Args[0])
		cmd.Env = append(os.Environ(), asStream+"="+always+" "+disk.at)
		dieWithTest(cmd)
		acked, side := &lines{}, &buffer{}
		cmd.Stdout, cmd.Stderr = acked, side
		if err := cmd.Start(); err != nil {
			t.Fatal(err)
		}
		n := min(roundsOr(2, 1), 20)
		told, lost := 0, 0
		for cut := range n {
			before := acked.count()
			until(t, "more is acknowledged", func() bool {
				if text := side.String(); text != "" {
					t.Fatal(text)
				}
				return acked.count() >= before+50
			})
			resume := halted(t, cmd.Process)
			said := acked.count()
			t.Run(fmt.Sprint(always, " flushed, cut ", cut), func(t *testing.T) {
				left := disk.afterPowerCut(t)
				resume()
				held := map[string]bool{}
				if _, err := os.Stat(filepath.Join(left, "jetstream")); err == nil || always == "always" {
					for _, data := range messagesIn(t, left, always == "always") {
						number, _, _ := strings.Cut(string(data), " ")
						held[number] = true
					}
				}
				for i := range said {
					told++
					if !held[strconv.Itoa(i)] {
						lost++
					}
				}
			})
		}
		_ = cmd.Process.Kill()
		_ = cmd.Wait()
		t.Logf("flushed %s: %d power cuts, %d messages acknowledged (counted at each cut), %d lost", always, n, told,
			lost)
		if always == "always" && lost > 0 {
			t.Errorf("%d of %d acknowledged messages are lost though each was flushed", lost, told)
		}
		if always == "never" && lost == 0 {
			t.Errorf("none of %d messages is lost though none was flushed; the test does not bite", told)
		}
	}
}

// lines counts whole lines.
type lines struct {
	mu sync.Mutex
	n  int
}

func (l *lines) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	l.n += bytes.Count(p, []byte("\n"))
	return len(p), nil
}

func (l *lines) count() int {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.n
}
