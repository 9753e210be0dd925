package event_test

import (
	"bytes"
	"crypto/ed25519"
	"crypto/sha256"
	"errors"
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"
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

func TestWhatIsWrittenIsRead(t *testing.T) {
	for _, k := range eventtest.Kinds() {
		t.Run(k.Name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				body := k.Draw(t)
				if got := event.KindOf(body); got != k.Name {
					t.Fatalf("KindOf is %q, want %q", got, k.Name)
				}
				wrote, err := event.Write(event.Event{
					Name: event.Name{Device: "n2", Seq: 7}, HappenedAt: noon,
					Body: body,
				})
				if err != nil {
					t.Fatal(err)
				}
				if !reflect.DeepEqual(wrote.Body, body) {
					t.Fatalf("the body changed on the way to bytes and back (-before +after):\n%s",
						cmp.Diff(body, wrote.Body))
				}
			})
		})
	}
}

func TestDecodeUndoesEncode(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		wrote := eventtest.Event(t)
		read, err := event.Read(wrote.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if !reflect.DeepEqual(read, wrote) {
			t.Fatalf("read is not what was written:\n got %+v\nwant %+v", read, wrote)
		}
		if read.Hash() != sha256.Sum256(wrote.Bytes()) {
			t.Fatal("the hash is not that of the bytes")
		}
		if err := read.Check(); err != nil {
			t.Fatalf("what could be written is refused when read: %v", err)
		}
		again, err := event.Write(read)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(again.Bytes(), wrote.Bytes()) {
			t.Fatal("this version writes two encodings of one event")
		}
	})
}

func TestWriteHoldsTimesToTheMillisecond(t *testing.T) {
	e, err := event.Write(event.Event{
		Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: noon.Add(1234567), LoggedAt: noon.Add(999),
		Body: event.Placement{Batch: batch7, Coat: a3, From: noon.Add(1999999)},
	})
	if err != nil {
		t.Fatal(err)
	}
	if got, want := e.HappenedAt, noon.Add(time.Millisecond); !got.Equal(want) {
		t.Errorf("happened at %v, want %v", got, want)
	}
	if got, want := e.Body.(event.Placement).From, noon.Add(time.Millisecond); !got.Equal(want) {
		t.Errorf("placed from %v, want %v", got, want)
	}
}

func TestTypedTimesAreNeverShifted(t *testing.T) {
	offset := -4 * time.Minute
	e := event.Event{HappenedAt: noon, Offset: &offset}
	if got, want := e.At(), noon.Add(offset); !got.Equal(want) {
		t.Errorf("a time by a clock four minutes fast is %v on site, want %v", got, want)
	}
	if got := e.OnSite(time.Time{}); !got.IsZero() {
		t.Errorf("a time that was not said became %v", got)
	}
	e.Typed = true
	if got := e.At(); !got.Equal(noon) {
		t.Errorf("a typed time is %v on site, want %v", got, noon)
	}
}

// withUnknown is an event whose body is one that a newer version wrote: field 4711 of Body.
func withUnknown(t testing.TB) []byte {
	t.Helper()
	raw, err := proto.Marshal(&hodv1.Event{Device: "n2", Seq: 3, HappenedAt: timestamppb.New(noon)})
	if err != nil {
		t.Fatal(err)
	}
	body := protowire.AppendBytes(protowire.AppendTag(nil, 4711, protowire.BytesType), []byte("\x0a\x03new"))
	raw = protowire.AppendBytes(protowire.AppendTag(raw, 16, protowire.BytesType), body)
	return protowire.AppendVarint(protowire.AppendTag(raw, 900, protowire.VarintType), 1) // and one beside the body
}

func TestABodyOfANewerVersionIsKept(t *testing.T) {
	raw := withUnknown(t)
	e, err := event.Read(raw)
	if err != nil {
		t.Fatal(err)
	}
	if e.Body != nil {
		t.Fatalf("the body is %v, want nil", e.Body)
	}
	if got := event.KindOf(e.Body); got != "unknown" {
		t.Errorf("it is called %q, want unknown", got)
	}
	if err := e.Check(); err != nil {
		t.Errorf("it is refused: %v", err)
	}
	if !bytes.Equal(e.Bytes(), raw) || e.Hash() != sha256.Sum256(raw) {
		t.Error("its bytes or hash changed")
	}
	if _, err := event.Write(e); err == nil {
		t.Error("an event that this version cannot read was written anew")
	}

	key := ed25519.NewKeyFromSeed(bytes.Repeat([]byte{1}, ed25519.SeedSize))
	s, err := chain.Sign(key, "vault", chain.Head{Device: "n2", Seq: 2, Chain: chain.Root("vault", "n2")},
		[]event.Event{e})
	if err != nil {
		t.Fatal(err)
	}
	passed, err := chain.ReadSegment(s.Bytes())
	if err != nil {
		t.Fatal(err)
	}
	if err := passed.Verify(key.Public().(ed25519.PublicKey)); err != nil {
		t.Error(err)
	}
	if !bytes.Equal(passed.Events[0].Bytes(), raw) {
		t.Error("its bytes changed on the way through a segment")
	}
}

