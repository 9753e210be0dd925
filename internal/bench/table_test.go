package bench

import (
	"bytes"
	"context"
	"flag"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"hod/client/journal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
)

var (
	runs  = flag.Int("runs", 3, "how many runs of each command are counted, after one that is not; the median is told")
	sizes = flag.String("events", "10000,100000", "how many events the sites have that are measured, parted by commas")
)

// figure is what one run took.
type figure struct {
	wall, cpu time.Duration
	peak      int64 // bytes
}

func (f figure) String() string {
	return fmt.Sprintf("%s | %s | %d MiB", ms(f.wall), ms(f.cpu), f.peak>>20)
}

func ms(d time.Duration) string { return fmt.Sprintf("%.1f ms", float64(d)/float64(time.Millisecond)) }

// BenchmarkTable prints what each answer costs on each site, as whole processes, beside what it is compared with.
func BenchmarkTable(b *testing.B) {
	p := build(b)
	for word := range strings.SplitSeq(*sizes, ",") {
		n, err := strconv.Atoi(strings.TrimSpace(word))
		if err != nil {
			b.Fatalf("-events: %v", err)
		}
		b.Run(word, func(b *testing.B) {
			m := site(b, p, n)
			t := &table{b: b, p: p, m: m}
			for range b.N {
				t.print()
			}
		})
	}
}

type table struct {
	b *testing.B
	p programs
	m *made
}

func (t *table) say(format string, args ...any) { fmt.Printf(format+"\n", args...) }

func (t *table) row(what string, f figure) { t.say("| %s | %s |", what, f) }

func (t *table) print() {
	t.say("\n%s, %s/%s, %d processors, %s; %d events, %d bytes\n", time.Now().Format(time.DateOnly), runtime.GOOS,
		runtime.GOARCH, runtime.NumCPU(), runtime.Version(), t.m.Events, t.m.Bytes)
	t.say("| what | wall | CPU | peak memory |\n|---|---|---|---|")
	t.commands()
	t.disk()
	t.decode()
	t.late()
	t.shell()
	t.served()
}

// commands of the phone, each a process of its own, over a copy of its folder: the recording ones write into it.
func (t *table) commands() {
	dir := t.copyOf(t.m.phone())
	batch := 500
	hod := func(args ...string) []string {
		return append([]string{t.p.hod, "--dir", dir, "--no-input", "--quiet"}, args...)
	}
	for _, c := range []struct {
		what string
		args func() []string
	}{
		{"`hod version` (an empty process)", func() []string { return hod("version") }},
		{"`hod status`", func() []string { return hod("status") }},
		{"`hod note`", func() []string { return hod("note", "a hose burst") }},
		{"`hod batch`", func() []string {
			batch++
			return hod("batch", "face", "--number", strconv.Itoa(batch), "--because", "measured")
		}},
		{"`hod test`", func() []string { return hod("test", strconv.Itoa(batch), "--temp", "21C") }},
		{"`hod place`", func() []string {
			return hod("place", strconv.Itoa(batch), t.m.Zone, "1/10", "--because",
				"measured")
		}},
		{"`hod cover`", func() []string { return hod("cover", t.m.Zone, "wet burlap") }},
		{"`hod board`", func() []string { return hod("board") }},
		{"`hod zone`", func() []string { return hod("zone", "show", t.m.Zone) }},
		{"`hod day`", func() []string { return hod("day") }},
		{"`hod log`", func() []string { return hod("log", "-n", "20") }},
		{"`hod forecast`", func() []string { return hod("forecast") }},
		{"`hod joints`", func() []string { return hod("joints") }},
		{"`hod flags`", func() []string { return hod("flags") }},
		{"`hod next`", func() []string { return hod("next") }},
		{"`hod verify`", func() []string { return hod("verify") }},
	} {
		t.row(c.what, t.median(c.args))
	}
}

// median of a few runs by CPU, after one that is not counted.
func (t *table) median(args func() []string) figure {
	var all []figure
	for i := range *runs + 1 {
		f, out, err := process(args(), "HOD_SYNC=off")
		if err != nil {
			t.b.Errorf("%v: %v\n%s", args(), err, out)
			return f
		}
		if i > 0 {
			all = append(all, f)
		}
	}
	slices.SortFunc(all, func(a, b figure) int { return int(a.cpu - b.cpu) })
	return all[len(all)/2]
}

