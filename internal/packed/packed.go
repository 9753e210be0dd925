package packed

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"maps"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
)

// Readings are those of probes in columns: a few bytes each, where an event has eighty and a record in memory several
// hundred. On a large site nine of ten events are such readings, and most answers need of them at most what a probe
// read in a coat. A Site holds packed readings in place of their events, and fetches these when an answer needs them
// after all.
//
// Packed are only readings that nothing sets apart: they stand, nobody corrected them, nothing that they say is
// doubted, and they were written a while before the newest. What that hangs on, the plan and who may write, is in plan
// as a digest: where it has changed the events are fetched. It may be thrown away at any time.
type Readings struct {
	Plan    [sha256.Size]byte
	Devices []event.Device // by name
	events  []int          // of each device, packed
	last    []uint64       // of each device, the seq of the last
	Heard   map[event.Crew]time.Time
	Absent  map[event.Hash]bool // named by other events and not in the record: no packed event has one of these hashes
	spans   []Span              // by name
	Series  []Series
}

// Span is consecutive events of one device.
type Span struct {
	Device   event.Device
	From, To uint64
}

// Series is what one probe read in one coat, packed.
type Series struct {
	Coat  event.Coat // as it was written
	Probe string
	n     int // samples
	data  []byte
}

// Sample is one of them: with it the event that it is of, since of two of one instant the first written counts.
type Sample struct {
	At, When int64 // ns since 1970, by the site's clock
	Device   int
	Seq      uint64
	Temp     unit.Celsius
}

// Spans are the events that are packed, by device and seq: who holds them need not read them.
func (p *Readings) Spans() []Span { return p.spans }

// Len is how many events are packed.
func (p *Readings) Len() int {
	n := 0
	for _, of := range p.events {
		n += of
	}
	return n
}

// Of a device: how many of its events are packed, and the seq of the last.
func (p *Readings) Of(d event.Device) (events int, last uint64) {
	if p == nil {
		return 0, 0
	}
	if i := slices.Index(p.Devices, d); i >= 0 {
		return p.events[i], p.last[i]
	}
	return 0, 0
}

// Holds says whether the event of that name is packed.
func (p *Readings) Holds(n event.Name) bool {
	if events, last := p.Of(n.Device); events == 0 || n.Seq > last {
		return false
	}
	return spanned(p.spans, n)
}

// Reaches says whether some of what is packed is excluded.
func (p *Readings) Reaches(excluded map[event.Device]uint64) bool {
	for d, from := range excluded {
		if _, last := p.Of(d); last >= from {
			return true
		}
	}
	return false
}

type seriesKey struct {
	coat  event.Coat
	probe string
}

// Packing is a Packed as it is made.
type Packing struct {
	p       *Readings
	samples map[seriesKey][]Sample
	seqs    map[event.Device][]uint64
	index   map[event.Device]int
}

// NewPacking begins with nothing, for a plan and members of that digest.
func NewPacking(plan [sha256.Size]byte) *Packing {
	return &Packing{
		p:       &Readings{Plan: plan, Heard: map[event.Crew]time.Time{}, Absent: map[event.Hash]bool{}},
		samples: map[seriesKey][]Sample{}, seqs: map[event.Device][]uint64{}, index: map[event.Device]int{},
	}
}

// Add puts one sample in: of an event that says when it happened.
func (b *Packing) Add(coat event.Coat, probe string, of event.Name, at, when time.Time, temp unit.Celsius) {
	key := seriesKey{coat, probe}
	b.samples[key] = append(b.samples[key], Sample{at.UnixNano(), when.UnixNano(), b.device(of.Device), of.Seq, temp})
}

// Whole says that all of an event is in, and when its crew wrote it.
func (b *Packing) Whole(of event.Name, crew event.Crew, logged time.Time) {
	b.seqs[of.Device] = append(b.seqs[of.Device], of.Seq)
	if b.p.Heard[crew].Before(logged) {
		b.p.Heard[crew] = logged
	}
}

// device is a device's number for now; byName numbers them by name.
func (b *Packing) device(d event.Device) int {
	i, known := b.index[d]
	if !known {
		i = len(b.p.Devices)
		b.index[d] = i
		b.p.Devices = append(b.p.Devices, d)
	}
	return i
}

// TakeOver begins with what was packed before; false where it cannot be read.
func (b *Packing) TakeOver(old *Readings) bool {
	for _, d := range old.Devices {
		b.device(d)
	}
	for _, one := range old.Series {
		all, ok := one.Unpacked(len(old.Devices))
		if !ok {
			return false
		}
		key := seriesKey{one.Coat, one.Probe}
		b.samples[key] = append(b.samples[key], all...)
	}
	for _, span := range old.spans {
		for seq := span.From; seq <= span.To; seq++ {
			b.seqs[span.Device] = append(b.seqs[span.Device], seq)
		}
	}
	maps.Copy(b.p.Heard, old.Heard)
	return true
}

