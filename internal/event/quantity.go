package event

import (
	"math"
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// Amount by mass or by volume, as it was given.
type Amount struct {
	Mass     unit.Mass   // kg
	Volume   unit.Volume // m³
	ByVolume bool
	Entered  string
}

func (a Amount) check(what string, mass, volume limit) error {
	if a.ByVolume {
		return first(volume.check(what, float64(a.Volume), a.Entered), a.only(what, float64(a.Mass)))
	}
	return first(mass.check(what, float64(a.Mass), a.Entered), a.only(what, float64(a.Volume)))
}

func (a Amount) only(what string, other float64) error {
	if other != 0 { // true for NaN
		return cannot("the %s is given by mass and by volume; give the one that was measured", what)
	}
	return nil
}

func (a Amount) proto() *hodv1.Amount {
	if a.ByVolume {
		return &hodv1.Amount{Measure: &hodv1.Amount_Volume{Volume: &hodv1.Volume{
			M3:      float64(a.Volume),
			Entered: a.Entered,
		}}}
	}
	return &hodv1.Amount{Measure: &hodv1.Amount_Mass{Mass: &hodv1.Mass{Kg: float64(a.Mass), Entered: a.Entered}}}
}

// amountOf reads an amount that says nothing as NaN, so that it is no zero that somebody measured: check refuses it.
func amountOf(p *hodv1.Amount) Amount {
	switch m := p.GetMeasure().(type) {
	case *hodv1.Amount_Mass:
		return Amount{Mass: unit.Mass(m.Mass.GetKg()), Entered: m.Mass.GetEntered()}
	case *hodv1.Amount_Volume:
		return Amount{Volume: unit.Volume(m.Volume.GetM3()), ByVolume: true, Entered: m.Volume.GetEntered()}
	}
	return Amount{Mass: unit.Mass(math.NaN())}
}

// Part of a batch: a share, a volume, or (neither) all that is left.
type Part struct {
	Share  *unit.As[unit.Share]
	Volume *unit.As[unit.Volume]
}

func (p Part) check() error {
	if p.Share != nil && p.Volume != nil {
		return cannot("a part of a batch is given as a share (%s%%) or as a volume (%s L), not as both",
			number(float64(p.Share.SI)*100), number(float64(p.Volume.SI)*1000))
	}
	return first(maybe("share of the batch", p.Share, partShare), maybe("volume", p.Volume, someVolume))
}

func massProto(q *unit.As[unit.Mass]) *hodv1.Mass {
	if q == nil {
		return nil
	}
	return &hodv1.Mass{Kg: float64(q.SI), Entered: q.Entered}
}

func massOf(p *hodv1.Mass) *unit.As[unit.Mass] {
	if p == nil {
		return nil
	}
	return &unit.As[unit.Mass]{SI: unit.Mass(p.Kg), Entered: p.Entered}
}

func volumeProto(q *unit.As[unit.Volume]) *hodv1.Volume {
	if q == nil {
		return nil
	}
	return &hodv1.Volume{M3: float64(q.SI), Entered: q.Entered}
}

func volumeOf(p *hodv1.Volume) *unit.As[unit.Volume] {
	if p == nil {
		return nil
	}
	return &unit.As[unit.Volume]{SI: unit.Volume(p.M3), Entered: p.Entered}
}

func lengthProto(q *unit.As[unit.Length]) *hodv1.Length {
	if q == nil {
		return nil
	}
	return &hodv1.Length{M: float64(q.SI), Entered: q.Entered}
}

func lengthOf(p *hodv1.Length) *unit.As[unit.Length] {
	if p == nil {
		return nil
	}
	return &unit.As[unit.Length]{SI: unit.Length(p.M), Entered: p.Entered}
}

func areaProto(q *unit.As[unit.Area]) *hodv1.Area {
	if q == nil {
		return nil
	}
	return &hodv1.Area{M2: float64(q.SI), Entered: q.Entered}
}

func areaOf(p *hodv1.Area) *unit.As[unit.Area] {
	if p == nil {
		return nil
	}
	return &unit.As[unit.Area]{SI: unit.Area(p.M2), Entered: p.Entered}
}

func celsiusProto(q *unit.As[unit.Celsius]) *hodv1.Temperature {
	if q == nil {
		return nil
	}
	return &hodv1.Temperature{Celsius: float64(q.SI), Entered: q.Entered}
}

func celsiusOf(p *hodv1.Temperature) *unit.As[unit.Celsius] {
	if p == nil {
		return nil
	}
	return &unit.As[unit.Celsius]{SI: unit.Celsius(p.Celsius), Entered: p.Entered}
}

func densityProto(q *unit.As[unit.Density]) *hodv1.Density {
	if q == nil {
		return nil
	}
	return &hodv1.Density{KgPerM3: float64(q.SI), Entered: q.Entered}
}

func densityOf(p *hodv1.Density) *unit.As[unit.Density] {
	if p == nil {
		return nil
	}
	return &unit.As[unit.Density]{SI: unit.Density(p.KgPerM3), Entered: p.Entered}
}

func shareProto(q *unit.As[unit.Share]) *hodv1.Share {
	if q == nil {
		return nil
	}
	return &hodv1.Share{Of: float64(q.SI), Entered: q.Entered}
}

func shareOf(p *hodv1.Share) *unit.As[unit.Share] {
	if p == nil {
		return nil
	}
	return &unit.As[unit.Share]{SI: unit.Share(p.Of), Entered: p.Entered}
}

// said is the quantity, nil for one that says nothing.
func said[Q ~float64](q unit.As[Q]) *unit.As[Q] {
	if q == (unit.As[Q]{}) {
		return nil
	}
	return &q
}

// unsaid undoes said.
func unsaid[Q ~float64](q *unit.As[Q]) unit.As[Q] {
	if q == nil {
		return unit.As[Q]{}
	}
	return *q
}

// float and as copy a value that may be missing into another type.
func float[Q ~float64](q *Q) *float64 { return as[float64](q) }

func as[To, From ~float64](q *From) *To {
	if q == nil {
		return nil
	}
	to := To(*q)
	return &to
}

// notADuration is what a number is read as that no duration can hold; every check refuses it.
const notADuration = time.Duration(math.MinInt64)

// span reads a number of units, to the millisecond.
func span(n float64, of time.Duration) time.Duration {
	ms := math.Round(n * float64(of/time.Millisecond))
	if most := float64(math.MaxInt64 / time.Millisecond); !(ms >= -most && ms <= most) { // also NaN
		return notADuration
	}
	return time.Duration(ms) * time.Millisecond
}

// units undoes span.
func units(d, of time.Duration) float64 {
	return float64(d.Round(time.Millisecond)/time.Millisecond) / float64(of/time.Millisecond)
}

// whole reads a count of units, for the lengths of time that are stored so.
func whole(n uint32, of time.Duration) time.Duration {
	if time.Duration(n) > math.MaxInt64/of {
		return notADuration
	}
	return time.Duration(n) * of
}

func wholes(d, of time.Duration) uint32 { return uint32(d / of) }

// count keeps a stored number out of the negative on devices whose int is 32 bits wide.
func count(n uint32) int { return int(min(n, math.MaxInt32)) }

// texts is a run of names as strings and back; none is nil.
func texts[To, From ~string](run []From) []To {
	if len(run) == 0 {
		return nil
	}
	to := make([]To, len(run))
	for i, s := range run {
		to[i] = To(s)
	}
	return to
}

// each changes every one of a run; none is nil.
func each[From, To any](run []From, change func(From) To) []To {
	if len(run) == 0 {
		return nil
	}
	to := make([]To, len(run))
	for i, one := range run {
		to[i] = change(one)
	}
	return to
}

func hashesProto(run []Hash) [][]byte { return each(run, hashBytes) }

func hashesOf(run [][]byte) []Hash { return each(run, hashOf) }

// hashOf is the zero hash for bytes that are none; check refuses it where a hash is needed.
func hashOf(b []byte) Hash {
	if len(b) != len(Hash{}) {
		return Hash{}
	}
	return Hash(b)
}
