package fold

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/trade/setting"
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

const (
	// packsAfter is how long before the newest reading what is packed was written: an answer for an instant a little
	// earlier than now still finds who was heard by then.
	packsAfter = 2 * time.Hour
	// packsWithin is how far a device's clock may be off for its readings to be packed: far below what a flag tells of.
	packsWithin = OffsetLimit / 2
)

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

// Hold has the site, which has no events yet, answer with packed readings, whose events are not added. fetch gives
// those events where an answer needs them; where it fails the answers since are worth nothing, see Lost.
func (s *Log) Hold(p *Packed, fetch func() ([]event.Event, error)) {
	s.packed, s.source.fetch = p, fetch
}

// Packs says whether packed readings are held in place of their events, which no answer has asked for yet.
func (s *Log) Packs() bool { return s.packed != nil }

// Lost says why events that an answer needed could not be fetched; nil if they were.
func (s *Log) Lost() error { return s.source.lost }

// unpack adds the events of what is packed.
func (s *Log) unpack() {
	if s.packed == nil {
		return
	}
	s.packed = nil
	events, err := s.source.fetch()
	s.source.lost = errors.Join(s.source.lost, err)
	for _, e := range events {
		s.Add(e)
	}
}

// heed unpacks where an event that came names one that is not there, which may be a packed one, or tells that the clock
// of a device was wrong whose readings are packed.
func (s *Log) heed() {
	named, apart := s.pending.named, s.pending.apart
	s.pending.named, s.pending.apart = nil, false
	if s.packed == nil {
		return
	}
	if apart {
		s.unpack()
		return
	}
	for _, h := range named {
		if s.by.hash[h] == nil && !s.packed.absent[h] {
			s.unpack()
			return
		}
	}
}

// namedBy are the events that one names by hash.
func namedBy(e event.Event) []event.Hash {
	var all []event.Hash
	if h, is := event.TargetOf(e.Body); is {
		all = append(all, h)
	}
	if b, is := e.Body.(event.Settled); is {
		all = append(append(all, b.Holds), b.Over...)
	}
	if !e.StandsFor.IsZero() {
		all = append(all, e.StandsFor)
	}
	return all
}

// planMark stands for the plan and who may write, as far as they decide how a reading is read.
func (s *Plans) planMark() [sha256.Size]byte {
	h := sha256.New()
	put := func(r *Record) {
		own := r.Hash()
		h.Write(own[:])
		h.Write([]byte{byte(r.State), byte(len(r.Via))})
		for _, via := range r.Via {
			own := via.Hash()
			h.Write(own[:])
		}
	}
	putAll := func(name string, of []*Record) {
		h.Write([]byte(name + "\n"))
		for _, r := range slices.SortedFunc(slices.Values(of), func(a, b *Record) int {
			x, y := a.Hash(), b.Hash()
			return bytes.Compare(x[:], y[:])
		}) {
			put(r)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.slots)) {
		if plans := s.slots[name].plans; len(plans) > 0 {
			putAll(name, plans)
		}
	}
	for _, name := range slices.Sorted(maps.Keys(s.members)) {
		putAll(string(name), s.members[name].enrolled)
		putAll(string(name), s.members[name].revoked)
	}
	return [sha256.Size]byte(h.Sum(nil))
}

// Packable is about how many of the events held may be packed.
func (s *Zones) Packable() int {
	n := 0
	for _, st := range s.zones {
		n += len(st.readings)
	}
	return n
}

// Pack gives what is packed and all readings that may be, as the record stands; nil where there are none, or where the
// site is looked at as of an instant.
func (s *Site) Pack() *Packed {
	if !s.until.IsZero() {
		return nil
	}
	s.compute()
	if s.source.lost != nil {
		return nil
	}
	b := packing{s: s, newest: s.newestOf(), samples: map[seriesKey][]sample{}, seqs: map[event.Device][]uint64{},
		index: map[event.Device]int{}}
	b.p = &Packed{plan: s.planMark(), heard: map[event.Crew]time.Time{}, absent: map[event.Hash]bool{}}
	if s.packed != nil && !b.takeOver(s.packed) {
		return nil
	}
	for _, st := range s.zones {
		for _, r := range st.readings {
			if b.may(r) {
				b.put(r)
			}
		}
	}
	return b.done()
}

type seriesKey struct {
	coat  event.Coat
	probe string
}

// packing is a Packed as it is made.
type packing struct {
	s       *Site
	p       *Packed
	newest  map[event.Device]*Record // by when they were written
	samples map[seriesKey][]sample
	seqs    map[event.Device][]uint64
	index   map[event.Device]int
}

// newestOf is the newest event of each device, of those whose clock was right as far as is known: what a flag tells of
// another device's clock names all its events.
func (s *Log) newestOf() map[event.Device]*Record {
	all, wrong := map[event.Device]*Record{}, map[event.Device]bool{}
	for _, r := range s.arrival {
		wrong[r.Device] = wrong[r.Device] || offRight(r.Event)
		if best := all[r.Device]; best == nil || byLogged(best, r) < 0 {
			all[r.Device] = r
		}
	}
	maps.DeleteFunc(all, func(d event.Device, _ *Record) bool { return wrong[d] })
	return all
}

