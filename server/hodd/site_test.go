package main

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/rs/zerolog"
	"go.uber.org/goleak"
	"google.golang.org/grpc/codes"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"

	"hod/client/journal"
	"hod/client/remote"
	"hod/internal/auth"
	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/wire"
	hodv1 "hod/proto/hod/v1"
	"hod/server/admin"
	"hod/server/enrol"
)

// asMain makes the test's own program stand in for hodd.
const asMain = "HODD_TEST_AS_MAIN"

func TestMain(m *testing.M) {
	if standIn() {
		return
	}
	// Now and then the broker leaves the store of a stream open that it opens while it shuts down, which nothing
	// outside of it can close. A broker that was not shut down at all would be seen by its other goroutines.
	const nats = "github.com/nats-io/nats-server/v2/server"
	goleak.VerifyTestMain(m, goleak.IgnoreTopFunction(nats+".(*fileStore).flushStreamStateLoop"),
		goleak.IgnoreTopFunction(nats+"/ats.Register.func1"))
}

func here(dir string) settings {
	return settings{data: dir, site: "dune", listen: "127.0.0.1", log: zerolog.Nop()}
}

func started(t *testing.T, s settings) *site {
	t.Helper()
	w, err := startSite(t.Context(), s)
	if err != nil {
		t.Fatalf("start: %v", err)
	}
	t.Cleanup(func() {
		if err := w.stop(); err != nil {
			t.Errorf("stop: %v", err)
		}
	})
	return w
}

func until(t *testing.T, what string, holds func() bool) {
	t.Helper()
	for end := time.Now().Add(3 * time.Minute); !holds(); time.Sleep(10 * time.Millisecond) {
		if time.Now().After(end) {
			t.Fatalf("never came true: %s", what)
		}
	}
}

// joined lets a device in as people do: by the code, over TLS, knowing the server by the code's fingerprint.
func joined(t *testing.T, w *site, i enrol.Invitation) journal.Device {
	t.Helper()
	code, err := w.code(i)
	if err != nil {
		t.Fatal(err)
	}
	return joinedBy(t, code)
}

func joinedBy(t *testing.T, code auth.Code) journal.Device {
	t.Helper()
	_, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	d, err := remote.Join(t.Context(), code, remote.Newcomer{Key: key, Label: "a tablet"})
	if err != nil {
		t.Fatalf("join: %v", err)
	}
	return d
}

// record is what a device wrote, in memory.
type record struct {
	journal.Device
	head   chain.Head
	events []event.Event
}

func recordOf(d journal.Device) *record {
	return &record{Device: d, head: chain.Head{Device: d.Name, Chain: chain.Root(d.Site, d.Name)}}
}

// segment of bodies, written one after the other.
func (r *record) segment(t *testing.T, bodies ...event.Body) chain.Segment {
	t.Helper()
	at := time.Date(2026, 7, 18, 9, 0, 0, 0, time.UTC)
	var run []event.Event
	for i, b := range bodies {
		e, err := event.Write(event.Event{
			Name: event.Name{Device: r.Name, Seq: r.head.Seq + uint64(i) + 1}, Crew: r.Crew,
			HappenedAt: at.Add(time.Duration(i) * time.Minute), LoggedAt: at, Typed: true, Body: b,
		})
		if err != nil {
			t.Fatal(err)
		}
		run = append(run, e)
	}
	s, err := chain.Sign(r.Key, r.Site, r.head, run)
	if err != nil {
		t.Fatal(err)
	}
	r.head, r.events = s.After, append(r.events, run...)
	return s
}

func (r *record) access() bus.Access {
	return bus.Access{Address: r.Bus, Site: r.Site, Device: r.Name, Key: r.Key, CA: r.CA}
}

func (r *record) publish(t *testing.T, s chain.Segment) {
	t.Helper()
	l, err := bus.Dial(t.Context(), r.access())
	if err != nil {
		t.Fatalf("dial the bus as %s: %v", r.Name, err)
	}
	defer l.Close()
	if err := l.Publish(t.Context(), s.Bytes()); err != nil {
		t.Fatalf("publish: %v", err)
	}
}

