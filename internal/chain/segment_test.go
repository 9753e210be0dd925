package chain_test

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/proto"
	"pgregory.net/rapid"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/event/eventtest"
	hodv1 "hod/proto/hod/v1"
)

var noon = time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)

func write(t testing.TB, device event.Device, seq uint64, body event.Body) event.Event {
	t.Helper()
	e, err := event.Write(event.Event{
		Name: event.Name{Device: device, Seq: seq}, HappenedAt: noon, LoggedAt: noon,
		Body: body,
	})
	if err != nil {
		t.Fatalf("write %s: %v", event.KindOf(body), err)
	}
	return e
}

func note(t testing.TB, device event.Device, seq uint64) event.Event {
	return write(t, device, seq, event.Noted{Text: "rain stopped"})
}

func seed(n byte) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed(bytes.Repeat([]byte{n}, ed25519.SeedSize))
}

func public(key ed25519.PrivateKey) ed25519.PublicKey { return key.Public().(ed25519.PublicKey) }

func start(site string, device event.Device) chain.Head {
	return chain.Head{Device: device, Chain: chain.Root(site, device)}
}

func sign(t testing.TB, key ed25519.PrivateKey, before chain.Head, events ...event.Event) chain.Segment {
	t.Helper()
	s, err := chain.Sign(key, "vault", before, events)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func notes(t testing.TB, device event.Device, n int) (run []event.Event) {
	for i := range n {
		run = append(run, note(t, device, uint64(i)+1))
	}
	return run
}

func TestChainIsTheHashOfHeadAndEvent(t *testing.T) {
	root := chain.Root("vault", "n2")
	if want := chain.Hash(sha256.Sum256(append(root[:], "event"...))); root.Next([]byte("event")) != want {
		t.Error("the next head is not SHA-256 over head and event")
	}
	if chain.Root("vault", "n2") == chain.Root("vault", "n3") || chain.Root("vault", "n2") == chain.Root("vaul",
		"tn2") {
		t.Error("two devices or sites begin alike")
	}
}

func TestSegmentIsReadAsSigned(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		key, device := eventtest.Key(t), eventtest.Device(t)
		before := chain.Head{
			Device: device, Seq: rapid.Uint64Range(0, 1<<40).Draw(t, "before"),
			Chain: chain.Root("vault", device),
		}
		events := eventtest.Run(t, device, before.Seq, rapid.IntRange(1, 5).Draw(t, "events"))
		s, err := chain.Sign(key, "vault", before, events)
		if err != nil {
			t.Fatal(err)
		}
		got, err := chain.ReadSegment(s.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(got, s) {
			t.Fatalf("it is read otherwise than signed:\n got %+v\nwant %+v", got, s)
		}
		if err := got.Verify(public(key)); err != nil {
			t.Fatal(err)
		}
		if got.First() != before.Seq+1 || got.After.Seq != before.Seq+uint64(len(events)) || got.Before != before {
			t.Fatalf("it goes from %d to %d", got.First(), got.After.Seq)
		}
		sum := before.Chain
		for _, e := range events {
			sum = sum.Next(e.Bytes())
		}
		if got.After.Chain != sum {
			t.Fatal("the head after it is not that of its events one by one")
		}
	})
}

// Whatever bit is turned, the segment is refused, or says that it is forged.
func TestAnyBitTurnedIsFound(t *testing.T) {
	key := seed(1)
	s := sign(t, key, start("vault", "n2"), notes(t, "n2", 3)...)
	for i := range s.Bytes() {
		for bit := range 8 {
			raw := bytes.Clone(s.Bytes())
			raw[i] ^= 1 << bit
			got, err := chain.ReadSegment(raw)
			if err == nil {
				err = got.Verify(public(key))
				if err == nil {
					t.Fatalf("bit %d of byte %d can be turned unseen", bit, i)
				}
				if !errors.Is(err, chain.ErrBadSignature) {
					t.Fatalf("bit %d of byte %d: %v", bit, i, err)
				}
			}
		}
	}
}

