package event

import hodv1 "hod/proto/hod/v1"

// Voided is an event not to be read at all.
type Voided struct {
	Target Hash // the first writing or an amendment of it
	Why    string
}

func (b Voided) check() error {
	return first(checkHash("the event that is taken back", b.Target), checkText("reason", b.Why))
}

func (b Voided) about() about { return about{kind: "void", sort: Correcting, by: Crews} }

func (b Voided) target() Hash { return b.Target }

func (b Voided) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_Voided{Voided: &hodv1.Voided{Target: hashBytes(b.Target), Why: b.Why}}}
}

var _ = reads(func(k *hodv1.Body_Voided) Body { return voidedOf(k.Voided) })

func voidedOf(p *hodv1.Voided) Voided { return Voided{Target: hashOf(p.GetTarget()), Why: p.GetWhy()} }
