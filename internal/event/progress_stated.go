package event

import (
	"math"

	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// ProgressStated is how far a coat is, as somebody who sees it says.
type ProgressStated struct {
	Coat     Coat
	Complete unit.As[unit.Share] // of its area; 1: the coat is finished
}

func (b ProgressStated) check() error {
	return first(b.Coat.check(), within("share of the coat that is complete", b.Complete, wholeShare))
}

func (b ProgressStated) about() about { return about{kind: "progress", sort: Work, by: Crews} }

func (b ProgressStated) zones() []Zone { return []Zone{b.Coat.Zone} }

func (b ProgressStated) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_ProgressStated{ProgressStated: &hodv1.ProgressStated{
		Coat: b.Coat.proto(), Complete: shareProto(&b.Complete),
	}}}
}

var _ = reads(func(k *hodv1.Body_ProgressStated) Body { return progressStatedOf(k.ProgressStated) })

// progressStatedOf reads a share that is not there as NaN, so that it is no zero that somebody saw: check refuses it.
func progressStatedOf(p *hodv1.ProgressStated) ProgressStated {
	b := ProgressStated{Coat: coatOf(p.GetCoat()), Complete: unit.As[unit.Share]{SI: unit.Share(math.NaN())}}
	if s := shareOf(p.GetComplete()); s != nil {
		b.Complete = *s
	}
	return b
}
