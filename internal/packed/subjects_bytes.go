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

// subjectsForm is the form of the Bytes of Subjects; bytes of another are not read.
const subjectsForm = 1

// errSubjects is all that is said of bytes that are none of Subjects: they are thrown away.
var errSubjects = errors.New("these are no index of events of this form")

// packer writes what unpacker reads: numbers, texts, and instants and seqs as the difference from the last.
type packer struct {
	out  []byte
	last int64
	at   Place
}

func (p *packer) number(n int)  { p.out = binary.AppendUvarint(p.out, uint64(n)) }
func (p *packer) uint(n uint64) { p.out = binary.AppendUvarint(p.out, n) }
func (p *packer) text(s string) { p.out = append(binary.AppendUvarint(p.out, uint64(len(s))), s...) }

func (p *packer) float(x float64) { p.out = binary.BigEndian.AppendUint64(p.out, math.Float64bits(x)) }

func (p *packer) flags(all ...bool) {
	n := 0
	for i, is := range all {
		if is {
			n |= 1 << i
		}
	}
	p.number(n)
}

// instant is one that countable holds for, or none.
func (p *packer) instant(t time.Time) {
	n := int64(math.MinInt64 / 2)
	if !t.IsZero() {
		n = t.UnixNano()
	}
	p.out = binary.AppendVarint(p.out, n-p.last)
	p.last = n
}

func (p *packer) place(at Place) {
	p.out = binary.AppendVarint(p.out, int64(at.Device-p.at.Device))
	p.out = binary.AppendVarint(p.out, int64(at.Seq-p.at.Seq))
	p.at = at
}

func (p *packer) places(all []Place) {
	p.number(len(all))
	for _, at := range all {
		p.place(at)
	}
}

// subjectsReader reads what packer wrote.
type subjectsReader struct {
	unpacker
	last    int64
	at      Place
	devices int
}

func (in *subjectsReader) instant() time.Time {
	in.last += in.varint()
	if in.last == math.MinInt64/2 {
		return time.Time{}
	}
	return time.Unix(0, in.last).UTC()
}

func (in *subjectsReader) place() Place {
	in.at.Device += int(in.varint())
	in.at.Seq += uint64(in.varint())
	if in.at.Device < 0 || in.at.Device >= in.devices || in.at.Seq == 0 {
		in.bad, in.at.Device = true, 0
	}
	return in.at
}

func (in *subjectsReader) places() []Place {
	all := make([]Place, in.count())
	for i := range all {
		all[i] = in.place()
	}
	return all
}

// below is a number under a bound.
func (in *subjectsReader) below(n int) int {
	x := in.uvarint()
	if x >= uint64(n) {
		in.bad = true
		return 0
	}
	return int(x)
}

// Bytes are Subjects for a file. They say nothing of the record that it is of, nor whether they are whole: who keeps
// them does.
func (x *Subjects) Bytes() []byte {
	p := &packer{out: append([]byte{subjectsForm}, x.Plan[:]...)}
	p.instant(x.AsOf)
	p.number(len(x.Devices))
	index := map[event.Device]int{}
	for i, d := range x.Devices {
		index[d] = i
		p.text(string(d))
		p.number(x.counts[i])
		p.uint(x.last[i])
	}
	p.number(len(x.Absent))
	for _, h := range slices.SortedFunc(maps.Keys(x.Absent),
		func(a, b event.Hash) int { return bytes.Compare(a[:], b[:]) }) {
		p.out = append(p.out, h[:]...)
	}
	p.number(len(x.spans))
	for _, s := range x.spans {
		p.number(index[s.Device])
		p.uint(s.From)
		p.uint(s.To - s.From)
	}
	p.number(len(x.Coats))
	for _, c := range x.Coats {
		p.text(string(c.Zone))
		p.number(int(c.Face))
		p.number(c.Number)
	}
	p.number(len(x.Yields))
	for _, y := range x.Yields {
		p.text(string(y.Mix))
		p.text(y.Sums)
	}
	x.putBatches(p)
	p.number(len(x.Zones))
	for _, z := range x.Zones {
		p.text(string(z.Name))
		p.flags(z.Placed, z.Bare)
		p.instant(z.Cold)
		p.instant(z.Known)
		p.places(z.Events)
		p.number(len(z.Batches))
		for _, b := range z.Batches {
			p.number(b)
		}
	}
	p.places(x.Shifts)
	p.flags(x.HasAir)
	p.number(len(x.Air))
	for _, a := range x.Air {
		p.place(a.By)
		p.instant(a.First)
		p.instant(a.Last)
	}
	return p.out
}

