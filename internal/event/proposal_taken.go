package event

import (
	"time"

	hodv1 "hod/proto/hod/v1"
)

// ProposalTaken is a crew's word that its next batch goes where the adviser proposed. It expires by itself, and ends
// when the crew places. What was stated is kept with it, so that it can be compared with what came.
type ProposalTaken struct {
	Crew         Crew
	Coat         Coat
	Nth          int    // of the batches that the coat still took, from 1
	Along        []Zone // whose edges the batch meets
	Until        time.Time
	Trials, Cold int       // in how many trials an edge went cold; no trials: nothing was stated
	CountedUntil time.Time // up to when those trials counted joints
	Following    []Coat    // where the batches after it were to go
	// and always beside the front that turns cold first: Following is as expected
	OldestFirst bool `json:",omitzero"`
}

func (b ProposalTaken) check() error {
	switch {
	case b.Until.IsZero():
		return cannot("until when the proposal holds is missing")
	case b.Cold > b.Trials:
		return cannot("an edge went cold in %d trials of %d; there cannot be more than all", b.Cold, b.Trials)
	}
	return first(
		checkName("crew", b.Crew), b.Coat.check(),
		checkCount("batch of the coat", b.Nth, 1, 1e6),
		all("zone along which", b.Along, 0, func(z Zone) error { return checkName("zone", z) }),
		checkTime("the end of the proposal", b.Until), checkTime("the end of what was counted", b.CountedUntil),
		checkCount("trials", b.Trials, 0, 1e6), checkCount("trials in which an edge went cold", b.Cold, 0, 1e6),
		all("coat that follows", b.Following, 0, Coat.check),
	)
}

func (b ProposalTaken) about() about { return about{kind: "proposal", sort: Work, by: Crews} }

func (b ProposalTaken) zones() []Zone { return []Zone{b.Coat.Zone} }

func (b ProposalTaken) owner() Crew { return b.Crew }

func (b ProposalTaken) shifted(to func(time.Time) time.Time) Body {
	b.Until, b.CountedUntil = to(b.Until), to(b.CountedUntil)
	return b
}

func (b ProposalTaken) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_ProposalTaken{ProposalTaken: &hodv1.ProposalTaken{
		Crew: string(b.Crew), Coat: b.Coat.proto(), Nth: uint32(b.Nth), Along: texts[string](b.Along),
		Until:  stamp(b.Until),
		Trials: uint32(b.Trials), Cold: uint32(b.Cold), CountedUntil: stamp(b.CountedUntil),
		Following: each(b.Following, Coat.proto), OldestFirst: b.OldestFirst,
	}}}
}

var _ = reads(func(k *hodv1.Body_ProposalTaken) Body { return proposalTakenOf(k.ProposalTaken) })

func proposalTakenOf(p *hodv1.ProposalTaken) ProposalTaken {
	return ProposalTaken{
		Crew: Crew(p.GetCrew()), Coat: coatOf(p.GetCoat()), Nth: count(p.GetNth()), Along: texts[Zone](p.GetAlong()),
		Until:  instant(p.GetUntil()),
		Trials: count(p.GetTrials()), Cold: count(p.GetCold()), CountedUntil: instant(p.GetCountedUntil()),
		Following: each(p.GetFollowing(), coatOf), OldestFirst: p.GetOldestFirst(),
	}
}
