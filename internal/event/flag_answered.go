package event

import hodv1 "hod/proto/hod/v1"

// FlagAnswered is what was done about a flag. Of a flag of several lines it covers those named, which are the ones that
// were known when it was given; without lines it is of what goes by the flag's name alone.
type FlagAnswered struct {
	Flag, Answer string
	Lines        []string
}

func (b FlagAnswered) check() error {
	line := func(l string) error { return checkLabel("name of the line", l) }
	return first(checkLabel("name of the flag", b.Flag), checkSaid("answer", b.Answer),
		all("line of the flag", b.Lines, 0, line))
}

func (b FlagAnswered) about() about { return about{kind: "answer", sort: Work, by: Crews} }

func (b FlagAnswered) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_FlagAnswered{FlagAnswered: &hodv1.FlagAnswered{
		Flag: b.Flag, Answer: b.Answer,
		Lines: b.Lines,
	}}}
}

var _ = reads(func(k *hodv1.Body_FlagAnswered) Body { return flagAnsweredOf(k.FlagAnswered) })

func flagAnsweredOf(p *hodv1.FlagAnswered) FlagAnswered {
	return FlagAnswered{Flag: p.GetFlag(), Answer: p.GetAnswer(), Lines: p.GetLines()}
}
