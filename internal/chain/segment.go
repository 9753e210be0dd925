package chain

import (
	"crypto/ed25519"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"

	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"

	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
)

// Limits of a segment.
const (
	MaxSegmentEvents = 256
	MaxSegmentBytes  = 64 << 10
)

// Hash is the head of a device's chain: h(n) = SHA-256(h(n-1) ‖ bytes of event n), and h(0) = Root.
type Hash [sha256.Size]byte

// Root is the head of a chain without events. It holds site and device, so that no run of events passes for another's.
func Root(site string, device event.Device) Hash {
	return sha256.Sum256([]byte("hod chain 1\x00" + site + "\x00" + string(device)))
}

// Next is the head after one more event.
func (h Hash) Next(event []byte) Hash {
	sum := sha256.New()
	sum.Write(h[:])
	sum.Write(event)
	return Hash(sum.Sum(nil))
}

// Head says how far the log of one device reaches.
type Head struct {
	Device event.Device
	Seq    uint64
	Chain  Hash
}

// next is the head after one more event.
func (h Head) next(e event.Event) Head {
	return Head{h.Device, e.Seq, h.Chain.Next(e.Bytes())}
}

// Segment is consecutive events of one device, signed by it.
type Segment struct {
	Site   string
	Before Head // of that device, before the first event
	Events []event.Event
	After  Head // after the last

	signature []byte
	raw       []byte
}

// Bytes are those first signed; they are stored and passed on as they are.
func (s Segment) Bytes() []byte { return s.raw }

// First is the seq of its first event.
func (s Segment) First() uint64 { return s.Before.Seq + 1 }

// Heads gives the head after each of a segment's events, in order.
func (s Segment) Heads() []Head {
	heads, at := make([]Head, 0, len(s.Events)), s.Before
	for _, e := range s.Events {
		at = at.next(e)
		heads = append(heads, at)
	}
	return heads
}

// ErrBadSignature is returned when a segment's signature is not by the key of the device that it names.
var ErrBadSignature = errors.New("the signature is not this device's")

// Sign makes the segment of events that follow before. The events must be consecutive and of one device; at most
// MaxSegmentEvents and MaxSegmentBytes (see Fit).
func Sign(key ed25519.PrivateKey, site string, before Head, events []event.Event) (Segment, error) {
	p := &hodv1.Segment{Site: site, Device: string(before.Device), FirstSeq: before.Seq + 1, Before: before.Chain[:]}
	after := before
	for _, e := range events {
		if e.Device != before.Device || e.Seq != after.Seq+1 {
			return Segment{}, fmt.Errorf("event %s does not follow %s/%d", e.Name, before.Device, after.Seq)
		}
		after.Seq, after.Chain = e.Seq, after.Chain.Next(e.Bytes())
		p.Events = append(p.Events, e.Bytes())
	}
	p.Signature = ed25519.Sign(key, signed(site, before, after))
	raw, err := proto.MarshalOptions{Deterministic: true}.Marshal(p)
	if err != nil {
		return Segment{}, fmt.Errorf("encode segment from %s/%d: %w", before.Device, before.Seq+1, err)
	}
	if len(events) == 0 || len(events) > MaxSegmentEvents || len(raw) > MaxSegmentBytes {
		return Segment{}, fmt.Errorf("a segment holds 1 to %d events and at most %d bytes, not %d and %d",
			MaxSegmentEvents, MaxSegmentBytes, len(events), len(raw))
	}
	return Segment{site, before, events, after, p.Signature, raw}, nil
}

// Fit is how many of events, from the first, one segment takes.
func Fit(events []event.Event) int {
	size := 512 // names, heads and signature, with room to spare
	for i, e := range events {
		size += len(e.Bytes()) + 4
		if i == MaxSegmentEvents || (size > MaxSegmentBytes && i > 0) {
			return i
		}
	}
	return len(events)
}

// Count is how many events the bytes of a segment say that they hold, without reading any of them; as far as they can
// be read, whoever sent them.
func Count(raw []byte) int {
	n := 0
	for len(raw) > 0 {
		number, kind, head := protowire.ConsumeTag(raw)
		if head < 0 {
			break
		}
		value := protowire.ConsumeFieldValue(number, kind, raw[head:])
		if value < 0 {
			break
		}
		if number == eventsField && kind == protowire.BytesType {
			n++
		}
		raw = raw[head+value:]
	}
	return n
}

// eventsField is the number of the field events of a segment.
const eventsField = 5

// ReadSegment reads and checks all but the signature: sizes, order, and that each event names this device. Bytes from a
// peer never panic.
func ReadSegment(raw []byte) (Segment, error) {
	if len(raw) > MaxSegmentBytes {
		return Segment{}, fmt.Errorf("a segment of %d bytes; the most is %d", len(raw), MaxSegmentBytes)
	}
	var p hodv1.Segment
	if err := (proto.UnmarshalOptions{RecursionLimit: 32}).Unmarshal(raw, &p); err != nil {
		return Segment{}, fmt.Errorf("decode segment: %w", err)
	}
	if len(p.Events) == 0 || len(p.Events) > MaxSegmentEvents || p.FirstSeq == 0 || len(p.Before) != sha256.Size ||
		p.Device == "" {
		return Segment{}, fmt.Errorf("decode segment: %d events from seq %d of device %q", len(p.Events), p.FirstSeq,
			clip(p.Device))
	}
	s := Segment{
		Site: p.Site, Before: Head{event.Device(p.Device), p.FirstSeq - 1, Hash(p.Before)},
		Events: make([]event.Event, 0, len(p.Events)), signature: p.Signature, raw: raw,
	}
	s.After = s.Before
	for _, b := range p.Events {
		e, err := event.Read(b)
		if err != nil {
			return Segment{}, fmt.Errorf("segment of %s: %w", s.Before.Device, err)
		}
		if e.Device != s.Before.Device || e.Seq != s.After.Seq+1 {
			return Segment{}, fmt.Errorf("segment of %s from %d holds event %s", s.Before.Device, s.First(), e.Name)
		}
		s.After.Seq, s.After.Chain = e.Seq, s.After.Chain.Next(b)
		s.Events = append(s.Events, e)
	}
	return s, nil
}

// Verify checks the signature over the events' bytes as received; ErrBadSignature if it does not hold.
func (s Segment) Verify(key ed25519.PublicKey) error {
	if len(key) != ed25519.PublicKeySize || !ed25519.Verify(key, signed(s.Site, s.Before, s.After), s.signature) {
		return fmt.Errorf("segment %s/%d to %d: %w", s.Before.Device, s.First(), s.After.Seq, ErrBadSignature)
	}
	return nil
}

func signed(site string, before, after Head) []byte {
	b := []byte("hod segment 1\x00" + site + "\x00" + string(before.Device) + "\x00")
	b = binary.BigEndian.AppendUint64(b, before.Seq+1)
	b = binary.BigEndian.AppendUint64(b, after.Seq)
	b = append(b, before.Chain[:]...)
	return append(b, after.Chain[:]...)
}
