package bench

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/client/journal"
	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/sim/simtest"
)

// made is a site in the cache folder: its server's data, and the record of a phone that holds all of it.
type made struct {
	dir    string
	GRPC   string `json:"grpc"`
	Bus    string `json:"bus"`
	Events int    `json:"events"`
	Bytes  int64  `json:"bytes"`
	Zone   string `json:"zone"` // in which the phone's crew placed last
}

// phone is the folder of the device that is measured: that of crew c0, with all that the site wrote.
func (m *made) phone() string { return filepath.Join(m.dir, crew(0)) }

func (m *made) server() string { return filepath.Join(m.dir, "server") }

func crew(i int) string { return fmt.Sprintf("c%d", i) }

// form of a made site: one of another form is made anew.
const form = 2

// programs are hod and hodd as this tree has them.
type programs struct{ hod, hodd string }

func build(tb testing.TB) programs {
	tb.Helper()
	dir := tb.TempDir()
	run(tb, exec.Command("go", "build", "-o", dir+string(filepath.Separator), "hod/client/hod", "hod/server/hodd"))
	return programs{filepath.Join(dir, "hod"), filepath.Join(dir, "hodd")}
}

func run(tb testing.TB, c *exec.Cmd) string {
	tb.Helper()
	var out, side bytes.Buffer
	c.Stdout, c.Stderr = &out, &side
	if err := c.Run(); err != nil {
		tb.Fatalf("%s: %v\n%s%s", strings.Join(c.Args, " "), err, out.String(), side.String())
	}
	return out.String()
}

// site of so many events, made today. The cache is the user's own, or what HOD_BENCH names.
func site(tb testing.TB, p programs, events int) *made {
	tb.Helper()
	top := os.Getenv("HOD_BENCH")
	if top == "" {
		cache, err := os.UserCacheDir()
		if err != nil {
			tb.Skipf("there is no folder to keep an invented site in: %v; name one in HOD_BENCH", err)
		}
		top = filepath.Join(cache, "hod-bench")
	}
	now := time.Now().UTC()
	m := &made{dir: filepath.Join(top, fmt.Sprintf("%d-%s-%d", events, now.Format(time.DateOnly), form))}
	if raw, err := os.ReadFile(filepath.Join(m.dir, "site.json")); err == nil && json.Unmarshal(raw, m) == nil {
		return m
	}
	if err := os.RemoveAll(m.dir); err != nil && !errors.Is(err, fs.ErrNotExist) {
		tb.Fatal(err)
	}
	m.make(tb, p, events, now)
	raw, err := json.Marshal(m)
	if err != nil {
		tb.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(m.dir, "site.json"), raw, 0o600); err != nil {
		tb.Fatal(err)
	}
	return m
}

// make the site: hodd serves, each device joins and writes into its journal, publishes on the bus, and the phone
// fetches.
func (m *made) make(tb testing.TB, p programs, events int, now time.Time) {
	tb.Helper()
	drafts, err := simtest.Season(events, now)
	if err != nil {
		tb.Fatal(err)
	}
	m.GRPC, m.Bus = free(tb), free(tb)
	serving := m.serve(tb, p)
	defer serving.end()
	journals := map[string]*journal.Journal{}
	for i := range simtest.SeasonCrews + 2 {
		name, role := "office", "foreman"
		switch {
		case i < simtest.SeasonCrews:
			name, role = crew(i), "crew"
		case i == simtest.SeasonCrews:
			name, role = "probe", "probe"
		}
		args := []string{"invite", "--data", m.server(), "--role", role}
		if role == "crew" {
			args = append(args, "--crew", name)
		}
		join := []string{
			"join", strings.TrimSpace(run(tb, exec.Command(p.hodd, args...))), "--dir",
			filepath.Join(m.dir, name),
		}
		if name == "office" {
			join = append(join, "--crew", name)
		}
		run(tb, exec.Command(p.hod, join...))
		j, err := journal.Open(filepath.Join(m.dir, name))
		if err != nil {
			tb.Fatal(err)
		}
		defer j.Close()
		journals[name] = j
	}
	m.write(tb, journals, drafts)
	for _, j := range journals {
		publish(tb, j)
	}
	c := exec.Command(p.hod, "sync", "--dir", m.phone())
	run(tb, c)
	held, err := journals[crew(0)].Events(context.Background())
	if err != nil {
		tb.Fatal(err)
	}
	m.Events = len(held)
	for _, e := range held {
		m.Bytes += int64(len(e.Bytes()))
	}
}

