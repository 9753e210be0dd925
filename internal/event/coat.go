package event

import (
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// CoatPlanned is one planned pass over a zone.
type CoatPlanned struct {
	Coat      Coat
	Thickness unit.As[unit.Length] // m
	Mix       Mix
	Replaces  []Hash
}

func (b CoatPlanned) check() error {
	return first(
		b.Coat.check(),
		within("thickness", b.Thickness, coatThickness),
		checkName("mix", b.Mix),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

func (b CoatPlanned) about() about { return about{kind: "coat", sort: Planning, by: Foremen} }

// Thing names what is planned.
func (b CoatPlanned) Thing() string { return "coat " + b.Coat.String() }

func (b CoatPlanned) zones() []Zone { return []Zone{b.Coat.Zone} }

func (b CoatPlanned) replaces() []Hash { return b.Replaces }

func (b CoatPlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b CoatPlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_CoatPlanned{CoatPlanned: &hodv1.CoatPlanned{
		Coat: b.Coat.proto(), Thickness: lengthProto(said(b.Thickness)), Mix: string(b.Mix),
		Replaces: hashesProto(b.Replaces),
	}}}
}

var _ = reads(func(k *hodv1.Body_CoatPlanned) Body { return coatPlannedOf(k.CoatPlanned) })

func coatPlannedOf(p *hodv1.CoatPlanned) CoatPlanned {
	return CoatPlanned{
		Coat: coatOf(p.GetCoat()), Thickness: unsaid(lengthOf(p.GetThickness())), Mix: Mix(p.GetMix()),
		Replaces: hashesOf(p.GetReplaces()),
	}
}