func TestForgeries(t *testing.T) {
	key, other := seed(1), seed(2)
	run := notes(t, "n2", 4)
	whole := sign(t, key, start("vault", "n2"), run...)
	mid := chain.Head{Device: "n2", Seq: 2, Chain: chain.Root("vault", "n2").Next(run[0].Bytes()).Next(run[1].Bytes())}
	tail := sign(t, key, mid, run[2:]...)
	change := func(s chain.Segment, f func(*hodv1.Segment)) []byte {
		var p hodv1.Segment
		if err := proto.Unmarshal(s.Bytes(), &p); err != nil {
			t.Fatal(err)
		}
		f(&p)
		raw, err := proto.Marshal(&p)
		if err != nil {
			t.Fatal(err)
		}
		return raw
	}
	for name, raw := range map[string][]byte{
		"the last event dropped": change(whole, func(p *hodv1.Segment) { p.Events = p.Events[:3] }),
		"another site":           change(whole, func(p *hodv1.Segment) { p.Site = "dome" }),
		"another head before":    change(whole, func(p *hodv1.Segment) { p.Before[0]++ }),
		"no signature":           change(whole, func(p *hodv1.Segment) { p.Signature = nil }),
		"a signature too long": change(whole,
			func(p *hodv1.Segment) { p.Signature = append(p.Signature, 0) }),
		"the signature of another run": change(whole,
			func(p *hodv1.Segment) { p.Signature = mustRead(t, tail.Bytes()).Signature }),
		"an event replaced by one like it": change(whole,
			func(p *hodv1.Segment) { p.Events[1] = write(t, "n2", 2, event.Noted{Text: "rain"}).Bytes() }),
		"a signature by another device's": sign(t, other, start("vault", "n2"), run...).Bytes(),
		// an unknown field
		"an event encoded in another manner": change(whole,
			func(p *hodv1.Segment) { p.Events[0] = append(p.Events[0], 0xa0, 0x38, 1) }),
	} {
		t.Run(name, func(t *testing.T) {
			s, err := chain.ReadSegment(raw)
			if err != nil {
				t.Fatalf("it should be read and found forged: %v", err)
			}
			if err := s.Verify(public(key)); !errors.Is(err, chain.ErrBadSignature) {
				t.Errorf("verify says %v, want that it is forged", err)
			}
		})
	}
	if err := whole.Verify(nil); !errors.Is(err, chain.ErrBadSignature) {
		t.Errorf("without a key verify says %v", err)
	}
	for name, raw := range map[string][]byte{
		"the first event dropped": change(whole, func(p *hodv1.Segment) { p.Events = p.Events[1:] }),
		"two events exchanged": change(whole,
			func(p *hodv1.Segment) { p.Events[1], p.Events[2] = p.Events[2], p.Events[1] }),
		"an event twice":           change(whole, func(p *hodv1.Segment) { p.Events[2] = p.Events[1] }),
		"another device":           change(whole, func(p *hodv1.Segment) { p.Device = "n3" }),
		"no device":                change(whole, func(p *hodv1.Segment) { p.Device = "" }),
		"no events":                change(whole, func(p *hodv1.Segment) { p.Events = nil }),
		"seq 0":                    change(whole, func(p *hodv1.Segment) { p.FirstSeq = 0 }),
		"a short head":             change(whole, func(p *hodv1.Segment) { p.Before = p.Before[:31] }),
		"an event that is not one": change(whole, func(p *hodv1.Segment) { p.Events[3] = []byte{0xff} }),
		"more events than fit": change(whole, func(p *hodv1.Segment) {
			for range chain.MaxSegmentEvents {
				p.Events = append(p.Events, p.Events[0])
			}
		}),
		"more bytes than fit": change(whole,
			func(p *hodv1.Segment) { p.Signature = make([]byte, chain.MaxSegmentBytes) }),
		"torn": whole.Bytes()[:len(whole.Bytes())-1],
	} {
		t.Run(name, func(t *testing.T) {
			if s, err := chain.ReadSegment(raw); err == nil {
				t.Errorf("it is read as %+v", s)
			}
		})
	}
}

func mustRead(t testing.TB, raw []byte) *hodv1.Segment {
	t.Helper()
	p := &hodv1.Segment{}
	if err := proto.Unmarshal(raw, p); err != nil {
		t.Fatal(err)
	}
	return p
}

func TestSignRefusesWhatDoesNotFollow(t *testing.T) {
	key := seed(1)
	run := notes(t, "n2", 3)
	for name, events := range map[string][]event.Event{
		"nothing":            nil,
		"a gap":              {run[0], run[2]},
		"a late beginning":   run[1:],
		"an event twice":     {run[0], run[0]},
		"another's event":    {run[0], note(t, "n3", 2)},
		"more than fit":      notes(t, "n2", chain.MaxSegmentEvents+1),
		"more bytes than do": {long(t, 1), long(t, 2), long(t, 3), long(t, 4)},
	} {
		if _, err := chain.Sign(key, "vault", start("vault", "n2"), events); err == nil {
			t.Errorf("%s was signed", name)
		}
	}
}