func offRight(e event.Event) bool { return e.Offset != nil && e.Offset.Abs() > packsWithin }

// may says whether nothing sets a reading apart.
func (b *packing) may(r *Record) bool {
	s := b.s
	newest := b.newest[r.Device]
	switch {
	case !s.Untouched(r) || r.Ahead():
		return false
	case !countable(r.When) || slices.ContainsFunc(r.Now.(event.CureReadings).Samples,
		func(k event.Reading) bool { return !countable(k.At) }):
		return false
	case newest == nil || newest.Logged().Sub(r.Logged()) < packsAfter:
		return false
	}
	if s.isSound(r) {
		return true
	}
	if len(s.doubts(r.Now, r.When)) > 0 {
		return false
	}
	s.markSound(r)
	return true
}

// countable says whether an instant can be told in nanoseconds since 1970, whatever a clock is off by.
func countable(t time.Time) bool { return t.Year() > 1700 && t.Year() < 2250 }

func (b *packing) put(r *Record) {
	of := r.Now.(event.CureReadings)
	key := seriesKey{of.Coat, of.Probe}
	d := b.device(r.Device)
	for _, k := range of.Samples {
		b.samples[key] = append(b.samples[key], sample{r.OnSite(k.At).UnixNano(), r.When.UnixNano(), d, r.Seq,
			k.Temperature})
	}
	b.seqs[r.Device] = append(b.seqs[r.Device], r.Seq)
	if at := r.Logged(); b.p.heard[r.Crew].Before(at) {
		b.p.heard[r.Crew] = at
	}
}

// device is a device's number for now; byName numbers them by name.
func (b *packing) device(d event.Device) int {
	i, known := b.index[d]
	if !known {
		i = len(b.p.devices)
		b.index[d] = i
		b.p.devices = append(b.p.devices, d)
	}
	return i
}

// takeOver begins with what was packed before; false where it cannot be read.
func (b *packing) takeOver(old *Packed) bool {
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
func (b *packing) byName() {
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

func (b *packing) done() *Packed {
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
	for _, r := range b.s.arrival {
		for _, h := range namedBy(r.Event) {
			if b.s.by.hash[h] == nil {
				p.absent[h] = true
			}
		}
	}
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

// packedIn are the packed samples of one probe in a coat.
func (s *Zones) packedIn(coat event.Coat) map[string][]sample {
	if s.packed == nil {
		return nil
	}
	var all map[string][]sample
	for _, one := range s.packed.series {
		if one.coat.Zone != coat.Zone {
			continue
		}
		// The plan is that of the packing and the bytes were read once: neither can fail here.
		planned, aside := s.plan.Coat(one.coat)
		samples, ok := one.unpacked(len(s.packed.devices))
		if aside != nil || !ok {
			s.source.lost = errors.Join(s.source.lost, fmt.Errorf("packed readings of %s cannot be read", one.coat))
			continue
		}
		if planned.name() != coat {
			continue
		}
		if all == nil {
			all = map[string][]sample{}
		}
		all[one.probe] = append(all[one.probe], samples...)
		s.Cost.Samples += len(samples)
	}
	return all
}

// written is a sample's event, as the coat's order of readings has it.
type written struct {
	when time.Time
	name event.Name
}

// readingsOf are the events of one probe in a coat, loose and packed, by when they happened.
func (s *Zones) readingsOf(c *CoatIs, p Probe) []event.Name {
	var all []written
	for _, r := range p.Records {
		all = append(all, written{r.When, r.Name})
	}
	for _, k := range s.packedIn(c.name())[p.Name] {
		all = append(all, written{time.Unix(0, k.when), event.Name{Device: s.packed.devices[k.device], Seq: k.seq}})
	}
	slices.SortFunc(all, func(a, b written) int {
		return cmp.Or(a.when.Compare(b.when), event.CompareNames(a.name, b.name))
	})
	all = slices.CompactFunc(all, func(a, b written) bool { return a.name == b.name })
	names := make([]event.Name, len(all))
	for i, w := range all {
		names[i] = w.name
	}
	return names
}

// merge puts packed samples among those of a probe's records.
func (p *Probe) merge(packed []sample, devices []event.Device) {
	devices = slices.Clip(devices)
	index := map[event.Device]int{}
	for i, d := range devices {
		index[d] = i
	}
	for _, r := range p.Records {
		d, known := index[r.Device]
		if !known {
			d = len(devices)
			devices, index[r.Device] = append(devices, r.Device), d
		}
		for _, k := range r.Now.(event.CureReadings).Samples {
			packed = append(packed, sample{r.OnSite(k.At).UnixNano(), r.When.UnixNano(), d, r.Seq, k.Temperature})
		}
	}
	order := (&Packed{devices: devices}).compare
	if !slices.IsSortedFunc(packed, order) {
		slices.SortStableFunc(packed, order)
	}
	p.Samples = make([]setting.Sample, 0, len(packed))
	for i, k := range packed {
		if i == 0 || packed[i-1].at != k.at {
			p.Samples = append(p.Samples, setting.Sample{At: time.Unix(0, k.at).UTC(), Temp: k.temp})
		}
	}
}
