package fold

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

// Packed is readings of probes in columns: a few bytes each, where an event has eighty and a record in memory several
// hundred. On a large site nine of ten events are such readings, and most answers need of them at most what a probe
// read in a coat. A Site holds packed readings in place of their events, and fetches these when an answer needs them
// after all.
//
// Packed are only readings that nothing sets apart: they stand, nobody corrected them, nothing that they say is
// doubted, and they were written a while before the newest. What that hangs on, the plan and who may write, is in plan
// as a digest: where it has changed the events are fetched. It may be thrown away at any time.
type Packed struct {
	plan    [sha256.Size]byte
	devices []event.Device // by name
	events  []int          // of each device, packed
	last    []uint64       // of each device, the seq of the last
	heard   map[event.Crew]time.Time
	absent  map[event.Hash]bool // named by other events and not in the record: no packed event has one of these hashes
	spans   []Span              // by name
	series  []packedSeries
}

// Span is consecutive events of one device.
type Span struct {
	Device   event.Device
	From, To uint64
}

// packedSeries is what one probe read in one coat, packed.
type packedSeries struct {
	coat  event.Coat // as it was written
	probe string
	n     int // samples
	data  []byte
}

// sample is one of them: with it the event that it is of, since of two of one instant the first written counts.
type sample struct {
	at, when int64 // ns since 1970, by the site's clock
	device   int
	seq      uint64
	temp     unit.Celsius
}

// Spans are the events that are packed, by device and seq: who holds them need not read them.
func (p *Packed) Spans() []Span { return p.spans }

// Len is how many events are packed.
func (p *Packed) Len() int {
	n := 0
	for _, of := range p.events {
		n += of
	}
	return n
}

// of a device: how many of its events are packed, and the seq of the last.
func (p *Packed) of(d event.Device) (events int, last uint64) {
	if p == nil {
		return 0, 0
	}
	if i := slices.Index(p.devices, d); i >= 0 {
		return p.events[i], p.last[i]
	}
	return 0, 0
}

// holds says whether the event of that name is packed.
func (p *Packed) holds(n event.Name) bool {
	if events, last := p.of(n.Device); events == 0 || n.Seq > last {
		return false
	}
	// the first that does not end before it
	i, _ := slices.BinarySearchFunc(p.spans, n, func(s Span, n event.Name) int {
		return event.CompareNames(event.Name{Device: s.Device, Seq: s.To}, n)
	})
	return i < len(p.spans) && p.spans[i].Device == n.Device && p.spans[i].From <= n.Seq
}

