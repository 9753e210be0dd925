package bus_test

import (
	"bufio"
	"bytes"
	"context"
	"crypto/ed25519"
	"crypto/tls"
	"encoding/base64"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/nats-io/nats.go"
	"github.com/nats-io/nats.go/jetstream"
	"github.com/nats-io/nkeys"

	"hod/internal/bus"
	"hod/internal/chain"
	"hod/internal/event"
)

func TestNames(t *testing.T) {
	for name, want := range map[string]bool{
		"north-dome": true, "n": true, "7": true, strings.Repeat("n", 32): true,
		"": false, "North": false, "a.b": false, "a b": false, "*": false, ">": false, "a_b": false, "é": false, "a\x00": false, strings.Repeat("n", 33): false,
	} {
		if err := bus.CheckSite(name); (err == nil) != want {
			t.Errorf("site %q: got %v, want good %v", name, err, want)
		}
	}
	for name, want := range map[event.Device]bool{
		"n1": true, "N1": true, "é-3": true, "a_b": true, event.Device(strings.Repeat("é", event.MaxName)): true,
		"": false, "a.b": false, "a b": false, "*": false, "n>": false, "-n": false, "n\r\n": false, "n\u202e": false, "n\xff": false,
		event.Device(strings.Repeat("n", event.MaxName+1)): false,
	} {
		if err := bus.CheckDevice(name); (err == nil) != want {
			t.Errorf("device %q: got %v, want good %v", name, err, want)
		}
	}
}

func TestReadGivesTheLogInPieces(t *testing.T) {
	s := newSite(t)
	l := s.line("é-3")
	if last, err := l.Last(t.Context()); err != nil || last != 0 {
		t.Errorf("an empty log ends at %d, %v", last, err)
	}
	if got, err := l.Read(t.Context(), 1, 10); err != nil || len(got) != 0 {
		t.Errorf("an empty log holds %v, %v", got, err)
	}
	const n = 25
	for i := range n {
		if err := l.Publish(t.Context(), fmt.Append(nil, i+1)); err != nil {
			t.Fatal(err)
		}
	}
	for _, most := range []int{-1, 1, 7, n, n + 1, 1 << 30} {
		next := uint64(1)
		for {
			got, err := l.Read(t.Context(), next, most)
			if err != nil {
				t.Fatal(err)
			}
			if len(got) > max(most, 1) {
				t.Errorf("asked for %d, got %d", most, len(got))
			}
			if len(got) == 0 {
				break
			}
			for _, m := range got {
				if m.Seq != next || string(m.Data) != fmt.Sprint(next) || m.Carrier != "é-3" || m.At.IsZero() {
					t.Fatalf("at %d: %+v", next, m)
				}
				next++
			}
		}
		if next != n+1 {
			t.Errorf("in pieces of %d the log ends before %d", most, next)
		}
	}
	if last, err := l.Last(t.Context()); err != nil || last != n {
		t.Errorf("the log ends at %d, %v", last, err)
	}
	for _, beyond := range []uint64{n + 1, 1 << 40, ^uint64(0)} {
		if got, err := l.Read(t.Context(), beyond, 10); err != nil || len(got) != 0 {
			t.Errorf("from %d: %v, %v", beyond, got, err)
		}
	}
}

func TestReadOfLargeSegments(t *testing.T) {
	s := newSite(t)
	l := s.line("n1")
	const n = 80 // 5 MiB, more than one batch takes
	for i := range n {
		if err := l.Publish(t.Context(), bytes.Repeat([]byte{byte(i)}, chain.MaxSegmentBytes)); err != nil {
			t.Fatal(err)
		}
	}
	next := uint64(1)
	for next <= n {
		got, err := l.Read(t.Context(), next, 1000)
		if err != nil || len(got) == 0 {
			t.Fatalf("at %d: %d messages, %v", next, len(got), err)
		}
		for _, m := range got {
			if m.Seq != next || len(m.Data) != chain.MaxSegmentBytes || m.Data[7] != byte(next-1) {
				t.Fatalf("at %d: number %d, %d bytes of %d", next, m.Seq, len(m.Data), m.Data[7])
			}
			next++
		}
	}
}