func process(args []string, env ...string) (figure, string, error) {
	// What a process used at most counts its parent's memory at its birth: time, which is small, is put between.
	timer, peaks := "/usr/bin/time", filepath.Join(os.TempDir(), fmt.Sprintf("hod-bench-%d", os.Getpid()))
	if _, err := os.Stat(timer); err == nil {
		args = append([]string{timer, "-q", "-f", "%M", "-o", peaks}, args...)
		defer os.Remove(peaks)
	}
	c := exec.Command(args[0], args[1:]...)
	c.Env = append(os.Environ(), env...)
	var out bytes.Buffer
	c.Stdout, c.Stderr = &out, &out
	at := time.Now()
	err := c.Run()
	f := figure{wall: time.Since(at)}
	if s := c.ProcessState; s != nil {
		f.cpu = s.UserTime() + s.SystemTime()
		if kib, bad := os.ReadFile(peaks); bad == nil {
			n, _ := strconv.ParseInt(strings.TrimSpace(string(kib)), 10, 64)
			f.peak = n << 10
		}
	}
	return f, out.String(), err
}

func (t *table) copyOf(dir string) string {
	to := filepath.Join(t.b.TempDir(), "copy")
	if err := os.CopyFS(to, os.DirFS(dir)); err != nil {
		t.b.Fatal(err)
	}
	_ = os.Chmod(filepath.Join(to, "device.key"), 0o600)
	return to
}

// disk is what the phone's folder takes over the bytes of its events.
func (t *table) disk() {
	var total int64
	entries, _ := os.ReadDir(t.m.phone())
	for _, e := range entries {
		if info, err := e.Info(); err == nil {
			total += info.Size()
		}
	}
	t.say("| the phone's folder over encoded bytes | %.2f × |||", float64(total)/float64(t.m.Bytes))
}

// decode is the least that whoever reads all of it needs: every event's bytes decoded.
func (t *table) decode() {
	held := t.held()
	raw := make([][]byte, len(held))
	for i, e := range held {
		raw[i] = e.Bytes()
	}
	at, cpu := time.Now(), used()
	for _, r := range raw {
		if _, err := event.Read(r); err != nil {
			t.b.Fatal(err)
		}
	}
	t.say("| bare decoding of all events | %s | %s ||", ms(time.Since(at)), ms(used()-cpu))
}

func (t *table) held() []event.Event {
	j, err := journal.Open(t.m.phone())
	if err != nil {
		t.b.Fatal(err)
	}
	defer j.Close()
	held, err := j.Events(context.Background())
	if err != nil {
		t.b.Fatal(err)
	}
	return held
}