func (r *record) queries(t *testing.T) hodv1.QueryServiceClient {
	t.Helper()
	conn, err := remote.Dial(r.Device, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = conn.Close() })
	return hodv1.NewQueryServiceClient(conn)
}

func plan() []event.Body {
	return []event.Body{
		event.SitePlanned{Name: "Dune vault", Place: "Larkfell", Units: event.Metric, TimeZone: "Europe/Lisbon"},
		event.ZonePlanned{Zone: "A1", Area: unit.Computed(unit.Area(12))},
		event.ZonePlanned{Zone: "A2", Area: unit.Computed(unit.Area(9))},
		event.Noted{Text: "first day", Zone: "A1"},
	}
}

// An event goes from a device over the bus into the record and comes back as an answer; a restart keeps all of it.
func TestTheWholePathAndARestart(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	foreman := recordOf(joined(t, w, firstForeman))
	if foreman.Name != "f1" || foreman.Role != event.Foreman || foreman.Site != "dune" || foreman.Bus != w.bus {
		t.Fatalf("joined as %+v", foreman.Device)
	}
	foreman.publish(t, foreman.segment(t, plan()...))
	until(t, "the plan is in the record", func() bool { return len(w.host.Heads()) == 2 })

	q := foreman.queries(t)
	reply, err := q.Log(t.Context(), &hodv1.LogRequest{Zone: "A1"})
	if err != nil {
		t.Fatal(err)
	}
	var log view.Log
	if err := wire.From(reply.GetLog(), &log); err != nil {
		t.Fatal(err)
	}
	if len(log.Entries) != 2 || log.Entries[1].Text != "first day" || log.Entries[1].Name != "f1/4" ||
		log.Site != "Dune vault" {
		t.Errorf("the log of A1 is %+v", log)
	}
	zone, err := q.Zone(t.Context(), &hodv1.ZoneRequest{Zone: "A2"})
	if err != nil || zone.GetZone().GetAreaM2() != 9 {
		t.Errorf("zone A2: %v, %v", zone, err)
	}
	board, err := q.Board(t.Context(), &hodv1.BoardRequest{})
	if err != nil || board.GetBoard().GetUnits() != "metric" {
		t.Errorf("board: %v, %v", board, err)
	}

	// The device asks for the heads over the bus and sees that all it has is there.
	l, err := bus.Dial(t.Context(), foreman.access())
	if err != nil {
		t.Fatal(err)
	}
	heads, err := l.Heads(t.Context())
	if err != nil || len(heads.Heads) != 2 || heads.Heads[0] != foreman.head {
		t.Errorf("heads over the bus: %+v, %v; want that of f1 to be %+v", heads, err, foreman.head)
	}
	l.Close()
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}

	again := started(t, here(dir))
	if got := again.host.Heads(); len(got) != 2 || got[0] != foreman.head {
		t.Errorf("after a restart the heads are %+v", got)
	}
	if string(again.authority.PEM()) != string(w.authority.PEM()) {
		t.Error("the authority changed: every device would have to join anew")
	}
	foreman.Server, foreman.Bus = again.address, again.bus
	foreman.publish(t, foreman.segment(t, event.Noted{Text: "second day"}))
	until(t, "the note is in the record", func() bool { return again.host.Heads()[0] == foreman.head })
}

