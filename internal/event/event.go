package event

import (
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strconv"
	"strings"
	"time"

	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	hodv1 "hod/proto/hod/v1"
)

// Limits on what one event may be. A limit reached is an error that a person can read.
const (
	MaxBytes = 32 << 10 // of one encoded event
	MaxText  = 4 << 10  // of one text in it
	MaxRun   = 512      // samples, charges, gauges or hashes in one event
)

// Hash is the SHA-256 of an event's bytes as first written.
type Hash [sha256.Size]byte

// IsZero says that no hash was given.
func (h Hash) IsZero() bool { return h == Hash{} }

func (h Hash) String() string { return hex.EncodeToString(h[:]) }

// Name is what people call an event: the device that wrote it and its place in that device's record.
type Name struct {
	Device Device
	Seq    uint64
}

func (n Name) String() string { return string(n.Device) + "/" + strconv.FormatUint(n.Seq, 10) }

// ParseName reads "n2/147".
func ParseName(s string) (Name, error) {
	device, seq, ok := strings.Cut(s, "/")
	n, err := strconv.ParseUint(seq, 10, 64)
	if !ok || err != nil || n == 0 || device == "" {
		return Name{}, fmt.Errorf("%q is not the name of an event; one looks like n2/147", clip(s))
	}
	return Name{Device(device), n}, nil
}

// Event is one thing that one device wrote. It never changes.
type Event struct {
	Name
	Crew       Crew
	HappenedAt time.Time // a person's claim where Typed, else the device's clock
	LoggedAt   time.Time // the device's clock
	// the times in the event and its body were typed or came with the data: they are never shifted
	Typed  bool
	Offset *time.Duration // the site's clock less the device's, as the device knew it; nil before its first contact
	Basis  ClockBasis     // what Offset rests on
	Person string
	// somebody was asked about a value that the trade does not know, and said that so it was
	Sure      bool `json:",omitempty"`
	StandsFor Hash // the event that this one writes again after a fork
	Body      Body // nil when a newer version wrote a body that this one does not know

	hash Hash
	raw  []byte
}

// Hash is that of the bytes as first written.
func (e Event) Hash() Hash { return e.hash }

// Origin is the hash under which the event was first written, however often a fork had it written again.
func (e Event) Origin() Hash {
	if e.StandsFor.IsZero() {
		return e.hash
	}
	return e.StandsFor
}

// Bytes are those first written; they are stored and passed on as they are. The caller must not change them.
func (e Event) Bytes() []byte { return e.raw }

// At is when the event happened by the site's clock.
func (e Event) At() time.Time { return e.OnSite(e.HappenedAt) }

// Logged is when it was written, by the site's clock.
func (e Event) Logged() time.Time {
	if e.Offset == nil {
		return e.LoggedAt
	}
	return e.LoggedAt.Add(*e.Offset)
}

// OnSite brings a time in this event to the site's clock: a clock-made one is shifted by the offset that the device
// knew when it wrote (see ClockBasis), a typed one is what the person said.
func (e Event) OnSite(t time.Time) time.Time {
	if e.Typed || e.Offset == nil || t.IsZero() {
		return t
	}
	return t.Add(*e.Offset)
}

// CompareNames orders by device, then seq.
func CompareNames(a, b Name) int {
	return cmp.Or(cmp.Compare(a.Device, b.Device), cmp.Compare(a.Seq, b.Seq))
}

// Write checks what is to be said and gives the event whose bytes are kept, hashed and signed from now on. The times
// are held to the millisecond.
func Write(e Event) (Event, error) {
	if e.Body == nil {
		return Event{}, fmt.Errorf("an event needs a body")
	}
	if e.Device == "" || e.Seq == 0 {
		return Event{}, fmt.Errorf("an event needs a device and a seq from 1, not %q", e.Name)
	}
	e.HappenedAt, e.LoggedAt = milli(e.HappenedAt), milli(e.LoggedAt)
	if err := e.Check(); err != nil {
		return Event{}, err
	}
	p := &hodv1.Event{
		Device: string(e.Device), Seq: e.Seq, Crew: string(e.Crew),
		HappenedAt: stamp(e.HappenedAt), LoggedAt: stamp(e.LoggedAt), HappenedTyped: e.Typed,
		Person: e.Person, Sure: e.Sure, StandsFor: hashBytes(e.StandsFor), Body: bodyProto(e.Body),
	}
	if e.Offset != nil {
		ms := e.Offset.Milliseconds()
		p.ClockOffsetMs, p.ClockBasis = &ms, hodv1.ClockBasis(e.Basis)
	}
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(p)
	if err != nil {
		return Event{}, fmt.Errorf("encode event %s: %w", e.Name, err)
	}
	return Read(raw)
}

// Read gives the event that bytes say. Bytes from a disk, a peer or a newer version never panic; a body that this
// version does not know is nil and its bytes are kept.
func Read(raw []byte) (Event, error) {
	if len(raw) > MaxBytes {
		return Event{}, fmt.Errorf("an event of %d bytes; the most is %d", len(raw), MaxBytes)
	}
	var p hodv1.Event
	if err := (proto.UnmarshalOptions{RecursionLimit: 32}).Unmarshal(raw, &p); err != nil {
		return Event{}, fmt.Errorf("decode event: %w", err)
	}
	e := Event{
		Name: Name{Device(p.Device), p.Seq}, Crew: Crew(p.Crew),
		HappenedAt: instant(p.HappenedAt), LoggedAt: instant(p.LoggedAt), Typed: p.HappenedTyped,
		Person: p.Person, Sure: p.Sure, hash: sha256.Sum256(raw), raw: raw,
	}
	if e.Device == "" || e.Seq == 0 {
		return Event{}, fmt.Errorf("decode event: no device or no seq")
	}
	if p.ClockOffsetMs != nil {
		offset := span(float64(*p.ClockOffsetMs), time.Millisecond)
		e.Offset, e.Basis = &offset, ClockBasis(p.ClockBasis)
	}
	e.StandsFor = hashOf(p.StandsFor)
	e.Body = bodyOf(p.Body)
	return e, nil
}

// Check says what in the event cannot be, in a sentence; the fold sets such an event aside.
func (e Event) Check() error {
	if err := e.checkEnvelope(); err != nil || e.Body == nil {
		return err
	}
	return e.Body.check()
}

func milli(t time.Time) time.Time { return t.UTC().Truncate(time.Millisecond) }

func stamp(t time.Time) *timestamppb.Timestamp {
	if t.IsZero() {
		return nil
	}
	return timestamppb.New(milli(t))
}

func instant(t *timestamppb.Timestamp) time.Time {
	if t == nil || t.CheckValid() != nil {
		return time.Time{}
	}
	return t.AsTime()
}

func hashBytes(h Hash) []byte {
	if h.IsZero() {
		return nil
	}
	return h[:]
}

// clip keeps a stranger's text short in a message.
func clip(s string) string {
	for i := range s { // at the edge of a character
		if i >= 40 {
			return s[:i] + "…"
		}
	}
	return s
}
