package reporttest

import (
	"time"

	"hod/internal/view/advice"
)

// Next is the advice to crew quay: an edge with little time left, a second choice, and an edge that is lost.
func Next(units string) advice.Next {
	crews := []advice.NextCrew{
		{Crew: "quay", FreeAt: Clock(14, 9), PaceMin: 22, PaceBy: "crew", Gaps: 14, LastHeardAt: At(13, 52)},
		{Crew: "north", FreeAt: Clock(14, 15), PaceMin: 24, PaceBy: "site", Gaps: 31, LastHeardAt: At(13, 40)},
	}
	return advice.Next{
		Site: "Heron Vault", AsOf: Now, Units: units, Crew: "quay", Batch: 9, InHand: true, UseBy: At(15, 20),
		Place: &advice.NextPlace{
			Zone: "B1", Face: "outer", Coat: 1, Mix: "shell", Nth: 1, Along: []string{"A1", "A3"},
			For: []string{"north"},
		},
		Then: []advice.NextPlace{
			{Zone: "B1", Face: "outer", Coat: 1, Nth: 2, Onward: true},
			{Zone: "B2", Face: "outer", Coat: 1, Nth: 1},
			{Zone: "crown", Face: "outer", Coat: 1, Nth: 1},
		},
		Plan: []advice.NextTake{
			{Crew: "quay", Zone: "B1", Face: "outer", Coat: 1, From: Clock(14, 9), To: Clock(14, 31)},
			{Crew: "north", Zone: "A4", Face: "outer", Coat: 1, From: Clock(14, 15), To: Clock(14, 39)},
		},
		Turns:    &advice.NextEdge{Zone: "A3", Face: "outer", Coat: 1, Other: "B1", LengthM: 1.4, TurnsAt: At(14, 40)},
		SlackMin: new(int32(9)),
		Instead:  &advice.NextPlace{Zone: "A4", Face: "outer", Coat: 1, Mix: "shell", Nth: 2, Onward: true},
		Risk:     &advice.NextRisk{Trials: 150, Cold: 22, MeanM: 0.41}, Else: &advice.NextRisk{
			Trials: 150, Cold: 48,
			MeanM: 1.02,
		},
		Lost: []advice.NextEdge{
			{Zone: "A2", Face: "outer", Coat: 1, Other: "A4", LengthM: 2.4, TurnsAt: At(13, 43), Joint: "yes"},
			{Zone: "A4", Face: "outer", Coat: 1, LengthM: 3, TurnsAt: At(14, 12)},
		},
		Treat: []advice.NextEdge{{Zone: "A1", Face: "outer", Coat: 1, Other: "B1", LengthM: 2.75, TurnsAt: At(12, 2)}},
		Basis: advice.NextBasis{
			Sets: []advice.NextSet{
				{Mix: "shell", SetMin: 240, ReferenceC: 23, ActivationKJ: 40, NowMin: 151},
				{Mix: "shell-rich", SetMin: 180, ReferenceC: 23, ActivationKJ: 40, NowMin: 113, Assumed: true},
			},
			DaySpread: 0.12, SetSpread: 0.08, PaceSpread: 0.25, LeadMin: 12,
			Air: []string{"air as last read", "air as forecast"}, ReadAt: At(13, 40), IssuedAt: At(6, 0),
			Crews: crews, Trials: 200, Until: At(17, 0), UntilWhy: "the end of work", OldEdges: 1,
		},
	}
}

func NextRefused(units string) advice.Next {
	return advice.Next{
		Site: "Heron Vault", AsOf: Now, Units: units, Crew: "quay", Batch: 9, TooOld: 8,
		Missing: []string{
			"crew north was last heard 3 h ago, longer than the 2 h 31 min in which mix shell sets now: what it placed since is not known here",
		},
	}
}

// NextAll has a crew that has advice, one for which no difference shows and nothing went cold, and one that has none.
func NextAll(units string) advice.NextAll {
	even := Next(units)
	even.Crew, even.Batch, even.InHand, even.Either, even.Lost, even.Treat, even.Place.For = "north", 4, false, true,
		nil, nil, nil
	even.Turns, even.SlackMin, even.Risk.Cold, even.Else.Cold, even.Basis.Strips, even.Basis.OldEdges = nil, nil, 0, 1,
		true, 0
	even.Place = &advice.NextPlace{Zone: "A4", Face: "outer", Coat: 1, Mix: "shell", Nth: 2, Onward: true}
	even.Instead = &advice.NextPlace{Zone: "B2", Face: "outer", Coat: 1, Mix: "shell", Nth: 1}
	even.Then = even.Then[1:2]
	done := advice.Next{Site: "Heron Vault", AsOf: Now, Units: units, Crew: "west", Done: true, Batch: 1}
	return advice.NextAll{
		Site: "Heron Vault", AsOf: Now.Add(time.Minute), Units: units,
		Crews: []advice.Next{Next(units), even, done},
	}
}