// used is this process's own CPU time.
func used() time.Duration {
	var u syscall.Rusage
	_ = syscall.Getrusage(syscall.RUSAGE_SELF, &u)
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// late is what the server pays from an event to the next board and the next joints: its fold as it stands in memory.
func (t *table) late() {
	j, err := journal.Open(t.m.phone())
	if err != nil {
		t.b.Fatal(err)
	}
	d := j.Device()
	_ = j.Close()
	held := t.held()
	before := live()
	s := fold.New(d.Site, d.Root)
	at, cpu := time.Now(), used()
	for _, e := range held {
		s.Add(e)
	}
	now := time.Now()
	_ = daily.BoardOf(s, now, time.UTC)
	t.say("| the fold from nothing to its first board | %s | %s ||", ms(time.Since(at)), ms(used()-cpu))
	t.say("| live memory of the fold over encoded bytes | %.1f × |||", float64(live()-before)/float64(t.m.Bytes))
	var seq uint64
	var middle event.BatchMixed
	var put event.Placement
	for i, e := range held {
		if e.Device == d.Name {
			seq = max(seq, e.Seq)
		}
		switch b := e.Body.(type) {
		case event.BatchMixed:
			if b.Batch.Crew == d.Crew && i < len(held)/2 {
				middle = b
			}
		case event.Placement:
			if b.Batch == middle.Batch {
				put = b
			}
		}
	}
	for _, late := range []struct {
		what string
		body event.Body
	}{
		{"an old batch's test", event.BatchTested{Batch: middle.Batch, Temperature: &unit.As[unit.Celsius]{SI: 22}}},
		{"a placement into an old coat", event.Placement{
			Batch: middle.Batch, Coat: put.Coat,
			Part: event.Part{Share: &unit.As[unit.Share]{SI: 0.01}},
		}},
		{"a reading of a probe", event.CureReadings{
			Probe: "p03", Coat: put.Coat,
			Samples: []event.Reading{{At: now.Add(-time.Hour), Temperature: 21}},
		}},
		{
			"the weather an hour ago",
			event.WeatherObserved{
				Station: "crew",
				Samples: []event.Weather{{At: now.Add(-time.Hour), Air: new(unit.Celsius(22))}},
			},
		},
		{"a note", event.Noted{Text: "a hose burst"}},
	} {
		seq++
		e, err := event.Write(event.Event{
			Name: event.Name{Device: d.Name, Seq: seq}, Crew: d.Crew,
			HappenedAt: now.Add(-time.Hour), LoggedAt: now, Typed: true, Body: late.body,
		})
		if err != nil {
			t.b.Fatal(err)
		}
		at, cpu := time.Now(), used()
		s.Add(e)
		_ = daily.BoardOf(s, now, time.UTC)
		t.say("| server: %s, then the next board | %s | %s ||", late.what, ms(time.Since(at)), ms(used()-cpu))
	}
	at, cpu = time.Now(), used()
	_ = daily.BoardOf(s, now, time.UTC)
	t.say("| server: the same board again | %s | %s ||", ms(time.Since(at)), ms(used()-cpu))
	at, cpu = time.Now(), used()
	_ = view.JointsOf(s, now, time.UTC)
	t.say("| server: its joints | %s | %s ||", ms(time.Since(at)), ms(used()-cpu))
	runtime.KeepAlive(held)
}

func live() int64 {
	runtime.GC()
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return int64(m.HeapAlloc)
}

// shell is what a general database pays to read the same bytes once.
func (t *table) shell() {
	path, err := exec.LookPath("sqlite3")
	if err != nil {
		t.say("| sqlite3's shell: not on this machine ||||")
		return
	}
	db := filepath.Join(t.copyOf(t.m.phone()), "journal.db")
	t.row("sqlite3's shell sums the length of each event", t.median(func() []string {
		return []string{path, db, "select count(*), sum(length(raw)), sum(length(chain)) from event"}
	}))
	t.row("sqlite3's shell looks up one event", t.median(func() []string {
		return []string{
			path, db,
			"select hex(raw) from event where device = (select min(device) from event) and seq = 2",
		}
	}))
}

// served is hodd from its start to its first answered board, a new phone that joins, and a sync with nothing to do.
func (t *table) served() {
	at := time.Now()
	s := t.m.serve(t.b, t.p)
	defer s.end()
	t.say("| hodd from start until it listens | %s |||", ms(time.Since(at)))
	dir := t.copyOf(t.m.phone())
	f, out, err := process([]string{t.p.hod, "board", "--server", "--dir", dir, "--quiet"}, "HOD_SYNC=off")
	if err != nil {
		t.say("| the first `hod board --server`: %s ||||", strings.TrimSpace(out))
	} else {
		t.row("the first `hod board --server`, its client", f)
		t.say("| hodd from start to its first answered board | %s |||", ms(time.Since(at)))
	}
	t.row("`hod board --server` again, its client",
		t.median(func() []string { return []string{t.p.hod, "board", "--server", "--dir", dir, "--quiet"} }))
	t.row("`hod sync` with nothing to do",
		t.median(func() []string { return []string{t.p.hod, "sync", "--dir", dir, "--quiet"} }))
	t.joins()
	if raw, err := os.ReadFile(fmt.Sprintf("/proc/%d/status", s.cmd.Process.Pid)); err == nil {
		for line := range strings.Lines(string(raw)) {
			if strings.HasPrefix(line, "VmHWM") || strings.HasPrefix(line, "VmRSS") {
				t.say("| hodd's memory: %s ||||", strings.Join(strings.Fields(line), " "))
			}
		}
	}
}

func (t *table) joins() {
	dir := filepath.Join(t.b.TempDir(), "new")
	code := strings.TrimSpace(run(t.b, exec.Command(t.p.hodd, "invite", "--data", t.m.server(), "--role", "inspector")))
	if f, out, err := process([]string{t.p.hod, "join", code, "--dir", dir, "--crew", "office"}); err == nil {
		t.row("`hod join`", f)
	} else {
		t.say("| `hod join`: %s ||||", strings.TrimSpace(out))
	}
	f, out, err := process([]string{t.p.hod, "sync", "--dir", dir})
	t.row("the first `hod sync` of a new phone: "+strings.TrimSpace(out), f)
	if err != nil {
		t.say("| … it failed ||||")
	}
	at, cpu := time.Now(), used()
	n, _ := io.Copy(io.Discard, t.archive())
	t.say("| bare reading of the archive, %d bytes | %s | %s ||", n, ms(time.Since(at)), ms(used()-cpu))
}

// archive is all bytes of the server's archive.
func (t *table) archive() io.Reader {
	var all []io.Reader
	_ = filepath.WalkDir(t.m.server(), func(path string, e os.DirEntry, err error) error {
		if err == nil && !e.IsDir() && strings.Contains(path, "archive") {
			if raw, err := os.ReadFile(path); err == nil {
				all = append(all, bytes.NewReader(raw))
			}
		}
		return nil
	})
	return io.MultiReader(all...)
}