// A stream whose disk is lost while the server is down is made anew and given back what it held, so that devices can
// read it.
func TestAStreamThatWasDeletedIsFilledFromTheArchive(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	foreman := recordOf(joined(t, w, firstForeman))
	foreman.publish(t, foreman.segment(t, plan()...))
	until(t, "the plan is in the record", func() bool { return len(w.host.Heads()) == 2 })
	if err := w.stop(); err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(filepath.Join(dir, streamDir)); err != nil {
		t.Fatal(err)
	}
	again := started(t, here(dir))
	foreman.Bus = again.bus
	l, err := bus.Dial(t.Context(), foreman.access())
	if err != nil {
		t.Fatal(err)
	}
	defer l.Close()
	until(t, "the stream holds the enrolment and the plan", func() bool {
		held := map[chain.Head]bool{}
		messages, err := l.Read(t.Context(), 1, 100)
		if err != nil {
			return false
		}
		for _, m := range messages {
			s, err := chain.ReadSegment(m.Data)
			if err != nil {
				t.Fatal(err)
			}
			held[s.After] = true
		}
		return held[foreman.head] && len(held) == 2
	})
}

func TestWhoMayAsk(t *testing.T) {
	w := started(t, here(t.TempDir()))
	crew := joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1})
	inspector := joined(t, w, enrol.Invitation{Role: event.Inspector, For: time.Hour, Uses: 1})
	probe := joined(t, w, enrol.Invitation{Role: event.Probe, For: time.Hour, Uses: 1})
	otherKey := crew
	_, otherKey.Key, _ = ed25519.GenerateKey(nil)
	otherSite := crew
	otherSite.Site = "reef"
	otherName := crew
	otherName.Name = inspector.Name
	unknown := crew
	unknown.Name = "n9"
	for _, c := range []struct {
		name string
		d    journal.Device
		want codes.Code
	}{
		{"a crew's device", crew, codes.OK},
		{"an inspector's", inspector, codes.OK},
		{"a probe", probe, codes.PermissionDenied},
		{"a device with another key", otherKey, codes.Unauthenticated},
		{"a device that takes the site for another", otherSite, codes.Unauthenticated},
		{"a device under another's name", otherName, codes.Unauthenticated},
		{"a device that nobody enrolled", unknown, codes.Unauthenticated},
	} {
		_, err := recordOf(c.d).queries(t).Stock(t.Context(), &hodv1.StockRequest{})
		if status.Code(err) != c.want {
			t.Errorf("%s: got %v, want %v", c.name, err, c.want)
		}
	}
	// What a probe gives goes the way of all events; the fold keeps it to readings.
	gives := recordOf(probe)
	gives.publish(t, gives.segment(t, event.Noted{Text: "not a reading"}))
	until(t, "what the probe wrote is at the server", func() bool { return len(reached(w, probe.Name)) == 1 })
	w.host.View(func(s *fold.Site) {
		if r, ok := s.Record(event.Name{Device: probe.Name, Seq: 1}); !ok || r.Aside == nil ||
			r.Aside.Code != fold.NoRight {
			t.Errorf("a note by a probe: %+v", r)
		}
	})
	if err := w.host.Revoke(crew.Name, "lost"); err != nil {
		t.Fatal(err)
	}
	if _, err := recordOf(crew).queries(t).Stock(t.Context(), &hodv1.StockRequest{}); status.Code(
		err) != codes.PermissionDenied {
		t.Errorf("a revoked device: got %v", err)
	}
	var refused *bus.Error
	if _, err := bus.Dial(t.Context(), recordOf(crew).access()); !errors.As(err, &refused) ||
		refused.Kind != bus.Refused {
		t.Errorf("a revoked device dials the bus: got %v", err)
	}
}

