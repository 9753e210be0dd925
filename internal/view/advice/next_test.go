package advice_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view/advice"
	"hod/internal/view/viewtest"
)

// The number of the batch that a crew asks about, and what is said of the one in its hands. A batch may be worked for
// 90 min where its mix says nothing (ASTM C94, from memory).
func TestACrewAsksAboutTheBatchInItsHandsOrItsNext(t *testing.T) {
	for _, c := range []struct {
		name   string
		work   []sim.Work
		number int32
		inHand bool
		useBy  time.Time
		tooOld int32
	}{
		{"nothing mixed", viewtest.At23(), 1, false, time.Time{}, 0},
		{"one placed", append(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
			viewtest.Clock(11, 30), 1)...), 2, false, time.Time{}, 0},
		{
			"one in hand", append(viewtest.At23(), viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(11, 50))), 1, true,
			viewtest.Clock(13, 20), 0,
		},
		{
			"one that is past its time",
			append(viewtest.At23(), viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(10, 0))),
			2, false,
			time.Time{},
			1,
		},
		{
			"yesterday's numbers do not count",
			append(viewtest.At23(), viewtest.Mixed(event.Batch{Crew: "north", Day: "2031-05-11", Number: 9},
				viewtest.Clock(8, 0).AddDate(0, 0, -1)), viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(11, 50))), 1,
			true, viewtest.Clock(13, 20), 0,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			v := advice.NextOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), c.work...), viewtest.Noon, time.UTC,
				"north")
			viewtest.Same(t, "crew", v.Crew, "north")
			viewtest.Same(t, "number", v.Batch, c.number)
			viewtest.Same(t, "in hand", v.InHand, c.inHand)
			viewtest.At(t, "use by", v.UseBy, c.useBy)
			viewtest.Same(t, "too old", v.TooOld, c.tooOld)
		})
	}
}

// One coat waits, and one edge of it: the batch goes there, and how long it has is the clock's. Zones of 5 m² take 5 ×
// 0.012 × 1.08 = 0.0648 m³, which one batch fills. Water met cement in A1 at 11:00, so its edges turn cold at 13:30; a
// batch takes 20 min where no pace is known.
func TestANextBatchGoesToTheEdgeThatWaits(t *testing.T) {
	bodies := viewtest.Week(viewtest.Plan())
	for i, b := range bodies {
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(5))
			bodies[i] = z
		}
	}
	s := viewtest.Planned(t, bodies,
		viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 0),
			1))...)
	v := advice.NextOf(s, viewtest.Noon, time.UTC, "north")
	if len(v.Missing) > 0 || v.Place == nil {
		t.Fatalf("no advice: %q", v.Missing)
	}
	if p := v.Place; p.Zone != "A2" || p.Face != "outer" || p.Coat != 1 || p.Mix != "face" || p.Nth != 1 ||
		len(p.Along) != 1 || p.Along[0] != "A1" || p.Onward {
		t.Errorf("it goes to %+v", *p)
	}
	if v.Turns == nil || v.Turns.Zone != "A1" || v.Turns.Other != "A2" {
		t.Fatalf("the edge that turns first: %+v", v.Turns)
	}
	viewtest.Is(t, "its length", v.Turns.LengthM, 3)
	viewtest.At(t, "it turns", v.Turns.TurnsAt, viewtest.Clock(13, 30))
	own := v.Plan[slices.IndexFunc(v.Plan, func(k advice.NextTake) bool { return k.Crew == "north" })]
	if !own.From.Equal(viewtest.Noon) || !own.To.Equal(viewtest.Clock(12, 20)) {
		t.Errorf("it is placed from %s to %s", own.From, own.To)
	}
	if v.SlackMin == nil || *v.SlackMin != 70 {
		t.Errorf("slack %v, want 70", v.SlackMin)
	}
	if v.Risk == nil || v.Risk.Trials <= 0 || v.Risk.Cold < 0 || v.Risk.Cold > v.Risk.Trials {
		t.Errorf("risk %+v", v.Risk)
	}
}

func TestWhatAdviceRestsOnIsSaid(t *testing.T) {
	b := advice.NextOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()),
		viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 0),
			1))...), viewtest.Noon,
		time.UTC, "north").Basis
	// at 23 °C it takes what is stated
	if len(b.Sets) != 1 || b.Sets[0] != (advice.NextSet{
		Mix: "face", SetMin: 150, ReferenceC: 23, ActivationKJ: 40,
		NowMin: 150,
	}) {
		t.Errorf("sets %+v", b.Sets)
	}
	viewtest.Same(t, "lead", b.LeadMin, 12) // where fewer than five batches show it
	if len(b.Crews) != 1 || b.Crews[0].PaceMin != 20 || b.Crews[0].PaceBy != "assumed" ||
		!b.Crews[0].FreeAt.Equal(viewtest.Noon) {
		t.Errorf("crews %+v", b.Crews)
	}
	viewtest.At(t, "heard", b.Crews[0].LastHeardAt, viewtest.Noon) // the hourly reading
	viewtest.At(t, "read", b.ReadAt, viewtest.Noon)
	viewtest.At(t, "forecast", b.IssuedAt, time.Time{})
	viewtest.At(t, "joints count until", b.Until, viewtest.Clock(17, 0)) // the end of work comes before three sets do
	viewtest.Same(t, "why", b.UntilWhy, "the end of work")
	viewtest.Same(t, "old edges", b.OldEdges, 0)
}

