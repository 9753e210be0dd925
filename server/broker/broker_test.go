package broker

import (
	"bufio"
	"crypto/ed25519"
	"crypto/tls"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats-server/v2/server"
	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nkeys"
	"go.uber.org/goleak"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
)

func TestMain(m *testing.M) { goleak.VerifyTestMain(m) }

func TestRoles(t *testing.T) {
	for role, want := range map[event.Role]bool{
		event.CrewRole: true, event.Foreman: true, event.Inspector: true, event.SiteRole: true, event.Probe: true,
		event.NoRole: false, event.Role(99): false,
	} {
		p, err := PermissionsOf(north, Rights{"n1", role})
		if (err == nil) != want {
			t.Errorf("role %v: got %v, want let in %v", role, err, want)
		}
		for _, s := range p.Publish {
			if strings.ContainsAny(s, "*>") {
				t.Errorf("role %v may publish on %s, a wildcard", role, s)
			}
		}
	}
	for _, bad := range []event.Device{
		"", "n1.x", "*", ">", "n 1", "n1\r\n", "_INBOX", event.Device(strings.Repeat("n", 200)),
	} {
		if p, err := PermissionsOf(north, Rights{bad, event.CrewRole}); err == nil {
			t.Errorf("device %q was given %v", bad, p)
		}
	}
	for _, bad := range []string{"", "North", "a.b", "*", "a b", strings.Repeat("n", 33)} {
		if p, err := PermissionsOf(bad, Rights{"n1", event.CrewRole}); err == nil {
			t.Errorf("site %q was given %v", bad, p)
		}
	}
}

func TestADeviceMayDoItsWork(t *testing.T) {
	s := newSite(t)
	l := s.dial(s.enrol("n1", event.CrewRole))
	heard := make(chan bus.Message, 8)
	if _, err := s.dial(s.enrol("n2", event.Inspector)).Follow(t.Context(),
		func(m bus.Message) { heard <- m }); err != nil {
		t.Fatal(err)
	}
	if err := l.Publish(t.Context(), []byte("one")); err != nil {
		t.Fatal(err)
	}
	got, err := l.Read(t.Context(), 1, 10)
	if err != nil || len(got) != 1 || string(got[0].Data) != "one" || got[0].Carrier != "n1" || got[0].Seq != 1 ||
		got[0].At.IsZero() {
		t.Fatalf("read %+v, %v", got, err)
	}
	if m := <-heard; m.Seq != 1 || string(m.Data) != "one" || m.Carrier != "n1" {
		t.Fatalf("heard %+v", m)
	}
	if _, err := l.Heads(t.Context()); err != nil {
		t.Fatal(err)
	}
}

// A device's key, and a client that is not ours.
func TestADeviceMayDoNoMore(t *testing.T) { everyWay(t, deviceMayDoNoMore) }

