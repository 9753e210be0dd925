package event

import hodv1 "hod/proto/hod/v1"

// CrewPlanned is a crew of the site.
type CrewPlanned struct {
	Crew     Crew
	Name     string // in full
	People   int    // 0: not said
	Zones    []Zone // that it works on; none: not said
	FromList bool   // it takes the next coat of one list that crews share
	Replaces []Hash
}

// MaxPeople is how many a crew can have.
const MaxPeople = 500

func (b CrewPlanned) check() error {
	return first(
		checkName("crew", b.Crew),
		checkLine("full name of the crew", b.Name),
		checkCount("people", b.People, 0, MaxPeople),
		b.checkZones(),
		checkHashes("replaced plan", b.Replaces, 0),
	)
}

func (b CrewPlanned) checkZones() error {
	if b.FromList && len(b.Zones) > 0 {
		return cannot(
			"a crew that takes the next coat of the common list has no zones of its own; it is one or the other")
	}
	seen := map[Zone]bool{}
	return all("zone of the crew", b.Zones, 0, func(z Zone) error {
		if seen[z] {
			return cannot("zone %s is named twice", z)
		}
		seen[z] = true
		return checkName("zone", z)
	})
}

func (b CrewPlanned) about() about { return about{kind: "crew", sort: Planning, by: Foremen} }

// Thing names what is planned.
func (b CrewPlanned) Thing() string { return "crew " + string(b.Crew) }

func (b CrewPlanned) replaces() []Hash { return b.Replaces }

func (b CrewPlanned) replacing(r []Hash) Body { b.Replaces = r; return b }

func (b CrewPlanned) wrap() *hodv1.Body {
	return &hodv1.Body{Kind: &hodv1.Body_CrewPlanned{CrewPlanned: &hodv1.CrewPlanned{
		Crew: string(b.Crew), Name: b.Name, People: uint32(b.People), Zones: texts[string](b.Zones),
		FromList: b.FromList, Replaces: hashesProto(b.Replaces),
	}}}
}

var _ = reads(func(k *hodv1.Body_CrewPlanned) Body { return crewPlannedOf(k.CrewPlanned) })

func crewPlannedOf(p *hodv1.CrewPlanned) CrewPlanned {
	return CrewPlanned{
		Crew: Crew(p.GetCrew()), Name: p.GetName(), People: count(p.GetPeople()),
		Zones: texts[Zone](p.GetZones()), FromList: p.GetFromList(), Replaces: hashesOf(p.GetReplaces()),
	}
}