// write the drafts into the journals of their devices, those that one device writes at one time together.
func (m *made) write(tb testing.TB, journals map[string]*journal.Journal, drafts []simtest.Draft) {
	tb.Helper()
	hashes := map[int]event.Hash{}
	waiting := map[string][]simtest.Draft{}
	flush := func(on string) {
		var at time.Time
		var bodies []event.Event
		for _, d := range waiting[on] {
			at = d.LoggedAt
			bodies = append(bodies, event.Event{HappenedAt: d.At, Typed: d.Typed, Body: d.Written(hashes)})
			if b, is := bodies[len(bodies)-1].Body.(event.Placement); is && on == crew(0) {
				m.Zone = string(b.Coat.Zone)
			}
		}
		written, err := journals[on].Append(tb.Context(), at, bodies...)
		if err != nil {
			tb.Fatal(err)
		}
		for i, e := range written {
			hashes[waiting[on][i].ID] = e.Hash()
		}
		waiting[on] = nil
	}
	for _, d := range drafts {
		if w := waiting[d.On]; len(w) > 0 &&
			(len(w) == 210 || d.Fixes() || d.LoggedAt.Sub(w[0].LoggedAt) > 2*time.Hour) {
			flush(d.On)
		}
		waiting[d.On] = append(waiting[d.On], d)
	}
	for on := range waiting {
		if len(waiting[on]) > 0 {
			flush(on)
		}
	}
}

// publish all of a device's own record, as a contact does.
func publish(tb testing.TB, j *journal.Journal) {
	tb.Helper()
	d := j.Device()
	line, err := bus.Dial(tb.Context(), bus.Access{Address: d.Bus, Site: d.Site, Device: d.Name, Key: d.Key, CA: d.CA})
	if err != nil {
		tb.Fatal(err)
	}
	defer line.Close()
	for after := (chain.Head{}); ; {
		segs, err := j.Offer(tb.Context(), d.Name, after)
		if err != nil {
			tb.Fatal(err)
		}
		for _, s := range segs {
			if err := line.Publish(tb.Context(), s.Bytes()); err != nil {
				tb.Fatal(err)
			}
			after = s.After
		}
		if len(segs) == 0 {
			return
		}
	}
}

// server is a hodd that runs.
type server struct {
	cmd  *exec.Cmd
	tb   testing.TB
	side bytes.Buffer
}

// serve starts hodd over the site's data.
func (m *made) serve(tb testing.TB, p programs) *server {
	tb.Helper()
	_, grpc, _ := net.SplitHostPort(m.GRPC)
	_, on, _ := net.SplitHostPort(m.Bus)
	s := &server{tb: tb, cmd: exec.Command(p.hodd, "serve", "--data", m.server(), "--site", "bench", "--grpc-port",
		grpc, "--bus-port", on,
		"--pages-port", "0", "--log", "error")}
	s.cmd.Stderr = &s.side
	if err := os.MkdirAll(m.dir, 0o700); err != nil {
		tb.Fatal(err)
	}
	if err := s.cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	for range 600 {
		if c, err := net.Dial("tcp", m.GRPC); err == nil {
			_ = c.Close()
			return s
		}
		time.Sleep(50 * time.Millisecond)
	}
	s.end()
	tb.Fatalf("hodd does not serve: %s", s.side.String())
	return nil
}

func (s *server) end() {
	_ = s.cmd.Process.Signal(os.Interrupt)
	_ = s.cmd.Wait()
}

// free is an address on this machine that nobody listens on now.
func free(tb testing.TB) string {
	tb.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		tb.Fatal(err)
	}
	defer ln.Close()
	return ln.Addr().String()
}