func TestAnAmendmentByANewerVersionIsSetAside(t *testing.T) {
	inner := &hodv1.Body{}
	inner.ProtoReflect().SetUnknown(protowire.AppendBytes(protowire.AppendTag(nil, 4711, protowire.BytesType), nil))
	e := read(t, &hodv1.Body{Kind: &hodv1.Body_Amended{Amended: &hodv1.Amended{
		Target: bytes.Repeat([]byte{1}, 32),
		Body:   inner,
	}}})
	if err := e.Check(); err == nil || !strings.Contains(err.Error(), "this version can read") {
		t.Errorf("check says %v", err)
	}
}

// read is an event as a peer may send it, past the checks of Write.
func read(t testing.TB, body *hodv1.Body) event.Event {
	t.Helper()
	raw, err := proto.Marshal(&hodv1.Event{Device: "n2", Seq: 3, HappenedAt: timestamppb.New(noon), Body: body})
	if err != nil {
		t.Fatal(err)
	}
	e, err := event.Read(raw)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// Every body of the proto is known here, has a noun of its own, is drawn by eventtest, and does not pass when it says
// nothing at all but for those that need no word.
func TestEveryBodyIsKnown(t *testing.T) {
	drawn := map[string]bool{}
	for _, k := range eventtest.Kinds() {
		drawn[k.Name] = true
	}
	seen := map[string]bool{}
	wordless := []string{"shift start", "shift end"}
	fields := (&hodv1.Body{}).ProtoReflect().Descriptor().Oneofs().ByName("kind").Fields()
	for i := range fields.Len() {
		f := fields.Get(i)
		p := &hodv1.Body{}
		p.ProtoReflect().Set(f, p.ProtoReflect().NewField(f))
		e := read(t, p)
		kind := event.KindOf(e.Body)
		if e.Body == nil || seen[kind] || !drawn[kind] {
			t.Errorf("%s is read as %T, called %q", f.Name(), e.Body, kind)
		}
		seen[kind] = true
		var cannot event.CannotBe
		if err := e.Check(); slices.Contains(wordless, kind) != (err == nil) || err != nil && !errors.As(err, &cannot) {
			t.Errorf("an empty %s: check says %v", kind, err)
		}
		t.Logf("empty %s: %v", kind, e.Check())
	}
	if len(seen) != len(drawn) {
		t.Errorf("%d bodies are drawn, %d are known", len(drawn), len(seen))
	}
}

func TestEnvelope(t *testing.T) {
	century := 101 * 365 * 24 * time.Hour
	for _, c := range []struct {
		name string
		e    event.Event
		want string
	}{
		{"no body", event.Event{Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: noon}, "needs a body"},
		{
			"no seq",
			event.Event{Name: event.Name{Device: "n2"}, HappenedAt: noon, Body: event.Noted{Text: "x"}},
			"seq from 1",
		},
		{
			"no device",
			event.Event{Name: event.Name{Seq: 1}, HappenedAt: noon, Body: event.Noted{Text: "x"}},
			"needs a device",
		},
		{"a device with a path in its name", event.Event{
			Name: event.Name{Device: "../n2", Seq: 1}, HappenedAt: noon,
			Body: event.Noted{Text: "x"},
		}, `holds '.'`},
		{"a crew with an escape in its name", event.Event{
			Name: event.Name{Device: "n2", Seq: 1}, Crew: "a\x1b[2J",
			HappenedAt: noon, Body: event.Noted{Text: "x"},
		}, `holds '\x1b'`},
		{
			"no time",
			event.Event{Name: event.Name{Device: "n2", Seq: 1}, Body: event.Noted{Text: "x"}},
			"does not say when",
		},
		{"a time before clocks", event.Event{
			Name:       event.Name{Device: "n2", Seq: 1},
			HappenedAt: noon.AddDate(-100, 0, 0), Body: event.Noted{Text: "x"},
		}, "from 1970"},
		{"a clock a century off", event.Event{
			Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: noon,
			Offset: &century, Body: event.Noted{Text: "x"},
		}, "cannot be"},
		{"a body too long in all", event.Event{
			Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: noon,
			Body: eventtest.LongWeather(),
		}, "the most is"},
	} {
		t.Run(c.name, func(t *testing.T) {
			if _, err := event.Write(c.e); err == nil || !strings.Contains(err.Error(), c.want) {
				t.Errorf("write says %v, want %q", err, c.want)
			}
		})
	}
}

func TestAnOffsetThatNoDurationHoldsIsRefused(t *testing.T) {
	for _, ms := range []int64{math.MaxInt64, math.MinInt64, 1 << 60} {
		raw, err := proto.Marshal(&hodv1.Event{
			Device: "n2", Seq: 3, HappenedAt: timestamppb.New(noon), ClockOffsetMs: &ms,
			Body: &hodv1.Body{Kind: &hodv1.Body_Noted{Noted: &hodv1.Noted{Text: "x"}}},
		})
		if err != nil {
			t.Fatal(err)
		}
		e, err := event.Read(raw)
		if err != nil {
			t.Fatal(err)
		}
		if e.Check() == nil {
			t.Errorf("a clock %d ms off passes", ms)
		}
		e.At() // and does not panic
	}
}

func TestNames(t *testing.T) {
	for s, want := range map[string]event.Name{"n2/147": {Device: "n2", Seq: 147}, "nord-1/1": {
		Device: "nord-1",
		Seq:    1,
	}} {
		got, err := event.ParseName(s)
		if err != nil || got != want || got.String() != s {
			t.Errorf("%q is read as %v, %v", s, got, err)
		}
	}
	for _, s := range []string{"", "n2", "n2/", "/1", "n2/0", "n2/-1", "n2/x", "n2/18446744073709551616"} {
		if n, err := event.ParseName(s); err == nil {
			t.Errorf("%q is read as %v", s, n)
		}
	}
}

func TestWhatHappenedAtOneInstantGoesByDeviceThenSeq(t *testing.T) {
	want := []event.Name{{Device: "a", Seq: 1}, {Device: "a", Seq: 2}, {Device: "a", Seq: 10}, {Device: "b", Seq: 1}}
	got := slices.Clone(want)
	slices.Reverse(got)
	slices.SortFunc(got, event.CompareNames)
	if !slices.Equal(got, want) {
		t.Errorf("order is %v, want %v", got, want)
	}
}

func TestReplaces(t *testing.T) {
	named := []event.Hash{{1}, {2}}
	for _, b := range []event.Body{
		event.SitePlanned{},
		event.ZonePlanned{},
		event.EdgePlanned{},
		event.CoatPlanned{},
		event.MixPlanned{},
		event.CrewPlanned{},
	} {
		if got := event.Replaces(event.WithReplaces(b, named)); !slices.Equal(got, named) {
			t.Errorf("a %s replaces %v, want %v", event.KindOf(b), got, named)
		}
		if got := event.Replaces(b); got != nil {
			t.Errorf("the %s given was changed: it replaces %v", event.KindOf(b), got)
		}
	}
	b := event.Noted{Text: "x"}
	if got := event.WithReplaces(b, named); got != event.Body(b) || event.Replaces(got) != nil {
		t.Errorf("a note replaces %v", event.Replaces(got))
	}
	if event.WithReplaces(nil, named) != nil {
		t.Error("no body became one")
	}
}

func TestHashText(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		h := eventtest.Event(t).Hash()
		back, err := event.ParseHash(h.String())
		if err != nil || back != h {
			t.Fatalf("%s is read as %s, %v", h, back, err)
		}
	})
	for _, s := range []string{"", "00", strings.Repeat("0", 63), strings.Repeat("g", 64), strings.Repeat("0", 66)} {
		if _, err := event.ParseHash(s); err == nil {
			t.Errorf("%q is read as a hash", s)
		}
	}
	var h event.Hash
	if text, err := h.MarshalText(); err != nil || len(text) != 0 {
		t.Errorf("no hash is written %q, %v", text, err)
	}
	if err := h.UnmarshalText(nil); err != nil || !h.IsZero() {
		t.Errorf("no text is read as %s, %v", h, err)
	}
}

