package event

import hodv1 "hod/proto/hod/v1"

// ShiftEnded is a crew's day ended.
type ShiftEnded struct {
	Left string // for tomorrow, in words
}

func (b ShiftEnded) check() error { return checkText("word of what is left", b.Left) }

func (b ShiftEnded) about() about { return about{kind: "shift end", sort: Work, by: Crews} }

func (b ShiftEnded) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_ShiftEnded{ShiftEnded: &hodv1.ShiftEnded{Left: b.Left}}}
}

var _ = reads(func(k *hodv1.Body_ShiftEnded) Body { return shiftEndedOf(k.ShiftEnded) })

func shiftEndedOf(p *hodv1.ShiftEnded) ShiftEnded { return ShiftEnded{Left: p.GetLeft()} }
