package event

import (
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// MaterialPlanned is what is known of a material as it lies on the site, whatever mix takes it. It is measured, not
// designed, so a crew may write it, too.
type MaterialPlanned struct {
	Material Material
	Bulk     *unit.As[unit.Density] // loose, as it lies, with the water in it
	Bag      *unit.As[unit.Mass]    // of one bag
	Replaces []Hash
}

func (b MaterialPlanned) check() error {
	return first(
		checkName("material", b.Material),
		maybe("bulk density", b.Bulk, bulkDensity),
		maybe("mass of a bag", b.Bag, bagMass),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

func (b MaterialPlanned) about() about { return about{kind: "material", sort: Work, by: Crews} }

// Thing names what is planned.
func (b MaterialPlanned) Thing() string { return "material " + string(b.Material) }

func (b MaterialPlanned) replaces() []Hash { return b.Replaces }

func (b MaterialPlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b MaterialPlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_MaterialPlanned{MaterialPlanned: &hodv1.MaterialPlanned{
		Material: string(b.Material), Bulk: densityProto(b.Bulk), Bag: massProto(b.Bag),
		Replaces: hashesProto(b.Replaces),
	}}}
}

var _ = reads(func(k *hodv1.Body_MaterialPlanned) Body { return materialPlannedOf(k.MaterialPlanned) })

func materialPlannedOf(p *hodv1.MaterialPlanned) MaterialPlanned {
	return MaterialPlanned{
		Material: Material(p.GetMaterial()), Bulk: densityOf(p.GetBulk()), Bag: massOf(p.GetBag()),
		Replaces: hashesOf(p.GetReplaces()),
	}
}