func (x *Subjects) putBatches(p *packer) {
	p.number(len(x.Batches))
	var last event.Batch
	for _, b := range x.Batches {
		p.flags(b.Here, b.Made, b.Stands, b.Yield >= 0, b.ID.Day != last.Day, b.ID.Crew != last.Crew)
		if b.ID.Day != last.Day {
			p.text(b.ID.Day)
		}
		if b.ID.Crew != last.Crew {
			p.text(string(b.ID.Crew))
		}
		last = b.ID
		p.number(b.ID.Number)
		p.places(b.Events)
		if b.Stands {
			p.instant(b.Ready)
		}
		if b.Yield >= 0 {
			p.number(b.Yield)
			p.float(b.Ratio)
		}
		p.number(len(b.Parts))
		for _, part := range b.Parts {
			p.instant(part.From)
			p.instant(part.To)
			p.number(part.Coat)
			p.place(part.By)
		}
	}
}

// ReadSubjects reads what Bytes made. Any other bytes are an error, or an index that nobody should believe.
func ReadSubjects(data []byte) (*Subjects, error) {
	in := &subjectsReader{unpacker: unpacker{data: data}}
	if in.take(1)[0] != subjectsForm {
		return nil, errSubjects
	}
	x := &Subjects{Absent: map[event.Hash]bool{}}
	copy(x.Plan[:], in.take(len(x.Plan)))
	x.AsOf = in.instant()
	for range in.count() {
		x.Devices = append(x.Devices, event.Device(in.text()))
		x.counts = append(x.counts, int(in.uvarint()))
		x.last = append(x.last, in.uvarint())
	}
	in.devices = len(x.Devices)
	for range in.count() {
		x.Absent[event.Hash(in.take(len(event.Hash{})))] = true
	}
	for range in.count() {
		d, from, more := in.below(len(x.Devices)), in.uvarint(), in.uvarint()
		if in.bad || from == 0 || from+more < from || from+more > x.last[d] {
			return nil, errSubjects
		}
		span := Span{x.Devices[d], from, from + more}
		if n := len(x.spans); n > 0 && event.CompareNames(event.Name{Device: x.spans[n-1].Device, Seq: x.spans[n-1].To},
			event.Name{Device: span.Device, Seq: from}) >= 0 {
			return nil, errSubjects
		}
		x.spans = append(x.spans, span)
	}
	for range in.count() {
		x.Coats = append(x.Coats, event.Coat{
			Zone: event.Zone(in.text()), Face: event.Face(in.uvarint()),
			Number: int(in.uvarint()),
		})
	}
	for range in.count() {
		x.Yields = append(x.Yields, Mortar{event.Mix(in.text()), in.text()})
	}
	x.readBatches(in)
	for range in.count() {
		z := ZoneSubject{Name: event.Zone(in.text())}
		flags := in.uvarint()
		z.Placed, z.Bare = flags&1 != 0, flags&2 != 0
		z.Cold, z.Known = in.instant(), in.instant()
		z.Events = in.places()
		z.Batches = make([]int, in.count())
		for i := range z.Batches {
			z.Batches[i] = in.below(len(x.Batches))
		}
		x.Zones = append(x.Zones, z)
	}
	x.Shifts = in.places()
	x.HasAir = in.uvarint() != 0
	for range in.count() {
		x.Air = append(x.Air, AirSubject{in.place(), in.instant(), in.instant()})
	}
	if in.bad || len(in.data) > 0 {
		return nil, errSubjects
	}
	return x, nil
}

func (x *Subjects) readBatches(in *subjectsReader) {
	n := in.count()
	x.Batches = make([]BatchSubject, 0, n)
	var last event.Batch
	for range n {
		flags := in.uvarint()
		if flags&16 != 0 {
			last.Day = in.text()
		}
		if flags&32 != 0 {
			last.Crew = event.Crew(in.text())
		}
		last.Number = int(in.uvarint())
		b := BatchSubject{
			ID: last, Here: flags&1 != 0, Made: flags&2 != 0, Stands: flags&4 != 0, Yield: -1,
			Events: in.places(),
		}
		if b.Stands {
			b.Ready = in.instant()
		}
		if flags&8 != 0 {
			b.Yield, b.Ratio = in.below(len(x.Yields)), in.float()
		}
		b.Parts = make([]PartSubject, in.count())
		for i := range b.Parts {
			b.Parts[i] = PartSubject{in.instant(), in.instant(), in.below(len(x.Coats)), in.place()}
		}
		if in.bad {
			return
		}
		x.Batches = append(x.Batches, b)
	}
}