func TestHealthIsOpenAndSaysServing(t *testing.T) {
	w := started(t, here(t.TempDir()))
	d := joined(t, w, firstForeman)
	conn, err := remote.Dial(d, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close()
	until(t, "the server is healthy", func() bool {
		r, err := healthv1.NewHealthClient(conn).Check(t.Context(),
			&healthv1.HealthCheckRequest{Service: "hod.v1.QueryService"})
		return err == nil && r.GetStatus() == healthv1.HealthCheckResponse_SERVING
	})
}

func TestWatchTellsWhatChangedAndEndsWithTheServer(t *testing.T) {
	w := started(t, here(t.TempDir()))
	foreman := recordOf(joined(t, w, firstForeman))
	q := foreman.queries(t)
	stream, err := q.Watch(t.Context(), &hodv1.WatchRequest{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := stream.Header(); err != nil {
		t.Fatal(err)
	}
	foreman.publish(t, foreman.segment(t, plan()...))
	var told []string
	for len(told) < 4 {
		r, err := stream.Recv()
		if err != nil {
			t.Fatal(err)
		}
		told = append(told, fmt.Sprint(r.GetName(), " ", r.GetKind(), " ", r.GetZones()))
	}
	want := "f1/1 site [], f1/2 zone [A1], f1/3 zone [A2], f1/4 note [A1]"
	if got := strings.Join(told, ", "); got != want {
		t.Errorf("told %s\nwant %s", got, want)
	}
	since, err := q.Watch(t.Context(), &hodv1.WatchRequest{Since: "f1/3"})
	if err != nil {
		t.Fatal(err)
	}
	if r, err := since.Recv(); err != nil || r.GetName() != "f1/4" || r.GetText() != "first day" {
		t.Errorf("since f1/3: %v, %v", r, err)
	}
	lost, err := q.Watch(t.Context(), &hodv1.WatchRequest{Since: "z9/7"})
	if err != nil {
		t.Fatal(err)
	}
	if r, err := lost.Recv(); err != nil || r.GetKind() != "missed" {
		t.Errorf("since an event that the server does not hold: %v, %v", r, err)
	}
	go w.api.Stop()
	if _, err := stream.Recv(); status.Code(err) != codes.Unavailable {
		t.Errorf("when the server stops: got %v, want Unavailable", err)
	}
}

func TestBadQuestionsAreAnsweredInWords(t *testing.T) {
	w := started(t, here(t.TempDir()))
	foreman := recordOf(joined(t, w, firstForeman))
	foreman.publish(t, foreman.segment(t, plan()...))
	until(t, "the plan is in the record", func() bool { return len(w.host.Heads()) == 2 })
	q, ctx := foreman.queries(t), t.Context()
	for name, c := range map[string]struct {
		err  error
		code codes.Code
		says string
	}{
		"an unknown zone": {second(q.Zone(ctx, &hodv1.ZoneRequest{Zone: "Z9"})), codes.NotFound, "A1, A2"},
		"no date": {
			second(q.Day(ctx, &hodv1.DayRequest{Date: "yesterday"})), codes.InvalidArgument,
			"2026-07-18",
		},
		"no weather yet":     {second(q.Weather(ctx, &hodv1.WeatherRequest{})), codes.NotFound, "hod weather"},
		"too many entries":   {second(q.Log(ctx, &hodv1.LogRequest{Most: 1 << 30})), codes.InvalidArgument, "2000"},
		"no name of a watch": {watched(ctx, q, "n2"), codes.InvalidArgument, "n2/147"},
	} {
		if status.Code(c.err) != c.code || !strings.Contains(fmt.Sprint(c.err), c.says) {
			t.Errorf("%s: got %v, want %v and %q", name, c.err, c.code, c.says)
		}
	}
}

func second[T any](_ T, err error) error { return err }

func watched(ctx context.Context, q hodv1.QueryServiceClient, since string) error {
	s, err := q.Watch(ctx, &hodv1.WatchRequest{Since: since})
	if err != nil {
		return err
	}
	_, err = s.Recv()
	return err
}

func TestACodeOfAnotherSiteIsNoticedBeforeAnythingIsSent(t *testing.T) {
	w := started(t, here(t.TempDir()))
	code, err := w.code(firstForeman)
	if err != nil {
		t.Fatal(err)
	}
	code.Fingerprint[3] ^= 1
	_, key, _ := ed25519.GenerateKey(nil)
	if _, err := remote.Join(t.Context(), code, remote.Newcomer{Key: key}); !errors.Is(err, remote.ErrImpostor) {
		t.Errorf("got %v", err)
	}
	code.Fingerprint[3] ^= 1
	code.Secret[0] ^= 1
	if _, err := remote.Join(t.Context(), code, remote.Newcomer{Key: key}); status.Code(err) != codes.PermissionDenied {
		t.Errorf("a wrong secret: got %v", err)
	}
}

// ran is hodd as a process of its own.
type ran struct {
	cmd    *exec.Cmd
	out    *buffer
	errors *buffer
	ended  chan error
}

type buffer struct {
	mu sync.Mutex
	b  strings.Builder
}

func (b *buffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.Write(p)
}

func (b *buffer) String() string {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.b.String()
}

func hodd(t *testing.T, dir string, args ...string) *ran {
	t.Helper()
	r := &ran{cmd: exec.Command(os.Args[0], args...), out: &buffer{}, errors: &buffer{}, ended: make(chan error, 1)}
	r.cmd.Env = append(os.Environ(), asMain+"=1", "HODD_DIR="+dir, "HODD_GRPC_PORT=0", "HODD_BUS_PORT=0",
		"HODD_PAGES_PORT=0")
	r.cmd.Stdout, r.cmd.Stderr = r.out, r.errors
	dieWithTest(r.cmd)
	if err := r.cmd.Start(); err != nil {
		t.Fatal(err)
	}
	go func() { r.ended <- r.cmd.Wait() }()
	t.Cleanup(func() { _ = r.cmd.Process.Kill() }) // this test's own process, by its id
	return r
}

func (r *ran) exit(t *testing.T) int {
	t.Helper()
	select {
	case <-r.ended:
		return r.cmd.ProcessState.ExitCode()
	case <-time.After(30 * time.Second):
		t.Fatalf("hodd did not end; it said:\n%s\n%s", r.out, r.errors)
		return -1
	}
}

// codes that hodd printed.
func (r *ran) codes(t *testing.T) []auth.Code {
	t.Helper()
	var all []auth.Code
	for line := range strings.Lines(r.out.String()) {
		line, _, _ = strings.Cut(strings.TrimSpace(line), " --crew")
		if word, ok := strings.CutPrefix(line, "hod join "); ok {
			c, err := auth.ParseCode(word)
			if err != nil {
				t.Fatalf("%q: %v", word, err)
			}
			all = append(all, c)
		}
	}
	return all
}

func TestTheProgram(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "data")
	r := hodd(t, dir, "--site", "dune")
	until(t, "hodd serves", func() bool { return strings.Contains(r.out.String(), "Ctrl-C") })
	all := r.codes(t)
	if len(all) != 2 {
		t.Fatalf("the first start printed %d codes, want one for the foreman and one for crews:\n%s", len(all), r.out)
	}
	foreman := joinedBy(t, all[0])

	// A second one on the folder, and one on the ports, are told why not.
	second := hodd(t, dir)
	if got := second.exit(t); got != exitFolder ||
		!strings.Contains(second.errors.String(), "another hodd runs on the data folder") {
		t.Errorf("a second hodd ended with %d:\n%s", got, second.errors)
	}
	_, port, _ := net.SplitHostPort(foreman.Server)
	third := hodd(t, t.TempDir(), "--grpc-port", port)
	if got := third.exit(t); got != exitNetwork || !strings.Contains(third.errors.String(), "--grpc-port") {
		t.Errorf("a port that is taken: ended with %d:\n%s", got, third.errors)
	}

	// Codes are made while it runs, and work at once.
	more := hodd(t, dir, "invite", "--role", "crew", "--crew", "north", "--for", "90min")
	if got := more.exit(t); got != exitDone {
		t.Fatalf("invite ended with %d:\n%s", got, more.errors)
	}
	c, err := auth.ParseCode(strings.TrimSpace(more.out.String()))
	if err != nil {
		t.Fatalf("invite printed %q: %v", more.out, err)
	}
	if d := joinedBy(t, c); d.Name != "n1" || d.Crew != "north" {
		t.Errorf("joined as %+v", d)
	}

	// A revocation ends a live connection, and is told when it cannot be.
	line, err := bus.Dial(t.Context(), recordOf(foreman).access())
	if err != nil {
		t.Fatal(err)
	}
	if got := hodd(t, dir, "revoke", "z9"); got.exit(t) != exitNotFound ||
		!strings.Contains(got.errors.String(), "z9") {
		t.Errorf("revoking nobody: %s", got.errors)
	}
	if got := hodd(t, dir, "revoke", "f1", "--why", "lost"); got.exit(t) != exitDone {
		t.Errorf("revoking f1: %s", got.errors)
	}
	select {
	case <-line.Done():
	case <-time.After(20 * time.Second):
		t.Error("a revoked device stays connected")
	}
	foreman = joinedBy(t, inviteForeman(t, dir))

	if err := r.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		t.Fatal(err)
	}
	if got := r.exit(t); got != exitDone {
		t.Errorf("a signal ended it with %d:\n%s", got, r.errors)
	}
	for _, code := range append(all, c) {
		if strings.Contains(r.errors.String(), code.Secret.String()) {
			t.Error("the log holds a code")
		}
	}

	again := hodd(t, dir)
	until(t, "hodd serves again", func() bool { return strings.Contains(again.out.String(), "Ctrl-C") })
	if !strings.Contains(again.out.String(), "Site dune") || len(again.codes(t)) != 1 {
		t.Errorf("the second start, with a foreman there already, printed:\n%s", again.out)
	}
	foreman.Server = again.codes(t)[0].Address
	if _, err := recordOf(foreman).queries(t).Board(t.Context(), &hodv1.BoardRequest{}); err != nil {
		t.Errorf("the foreman's device after a restart: %v", err)
	}
	if err := again.cmd.Process.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if got := again.exit(t); got != exitDone {
		t.Errorf("an interrupt ended it with %d", got)
	}
}

func inviteForeman(t *testing.T, dir string) auth.Code {
	t.Helper()
	r := hodd(t, dir, "invite", "--role", "foreman")
	if got := r.exit(t); got != exitDone {
		t.Fatalf("invite ended with %d:\n%s", got, r.errors)
	}
	c, err := auth.ParseCode(strings.TrimSpace(r.out.String()))
	if err != nil {
		t.Fatalf("invite printed %q: %v", r.out, err)
	}
	return c
}

func TestWordsThatCannotBe(t *testing.T) {
	dir := t.TempDir()
	for _, c := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"servve"}, exitUsage, `no command "servve" (did you mean serve?)`},
		{[]string{"xyzzy"}, exitUsage, `no command "xyzzy"; there are backup`},
		{[]string{"verify", "all"}, exitUsage, `"all" is too much`},
		{[]string{"--bus-prt", "1"}, exitUsage, "bus-prt"},
		{[]string{"--grpc-port", "99999"}, exitUsage, "99999"},
		{[]string{"--grpc-port", "7", "--bus-port", "7"}, exitUsage, "must differ"},
		{[]string{"--site", "Dune Vault"}, exitUsage, "north-dome"},
		{[]string{"--log", "loud"}, exitUsage, "loud"},
		{[]string{"--listen", "203.0.113.9"}, exitNetwork, "203.0.113.9"},
		{[]string{"--data", filepath.Join(os.Args[0], "data")}, exitFolder, "not a folder"},
		{[]string{"invite"}, exitUsage, "--role"},
		{[]string{"invite", "--role", "site"}, exitUsage, "crew, foreman"},
		{[]string{"invite", "--role", "crew", "--for", "soon"}, exitUsage, "--for"},
		{[]string{"revoke"}, exitUsage, "device"},
		{[]string{"exclude", "s1"}, exitUsage, "see `hodd exclude --help`"},
		{[]string{"revoke", "n1", "n2"}, exitUsage, "n2"},
		{[]string{"revoke", "n1", "--data", dir}, exitNetwork, "no hodd runs"},
		{[]string{"invite", "--role", "crew", "--data", filepath.Join(dir, "none")}, exitUsage, "no server ever ran"},
	} {
		r := hodd(t, dir, c.args...)
		if got := r.exit(t); got != c.code || !strings.Contains(r.errors.String(), c.says) {
			t.Errorf("hodd %s ended with %d, want %d and %q:\n%s", strings.Join(c.args, " "), got, c.code, c.says,
				r.errors)
		}
	}
	if r := hodd(t, dir, "version"); r.exit(t) != exitDone || !strings.HasPrefix(r.out.String(), "hodd ") {
		t.Errorf("version printed %q", r.out)
	}
	if r := hodd(t, dir, "--help"); r.exit(t) != exitDone || !strings.Contains(r.out.String(), "--bus-port") {
		t.Errorf("--help printed %q", r.out)
	}
	// One hyphen does for two, as it did before hodd had commands with flags of their own.
	if r := hodd(t, dir, "-grpc-port", "99999"); r.exit(t) != exitUsage ||
		!strings.Contains(r.errors.String(), "99999 is not a port") {
		t.Errorf("-grpc-port: %s", r.errors)
	}
}

