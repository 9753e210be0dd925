package event

import (
	"time"

	hodv1 "hod/proto/hod/v1"
)

// Amended is an event to be read otherwise than it was written.
type Amended struct {
	Target     Hash      // the first writing or an amendment of it
	Body       Body      // the new one, no correction itself
	HappenedAt time.Time // zero: that stands
	Why        string
}

func (b Amended) check() error {
	switch {
	case b.Body == nil:
		return cannot("the amendment says nothing that this version can read; it needs the new body in full")
	case SortOf(b.Body) == Correcting:
		return cannot("an amendment cannot hold a correction (%s); amend the first writing, or void the correction",
			KindOf(b.Body))
	}
	return first(
		checkHash("the event that is amended", b.Target),
		checkTime("the amended event", b.HappenedAt),
		checkText("reason", b.Why),
		b.Body.check(),
	)
}

func (b Amended) about() about { return about{kind: "amendment", sort: Correcting, by: Crews} }

func (b Amended) target() Hash { return b.Target }

func (b Amended) shifted(shift func(time.Time) time.Time) Body {
	b.Body, b.HappenedAt = Shifted(b.Body, shift), shift(b.HappenedAt)
	return b
}

func (b Amended) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_Amended{Amended: &hodv1.Amended{
		Target: hashBytes(b.Target), Body: bodyProto(b.Body), HappenedAt: stamp(b.HappenedAt), Why: b.Why,
	}}}
}

var _ = reads(func(k *hodv1.Body_Amended) Body { return amendedOf(k.Amended) })

func amendedOf(p *hodv1.Amended) Amended {
	return Amended{
		Target: hashOf(p.GetTarget()), Body: bodyOf(p.GetBody()), HappenedAt: instant(p.GetHappenedAt()),
		Why: p.GetWhy(),
	}
}