// What one who may publish puts in the headers must not steer who reads.
func TestForgedHeadersDoNotStopAReader(t *testing.T) {
	s := newSite(t)
	nc, l := s.raw("n2"), s.line("n1")
	subject := bus.LogSubject(north, "n2")
	heard := make(chan bus.Message, 64)
	if _, err := l.Follow(t.Context(), func(m bus.Message) { heard <- m }); err != nil {
		t.Fatal(err)
	}
	sent := 0
	for _, h := range []nats.Header{
		{"Status": {"404"}},
		{"Status": {"204"}, "Description": {"EOB"}},
		{"Status": {"503"}},
		{"Status": {"409"}, "Description": {"Consumer Deleted"}},
		{"Nats-Sequence": {"1"}},
		{"Nats-Sequence": {"18446744073709551615"}},
		{"Nats-Sequence": {"x", "9"}},
		{"Nats-Subject": {"hod.log.north-dome.n1"}},
		{"Nats-Last-Sequence": {"999"}},
		{"Nats-Num-Pending": {"0"}},
		{"Nats-Time-Stamp": {"yesterday"}},
		{"Nats-Stream": {"HOD_other"}},
	} {
		for _, body := range []string{"", "x"} {
			if _, err := nc.RequestMsgWithContext(t.Context(),
				&nats.Msg{Subject: subject, Header: h, Data: []byte(body)}); err != nil {
				t.Fatal(err)
			}
			sent++
		}
	}
	if err := l.Publish(t.Context(), []byte("after")); err != nil {
		t.Fatal(err)
	}
	sent++
	got, err := l.Read(t.Context(), 1, 1000)
	if err != nil || len(got) != sent {
		t.Fatalf("read %d of %d, %v", len(got), sent, err)
	}
	for i, m := range got {
		want := event.Device("n2")
		if i == sent-1 {
			want = "n1"
		}
		if m.Seq != uint64(i+1) || m.Carrier != want || time.Since(m.At).Abs() > time.Hour {
			t.Errorf("message %d: %+v", i+1, m)
		}
		if h := <-heard; h.Seq != m.Seq || h.Carrier != m.Carrier {
			t.Errorf("heard %+v, want %+v", h, m)
		}
	}
	if last, err := l.Last(t.Context()); err != nil || last != uint64(sent) {
		t.Errorf("the log ends at %d, %v; want %d", last, err, sent)
	}
	if n := consumed(t, s.host(), 1, uint64(sent)); len(n) != sent {
		t.Errorf("the host took %d of %d", len(n), sent)
	}
}

// consumed is what the host takes from the number from until the number until.
func consumed(t *testing.T, h *bus.Host, from, until uint64) []bus.Message {
	t.Helper()
	var all []bus.Message
	done := errors.New("done")
	err := h.Consume(t.Context(), from, func(m bus.Message) error {
		all = append(all, m)
		if m.Seq >= until {
			return done
		}
		return nil
	})
	if !errors.Is(err, done) {
		t.Fatal(err)
	}
	return all
}

