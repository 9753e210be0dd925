package event

import hodv1 "hod/proto/hod/v1"

// CrewPlanned is a crew of the site.
type CrewPlanned struct {
	Crew     Crew
	Name     string // in full
	People   int    // 0: not said
	Replaces []Hash
}

// MaxPeople is how many a crew can have.
const MaxPeople = 500

func (b CrewPlanned) check() error {
	return first(
		checkName("crew", b.Crew),
		checkLine("full name of the crew", b.Name),
		checkCount("people", b.People, 0, MaxPeople),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

func (b CrewPlanned) kind() string { return "crew" }

func (b CrewPlanned) replaces() []Hash { return b.Replaces }

func (b CrewPlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b CrewPlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_CrewPlanned{CrewPlanned: &hodv1.CrewPlanned{
		Crew: string(b.Crew), Name: b.Name, People: uint32(b.People), Replaces: hashesProto(b.Replaces),
	}}}
}

func crewPlannedOf(p *hodv1.CrewPlanned) CrewPlanned {
	return CrewPlanned{
		Crew: Crew(p.GetCrew()), Name: p.GetName(), People: count(p.GetPeople()), Replaces: hashesOf(p.GetReplaces()),
	}
}