func TestEachCommandHasHelpAndCompletion(t *testing.T) {
	for _, c := range newRoot().Commands() {
		if c.Short == "" || c.Name() == "help" {
			t.Errorf("%s has no help", c.Name())
		}
		var out bytes.Buffer
		root := newRoot()
		root.SetOut(&out)
		root.SetArgs([]string{c.Name(), "--help"})
		if err := root.Execute(); err != nil || !strings.Contains(out.String(), c.Short) &&
			!strings.Contains(out.String(), c.Long) || !strings.Contains(out.String(), "hodd "+c.Name()) {
			t.Errorf("hodd %s --help: %v\n%s", c.Name(), err, out.String())
		}
	}
	for _, shell := range []string{"bash", "zsh", "fish", "powershell"} {
		var out bytes.Buffer
		root := newRoot()
		root.SetOut(&out)
		root.SetArgs([]string{"completion", shell})
		if err := root.Execute(); err != nil || !strings.Contains(out.String(), "hodd") {
			t.Errorf("completion for %s: %v, %d bytes", shell, err, out.Len())
		}
	}
}

func TestPagesByALink(t *testing.T) {
	w := started(t, here(t.TempDir()))
	foreman := recordOf(joined(t, w, enrol.Invitation{Role: event.Foreman, For: time.Hour, Uses: 1}))
	const hostile = "<script>alert(1)</script> \u202egnol"
	foreman.publish(t, foreman.segment(t, append(plan(), event.Noted{Text: hostile, Zone: "A1"})...))
	until(t, "the plan is at the server", func() bool {
		return w.host.Latest() >= 1 &&
			len(reached(w, foreman.Name)) > 0
	})

	pages, err := foreman.queries(t).Pages(t.Context(), &hodv1.PagesRequest{})
	if err != nil || pages.GetAddress() != w.pages {
		t.Fatalf("where the pages are: %v, %v", pages, err)
	}
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(foreman.CA)
	browser := &http.Client{Transport: &http.Transport{TLSClientConfig: &tls.Config{RootCAs: roots}}}
	t.Cleanup(browser.CloseIdleConnections)
	get := func(path string) (int, string) {
		t.Helper()
		r, err := browser.Get("https://" + pages.GetAddress() + path)
		if err != nil {
			t.Fatal(err)
		}
		defer r.Body.Close()
		body, err := io.ReadAll(r.Body)
		if err != nil {
			t.Fatal(err)
		}
		shown := sha256.Sum256(r.TLS.PeerCertificates[0].Raw)
		if !bytes.Equal(shown[:], pages.GetCertificateSha256()) {
			t.Error("the pages show another certificate than the one that people are told to expect")
		}
		return r.StatusCode, string(body)
	}
	root := auth.LinkPath(auth.NewLink("dune", string(foreman.Name), time.Now().Add(time.Hour), foreman.Key))
	for path, says := range map[string]string{
		"": "<h1>Dune vault</h1>", "zone/A1": "A1", "day": "Dune vault", "log": "first day", "flags": "flag",
	} {
		code, body := get(root + path)
		if code != http.StatusOK || !strings.Contains(body, says) {
			t.Errorf("%q: %d, without %q:\n%s", path, code, says, body)
		}
		if strings.Contains(body, "<script>alert") || strings.ContainsAny(body, "\u202e\x1b") {
			t.Errorf("%q: a note reaches the page as it is:\n%s", path, body)
		}
	}
	if _, body := get(root + "log"); !strings.Contains(body, "&lt;script&gt;alert(1)") {
		t.Errorf("the note is not shown:\n%s", body)
	}
	if code, _ := get("/see/nothing/"); code != http.StatusForbidden {
		t.Errorf("no link: %d", code)
	}
	// A connection that is kept alive helps nobody: each page is looked at anew.
	if err := w.host.Revoke(foreman.Name, "lost"); err != nil {
		t.Fatal(err)
	}
	if code, body := get(root); code != http.StatusForbidden || !strings.Contains(body, "revoked") {
		t.Errorf("after the revocation: %d\n%s", code, body)
	}
}

