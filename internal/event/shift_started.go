package event

import hodv1 "hod/proto/hod/v1"

// ShiftStarted is a crew's day begun.
type ShiftStarted struct {
	People int // 0: not said
}

func (b ShiftStarted) check() error { return checkCount("people", b.People, 0, MaxPeople) }

func (b ShiftStarted) kind() string { return "shift start" }

func (b ShiftStarted) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_ShiftStarted{ShiftStarted: &hodv1.ShiftStarted{People: uint32(b.People)}}}
}

func shiftStartedOf(p *hodv1.ShiftStarted) ShiftStarted {
	return ShiftStarted{People: count(p.GetPeople())}
}
