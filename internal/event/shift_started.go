package event

import hodv1 "hod/proto/hod/v1"

// ShiftStarted is a crew's day begun.
type ShiftStarted struct {
	People int // 0: not said
}

func (b ShiftStarted) check() error { return checkCount("people", b.People, 0, MaxPeople) }

func (b ShiftStarted) about() about { return about{kind: "shift start", sort: Work, by: Crews} }

func (b ShiftStarted) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_ShiftStarted{ShiftStarted: &hodv1.ShiftStarted{People: uint32(b.People)}}}
}

var _ = reads(func(k *hodv1.Body_ShiftStarted) Body { return shiftStartedOf(k.ShiftStarted) })

func shiftStartedOf(p *hodv1.ShiftStarted) ShiftStarted {
	return ShiftStarted{People: count(p.GetPeople())}
}
