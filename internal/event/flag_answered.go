package event

import hodv1 "hod/proto/hod/v1"

// FlagAnswered is what was done about a flag.
type FlagAnswered struct{ Flag, Answer string }

func (b FlagAnswered) check() error {
	return first(checkLabel("name of the flag", b.Flag), checkSaid("answer", b.Answer))
}

func (b FlagAnswered) kind() string { return "answer" }

func (b FlagAnswered) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_FlagAnswered{FlagAnswered: &hodv1.FlagAnswered{Flag: b.Flag, Answer: b.Answer}}}
}

func flagAnsweredOf(p *hodv1.FlagAnswered) FlagAnswered {
	return FlagAnswered{Flag: p.GetFlag(), Answer: p.GetAnswer()}
}