// Headers that cannot be read at all, more of them than one batch holds.
func TestBrokenHeadersDoNotStopAReader(t *testing.T) {
	s := newSite(t)
	l := s.line("n1")
	if err := l.Publish(t.Context(), []byte("before")); err != nil {
		t.Fatal(err)
	}
	hand := byHand(t, s, "n2")
	const n = 1200
	header := "NATS/1.0\r\nno colon here\r\n\r\n"
	for range n {
		fmt.Fprintf(hand, "HPUB %s %s %d %d\r\n%s%s\r\n", bus.LogSubject(north, "n2"), bus.Inbox("n2")+".x",
			len(header), len(header)+1, header, "x")
	}
	if err := hand.Flush(); err != nil {
		t.Fatal(err)
	}
	host := s.host()
	var state bus.State
	for state.Last < n+1 { // the server takes them in its own time; the test's deadline is the limit
		var err error
		if state, err = host.State(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	if err := l.Publish(t.Context(), []byte("after")); err != nil {
		t.Fatal(err)
	}
	var texts []string
	next := uint64(1)
	for {
		got, err := l.Read(t.Context(), next, 100)
		if err != nil {
			t.Fatal(err)
		}
		if len(got) == 0 {
			break
		}
		for _, m := range got {
			texts, next = append(texts, string(m.Data)), m.Seq+1
		}
	}
	if len(texts) < 2 || texts[0] != "before" || texts[len(texts)-1] != "after" || next != n+3 {
		t.Errorf("read %d messages up to %d, want the first and the last among them and the end at %d", len(texts),
			next-1, n+2)
	}
	if last, err := l.Last(t.Context()); err != nil || last != n+2 {
		t.Errorf("the log ends at %d, %v", last, err)
	}
	if all := consumed(t, host, 1, n+2); string(all[len(all)-1].Data) != "after" {
		t.Errorf("the host ended with %q", all[len(all)-1].Data)
	}
}

// byHand signs in as a device without a client library and gives what writes to the server.
func byHand(t *testing.T, s *site, d event.Device) *bufio.Writer {
	t.Helper()
	c, err := net.Dial("tcp", s.Address())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { c.Close() })
	line, err := bufio.NewReader(c).ReadString('\n')
	if err != nil {
		t.Fatal(err)
	}
	var info struct {
		Nonce string `json:"nonce"`
	}
	if err := json.Unmarshal([]byte(strings.TrimPrefix(line, "INFO ")), &info); err != nil {
		t.Fatal(err)
	}
	key := keyOf(d)
	name, err := nkeys.Encode(nkeys.PrefixByteUser, key.Public().(ed25519.PublicKey))
	if err != nil {
		t.Fatal(err)
	}
	secured := tls.Client(c, s.trusting())
	w := bufio.NewWriter(secured)
	fmt.Fprintf(w, "CONNECT {\"verbose\":false,\"protocol\":1,\"headers\":true,\"nkey\":%q,\"sig\":%q}\r\n", name,
		base64.RawURLEncoding.EncodeToString(ed25519.Sign(key, []byte(info.Nonce))))
	return w
}

var errEnough = errors.New("enough")

func TestConsume(t *testing.T) {
	s := newSite(t)
	l, h := s.line("n1"), s.host()
	for i := range 5 {
		if err := l.Publish(t.Context(), fmt.Append(nil, i+1)); err != nil {
			t.Fatal(err)
		}
	}
	got := make(chan bus.Message)
	ctx, stop := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		ended <- h.Consume(ctx, 3, func(m bus.Message) error { got <- m; return nil })
	}()
	for want := uint64(3); want <= 8; want++ {
		if want == 6 { // from here on what is published while it waits
			for i := range 3 {
				if err := h.Publish(t.Context(), "n2", fmt.Append(nil, i+6)); err != nil {
					t.Fatal(err)
				}
			}
		}
		if m := <-got; m.Seq != want || string(m.Data) != fmt.Sprint(want) {
			t.Fatalf("got %+v, want %d", m, want)
		}
	}
	stop()
	if err := <-ended; !errors.Is(err, context.Canceled) {
		t.Errorf("ended with %v", err)
	}
	if err := h.Consume(t.Context(), 1, func(bus.Message) error { return errEnough }); !errors.Is(err, errEnough) {
		t.Errorf("ended with %v, want what the taker returned", err)
	}
}

