package event

import (
	"slices"
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// Reading of a probe.
type Reading struct {
	At          time.Time
	Temperature unit.Celsius
}

// CureReadings is temperatures of a zone's coat.
type CureReadings struct {
	Probe   string // or "hand"
	Coat    Coat
	Depth   *unit.As[unit.Length]
	Samples []Reading // in order of time
	Entered string
}

func (b CureReadings) check() error {
	var before time.Time
	return first(
		checkLabel("name of the probe", b.Probe),
		b.Coat.check(),
		maybe("depth", b.Depth, probeDepth),
		all("reading", b.Samples, 1, func(r Reading) error {
			err := first(checkOrder("reading", before, r.At), temperature.check("temperature", float64(r.Temperature),
				""))
			before = r.At
			return err
		}),
		checkText("text typed", b.Entered),
	)
}

func (b CureReadings) about() about { return about{kind: "cure", sort: Work, by: Probes} }

func (b CureReadings) zones() []Zone { return []Zone{b.Coat.Zone} }

func (b CureReadings) shifted(shift func(time.Time) time.Time) Body {
	b.Samples = each(b.Samples, func(r Reading) Reading { r.At = shift(r.At); return r })
	return b
}

func (b CureReadings) until(later func(time.Time) bool) (Body, bool) {
	b.Samples = slices.DeleteFunc(slices.Clone(b.Samples), func(r Reading) bool { return later(r.At) })
	return b, len(b.Samples) > 0
}

func (b CureReadings) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_CureReadings{CureReadings: &hodv1.CureReadings{
		Probe: b.Probe, Coat: b.Coat.proto(), Depth: lengthProto(b.Depth), Samples: each(b.Samples, Reading.proto),
		Entered: b.Entered,
	}}}
}

var _ = reads(func(k *hodv1.Body_CureReadings) Body { return cureReadingsOf(k.CureReadings) })

func cureReadingsOf(p *hodv1.CureReadings) CureReadings {
	return CureReadings{
		Probe: p.GetProbe(), Coat: coatOf(p.GetCoat()), Depth: lengthOf(p.GetDepth()),
		Samples: each(p.GetSamples(), readingOf), Entered: p.GetEntered(),
	}
}

func (r Reading) proto() *hodv1.CureSample {
	return &hodv1.CureSample{At: stamp(r.At), Celsius: float64(r.Temperature)}
}

func readingOf(p *hodv1.CureSample) Reading {
	return Reading{At: instant(p.GetAt()), Temperature: unit.Celsius(p.GetCelsius())}
}