// finite fails on a NaN or an infinity anywhere in v.
func finite(t testing.TB, v reflect.Value) {
	switch v.Kind() {
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			t.Fatalf("a number that is not finite passed its check: %v", f)
		}
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			finite(t, v.Elem())
		}
	case reflect.Slice:
		for i := range v.Len() {
			finite(t, v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			finite(t, v.Field(i))
		}
	}
}

func FuzzRead(f *testing.F) {
	for _, x := range examples() {
		f.Add(x.Bytes())
	}
	f.Add(withUnknown(f))
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, raw []byte) {
		e, err := event.Read(raw)
		if err != nil {
			return
		}
		if !bytes.Equal(e.Bytes(), raw) {
			t.Fatal("the bytes changed")
		}
		e.At()
		event.KindOf(e.Body)
		if e.Check() != nil || e.Body == nil {
			return
		}
		finite(t, reflect.ValueOf(e.Body))
		wrote, err := event.Write(e)
		if err != nil {
			t.Fatalf("what passes its check cannot be written: %v", err)
		}
		again, err := event.Write(wrote)
		if err != nil || !reflect.DeepEqual(again, wrote) {
			t.Fatalf("writing it again changed it: %v\n%s", err, cmp.Diff(wrote.Body, again.Body))
		}
	})
}

func BenchmarkRead(b *testing.B) {
	raw := write(b, "n2", 7, examples()["placement"].Body).Bytes()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := event.Read(raw); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkWrite(b *testing.B) {
	e := write(b, "n2", 7, examples()["placement"].Body)
	b.ReportAllocs()
	for b.Loop() {
		if _, err := event.Write(e); err != nil {
			b.Fatal(err)
		}
	}
}

func marshal(t testing.TB, p proto.Message) []byte {
	t.Helper()
	raw, err := proto.Marshal(p)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}