func reached(w *site, d event.Device) (found []chain.Head) {
	for _, h := range w.host.Heads() {
		if h.Device == d {
			found = append(found, h)
		}
	}
	return found
}

// A revocation ends what is open, on the bus, on a stream of answers and on the pages, and leaves what was written.
func TestARevocationEndsWhatIsOpen(t *testing.T) {
	dir := t.TempDir()
	w := started(t, here(dir))
	foreman := recordOf(joined(t, w, enrol.Invitation{Role: event.Foreman, For: time.Hour, Uses: 1}))
	foreman.publish(t, foreman.segment(t, plan()...))
	until(t, "the plan is at the server", func() bool {
		h := reached(w, foreman.Name)
		return len(h) == 1 &&
			h[0].Seq == 4
	})
	line, err := bus.Dial(t.Context(), foreman.access())
	if err != nil {
		t.Fatal(err)
	}
	defer line.Close()
	watching, err := foreman.queries(t).Watch(t.Context(), &hodv1.WatchRequest{})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := watching.Header(); err != nil { // it watches
		t.Fatal(err)
	}
	told := make(chan error, 1)
	go func() {
		for {
			if _, err := watching.Recv(); err != nil {
				told <- err
				return
			}
		}
	}()
	operator, err := admin.Dial(dir)
	if err != nil {
		t.Fatal(err)
	}
	defer operator.Close()
	if err := operator.Revoke(t.Context(), foreman.Name, "lost"); err != nil {
		t.Fatal(err)
	}
	for what, ended := range map[string]func() bool{
		"the connection to the bus": func() bool {
			select {
			case <-line.Done():
				return true
			default:
				return false
			}
		},
		"the stream of answers": func() bool { return len(told) == 1 },
	} {
		until(t, what+" ends", ended)
	}
	if err := <-told; status.Code(err) != codes.PermissionDenied {
		t.Errorf("the stream of answers ended with %v", err)
	}
	late := foreman.segment(t, event.Noted{Text: "after it was lost"})
	if _, err := bus.Dial(t.Context(), foreman.access()); err == nil {
		t.Error("a revoked device connects again")
	}
	// Another device may carry what it wrote afterwards; it is set aside, and what it wrote before stands.
	carrier := recordOf(joined(t, w, enrol.Invitation{Role: event.CrewRole, Crew: "north", For: time.Hour, Uses: 1}))
	carrier.publish(t, late)
	until(t, "the late event is at the server", func() bool { h := reached(w, foreman.Name); return h[0].Seq == 5 })
	w.host.View(func(s *fold.Site) {
		for seq := uint64(1); seq <= 5; seq++ {
			r, ok := s.Record(event.Name{Device: foreman.Name, Seq: seq})
			aside := ok && r.Aside != nil && r.Aside.Code == fold.Revoked
			if !ok || aside != (seq == 5) {
				t.Errorf("event %d: there %v, set aside as revoked %v", seq, ok, aside)
			}
		}
	})
}