// The lower median of a crew's gaps: of 10, 40, 15, 30 and 25 min it is 25.
func TestAPaceIsAMedianAndNoMean(t *testing.T) {
	bodies := viewtest.Week(viewtest.Plan())
	for i, b := range bodies {
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(90))
			bodies[i] = z
		}
	}
	work, begun := viewtest.At23(), viewtest.Clock(9, 0)
	for i, gap := range []int{0, 10, 40, 15, 30, 25} {
		begun = begun.Add(time.Duration(gap) * time.Minute)
		work = append(work, viewtest.BatchAt23(viewtest.Batch(i+1), viewtest.CoatA1, begun, 1)...)
	}
	k := advice.NextOf(viewtest.Planned(t, bodies, work...), viewtest.Clock(11, 10), time.UTC, "north").Basis.Crews[0]
	if k.PaceMin != 25 || k.Gaps != 5 {
		t.Errorf("pace %+v", k)
	}
	// gaps of over two hours are stops and no pace
	work = append(work, viewtest.BatchAt23(viewtest.Batch(7), viewtest.CoatA1, begun.Add(3*time.Hour), 1)...)
	if k := advice.NextOf(viewtest.Planned(t, bodies, work...), viewtest.Clock(14, 10), time.UTC,
		"north").Basis.Crews[0]; k.PaceMin != 25 || k.Gaps != 5 {
		t.Errorf("with a stop of three hours: %+v", k)
	}
}

// Five gaps of 25 min make the crew's own pace.
func TestACrewsPaceIsTheMedianOfItsGaps(t *testing.T) {
	bodies := viewtest.Week(viewtest.Plan())
	for i, b := range bodies {
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(90))
			bodies[i] = z
		}
	}
	work := viewtest.At23()
	for i := range 6 {
		work = append(work, viewtest.BatchAt23(viewtest.Batch(i+1), viewtest.CoatA1,
			viewtest.Clock(9, 0).Add(time.Duration(25*i)*time.Minute), 1)...)
	}
	k := advice.NextOf(viewtest.Planned(t, bodies, work...), viewtest.Clock(11, 20), time.UTC, "north").Basis.Crews[0]
	if k.PaceMin != 25 || k.PaceBy != "crew" || k.Gaps != 5 {
		t.Errorf("pace %+v", k)
	}
	// the last batch began to be placed at 11:10, and the next is due 25 min later
	if !k.FreeAt.Equal(viewtest.Clock(11, 35)) {
		t.Errorf("free at %s, want 11:35", k.FreeAt)
	}
}

// Why there is no advice.
func TestWhereSomethingIsMissingThereIsNoAdvice(t *testing.T) {
	without := func(drop func(event.Body) bool) []event.Body {
		return slices.DeleteFunc(viewtest.Week(viewtest.Plan()), drop)
	}
	noEdge := without(func(b event.Body) bool { _, edge := b.(event.EdgePlanned); return edge })
	noCoat := without(func(b event.Body) bool { _, coat := b.(event.CoatPlanned); return coat })
	rain := viewtest.Full(viewtest.Noon, 20, 0.9, 1)
	rain.RainMillimetres = new(3.0)
	for _, c := range []struct {
		name   string
		bodies []event.Body
		work   []sim.Work
		want   string
	}{
		{"no edge with a length", noEdge, nil, "the plan has no edge with a length"},
		{"no coat", noCoat, nil, "the plan has no coat with a mix"},
		{
			"rain", viewtest.Week(viewtest.Plan()),
			[]sim.Work{viewtest.Read(rain)},
			"nobody is to place between 12:00 and 12:20: rain 3 mm, from 1 mm in the hour on, as read at 12:00",
		},
		{
			"another crew that works was not heard", viewtest.Week(viewtest.Plan()),
			append(viewtest.At23(), viewtest.By("south", viewtest.BatchAt23(viewtest.BatchOf("south", 1),
				viewtest.CoatA2, viewtest.Clock(8, 0), 1)...)...),
			"crew south was last heard 3 h 50 min ago",
		},
	} {
		v := advice.NextOf(viewtest.Planned(t, c.bodies, c.work...), viewtest.Noon, time.UTC, "north")
		if v.Place != nil || !slices.ContainsFunc(v.Missing,
			func(m string) bool { return strings.HasPrefix(m, c.want) }) {
			t.Errorf("%s: missing %q, place %+v", c.name, v.Missing, v.Place)
		}
		if v.Risk != nil || v.SlackMin != nil || len(v.Plan) != 0 {
			t.Errorf("%s: half an advice: %+v", c.name, v)
		}
	}
}