func TestConsumeOfAStreamThatWentBack(t *testing.T) {
	s := newSite(t)
	l, h := s.line("n1"), s.host()
	for range 5 {
		if err := l.Publish(t.Context(), []byte("x")); err != nil {
			t.Fatal(err)
		}
	}
	var back *bus.StreamResetError
	if err := h.Consume(t.Context(), 9, func(bus.Message) error { return errEnough }); !errors.As(err, &back) ||
		back.Read != 8 || back.Last != 5 {
		t.Errorf("read to 8 of 5: %v", err)
	}
	// Made anew while it is read, with as many messages as before.
	js, err := jetstream.New(s.Conn())
	if err != nil {
		t.Fatal(err)
	}
	taken := make(chan uint64, 16)
	ended := make(chan error, 1)
	go func() {
		ended <- h.Consume(t.Context(), 1, func(m bus.Message) error { taken <- m.Seq; return nil })
	}()
	for range 5 {
		<-taken
	}
	if err := js.DeleteStream(t.Context(), bus.Stream(north)); err != nil {
		t.Fatal(err)
	}
	if err := bus.Ensure(t.Context(), s.Conn(), north, 1); err != nil {
		t.Fatal(err)
	}
	for range 5 {
		if err := l.Publish(t.Context(), []byte("y")); err != nil {
			t.Fatal(err)
		}
	}
	err = <-ended
	var gone *bus.Error // it may have looked between the two streams
	if !errors.As(err, &back) && !errors.As(err, &gone) {
		t.Errorf("the stream was made anew: %v", err)
	}
}

func TestConsumeEndsWithItsConnection(t *testing.T) {
	s := newSite(t)
	h := s.host()
	first := make(chan struct{})
	ended := make(chan error, 1)
	go func() {
		ended <- h.Consume(t.Context(), 1, func(bus.Message) error { close(first); return nil })
	}()
	if err := h.Publish(t.Context(), "n1", []byte("x")); err != nil {
		t.Fatal(err)
	}
	<-first
	s.Stop()
	wantKind(t, <-ended, bus.Gone)
}

func TestEnsureTwiceKeepsTheLog(t *testing.T) {
	s := newSite(t)
	l := s.line("n1")
	if err := l.Publish(t.Context(), []byte("x")); err != nil {
		t.Fatal(err)
	}
	if err := bus.Ensure(t.Context(), s.Conn(), north, 1); err != nil {
		t.Fatal(err)
	}
	if got, err := l.Read(t.Context(), 1, 10); err != nil || len(got) != 1 {
		t.Errorf("it holds %v, %v", got, err)
	}
	if err := bus.Ensure(t.Context(), s.Conn(), "North", 1); err == nil {
		t.Error("made a stream for a site that cannot be")
	}
}

