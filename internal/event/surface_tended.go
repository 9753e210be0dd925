package event

import hodv1 "hod/proto/hod/v1"

// SurfaceTended is a surface covered, uncovered or wetted.
type SurfaceTended struct {
	Zone    Zone
	Face    Face // AnyFace: both
	Tending Tending
	With    string
}

func (b SurfaceTended) check() error {
	return first(checkName("zone", b.Zone), b.Face.check(), b.Tending.check(), checkLine("cover", b.With))
}

func (b SurfaceTended) about() about { return about{kind: "surface", sort: Work, by: Crews} }

func (b SurfaceTended) zones() []Zone { return []Zone{b.Zone} }

func (b SurfaceTended) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_SurfaceTended{SurfaceTended: &hodv1.SurfaceTended{
		Zone: string(b.Zone), Face: hodv1.Face(b.Face), Tending: hodv1.Tending(b.Tending), With: b.With,
	}}}
}

var _ = reads(func(k *hodv1.Body_SurfaceTended) Body { return surfaceTendedOf(k.SurfaceTended) })

func surfaceTendedOf(p *hodv1.SurfaceTended) SurfaceTended {
	return SurfaceTended{
		Zone: Zone(p.GetZone()), Face: Face(p.GetFace()), Tending: Tending(p.GetTending()),
		With: p.GetWith(),
	}
}
