package event

import (
	"slices"

	hodv1 "hod/proto/hod/v1"
)

// Settled says which of several amendments or plans holds.
type Settled struct {
	Holds Hash
	Over  []Hash
	Why   string
}

func (b Settled) check() error {
	if slices.Contains(b.Over, b.Holds) {
		return cannot("what holds, %s, is also named among what does not", b.Holds)
	}
	return first(
		checkHash("what holds", b.Holds),
		checkHashes("one that does not hold", b.Over, 1),
		checkText("reason", b.Why),
	)
}

func (b Settled) about() about { return about{kind: "settlement", sort: Correcting, by: Foremen} }

func (b Settled) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_Settled{Settled: &hodv1.Settled{
		Holds: hashBytes(b.Holds), Over: hashesProto(b.Over), Why: b.Why,
	}}}
}

var _ = reads(func(k *hodv1.Body_Settled) Body { return settledOf(k.Settled) })

func settledOf(p *hodv1.Settled) Settled {
	return Settled{Holds: hashOf(p.GetHolds()), Over: hashesOf(p.GetOver()), Why: p.GetWhy()}
}