func TestADeviceFillsNoMoreThanItsShare(t *testing.T) {
	s := newSite(t)
	js, err := jetstream.New(s.Conn())
	if err != nil {
		t.Fatal(err)
	}
	stream, err := js.Stream(t.Context(), bus.Stream(north))
	if err != nil {
		t.Fatal(err)
	}
	c := stream.CachedInfo().Config
	if c.MaxMsgsPerSubject != bus.MaxCarried {
		t.Errorf("a device may put %d segments on the stream, want %d", c.MaxMsgsPerSubject, bus.MaxCarried)
	}
	c.MaxMsgsPerSubject = 3
	if _, err := js.UpdateStream(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	l, other := s.line("n1"), s.line("n2")
	for i := range 3 {
		if err := l.Publish(t.Context(), []byte{byte(i)}); err != nil {
			t.Fatal(err)
		}
	}
	wantKind(t, l.Publish(t.Context(), []byte("one too many")), bus.Full)
	if err := other.Publish(t.Context(), []byte("x")); err != nil {
		t.Errorf("another device: %v", err)
	}
	if got, err := l.Read(t.Context(), 1, 10); err != nil || len(got) != 4 {
		t.Errorf("the stream holds %d messages, %v; want the first three and the other device's", len(got), err)
	}
}

func TestHeads(t *testing.T) {
	s := newSite(t)
	l, h := s.line("n1"), s.host()
	now := time.Date(2026, 7, 18, 11, 40, 0, 0, time.UTC)
	many := func(n int) []chain.Head {
		var out []chain.Head
		for i := range n {
			out = append(out, chain.Head{
				Device: event.Device(fmt.Sprint("n", i)), Seq: uint64(i),
				Chain: chain.Root(north, "n1"),
			})
		}
		return out
	}
	var say bus.Heads
	stop, err := h.ServeHeads(func() bus.Heads { return say })
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		name            string
		say             bus.Heads
		heads, backedUp int // -1 for a refusal
	}{
		{"nothing yet", bus.Heads{Now: now}, 0, 0},
		{"some", bus.Heads{Heads: many(3), BackedUp: many(2), Now: now}, 3, 2},
		{"more than fits with the backup", bus.Heads{Heads: many(2000), BackedUp: many(2000), Now: now}, 2000, 0},
		{"more than fits", bus.Heads{Heads: many(5000), Now: now}, -1, 0},
	} {
		say = c.say
		got, err := l.Heads(t.Context())
		if c.heads < 0 {
			if err == nil {
				t.Errorf("%s: no error", c.name)
			}
			continue
		}
		if err != nil || len(got.Heads) != c.heads || len(got.BackedUp) != c.backedUp || !got.Now.Equal(now) ||
			got.RoundTrip <= 0 {
			t.Errorf("%s: %d heads, %d backed up, %v, %v, %v", c.name, len(got.Heads), len(got.BackedUp), got.Now,
				got.RoundTrip, err)
			continue
		}
		for i, head := range got.Heads {
			if head != c.say.Heads[i] {
				t.Errorf("%s: head %d is %v, want %v", c.name, i, head, c.say.Heads[i])
			}
		}
	}
	stop()
}

func TestAQuestionEndsWithItsAsker(t *testing.T) {
	s := newSite(t)
	l := s.line("n1") // nobody answers for the heads
	short, stop := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer stop()
	_, err := l.Heads(short)
	wantKind(t, err, bus.Unreachable)
	given, giveUp := context.WithCancel(t.Context())
	giveUp()
	if _, err := l.Heads(given); !errors.Is(err, context.Canceled) {
		t.Errorf("given up: %v", err)
	}
	if _, err := bus.Dial(given, s.access("n1")); !errors.Is(err, context.Canceled) {
		t.Errorf("given up while dialling: %v", err)
	}
	asked := make(chan struct{})
	// and says nothing
	if _, err := s.Conn().Subscribe(bus.HeadsSubject(north), func(*nats.Msg) { close(asked) }); err != nil {
		t.Fatal(err)
	}
	if err := s.Conn().Flush(); err != nil {
		t.Fatal(err)
	}
	ended := make(chan error, 1)
	go func() {
		_, err := l.Heads(t.Context())
		ended <- err
	}()
	<-asked
	s.Stop()
	wantKind(t, <-ended, bus.Gone)
	<-l.Done()
	wantKind(t, l.Publish(t.Context(), []byte("x")), bus.Gone)
}

// A server with the site's own certificate that asks a device to sign a segment in place of a challenge.
func TestADeviceSignsNothingButChallenges(t *testing.T) {
	s := newSite(t)
	settings, err := s.ca.TLS(time.Now)
	if err != nil {
		t.Fatal(err)
	}
	for _, nonce := range []string{`hod segment 1\u0000north-dome\u0000n1\u0000`, "hod enrol", strings.Repeat("A",
		65), "", "short"} {
		ln, err := net.Listen("tcp", "127.0.0.1:0")
		if err != nil {
			t.Fatal(err)
		}
		said := make(chan string, 1)
		go func() {
			defer close(said)
			c, err := ln.Accept()
			if err != nil {
				return
			}
			defer c.Close()
			fmt.Fprintf(c,
				"INFO {\"server_id\":\"x\",\"version\":\"2.15.2\",\"headers\":true,\"max_payload\":1000,\"auth_required\":true,\"tls_required\":true,\"nonce\":\"%s\"}\r\n", nonce)
			all, _ := io.ReadAll(tls.Server(c, settings))
			said <- string(all)
		}()
		a := s.access("n1")
		a.Address = ln.Addr().String()
		l, err := bus.Dial(t.Context(), a)
		if err == nil {
			l.Close()
		}
		ln.Close()
		if err == nil {
			t.Errorf("challenge %q: connected", nonce)
		}
		if text := <-said; strings.Contains(text, `"sig":"`) {
			t.Errorf("challenge %q was signed: %q", nonce, text)
		}
	}
}

