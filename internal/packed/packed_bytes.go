package packed

import (
	"bytes"
	"encoding/binary"
	"errors"
	"maps"
	"math"
	"slices"
	"time"

	"hod/internal/event"
)

// packedForm is the form of Bytes; bytes of another are not read.
const packedForm = 2 // 1 had devices and spans in no order

// errPacked is all that is said of bytes that are none of a Packed: they are thrown away.
var errPacked = errors.New("these are no packed readings of this form")

// Bytes are a Packed for a file. They say nothing of the record that they are of, nor whether they are whole: who keeps
// them does.
func (p *Readings) Bytes() []byte {
	out := append([]byte{packedForm}, p.Plan[:]...)
	text := func(s string) { out = append(binary.AppendUvarint(out, uint64(len(s))), s...) }
	number := func(n int) { out = binary.AppendUvarint(out, uint64(n)) }
	number(len(p.Devices))
	index := map[event.Device]int{}
	for i, d := range p.Devices {
		index[d] = i
		text(string(d))
		number(p.events[i])
		out = binary.AppendUvarint(out, p.last[i])
	}
	number(len(p.Heard))
	for _, crew := range slices.Sorted(maps.Keys(p.Heard)) {
		text(string(crew))
		out = binary.AppendVarint(out, p.Heard[crew].UnixNano())
	}
	number(len(p.Absent))
	for _, h := range slices.SortedFunc(maps.Keys(p.Absent),
		func(a, b event.Hash) int { return bytes.Compare(a[:], b[:]) }) {
		out = append(out, h[:]...)
	}
	number(len(p.spans))
	for _, span := range p.spans {
		number(index[span.Device])
		out = binary.AppendUvarint(out, span.From)
		out = binary.AppendUvarint(out, span.To-span.From)
	}
	number(len(p.Series))
	for _, one := range p.Series {
		text(string(one.Coat.Zone))
		number(int(one.Coat.Face))
		number(one.Coat.Number)
		text(one.Probe)
		number(one.n)
		text(string(one.data))
	}
	return out
}

// Read reads what Bytes made. Any other bytes are an error, or readings that nobody should believe.
func Read(data []byte) (*Readings, error) {
	in := unpacker{data: data}
	if in.take(1)[0] != packedForm {
		return nil, errPacked
	}
	p := &Readings{Heard: map[event.Crew]time.Time{}, Absent: map[event.Hash]bool{}}
	copy(p.Plan[:], in.take(len(p.Plan)))
	for range in.count() {
		p.Devices = append(p.Devices, event.Device(in.text()))
		p.events = append(p.events, int(in.uvarint()))
		p.last = append(p.last, in.uvarint())
	}
	for range in.count() {
		crew := event.Crew(in.text())
		p.Heard[crew] = time.Unix(0, in.varint()).UTC()
	}
	for range in.count() {
		p.Absent[event.Hash(in.take(len(event.Hash{})))] = true
	}
	for range in.count() {
		d, from, more := in.uvarint(), in.uvarint(), in.uvarint()
		if d >= uint64(len(p.Devices)) || from == 0 || from+more < from || from+more > p.last[d] {
			return nil, errPacked
		}
		span := Span{p.Devices[d], from, from + more}
		if n := len(p.spans); n > 0 && event.CompareNames(event.Name{Device: p.spans[n-1].Device, Seq: p.spans[n-1].To},
			event.Name{Device: span.Device, Seq: from}) >= 0 {
			return nil, errPacked
		}
		p.spans = append(p.spans, span)
	}
	for range in.count() {
		one := Series{Coat: event.Coat{
			Zone: event.Zone(in.text()), Face: event.Face(in.uvarint()),
			Number: int(in.uvarint()),
		}}
		one.Probe, one.n, one.data = in.text(), int(in.uvarint()), []byte(in.text())
		if in.bad {
			return nil, errPacked
		}
		p.Series = append(p.Series, one)
	}
	if in.bad || len(in.data) > 0 {
		return nil, errPacked
	}
	return p, nil
}

// unpacker reads numbers and texts off bytes; once they fall short it is bad, and gives zeros.
type unpacker struct {
	data []byte
	bad  bool
}

func (in *unpacker) take(n int) []byte {
	if n < 0 || n > len(in.data) {
		in.bad, in.data = true, nil
		return make([]byte, min(max(n, 0), 64))
	}
	out := in.data[:n]
	in.data = in.data[n:]
	return out
}

func (in *unpacker) uvarint() uint64 {
	x, n := binary.Uvarint(in.data)
	if n <= 0 {
		in.bad, in.data = true, nil
		return 0
	}
	in.data = in.data[n:]
	return x
}

func (in *unpacker) varint() int64 { return zagzig(in.uvarint()) }

func (in *unpacker) float() float64 {
	return math.Float64frombits(binary.BigEndian.Uint64(in.take(8)))
}

// count is how many things follow, each of a byte at least.
func (in *unpacker) count() int {
	n := in.uvarint()
	if n > uint64(len(in.data)) {
		in.bad, in.data = true, nil
		return 0
	}
	return int(n)
}

func (in *unpacker) text() string { return string(in.take(in.count())) }