// reaches says whether some of what is packed is excluded.
func (p *Packed) reaches(excluded map[event.Device]uint64) bool {
	for d, from := range excluded {
		if _, last := p.of(d); last >= from {
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
	p       *Packed
	samples map[seriesKey][]sample
	seqs    map[event.Device][]uint64
	index   map[event.Device]int
}

// NewPacking begins with nothing, for a plan and members of that digest.
func NewPacking(plan [sha256.Size]byte) *Packing {
	return &Packing{
		p:       &Packed{plan: plan, heard: map[event.Crew]time.Time{}, absent: map[event.Hash]bool{}},
		samples: map[seriesKey][]sample{}, seqs: map[event.Device][]uint64{}, index: map[event.Device]int{},
	}
}

// Add puts one sample in: of an event that says when it happened.
func (b *Packing) Add(coat event.Coat, probe string, of event.Name, at, when time.Time, temp unit.Celsius) {
	key := seriesKey{coat, probe}
	b.samples[key] = append(b.samples[key], sample{at.UnixNano(), when.UnixNano(), b.device(of.Device), of.Seq, temp})
}

// Whole says that all of an event is in, and when its crew wrote it.
func (b *Packing) Whole(of event.Name, crew event.Crew, logged time.Time) {
	b.seqs[of.Device] = append(b.seqs[of.Device], of.Seq)
	if b.p.heard[crew].Before(logged) {
		b.p.heard[crew] = logged
	}
}

// device is a device's number for now; byName numbers them by name.
func (b *Packing) device(d event.Device) int {
	i, known := b.index[d]
	if !known {
		i = len(b.p.devices)
		b.index[d] = i
		b.p.devices = append(b.p.devices, d)
	}
	return i
}

// TakeOver begins with what was packed before; false where it cannot be read.
func (b *Packing) TakeOver(old *Packed) bool {
	for _, d := range old.devices {
		b.device(d)
	}
	for _, one := range old.series {
		all, ok := one.unpacked(len(old.devices))
		if !ok {
			return false
		}
		key := seriesKey{one.coat, one.probe}
		b.samples[key] = append(b.samples[key], all...)
	}
	for _, span := range old.spans {
		for seq := span.From; seq <= span.To; seq++ {
			b.seqs[span.Device] = append(b.seqs[span.Device], seq)
		}
	}
	maps.Copy(b.p.heard, old.heard)
	return true
}

// byName numbers the devices by name, so that the spans, which are searched, are in order of names too.
func (b *Packing) byName() {
	was := slices.Clone(b.p.devices)
	slices.Sort(b.p.devices)
	for i, d := range b.p.devices {
		b.index[d] = i
	}
	for _, all := range b.samples {
		for i := range all {
			all[i].device = b.index[was[all[i].device]]
		}
	}
}

// Done is what was put in; nil where that is nothing. Absent are the hashes that events name and that are not in the
// log.
func (b *Packing) Done(absent map[event.Hash]bool) *Packed {
	p := b.p
	if len(b.samples) == 0 {
		return nil
	}
	b.byName()
	for _, d := range p.devices {
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
		slices.SortFunc(all, func(x, y sample) int { return p.compare(x, y) })
		p.series = append(p.series, packedSeries{key.coat, key.probe, len(all), packSamples(all)})
	}
	p.absent = absent
	return p
}

// compare orders samples by when they were read; of one instant, as the events that they are of.
func (p *Packed) compare(x, y sample) int {
	return cmp.Or(cmp.Compare(x.at, y.at), cmp.Compare(x.when, y.when),
		cmp.Compare(p.devices[x.device], p.devices[y.device]), cmp.Compare(x.seq, y.seq))
}

// packSamples puts samples into bytes: differences from one to the next, of times the differences of these, a
// temperature in tenths where it is one.
func packSamples(all []sample) []byte {
	var out []byte
	var last sample
	var step, tenths int64
	for _, k := range all {
		gap := k.at - last.at
		out = binary.AppendVarint(out, gap-step)
		out = binary.AppendVarint(out, k.at-k.when)
		out = binary.AppendVarint(out, int64(k.device-last.device))
		out = binary.AppendVarint(out, int64(k.seq-last.seq))
		if t := math.Round(float64(k.temp) * 10); t/10 == float64(k.temp) && math.Abs(t) < 1e6 {
			out = binary.AppendUvarint(out, zigzag(int64(t)-tenths)<<1)
			tenths = int64(t)
		} else {
			out = append(out, 1)
			out = binary.BigEndian.AppendUint64(out, math.Float64bits(float64(k.temp)))
		}
		last, step = k, gap
	}
	return out
}

func zigzag(x int64) uint64 { return uint64(x<<1) ^ uint64(x>>63) }

func zagzig(x uint64) int64 { return int64(x>>1) ^ -int64(x&1) }

// unpacked are the samples of a series; false where the bytes are none of packSamples.
func (one packedSeries) unpacked(devices int) ([]sample, bool) {
	in := unpacker{data: one.data}
	all := make([]sample, 0, min(one.n, len(one.data)))
	var last sample
	var step, tenths int64
	for range one.n {
		gap := in.varint() + step
		k := sample{at: last.at + gap}
		k.when = k.at - in.varint()
		k.device = last.device + int(in.varint())
		k.seq = last.seq + uint64(in.varint())
		if t := in.uvarint(); t&1 == 0 {
			tenths += zagzig(t >> 1)
			k.temp = unit.Celsius(float64(tenths) / 10)
		} else {
			k.temp = unit.Celsius(in.float())
		}
		if in.bad || k.device < 0 || k.device >= devices {
			return nil, false
		}
		last, step = k, gap
		all = append(all, k)
	}
	return all, len(in.data) == 0
}
