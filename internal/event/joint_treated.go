package event

import hodv1 "hod/proto/hod/v1"

// JointTreated is a joint made ready for material, or mended after.
type JointTreated struct {
	Coat      Coat
	OtherZone Zone   // across an edge; empty for a joint inside the coat or on the coat below
	Method    string // "chipped, wetted, slurried"
}

func (b JointTreated) check() error {
	if b.OtherZone != "" && b.OtherZone == b.Coat.Zone {
		return cannot("zone %q has no edge with itself; leave out the other zone for a joint inside the coat",
			clip(string(b.OtherZone)))
	}
	return first(b.Coat.check(), checkMaybeName("zone", b.OtherZone), checkSaid("treatment", b.Method))
}

func (b JointTreated) about() about { return about{kind: "joint", sort: Work, by: Crews} }

func (b JointTreated) zones() []Zone {
	if b.OtherZone == "" {
		return []Zone{b.Coat.Zone}
	}
	return []Zone{b.Coat.Zone, b.OtherZone}
}

func (b JointTreated) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_JointTreated{JointTreated: &hodv1.JointTreated{
		Coat: b.Coat.proto(), OtherZone: string(b.OtherZone), Method: b.Method,
	}}}
}

var _ = reads(func(k *hodv1.Body_JointTreated) Body { return jointTreatedOf(k.JointTreated) })

func jointTreatedOf(p *hodv1.JointTreated) JointTreated {
	return JointTreated{Coat: coatOf(p.GetCoat()), OtherZone: Zone(p.GetOtherZone()), Method: p.GetMethod()}
}
