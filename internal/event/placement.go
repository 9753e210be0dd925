package event

import (
	"time"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// Placement is a batch, or part of it, put into one zone's coat.
type Placement struct {
	Batch    Batch
	Part     Part
	Coat     Coat
	From, To time.Time              // zero: not said
	Gauges   []unit.As[unit.Length] // thickness, m; 0 where the mesh is bare
	Along    []Zone                 // zones along whose edges it ran, if known
	Because  string                 // why a rule of the job was passed over
	Complete *unit.As[unit.Share]   // of the coat's area, once this is placed
	Start    string                 // the side of the zone at which the work began, if it is said
}

func (b Placement) check() error {
	return first(
		b.Batch.check(),
		b.Part.check(),
		b.Coat.check(),
		checkSpan("placing", b.From, b.To),
		all("gauge reading", b.Gauges, 0, func(g unit.As[unit.Length]) error {
			return within("thickness", g, gaugeThickness)
		}),
		all("neighbour", b.Along, 0, b.checkNeighbour),
		checkText("reason", b.Because),
		maybe("share of the coat that is complete", b.Complete, wholeShare),
		b.checkStart(),
	)
}

func (b Placement) checkStart() error {
	if b.Start == "" {
		return nil
	}
	return checkName("side", b.Start)
}

func (b Placement) checkNeighbour(z Zone) error {
	if z == b.Coat.Zone {
		return cannot("zone %s is the one placed in; along are its neighbours", z)
	}
	return checkName("zone", z)
}

func (b Placement) about() about { return about{kind: "placement", sort: Work, by: Crews} }

func (b Placement) zones() []Zone { return []Zone{b.Coat.Zone} }

func (b Placement) batches() []Batch { return []Batch{b.Batch} }

func (b Placement) because() string { return b.Because }

func (b Placement) shifted(shift func(time.Time) time.Time) Body {
	b.From, b.To = shift(b.From), shift(b.To)
	return b
}

func (b Placement) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_Placement{Placement: &hodv1.Placement{
		Batch: b.Batch.proto(), Share: shareProto(b.Part.Share), Volume: volumeProto(b.Part.Volume),
		Coat: b.Coat.proto(),
		From: stamp(b.From), To: stamp(b.To),
		Gauges: each(b.Gauges, func(g unit.As[unit.Length]) *hodv1.Length { return lengthProto(&g) }),
		Along:  texts[string](b.Along), Because: b.Because, Complete: shareProto(b.Complete), Start: b.Start,
	}}}
}

var _ = reads(func(k *hodv1.Body_Placement) Body { return placementOf(k.Placement) })

func placementOf(p *hodv1.Placement) Placement {
	return Placement{
		Batch: batchOf(p.GetBatch()), Part: Part{shareOf(p.GetShare()), volumeOf(p.GetVolume())},
		Coat: coatOf(p.GetCoat()),
		From: instant(p.GetFrom()), To: instant(p.GetTo()),
		Gauges: each(p.GetGauges(), func(g *hodv1.Length) unit.As[unit.Length] { return unsaid(lengthOf(g)) }),
		Along:  texts[Zone](p.GetAlong()), Because: p.GetBecause(), Complete: shareOf(p.GetComplete()),
		Start: p.GetStart(),
	}
}
