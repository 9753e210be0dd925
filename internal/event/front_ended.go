package event

import hodv1 "hod/proto/hod/v1"

// FrontEnded is a front that was ended on purpose: it waits for nobody any more.
type FrontEnded struct {
	Coat      Coat
	OtherZone Zone   // across an edge; empty for a front inside the coat
	Treatment string // how it was left: "cut square, rough, damp"
}

func (b FrontEnded) check() error {
	if b.OtherZone != "" && b.OtherZone == b.Coat.Zone {
		return cannot("zone %q has no edge with itself; leave out the other zone for a front inside the coat",
			clip(string(b.OtherZone)))
	}
	return first(b.Coat.check(), checkMaybeName("zone", b.OtherZone), checkSaid("way in which the front was left",
		b.Treatment))
}

func (b FrontEnded) about() about { return about{kind: "front ended", sort: Work, by: Crews} }

func (b FrontEnded) zones() []Zone {
	if b.OtherZone == "" {
		return []Zone{b.Coat.Zone}
	}
	return []Zone{b.Coat.Zone, b.OtherZone}
}

func (b FrontEnded) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_FrontEnded{FrontEnded: &hodv1.FrontEnded{
		Coat: b.Coat.proto(), OtherZone: string(b.OtherZone), Treatment: b.Treatment,
	}}}
}

var _ = reads(func(k *hodv1.Body_FrontEnded) Body { return frontEndedOf(k.FrontEnded) })

func frontEndedOf(p *hodv1.FrontEnded) FrontEnded {
	return FrontEnded{Coat: coatOf(p.GetCoat()), OtherZone: Zone(p.GetOtherZone()), Treatment: p.GetTreatment()}
}