func TestWhereAllIsFinishedNothingIsNext(t *testing.T) {
	work := append(viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		viewtest.Whole(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(9, 0))),
		viewtest.Wrote(viewtest.Clock(10, 0), event.ProgressStated{
			Coat:     viewtest.CoatA1,
			Complete: viewtest.As(unit.Share(1)),
		}),
		viewtest.Wrote(viewtest.Clock(10, 1), event.ProgressStated{
			Coat:     viewtest.CoatA2,
			Complete: viewtest.As(unit.Share(1)),
		}))
	v := advice.NextOf(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), append(viewtest.At23(), work...)...),
		viewtest.Noon, time.UTC, "north")
	if !v.Done || v.Place != nil || len(v.Missing) != 0 {
		t.Errorf("all is finished, and next is %+v", v)
	}
}

// Each crew that works is advised, and no two of them are sent to one batch of a coat.
func TestCrewsAreNotSentToOneAndTheSameBatch(t *testing.T) {
	work := viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 30),
		0.5),
		viewtest.By("south", viewtest.BatchAt23(viewtest.BatchOf("south", 1), viewtest.CoatA2, viewtest.Clock(11, 40),
			0.5)...))
	v := advice.NextOfAll(viewtest.Planned(t, viewtest.Week(viewtest.Plan()), work...), viewtest.Noon, time.UTC)
	if len(v.Crews) != 2 {
		t.Fatalf("crews %+v", v.Crews)
	}
	taken := map[string]bool{}
	for _, c := range v.Crews {
		if c.Place == nil {
			t.Errorf("%s has no advice: %q", c.Crew, c.Missing)
			continue
		}
		key := fmt.Sprintf("%s %d", c.Place.Zone, c.Place.Nth)
		if taken[key] {
			t.Errorf("two crews are sent to %s", key)
		}
		taken[key] = true
	}
	if a, b := v.Crews[0], v.Crews[1]; !slices.IsSortedFunc([]advice.Next{a, b},
		func(x, y advice.Next) int { return free(x).Compare(free(y)) }) {
		t.Errorf("the one that is free first does not come first: %s, %s", a.Crew, b.Crew)
	}
}

// free is when a crew can begin.
func free(v advice.Next) time.Time {
	for _, c := range v.Basis.Crews {
		if c.Crew == v.Crew {
			return c.FreeAt
		}
	}
	return time.Time{}
}

// A zone that the plan gives to another crew is said to be that crew's.
func TestAZoneOfAnotherCrewIsSaidToBe(t *testing.T) {
	bodies := append(viewtest.Week(viewtest.Plan()), event.CrewPlanned{Crew: "south", Zones: []event.Zone{"A1", "A2"}})
	v := advice.NextOf(viewtest.Planned(t, bodies,
		append(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(11, 30),
			0.5)...)...), viewtest.Noon,
		time.UTC, "north")
	if v.Place == nil {
		t.Fatalf("no advice: %q", v.Missing)
	}
	viewtest.List(t, "whose it is", v.Place.For, "south")
}

// A crew that mixes one batch an hour and places each in 12 min has one in hand at 14:17, ready 13:58, that is to be
// placed by 15:05. It can be placed at once and is: a cycle of mixing is no part of that. At 14:55 it can no longer be.
func TestABatchThatIsMixedIsChargedItsPlacingNotAWholeCycle(t *testing.T) {
	work := viewtest.At23()
	for i := range 6 {
		work = append(work, viewtest.Mixed(viewtest.Batch(i+1), viewtest.Clock(7+i, 30)),
			viewtest.Placed(viewtest.Batch(i+1), viewtest.CoatA1, viewtest.Clock(7+i, 40), viewtest.Clock(7+i, 52), 1))
	}
	work = append(work, viewtest.Mixed(viewtest.Batch(7), viewtest.Clock(13, 35)))
	s := viewtest.Planned(t, viewtest.Week(viewtest.Plan()), work...)
	v := advice.NextOf(s, viewtest.Clock(14, 17), time.UTC, "north")
	viewtest.At(t, "use by", v.UseBy, viewtest.Clock(15, 5))
	viewtest.Same(t, "pace", v.Basis.Crews[0].PaceMin, 60)
	if v.Place == nil {
		t.Errorf("48 min before its time and 12 min to place: %q", v.Missing)
	}
	v = advice.NextOf(s, viewtest.Clock(14, 55), time.UTC, "north")
	if v.Place != nil || !slices.ContainsFunc(v.Missing,
		func(m string) bool { return strings.Contains(m, "discard") }) {
		t.Errorf("10 min before its time and 12 min to place: place %+v, missing %q", v.Place, v.Missing)
	}
}
