package event

import (
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// EdgePlanned is an edge that two zones share.
type EdgePlanned struct {
	A, B     Zone
	Length   unit.As[unit.Length] // m
	Replaces []Hash
}

func (b EdgePlanned) check() error {
	if b.A == b.B && b.A != "" {
		return cannot("zone %q has no edge with itself; an edge lies between two zones", clip(string(b.A)))
	}
	return first(
		checkName("zone", b.A),
		checkName("zone", b.B),
		within("length of the edge", b.Length, edgeLength),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

func (b EdgePlanned) kind() string { return "edge" }

func (b EdgePlanned) replaces() []Hash { return b.Replaces }

func (b EdgePlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b EdgePlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_EdgePlanned{EdgePlanned: &hodv1.EdgePlanned{
		A: string(b.A), B: string(b.B), Length: lengthProto(said(b.Length)), Replaces: hashesProto(b.Replaces),
	}}}
}

func edgePlannedOf(p *hodv1.EdgePlanned) EdgePlanned {
	return EdgePlanned{
		A: Zone(p.GetA()), B: Zone(p.GetB()), Length: unsaid(lengthOf(p.GetLength())), Replaces: hashesOf(p.GetReplaces()),
	}
}