func deviceMayDoNoMore(t *testing.T, s *site) {
	nc, refusals := s.raw(s.enrol("n1", event.CrewRole))
	stream := bus.Stream(north)
	for _, subject := range []string{
		bus.LogSubject(north, "n2"),
		bus.LogSubject("south-dome", "n1"),
		"hod.new." + north + ".n1",
		"hod.log." + north,
		bus.ReadSubject("south-dome"),
		bus.ReadSubject(north) + "." + bus.LogSubject(north, "n2"),
		bus.Inbox("n2") + ".x",
		bus.Inbox("n1") + ".x", // an answer to oneself is the server's to give
		"$JS.API.INFO",
		"$JS.API.STREAM.INFO." + stream,
		"$JS.API.STREAM.NAMES",
		"$JS.API.STREAM.DELETE." + stream,
		"$JS.API.STREAM.PURGE." + stream,
		"$JS.API.STREAM.UPDATE." + stream,
		"$JS.API.STREAM.CREATE.HOD_mine",
		"$JS.API.STREAM.MSG.GET." + stream,
		"$JS.API.STREAM.MSG.DELETE." + stream,
		"$JS.API.STREAM.SNAPSHOT." + stream,
		"$JS.API.STREAM.RESTORE." + stream,
		"$JS.API.CONSUMER.CREATE." + stream,
		"$JS.API.CONSUMER.CREATE." + stream + ".mine",
		"$JS.API.CONSUMER.DURABLE.CREATE." + stream + ".mine",
		"$JS.API.CONSUMER.LIST." + stream,
		"$JS.ACK." + stream + ".x.1.1.1.1.1",
		"$SYS.REQ.SERVER.PING",
		"$SYS.REQ.USER.INFO",
		"$SYS.REQ.ACCOUNT.CREW.CONNZ",
		"_R_.x",
		"anything",
	} {
		if err := nc.PublishRequest(subject, bus.Inbox("n1")+".y", []byte("{}")); err != nil {
			t.Fatal(err)
		}
		if err := wait(t, refusals); !strings.Contains(err.Error(), fmt.Sprintf("%q", subject)) {
			t.Errorf("publish on %s: got %v", subject, err)
		}
	}
	for _, subject := range []string{
		">", "*", "hod.>", "hod.log.>", bus.LogSubjects(north), "hod.new.*.*", "hod.new.south-dome.*",
		bus.HeadsSubject(north), bus.Inbox("n2") +
			".>", "_INBOX.>", "_INBOX_*.>", "$JS.>", "$JS.API.>", "$SYS.>", "_R_.>", "$SYS.REQ.USER.AUTH",
	} {
		if _, err := nc.Subscribe(subject, func(m *nats.Msg) { t.Errorf("heard %s", m.Subject) }); err != nil {
			t.Fatal(err)
		}
		if err := wait(t, refusals); !strings.Contains(err.Error(), fmt.Sprintf("%q", subject)) {
			t.Errorf("subscribe to %s: got %v", subject, err)
		}
	}
	if got := s.log(); len(got) != 0 {
		t.Errorf("the log holds %d messages", len(got))
	}
}

// questions are answers sent where they would do harm: a server does not ask whether one may be answered there.
var questions = []struct{ name, subject, body string }{
	{"delete by a read that finds nothing", "$JS.API.STREAM.DELETE.HOD_north-dome", `{"seq":999}`},
	{"update by a read of what was planted", "$JS.API.STREAM.UPDATE.HOD_north-dome", `{"seq":1}`},
	{"a consumer by a read of what was planted", "$JS.API.CONSUMER.CREATE.HOD_north-dome", `{"seq":2}`},
	{"purge", "$JS.API.STREAM.PURGE.HOD_north-dome", `{"seq":999}`},
	{"another's subject", "hod.log.north-dome.n2", `{"seq":1,"batch":100}`},
	{"one's own subject", "hod.log.north-dome.n1", `{"seq":1,"batch":100}`},
	{"the heads", "hod.ask.north-dome.heads", `{"seq":1}`},
	{"the stream's reader itself", "$JS.API.DIRECT.GET.HOD_north-dome", `{"seq":3}`},
}

func TestAnAnswerCannotBecomeAQuestion(t *testing.T) { everyWay(t, answerCannotBecomeQuestion) }

func answerCannotBecomeQuestion(t *testing.T, s *site) {
	nc, refusals := s.raw(s.enrol("n1", event.CrewRole))
	planted := [][]byte{
		[]byte(
			`{"name":"HOD_north-dome","subjects":["hod.log.north-dome.*"],"max_msgs":1,"storage":"file","retention":"limits","discard":"old","allow_direct":true,"deny_delete":true,"deny_purge":true,"num_replicas":1}`),
		[]byte(`{"stream_name":"HOD_north-dome","config":{"durable_name":"mine","ack_policy":"none"}}`),
		[]byte(`{"seq":1}`),
	}
	for _, p := range planted {
		if _, err := nc.RequestWithContext(t.Context(), bus.LogSubject(north, "n1"), p); err != nil {
			t.Fatal(err)
		}
	}
	// The host hears all that is said in its account.
	said := make(chan string, 1024)
	if _, err := s.Conn().Subscribe(">", func(m *nats.Msg) { said <- m.Subject }); err != nil {
		t.Fatal(err)
	}
	if err := s.Conn().Flush(); err != nil {
		t.Fatal(err)
	}
	for _, asked := range []string{bus.ReadSubject(north), bus.HeadsSubject(north)} {
		for _, q := range questions {
			if err := nc.PublishRequest(asked, q.subject, []byte(q.body)); err != nil {
				t.Fatal(err)
			}
			// The stream answers in order: with this answer here, the one before is where it went.
			if _, err := nc.RequestWithContext(t.Context(), bus.ReadSubject(north), []byte(`{"seq":1}`)); err != nil {
				t.Fatal(err)
			}
			if _, err := nc.RequestWithContext(t.Context(), bus.HeadsSubject(north), nil); err != nil {
				t.Fatal(err)
			}
		}
	}
	if err := s.Conn().Flush(); err != nil {
		t.Fatal(err)
	}
	for len(said) > 0 {
		subject := <-said
		asked := subject == bus.ReadSubject(north) || subject == bus.HeadsSubject(north)
		if !asked && !strings.HasPrefix(subject, "_R_.") {
			t.Errorf("%s was said in the site's account", subject)
		}
	}
	select {
	case err := <-refusals:
		t.Logf("refused: %v", err) // a refusal would be as good
	default:
	}
	var got [][]byte
	for _, m := range s.log() {
		got = append(got, m.Data)
	}
	if !slices.EqualFunc(got, planted, slices.Equal) {
		t.Errorf("the log holds %d messages, want the %d that were put there", len(got), len(planted))
	}
}

