package event

import (
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// EdgePlanned is an edge that two zones share.
type EdgePlanned struct {
	A, B     Zone
	Length   unit.As[unit.Length] // m
	PartA    *EdgePart            // where it lies on A's sides; nil: not said
	PartB    *EdgePart            // on B's; its From is where PartA's is
	Joint    JointPermission      // whether work may stop here
	Replaces []Hash
}

func (b EdgePlanned) check() error {
	if (b.PartA == nil) != (b.PartB == nil) {
		return cannot("the edge of %s and %s lies on a side of one of them only; name a side of each, or of neither",
			clip(string(b.A)), clip(string(b.B)))
	}
	if b.A == b.B && b.A != "" {
		return cannot("zone %q has no edge with itself; an edge lies between two zones", clip(string(b.A)))
	}
	return first(
		checkName("zone", b.A),
		checkName("zone", b.B),
		within("length of the edge", b.Length, edgeLength),
		b.PartA.check(),
		b.PartB.check(),
		jointPermissions.check("joint", int(b.Joint), 0),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

func (b EdgePlanned) about() about { return about{kind: "edge", sort: Planning, by: Foremen} }

// Thing names what is planned: both orders of an edge are one.
func (b EdgePlanned) Thing() string {
	return "edge " + string(min(b.A, b.B)) + " " + string(max(b.A, b.B))
}

func (b EdgePlanned) zones() []Zone { return []Zone{b.A, b.B} }

func (b EdgePlanned) replaces() []Hash { return b.Replaces }

func (b EdgePlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b EdgePlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_EdgePlanned{EdgePlanned: &hodv1.EdgePlanned{
		A: string(b.A), B: string(b.B), Length: lengthProto(said(b.Length)), PartA: edgePartProto(b.PartA),
		PartB: edgePartProto(b.PartB),
		Joint: hodv1.JointPermission(b.Joint), Replaces: hashesProto(b.Replaces),
	}}}
}

var _ = reads(func(k *hodv1.Body_EdgePlanned) Body { return edgePlannedOf(k.EdgePlanned) })

func edgePlannedOf(p *hodv1.EdgePlanned) EdgePlanned {
	return EdgePlanned{
		A: Zone(p.GetA()), B: Zone(p.GetB()), Length: unsaid(lengthOf(p.GetLength())), PartA: edgePartOf(p.GetPartA()),
		PartB: edgePartOf(p.GetPartB()),
		Joint: JointPermission(p.GetJoint()), Replaces: hashesOf(p.GetReplaces()),
	}
}