// long is an event of some 20 KiB.
func long(t testing.TB, seq uint64) event.Event {
	b := eventtest.LongWeather()
	b.Samples = b.Samples[:event.MaxRun/2]
	return write(t, "n2", seq, b)
}

// However a record is cut, and wherever the cutting begins, what Fit gives can be signed, and all cuts end at one head.
func TestFitCutsAnywhereToOneHead(t *testing.T) {
	key := seed(1)
	short := event.Noted{Text: "rain stopped"}
	text := event.Noted{Text: strings.Repeat("x", event.MaxText)}
	full := eventtest.LongWeather()
	full.Samples = full.Samples[:340] // just under MaxBytes
	rapid.Check(t, func(t *rapid.T) {
		var events []event.Event
		heads := []chain.Head{start("vault", "n2")}
		for i := range rapid.IntRange(1, 300).Draw(t, "events") {
			body := rapid.SampledFrom([]event.Body{short, short, short, short, short, short, short, text, full}).Draw(t,
				"body")
			e, err := event.Write(event.Event{
				Name: event.Name{Device: "n2", Seq: uint64(i) + 1}, HappenedAt: noon,
				Body: body,
			})
			if err != nil {
				t.Fatal(err)
			}
			events = append(events, e)
			last := heads[len(heads)-1]
			heads = append(heads, chain.Head{Device: "n2", Seq: e.Seq, Chain: last.Chain.Next(e.Bytes())})
		}
		for i := rapid.IntRange(0, len(events)-1).Draw(t, "first"); i < len(events); {
			n := chain.Fit(events[i:])
			if n < 1 || n > chain.MaxSegmentEvents {
				t.Fatalf("%d events fit", n)
			}
			s, err := chain.Sign(key, "vault", heads[i], events[i:i+n])
			if err != nil {
				t.Fatalf("what fits cannot be signed: %v", err)
			}
			if i+n < len(events) && n < chain.MaxSegmentEvents &&
				len(s.Bytes())+len(events[i+n].Bytes()) < chain.MaxSegmentBytes-1024 {
				t.Fatalf("%d events of %d bytes fit, but the next of %d would too", n, len(s.Bytes()),
					len(events[i+n].Bytes()))
			}
			i += n
			if s.After != heads[i] {
				t.Fatalf("after %d events the head is %v, want %v", i, s.After, heads[i])
			}
		}
	})
	if chain.Fit(nil) != 0 {
		t.Error("of nothing something fits")
	}
}

func FuzzReadSegment(f *testing.F) {
	key := seed(1)
	f.Add(sign(f, key, start("vault", "n2"), notes(f, "n2", 3)...).Bytes())
	kept, err := filepath.Glob("../event/testdata/events/*.bin")
	if err != nil || len(kept) == 0 {
		f.Fatalf("no events to begin with: %v", err)
	}
	for _, path := range kept {
		raw, err := os.ReadFile(path)
		if err != nil {
			f.Fatal(err)
		}
		x, err := event.Read(raw)
		if err != nil || x.Body == nil {
			continue // of a past shape
		}
		e, err := event.Write(event.Event{Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: noon, Body: x.Body})
		if err != nil {
			f.Fatal(err)
		}
		f.Add(sign(f, key, start("vault", "n2"), e).Bytes())
	}
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, raw []byte) {
		s, err := chain.ReadSegment(raw)
		if err != nil {
			return
		}
		if !bytes.Equal(s.Bytes(), raw) {
			t.Fatal("the bytes changed")
		}
		if n := uint64(len(s.Events)); n == 0 || s.After.Seq-s.Before.Seq != n || s.After.Seq < n {
			t.Fatalf("%d events from %d to %d", n, s.First(), s.After.Seq)
		}
		for i, e := range s.Events {
			if e.Device != s.Before.Device || e.Seq != s.First()+uint64(i) {
				t.Fatalf("event %s in a segment of %s from %d", e.Name, s.Before.Device, s.First())
			}
		}
		signedAgain, err := chain.Sign(key, s.Site, s.Before, s.Events)
		if err == nil && signedAgain.After != s.After {
			t.Fatal("signed again it ends elsewhere")
		}
		_ = s.Verify(public(key)) // and does not panic
	})
}

func BenchmarkReadSegment(b *testing.B) {
	key := seed(1)
	raw := sign(b, key, start("vault", "n2"), notes(b, "n2", 64)...).Bytes()
	b.ReportAllocs()
	for b.Loop() {
		s, err := chain.ReadSegment(raw)
		if err == nil {
			err = s.Verify(public(key))
		}
		if err != nil {
			b.Fatal(err)
		}
	}
}