// The planted fault: with devices in the host's own account, the same permissions let a device delete the stream. If
// this ever fails, the server has learned to ask, and isolate may be simpler.
func TestWithoutTwoAccountsADeviceDeletesTheStream(t *testing.T) {
	may, err := PermissionsOf(north, Rights{"n1", event.CrewRole})
	if err != nil {
		t.Fatal(err)
	}
	s, err := server.NewServer(&server.Options{
		Host: "127.0.0.1", Port: server.RANDOM_PORT, JetStream: true,
		StoreDir: t.TempDir(), NoSigs: true, NoLog: true, Users: []*server.User{
			{Username: "host", Password: "h"},
			{
				Username: "n1", Password: "n",
				Permissions: &server.Permissions{
					Publish:   &server.SubjectPermission{Allow: may.Publish},
					Subscribe: &server.SubjectPermission{Allow: may.Subscribe},
				},
			},
		},
	})
	if err != nil {
		t.Fatal(err)
	}
	s.Start()
	t.Cleanup(func() { s.Shutdown(); s.WaitForShutdown() })
	if !s.ReadyForConnections(20 * time.Second) {
		t.Fatal("not ready")
	}
	host, err := nats.Connect(s.ClientURL(), nats.UserInfo("host", "h"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(host.Close)
	if err := bus.Ensure(t.Context(), host, north, 1); err != nil {
		t.Fatal(err)
	}
	deleted, err := host.SubscribeSync("$JS.EVENT.ADVISORY.STREAM.DELETED." + bus.Stream(north))
	if err != nil {
		t.Fatal(err)
	}
	if err := host.Flush(); err != nil {
		t.Fatal(err)
	}
	device, err := nats.Connect(s.ClientURL(), nats.UserInfo("n1", "n"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(device.Close)
	if err := device.PublishRequest(bus.ReadSubject(north), questions[0].subject,
		[]byte(questions[0].body)); err != nil {
		t.Fatal(err)
	}
	if _, err := deleted.NextMsg(20 * time.Second); err != nil {
		t.Fatalf("the stream was not deleted: %v", err)
	}
}

func TestStrangersStayOut(t *testing.T) {
	s := newSite(t)
	good := s.enrol("n1", event.CrewRole)
	other, err := OpenAuthority(t.TempDir(), time.Now())
	if err != nil {
		t.Fatal(err)
	}
	plain, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	defer plain.Close()
	go func() { // something else listens there, and speaks first, as a server of another kind does
		for {
			c, err := plain.Accept()
			if err != nil {
				return
			}
			fmt.Fprintf(c, "INFO {\"server_id\":\"x\",\"version\":\"2.15.2\",\"max_payload\":1000}\r\n")
			_, _ = bufio.NewReader(c).ReadString('\n')
			c.Close()
		}
	}()
	free, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	nobody := free.Addr().String()
	free.Close()

	with := func(change func(*bus.Access)) bus.Access {
		a := good
		change(&a)
		return a
	}
	for _, c := range []struct {
		name string
		a    bus.Access
		want bus.Kind
	}{
		{"a key that is not enrolled", with(func(a *bus.Access) { a.Key = keyOf("stranger") }), bus.Refused},
		{"another site's authority", with(func(a *bus.Access) { a.CA = other.PEM() }), bus.WrongSite},
		{"no encryption offered", with(func(a *bus.Access) { a.Address = plain.Addr().String() }), bus.WrongSite},
		{"nobody there", with(func(a *bus.Access) { a.Address = nobody }), bus.Unreachable},
		{"no authority", with(func(a *bus.Access) { a.CA = nil }), bus.Invalid},
		{"no key", with(func(a *bus.Access) { a.Key = nil }), bus.Invalid},
		{"a site that cannot be", with(func(a *bus.Access) { a.Site = "North Dome" }), bus.Invalid},
		{"a device that cannot be", with(func(a *bus.Access) { a.Device = "n1.>" }), bus.Invalid},
		{"no address", with(func(a *bus.Access) { a.Address = "" }), bus.Invalid},
	} {
		l, err := bus.Dial(t.Context(), c.a)
		if err == nil {
			l.Close()
		}
		if got := kind(err); err == nil || got != c.want {
			t.Errorf("%s: got kind %d (%v), want %d", c.name, got, err, c.want)
		}
	}

	t.Run("the host's name without its secret", func(t *testing.T) {
		for _, word := range []string{"", "host"} {
			nc, err := nats.Connect("nats://"+s.Address(), nats.Secure(s.trusting()), nats.UserInfo("host", word))
			if err == nil {
				nc.Close()
			}
			if !errors.Is(err, nats.ErrAuthorization) {
				t.Errorf("secret %q: got %v", word, err)
			}
		}
	})
	t.Run("no name", func(t *testing.T) {
		nc, err := nats.Connect("nats://"+s.Address(), nats.Secure(s.trusting()))
		if err == nil {
			nc.Close()
		}
		if !errors.Is(err, nats.ErrAuthorization) {
			t.Errorf("got %v", err)
		}
	})
	t.Run("an older TLS", func(t *testing.T) {
		old := s.trusting()
		old.MinVersion, old.MaxVersion = tls.VersionTLS12, tls.VersionTLS12
		nc, err := nats.Connect("nats://"+s.Address(), nats.Secure(old))
		if err == nil {
			nc.Close()
			t.Error("TLS 1.2 was accepted")
		}
	})
	t.Run("a device that names itself another", func(t *testing.T) {
		l := s.dial(with(func(a *bus.Access) { a.Device = "n2" }))
		wantKind(t, l.Publish(t.Context(), []byte("x")), bus.Forbidden)
		_, err := l.Read(t.Context(), 1, 1)
		wantKind(t, err, bus.Forbidden)
	})
	t.Run("a device that names another site", func(t *testing.T) {
		l := s.dial(with(func(a *bus.Access) { a.Site = "south-dome" }))
		wantKind(t, l.Publish(t.Context(), []byte("x")), bus.Forbidden)
		_, err := l.Heads(t.Context())
		wantKind(t, err, bus.Forbidden)
		_, err = l.Follow(t.Context(), func(bus.Message) {})
		wantKind(t, err, bus.Forbidden)
		_, err = l.Read(t.Context(), 1, 1)
		wantKind(t, err, bus.Forbidden)
	})
	if got := s.log(); len(got) != 0 {
		t.Errorf("the log holds %d messages", len(got))
	}
}

// hand is a client by hand: what a server says first, and what it answers to a sign-in.
type hand struct {
	net.Conn
	r     *bufio.Reader
	nonce string
}

func byHand(t *testing.T, s *site, encrypted bool) *hand {
	t.Helper()
	c, err := net.Dial("tcp", s.Address())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	if err := c.SetDeadline(time.Now().Add(30 * time.Second)); err != nil {
		t.Fatal(err)
	}
	h := &hand{Conn: c, r: bufio.NewReader(c)}
	line, err := h.r.ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	var info struct {
		Nonce string `json:"nonce"`
	}
	if err := json.Unmarshal([]byte(strings.TrimPrefix(line, "INFO ")), &info); err != nil || info.Nonce == "" {
		t.Fatalf("%q: %v", line, err)
	}
	h.nonce = info.Nonce
	if encrypted {
		secured := tls.Client(c, s.trusting())
		if err := secured.HandshakeContext(t.Context()); err != nil {
			t.Fatal(err)
		}
		h.Conn, h.r = secured, bufio.NewReader(secured)
	}
	return h
}

// signIn gives all that the server says until it closes, or its PONG.
func (h *hand) signIn(key ed25519.PrivateKey, signature []byte) string {
	name, _ := nkeys.Encode(nkeys.PrefixByteUser, key.Public().(ed25519.PublicKey))
	fmt.Fprintf(h, "CONNECT {\"verbose\":false,\"protocol\":1,\"headers\":true,\"nkey\":%q,\"sig\":%q}\r\nPING\r\n",
		name, base64.RawURLEncoding.EncodeToString(signature))
	said := ""
	for {
		line, err := h.r.ReadString('\n')
		said += line
		if err != nil || strings.HasPrefix(line, "PONG") || strings.HasPrefix(line, "-ERR") {
			return said
		}
	}
}

func TestASignatureServesOnce(t *testing.T) {
	s := newSite(t)
	key := s.enrol("n1", event.CrewRole).Key
	first, second := byHand(t, s, true), byHand(t, s, true)
	if first.nonce == second.nonce {
		t.Fatal("two connections have the same challenge")
	}
	signature := ed25519.Sign(key, []byte(first.nonce))
	if said := second.signIn(key, signature); !strings.Contains(said, "Authorization Violation") {
		t.Errorf("a signature of another connection: the server said %q", said)
	}
	if said := first.signIn(key, signature); !strings.Contains(said, "PONG") {
		t.Errorf("the signature where it belongs: the server said %q", said)
	}
	if said := byHand(t, s, true).signIn(key, nil); !strings.Contains(said, "Authorization Violation") {
		t.Errorf("no signature: the server said %q", said)
	}
	stranger := byHand(t, s, true)
	if said := stranger.signIn(key, ed25519.Sign(keyOf("stranger"), []byte(stranger.nonce))); !strings.Contains(said,
		"Authorization Violation") {
		t.Errorf("a name with another's signature: the server said %q", said)
	}
	open := byHand(t, s, false)
	if said := open.signIn(key, ed25519.Sign(key, []byte(open.nonce))); strings.Contains(said, "PONG") {
		t.Errorf("without encryption: the server said %q", said)
	}
}

func TestARestartKeepsWhatWasAcknowledged(t *testing.T) {
	s := newSite(t)
	a := s.enrol("n1", event.CrewRole)
	const each = 40
	for round := range 3 {
		a.Address = s.Address()
		l := s.dial(a)
		for i := range each {
			if err := l.Publish(t.Context(), fmt.Appendf(nil, "%d", round*each+i)); err != nil {
				t.Fatal(err)
			}
		}
		s.Stop()
		<-l.Done()
		if err := l.Publish(t.Context(), []byte("to nobody")); kind(err) != bus.Gone {
			t.Fatalf("publish to a stopped server: %v", err)
		}
		s.start("127.0.0.1:0")
		log := s.log()
		if len(log) != (round+1)*each {
			t.Fatalf("after restart %d the log holds %d, want %d", round+1, len(log), (round+1)*each)
		}
		for i, m := range log {
			if string(m.Data) != fmt.Sprint(i) || m.Seq != uint64(i+1) {
				t.Fatalf("message %d is %d %q", i+1, m.Seq, m.Data)
			}
		}
	}
	if js := s.server.JetStreamConfig(); !js.SyncAlways {
		t.Error("the server acknowledges before it flushes")
	}
}

func TestKick(t *testing.T) {
	s := newSite(t)
	a := s.enrol("n1", event.CrewRole)
	stays := s.dial(s.enrol("n2", event.CrewRole))
	one, two := s.dial(a), s.dial(a)
	if err := one.Publish(t.Context(), []byte("before")); err != nil {
		t.Fatal(err)
	}
	s.revoke("n1")
	if got := s.Kick("n1"); got != 2 {
		t.Errorf("%d connections were ended, want 2", got)
	}
	<-one.Done()
	<-two.Done()
	wantKind(t, one.Publish(t.Context(), []byte("after")), bus.Gone)
	_, err := bus.Dial(t.Context(), a)
	wantKind(t, err, bus.Refused)
	if err := stays.Publish(t.Context(), []byte("another")); err != nil {
		t.Errorf("another device: %v", err)
	}
	if got := s.Kick("n1"); got != 0 {
		t.Errorf("%d connections were ended the second time", got)
	}
	if got := s.log(); len(got) != 2 {
		t.Errorf("the log holds %d messages, want 2", len(got))
	}
}

// A device that is revoked while the server asks who it is.
func TestARevocationMeetsAConnectionHalfMade(t *testing.T) {
	s := newSite(t)
	a := s.enrol("n1", event.CrewRole)
	admit := s.auth.admit
	asked := 0
	s.auth.admit = func(key ed25519.PublicKey) (Rights, error) {
		r, err := admit(key)
		if asked++; asked == 1 {
			s.revoke("n1")
			s.Kick("n1")
		}
		return r, err
	}
	_, err := bus.Dial(t.Context(), a)
	wantKind(t, err, bus.Refused)
}

func TestOversize(t *testing.T) {
	s := newSite(t)
	a := s.enrol("n1", event.CrewRole)
	l := s.dial(a)
	wantKind(t, l.Publish(t.Context(), make([]byte, chain.MaxSegmentBytes+1)), bus.TooLarge)
	wantKind(t, l.Publish(t.Context(), nil), bus.TooLarge)
	if err := l.Publish(t.Context(), make([]byte, chain.MaxSegmentBytes)); err != nil {
		t.Errorf("the largest segment: %v", err)
	}
	// A client that does not count for itself.
	nc, _ := s.raw(a)
	m, err := nc.RequestWithContext(t.Context(), bus.LogSubject(north, "n1"), make([]byte, bus.MaxMessage+1))
	if err != nil || !strings.Contains(string(m.Data), `"err_code":10054`) {
		t.Errorf("more than the stream takes: %v %s", err, m.Data)
	}
	h := byHand(t, s, true)
	h.signIn(a.Key, ed25519.Sign(a.Key, []byte(h.nonce)))
	fmt.Fprintf(h, "PUB %s %d\r\n", bus.LogSubject(north, "n1"), bus.MaxPayload+1)
	if said, _ := io.ReadAll(h.r); !strings.Contains(string(said), "Maximum Payload") {
		t.Errorf("more than the server takes: it said %q", said)
	}
	if got := s.log(); len(got) != 1 {
		t.Errorf("the log holds %d messages, want 1", len(got))
	}
}

func TestTheStreamForgetsNothingEvenForItsHost(t *testing.T) {
	s := newSite(t)
	if err := s.dial(s.enrol("n1", event.CrewRole)).Publish(t.Context(), []byte("one")); err != nil {
		t.Fatal(err)
	}
	js, err := jetstream.New(s.Conn())
	if err != nil {
		t.Fatal(err)
	}
	stream, err := js.Stream(t.Context(), bus.Stream(north))
	if err != nil {
		t.Fatal(err)
	}
	if err := stream.Purge(t.Context()); err == nil {
		t.Error("the stream was purged")
	}
	if err := stream.DeleteMsg(t.Context(), 1); err == nil {
		t.Error("a message was deleted")
	}
	if got := s.log(); len(got) != 1 {
		t.Errorf("the log holds %d messages", len(got))
	}
}

func TestAnAddressThatIsTaken(t *testing.T) {
	s := newSite(t)
	ctx := t.Context()
	b, err := Start(ctx, Config{Dir: t.TempDir(), Listen: s.Address(), TLS: s.tls, Site: north, Admit: s.admit})
	if err == nil {
		b.Stop()
		t.Fatal("two brokers listen at one address")
	}
	if !strings.Contains(err.Error(), "address already in use") {
		t.Errorf("got %v, want what the system said", err)
	}
	for _, bad := range []string{"", "4222", "localhost:port", "127.0.0.1:70000"} {
		if b, err := Start(ctx, Config{
			Dir: t.TempDir(), Listen: bad, TLS: s.tls, Site: north,
			Admit: s.admit,
		}); err == nil {
			b.Stop()
			t.Errorf("listens on %q", bad)
		}
	}
}
