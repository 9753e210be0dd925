package event

import hodv1 "hod/proto/hod/v1"

// CoatFinished says that a coat has all that it is to get, whatever the plan says that it needs.
type CoatFinished struct {
	Coat Coat
	Why  string
}

func (b CoatFinished) check() error {
	return first(b.Coat.check(), checkText("reason", b.Why))
}

func (b CoatFinished) about() about {
	return about{
		kind: "coat finished", sort: Work, by: Foremen,
		ask: "a foreman closes a coat; a crew covers it, goes on to another, or says that all of it is complete",
	}
}

func (b CoatFinished) zones() []Zone { return []Zone{b.Coat.Zone} }

func (b CoatFinished) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_CoatFinished{CoatFinished: &hodv1.CoatFinished{
		Coat: b.Coat.proto(),
		Why:  b.Why,
	}}}
}

var _ = reads(func(k *hodv1.Body_CoatFinished) Body { return coatFinishedOf(k.CoatFinished) })

func coatFinishedOf(p *hodv1.CoatFinished) CoatFinished {
	return CoatFinished{Coat: coatOf(p.GetCoat()), Why: p.GetWhy()}
}