// byName numbers the devices by name, so that the spans, which are searched, are in order of names too.
func (b *Packing) byName() {
	was := slices.Clone(b.p.Devices)
	slices.Sort(b.p.Devices)
	for i, d := range b.p.Devices {
		b.index[d] = i
	}
	for _, all := range b.samples {
		for i := range all {
			all[i].Device = b.index[was[all[i].Device]]
		}
	}
}

// Done is what was put in; nil where that is nothing. Absent are the hashes that events name and that are not in the
// log.
func (b *Packing) Done(absent map[event.Hash]bool) *Readings {
	p := b.p
	if len(b.samples) == 0 {
		return nil
	}
	b.byName()
	for _, d := range p.Devices {
		seqs := b.seqs[d]
		slices.Sort(seqs)
		p.events, p.last = append(p.events, len(seqs)), append(p.last, 0)
		if len(seqs) > 0 {
			p.last[len(p.last)-1] = seqs[len(seqs)-1]
		}
		for i, seq := range seqs {
			if n := len(p.spans); i > 0 && seqs[i-1]+1 == seq {
				p.spans[n-1].To = seq
				continue
			}
			p.spans = append(p.spans, Span{d, seq, seq})
		}
	}
	for _, key := range slices.SortedFunc(maps.Keys(b.samples), func(x, y seriesKey) int {
		return cmp.Or(cmp.Compare(x.coat.String(), y.coat.String()), cmp.Compare(x.coat.Face, y.coat.Face),
			cmp.Compare(x.coat.Number, y.coat.Number), cmp.Compare(x.probe, y.probe))
	}) {
		all := b.samples[key]
		slices.SortFunc(all, func(x, y Sample) int { return p.Compare(x, y) })
		p.Series = append(p.Series, Series{key.coat, key.probe, len(all), packSamples(all)})
	}
	p.Absent = absent
	return p
}

// Compare orders samples by when they were read; of one instant, as the events that they are of.
func (p *Readings) Compare(x, y Sample) int {
	return cmp.Or(cmp.Compare(x.At, y.At), cmp.Compare(x.When, y.When),
		cmp.Compare(p.Devices[x.Device], p.Devices[y.Device]), cmp.Compare(x.Seq, y.Seq))
}

// packSamples puts samples into bytes: differences from one to the next, of times the differences of these, a
// temperature in tenths where it is one.
func packSamples(all []Sample) []byte {
	var out []byte
	var last Sample
	var step, tenths int64
	for _, k := range all {
		gap := k.At - last.At
		out = binary.AppendVarint(out, gap-step)
		out = binary.AppendVarint(out, k.At-k.When)
		out = binary.AppendVarint(out, int64(k.Device-last.Device))
		out = binary.AppendVarint(out, int64(k.Seq-last.Seq))
		if t := math.Round(float64(k.Temp) * 10); t/10 == float64(k.Temp) && math.Abs(t) < 1e6 {
			out = binary.AppendUvarint(out, zigzag(int64(t)-tenths)<<1)
			tenths = int64(t)
		} else {
			out = append(out, 1)
			out = binary.BigEndian.AppendUint64(out, math.Float64bits(float64(k.Temp)))
		}
		last, step = k, gap
	}
	return out
}

func zigzag(x int64) uint64 { return uint64(x<<1) ^ uint64(x>>63) }

func zagzig(x uint64) int64 { return int64(x>>1) ^ -int64(x&1) }

// Unpacked are the samples of a series; false where the bytes are none of packSamples.
func (one Series) Unpacked(devices int) ([]Sample, bool) {
	in := unpacker{data: one.data}
	all := make([]Sample, 0, min(one.n, len(one.data)))
	var last Sample
	var step, tenths int64
	for range one.n {
		gap := in.varint() + step
		k := Sample{At: last.At + gap}
		k.When = k.At - in.varint()
		k.Device = last.Device + int(in.varint())
		k.Seq = last.Seq + uint64(in.varint())
		if t := in.uvarint(); t&1 == 0 {
			tenths += zagzig(t >> 1)
			k.Temp = unit.Celsius(float64(tenths) / 10)
		} else {
			k.Temp = unit.Celsius(in.float())
		}
		if in.bad || k.Device < 0 || k.Device >= devices {
			return nil, false
		}
		last, step = k, gap
		all = append(all, k)
	}
	return all, len(in.data) == 0
}