// A bit that flips in the stream's file costs the message that it is in, or, with the index lost too, all behind it; no
// reader stops there for good, and the host is told when the stream went back.
func TestAFlippedBit(t *testing.T) {
	const n = 60
	for _, c := range []struct {
		name      string
		at        int
		indexLost bool
	}{
		{"in the middle", 30, false}, {"in the middle, index lost", 30, true}, {
			"at the end", n,
			false,
		}, {"at the end, index lost", n, true}, {"at the start", 1, false},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := newSite(t)
			l := s.line("n1")
			for i := range n {
				if err := l.Publish(t.Context(), fmt.Appendf(nil, "segment %04d", i+1)); err != nil {
					t.Fatal(err)
				}
			}
			s.Stop()
			flip(t, s.dir, fmt.Sprintf("segment %04d", c.at), c.indexLost)
			s.start()
			h, l := s.host(), s.line("n1")
			state, err := h.State(t.Context())
			if err != nil {
				t.Fatal(err)
			}
			if state.Last < n { // who had read all of it is told
				var back *bus.StreamResetError
				if err := h.Consume(t.Context(), n+1, func(bus.Message) error { return errEnough }); !errors.As(err,
					&back) {
					t.Errorf("consume from %d: %v", n+1, err)
				}
			}
			if err := l.Publish(t.Context(), []byte("after")); err != nil {
				t.Fatal(err)
			}
			var all []bus.Message
			next := uint64(1)
			for {
				got, err := l.Read(t.Context(), next, 10)
				if err != nil {
					t.Fatal(err)
				}
				if len(got) == 0 {
					break
				}
				all, next = append(all, got...), got[len(got)-1].Seq+1
			}
			for i, m := range all[:len(all)-1] {
				if want := fmt.Sprintf("segment %04d", m.Seq); string(m.Data) != want || m.Seq == uint64(c.at) {
					t.Errorf("number %d holds %q", m.Seq, m.Data)
				}
				if i > 0 && m.Seq <= all[i-1].Seq {
					t.Errorf("number %d comes after %d", m.Seq, all[i-1].Seq)
				}
			}
			if last := all[len(all)-1]; string(last.Data) != "after" || len(all) < c.at {
				t.Errorf("read %d messages, the last of them %q", len(all), last.Data)
			}
			if taken := consumed(t, h, 1, next-1); len(taken) != len(all) {
				t.Errorf("the host took %d, a device read %d", len(taken), len(all))
			}
			t.Logf("the stream said %d to %d; a device read %d of %d", state.First, state.Last, len(all)-1, n)
		})
	}
}

func flip(t *testing.T, dir, text string, indexLost bool) {
	t.Helper()
	found := false
	err := filepath.Walk(dir, func(path string, info os.FileInfo, err error) error {
		if err != nil {
			return err
		}
		if indexLost && filepath.Base(path) == "index.db" {
			return os.Remove(path)
		}
		if filepath.Ext(path) != ".blk" {
			return nil
		}
		raw, err := os.ReadFile(path)
		if err != nil {
			return err
		}
		at := bytes.Index(raw, []byte(text))
		if at < 0 {
			return nil
		}
		found = true
		raw[at+3] ^= 4
		return os.WriteFile(path, raw, 0o600)
	})
	if err != nil || !found {
		t.Fatalf("flip a bit: found %v, %v", found, err)
	}
}
