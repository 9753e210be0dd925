package broker

import (
	"bytes"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/rs/zerolog"

	"hod/internal/bus"
	"hod/internal/event"
)

func TestADeviceHasAFewConnectionsAndHearsWhyItGetsNoMore(t *testing.T) {
	s := newSite(t)
	a := s.enrol("n1", event.CrewRole)
	var lines []*bus.Line
	for range maxOfDevice {
		lines = append(lines, s.dial(a))
	}
	for range 3 {
		_, err := bus.Dial(t.Context(), a)
		wantKind(t, err, bus.Unreachable)
		if !strings.Contains(err.Error(), "device n1 has as many connections") {
			t.Errorf("one connection too many hears %q", err)
		}
	}
	if err := lines[0].Publish(t.Context(), []byte("goes on")); err != nil {
		t.Errorf("a connection that is in: %v", err)
	}
	if err := s.dial(s.enrol("n2", event.CrewRole)).Publish(t.Context(), []byte("another's")); err != nil {
		t.Errorf("another device: %v", err)
	}
	lines[0].Close()
	for {
		l, err := bus.Dial(t.Context(), a)
		if err == nil {
			l.Close()
			break
		}
		wantKind(t, err, bus.Unreachable) // the server has not seen yet that the first one is gone
	}
}

func TestAServerThatIsFullSaysSo(t *testing.T) {
	s := newSiteOf(t, 2) // the host has one of them
	first := s.dial(s.enrol("n1", event.CrewRole))
	_, err := bus.Dial(t.Context(), s.enrol("n2", event.CrewRole))
	wantKind(t, err, bus.Unreachable)
	if !strings.Contains(err.Error(), "is full") {
		t.Errorf("a device that a full server turns away hears %q", err)
	}
	if err := first.Publish(t.Context(), []byte("x")); err != nil {
		t.Error(err)
	}
}

func TestSilentConnectionsOfOneAddressEndBeforeTheyFillTheServer(t *testing.T) {
	const extra = 8
	s := newSite(t)
	for range maxUnsigned + extra {
		c, err := net.Dial("tcp", s.Address())
		if err != nil {
			t.Fatal(err)
		}
		defer func() { _ = c.Close() }()
	}
	kicked := 0
	for kicked < extra {
		gone, err := s.server.Connz(&server.ConnzOptions{State: server.ConnClosed, Limit: 2 * maxUnsigned})
		if err != nil {
			t.Fatal(err)
		}
		kicked = 0
		for _, c := range gone.Conns {
			switch c.Reason {
			case server.Kicked.String():
				kicked++
			default: // the time to sign in is over: nothing ended them before
				t.Fatalf("%d connections were ended, want %d; then one ended by %q", kicked, extra, c.Reason)
			}
		}
	}
	s.dial(s.enrol("n1", event.CrewRole))
}

func TestWhatGoesBeyondTheLimitsOfAllIsEnded(t *testing.T) {
	start := time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)
	var open []*server.ConnInfo
	add := func(id uint64, ip, user string, pending int) {
		open = append(open, &server.ConnInfo{
			Cid: id, IP: ip, AuthorizedUser: user, Pending: pending,
			Start: start.Add(time.Duration(id)),
		})
	}
	add(1, "", hostUser, maxPendingOfAll) // however much waits for the host, it stays
	for id := range uint64(maxUnsigned) + 2 {
		add(100+id, "10.0.0.1", "", 0)
	}
	add(200, "10.0.0.2", "", 0)
	add(201, "10.0.0.1", "UONE", 0)
	open[0].Pending = 0
	if got, want := sorted(beyond(open)), []uint64{100, 101}; !slices.Equal(got, want) {
		t.Errorf("ended are %v, want the two oldest of the address that has too many, %v", got, want)
	}
	add(300, "10.0.0.3", "UTWO", maxPendingOfAll/2)
	add(301, "10.0.0.3", "UTWO", maxPendingOfAll/4)
	add(302, "10.0.0.4", "UTHREE", maxPendingOfAll/4+1)
	if got, want := sorted(beyond(open)), []uint64{100, 101, 300}; !slices.Equal(got, want) {
		t.Errorf("ended are %v, want also the one for which most waits, %v", got, want)
	}
	open[0].Pending = maxPendingOfAll
	if got := beyond(open); slices.Contains(got, 1) {
		t.Error("the host's own connection was ended")
	}
}

func sorted(ids []uint64) []uint64 { slices.Sort(ids); return ids }

func TestErrorsThatADeviceCausesWithoutEndAreCountedAndNotWritten(t *testing.T) {
	var log bytes.Buffer
	now := time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)
	l := &listener{log: zerolog.New(&log), now: func() time.Time { return now }}
	for range 100_000 {
		l.Errorf("Publish Violation - Subject %q", "hod.log.another")
	}
	if got := bytes.Count(log.Bytes(), []byte("Publish Violation")); got != mostErrors {
		t.Errorf("%d errors were written in one minute, want %d", got, mostErrors)
	}
	now = now.Add(time.Minute)
	log.Reset()
	l.Errorf("one more")
	if want := `"left_out":99980`; !strings.Contains(log.String(), want) ||
		!strings.Contains(log.String(), "one more") {
		t.Errorf("the next minute begins with %s; want %s and the error itself", log.String(), want)
	}
}

func TestAnAnswerReachesNobodyButWhoAsked(t *testing.T) {
	s := newSite(t)
	thief, victim := s.enrol("n1", event.CrewRole), s.enrol("n2", event.CrewRole)
	line := s.dial(thief)
	for range 3 {
		if err := line.Publish(t.Context(), []byte("a segment")); err != nil {
			t.Fatal(err)
		}
	}
	hears, _ := s.raw(victim)
	inbox, err := hears.SubscribeSync(bus.Inbox("n2") + ".>")
	if err != nil {
		t.Fatal(err)
	}
	news, err := hears.SubscribeSync(bus.NewSubjects(north))
	if err != nil {
		t.Fatal(err)
	}
	if err := hears.Flush(); err != nil {
		t.Fatal(err)
	}
	asks, _ := s.raw(thief)
	back, err := asks.SubscribeSync(bus.Inbox("n1") + ".>")
	if err != nil {
		t.Fatal(err)
	}
	// The last question is the thief's own: when it is answered, so were those before it.
	for _, to := range []string{bus.Inbox("n2") + ".stolen", "hod.new." + north + ".n1", bus.Inbox("n1") + ".own"} {
		if err := asks.PublishRequest(bus.ReadSubject(north), to, []byte(`{"seq":1,"batch":3}`)); err != nil {
			t.Fatal(err)
		}
	}
	for range 4 { // three messages, and that there are no more
		if _, err := back.NextMsgWithContext(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if err := hears.Flush(); err != nil {
		t.Fatal(err)
	}
	for name, sub := range map[string]*nats.Subscription{"inbox": inbox, "news": news} {
		if n, _, err := sub.Pending(); err != nil || n != 0 {
			t.Errorf("the %s of another device got %d messages that it did not ask for, %v", name, n, err)
		}
	}
}
