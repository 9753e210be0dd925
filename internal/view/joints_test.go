package view_test

import (
	"slices"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

// Water met cement at 08:00; initial set takes 150 min; closing is 80 % of it, the plan's default.
func TestAnOpenEdgeIsLiveClosingAndColdByTheClockAt23Degrees(t *testing.T) {
	s := viewtest.Site(t, append(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 1)...)...)
	for _, c := range []struct {
		now      time.Time
		state    string
		consumed float64
		old      bool
	}{
		{viewtest.Clock(8, 30), "live", 30.0 / 150, false},
		{viewtest.Clock(9, 0), "live", 60.0 / 150, false},
		{viewtest.Clock(9, 59), "live", 119.0 / 150, false},
		{viewtest.Clock(10, 1), "closing", 121.0 / 150, false},
		{viewtest.Clock(10, 29), "closing", 149.0 / 150, false},
		{viewtest.Clock(10, 31), "cold", 151.0 / 150, false},
		{viewtest.Clock(13, 0), "cold", 2, false},
		// the day after, and nobody treated it
		{viewtest.Clock(23, 0).Add(2 * time.Hour), "cold", 17 * 60.0 / 150, true},
	} {
		j := viewtest.Joint(t, view.JointsOf(s, c.now, time.UTC).Joints, "edge", "A1", "A2", false)
		viewtest.Same(t, "state at "+c.now.Format("15:04"), j.State, c.state)
		if c.consumed < 4 && (j.ConsumedLow < c.consumed-0.0001 || j.ConsumedLow > c.consumed+0.0001 ||
			j.ConsumedHigh != j.ConsumedLow) {
			t.Errorf("at %s is used up %g to %g, want %g", c.now.Format("15:04"), j.ConsumedLow, j.ConsumedHigh,
				c.consumed)
		}
		viewtest.Same(t, "old at "+c.now.Format("15:04"), j.Old, c.old)
		viewtest.At(t, "closes", j.ClosesAt, viewtest.Clock(10, 0))
		viewtest.At(t, "turns", j.TurnsAt, viewtest.Clock(10, 30))
		viewtest.At(t, "turns at the latest", j.TurnsLatest, time.Time{}) // one placement: no range
		viewtest.Is(t, "length", j.Length, 3)
		viewtest.Is(t, "set", j.SetMinutes, 150)
		viewtest.Is(t, "reference", j.SetReferenceC, 23)
		viewtest.List(t, "earlier", j.Earlier, "n1/16")
	}
}

// A closing limit of the site's own moves the word, not the clock.
func TestTheSitesOwnLimitSaysWhenAnEdgeCloses(t *testing.T) {
	bodies := viewtest.Plan()
	sp := bodies[0].(event.SitePlanned)
	sp.Closing = viewtest.Ref(unit.Share(0.5)) // 75 of 150 min
	bodies[0] = sp
	s := viewtest.Planned(t, bodies,
		append(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), 1)...)...)
	j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(9, 16), time.UTC).Joints, "edge", "A1", "A2", false)
	viewtest.Same(t, "state", j.State, "closing")
	viewtest.At(t, "closes", j.ClosesAt, viewtest.Clock(9, 15))
	viewtest.At(t, "turns", j.TurnsAt, viewtest.Clock(10, 30))
}

// A mix sets sooner where it is warmer: by Arrhenius with E = 40 kJ/mol the rate at 33 °C is
// exp(40000/8.314 × (1/296.15 − 1/306.15)) = 1.7003 of that at 23 °C, so 150 min come down to 88 min (ASTM C1074).
func TestWarmMortarSetsSoonerByArrhenius(t *testing.T) {
	var work []sim.Work
	for h := 6; h < 20; h++ {
		work = append(work, viewtest.Read(event.Weather{
			At: viewtest.Clock(h, 0), Air: new(unit.Celsius(33)),
			Humidity: new(unit.Share(0.9)), Wind: new(unit.Speed(1)),
		}))
	}
	w := viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), 1)
	b := w[0].Body.(event.BatchMixed)
	b.Temperature = viewtest.Ref(unit.Celsius(33))
	w[0].Body = b
	j := viewtest.Joint(t, view.JointsOf(viewtest.Site(t, append(work, w...)...), viewtest.Clock(9, 0),
		time.UTC).Joints, "edge", "A1", "A2",
		false)
	if want := viewtest.Clock(8, 0).Add(88*time.Minute + 13*time.Second); j.TurnsAt.Sub(want).Abs() > 20*time.Second {
		t.Errorf("turns cold at %s, want %s", j.TurnsAt, want)
	}
	viewtest.Is(t, "material", j.MaterialC, 33)
}

// The earlier side's age when it was met decides: at the beginning of the later placement.
func TestAMadeJointIsJudgedWhenItWasMet(t *testing.T) {
	for _, c := range []struct {
		water time.Time // of the later batch; it is placed from 5 min after
		state string
		used  float64
	}{
		{viewtest.Clock(9, 0), "live", 65.0 / 150},
		{viewtest.Clock(9, 57), "closing", 122.0 / 150},
		{viewtest.Clock(10, 24), "closing", 149.0 / 150},
		{viewtest.Clock(10, 26), "cold", 151.0 / 150},
	} {
		later := viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA2, c.water, 1)
		p := later[1].Body.(event.Placement)
		p.Along = []event.Zone{"A1"} // else nobody knows yet that it met the edge, and no flag speaks of it
		later[1].Body = p
		s := viewtest.Site(t, viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
			viewtest.Clock(8, 0), 1), later)...)
		j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(11, 0), time.UTC).Joints, "edge", "A1", "A2", true)
		viewtest.Same(t, "state", j.State, c.state)
		if j.ConsumedLow < c.used-0.0001 || j.ConsumedLow > c.used+0.0001 {
			t.Errorf("used up %g, want %g", j.ConsumedLow, c.used)
		}
		viewtest.At(t, "made", j.MadeAt, c.water.Add(5*time.Minute))
		viewtest.List(t, "earlier", j.Earlier, "n1/16")
		viewtest.List(t, "later", j.Later, "n1/18")
		viewtest.Same(t, "flagged", j.Flagged, c.state == "cold")
	}
}

func TestTheRecordLeavesARangeWhereSeveralPlacementsMayLieAlongTheEdge(t *testing.T) {
	s := viewtest.Site(t, viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 0.5), viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(9, 0),
		0.5))...)
	j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(9, 30), time.UTC).Joints, "edge", "A1", "A2", false)
	// the newer has used 30 of 150 min, the older 90
	if j.ConsumedLow < 0.1999 || j.ConsumedLow > 0.2001 || j.ConsumedHigh < 0.5999 || j.ConsumedHigh > 0.6001 {
		t.Errorf("used up %g to %g, want 0.2 to 0.6", j.ConsumedLow, j.ConsumedHigh)
	}
	viewtest.At(t, "may turn", j.TurnsAt, viewtest.Clock(10, 30))
	viewtest.At(t, "turns at the latest", j.TurnsLatest, viewtest.Clock(11, 30))
	if !strings.Contains(j.Note, "does not say which placement runs along the edge") {
		t.Errorf("the note is %q", j.Note)
	}
}

func TestAPlacementSaidToRunAlongTheEdgeLeavesNoRange(t *testing.T) {
	second := viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(9, 0), 0.5)
	p := second[1].Body.(event.Placement)
	p.Along = []event.Zone{"A2"}
	second[1].Body = p
	s := viewtest.Site(t, viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 0.5), second)...)
	j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(9, 30), time.UTC).Joints, "edge", "A1", "A2", false)
	if j.ConsumedLow != j.ConsumedHigh || j.ConsumedLow < 0.1999 || j.ConsumedLow > 0.2001 {
		t.Errorf("used up %g to %g, want 0.2", j.ConsumedLow, j.ConsumedHigh)
	}
	viewtest.Same(t, "note", j.Note, "")
}

func TestATreatmentIsListedWithItsInstantAndEvent(t *testing.T) {
	treat := viewtest.Wrote(viewtest.Clock(11, 0), event.JointTreated{
		Coat: viewtest.CoatA1, OtherZone: "A2",
		Method: "chipped and wetted",
	})
	s := viewtest.Site(t, viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 1), []sim.Work{treat})...)
	j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(11, 30), time.UTC).Joints, "edge", "A1", "A2", false)
	viewtest.Same(t, "state", j.State, "cold")
	viewtest.Same(t, "presses", j.Presses(), false)
	if len(j.Treatments) != 1 ||
		j.Treatments[0] != (view.Treatment{At: viewtest.Clock(11, 0), Method: "chipped and wetted", Event: "n1/17"}) {
		t.Errorf("treatments %+v", j.Treatments)
	}
	viewtest.List(t, "in words", j.Treated, "chipped and wetted (n1/17)")
	b := daily.BoardOf(s, viewtest.Clock(11, 30), time.UTC)
	for _, e := range b.LiveEdges {
		if e.Kind == "edge" {
			t.Errorf("the board still presses for %s to %s, which is treated", e.Zone, e.Other)
		}
	}
}

// Open edges come in the order of their urgency: closing, cold today, live, and what is old or treated last.
func TestOpenEdgesComeByUrgency(t *testing.T) {
	s := viewtest.Site(t, viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 0.5), viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(8, 40),
		0.5))...)
	var states []string
	for _, j := range view.JointsOf(s, viewtest.Clock(10, 35), time.UTC).Joints {
		if !j.Made {
			states = append(states, j.State+" "+j.Kind+" "+j.Zone)
		}
	}
	// A1 is 155 min old and cold, A2 115 min and live
	viewtest.List(t, "order", states, "cold inside A1", "live inside A2", "live edge A2")
	states = nil
	for _, j := range view.JointsOf(s, viewtest.Clock(10, 45), time.UTC).Joints {
		if !j.Made {
			states = append(states, j.State+" "+j.Kind+" "+j.Zone)
		}
	}
	viewtest.List(t, "order", states, "closing inside A2", "closing edge A2", "cold inside A1")
}

func TestTheNextToTurnColdIsTheSoonest(t *testing.T) {
	work := viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0),
		0.5), viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(8, 40), 0.5))
	for _, c := range []struct {
		now  time.Time
		want string
		at   time.Time
	}{
		{viewtest.Clock(9, 0), "A1", viewtest.Clock(10, 30)},
		{viewtest.Clock(10, 31), "A2", viewtest.Clock(11, 10)},
		{viewtest.Clock(11, 11), "", time.Time{}},
	} {
		n := daily.BoardOf(viewtest.Site(t, work...), c.now, time.UTC).NextCold
		switch {
		case n == nil && c.want != "":
			t.Errorf("at %s nothing is to turn cold, want %s", c.now.Format("15:04"), c.want)
		case n != nil && (n.Zone != c.want || !n.TurnsAt.Equal(c.at)):
			t.Errorf("at %s the next is %s at %s, want %s at %s", c.now.Format("15:04"), n.Zone, n.TurnsAt, c.want,
				c.at)
		}
	}
}

// What a crew must hear of is its own, closing or cold today.
func TestACrewHearsOfItsOwnEdges(t *testing.T) {
	s := viewtest.Site(t, viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 1),
		viewtest.BatchAt23(viewtest.BatchOf("south", 1), viewtest.CoatA2, viewtest.Clock(9, 30), 1))...)
	for _, c := range []struct {
		now  time.Time
		crew event.Crew
		want []string
	}{
		{viewtest.Clock(9, 0), "north", nil},
		{viewtest.Clock(10, 10), "north", []string{"A1"}},
		{viewtest.Clock(10, 10), "south", nil},
		{viewtest.Clock(11, 40), "south", []string{"A2", "A2"}}, // inside its coat, and what of A1 comes after
		{viewtest.Clock(23, 0).Add(2 * time.Hour), "north", nil},
	} {
		var zones []string
		for _, j := range view.EdgesOf(s, c.now, time.UTC, c.crew) {
			zones = append(zones, j.Zone)
		}
		viewtest.List(t, string(c.crew)+" at "+c.now.Format("15:04"), zones, c.want...)
	}
}

func TestACoatOnACoatIsAJointBelow(t *testing.T) {
	second := event.Coat{Zone: "A1", Face: event.Outer, Number: 2}
	bodies := append(viewtest.Plan(), event.CoatPlanned{
		Coat: second, Thickness: viewtest.As(unit.Length(0.012)),
		Mix: "face",
	})
	s := viewtest.Planned(t, bodies,
		viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0), 1),
			viewtest.BatchAt23(viewtest.Batch(2), second, viewtest.Clock(12, 0), 1))...)
	j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(13, 0), time.UTC).Joints, "below", "A1", "", true)
	viewtest.Same(t, "state", j.State, "cold") // 245 of 150 min: a coat on a coat that has set
	viewtest.Is(t, "used up", j.ConsumedLow, 1.633333)
	viewtest.At(t, "made", j.MadeAt, viewtest.Clock(12, 5))
}

// The id of a joint is short, and the same whatever else is written.
func TestAJointKeepsItsID(t *testing.T) {
	work := viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0),
		1))
	before := viewtest.Joint(t, view.JointsOf(viewtest.Site(t, work...), viewtest.Clock(9, 0), time.UTC).Joints, "edge",
		"A1", "A2", false)
	more := append(work, viewtest.Wrote(viewtest.Clock(9, 0), event.Noted{Text: "windy"}),
		viewtest.Wrote(viewtest.Clock(9, 1), event.SurfaceTended{Zone: "A1", Tending: event.Wetted}))
	after := viewtest.Joint(t, view.JointsOf(viewtest.Site(t, more...), viewtest.Clock(9, 10), time.UTC).Joints, "edge",
		"A1", "A2", false)
	viewtest.Same(t, "id", after.ID, before.ID)
	if len(before.ID) != 5 {
		t.Errorf("the id is %q", before.ID)
	}
}

func TestNothingPlacedIsNoJoint(t *testing.T) {
	v := view.JointsOf(viewtest.Site(t, viewtest.At23()...), viewtest.Noon, time.UTC)
	if len(v.Joints) != 0 {
		t.Errorf("nothing is placed, and there are %+v", v.Joints)
	}
	viewtest.Same(t, "site", v.Site, "Tarn vault")
	if edges := view.EdgesOf(viewtest.Site(t), viewtest.Noon, time.UTC, "north"); len(edges) != 0 {
		t.Errorf("nothing is placed, and north hears of %+v", edges)
	}
}

// A mix that states no initial set is reckoned with one that is assumed, and it is said.
func TestAnAssumedSetIsSaidToBe(t *testing.T) {
	bodies := viewtest.Plan()
	i := slices.IndexFunc(bodies, func(b event.Body) bool { _, mix := b.(event.MixPlanned); return mix })
	m := bodies[i].(event.MixPlanned)
	m.InitialSet, m.SetReference, m.Activation = 0, nil, 0
	bodies[i] = m
	s := viewtest.Planned(t, bodies,
		viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0),
			1))...)
	j := viewtest.Joint(t, view.JointsOf(s, viewtest.Clock(9, 0), time.UTC).Joints, "edge", "A1", "A2", false)
	if !strings.HasSuffix(j.MaterialSource, "initial set assumed, the mix states none") || j.SetMinutes <= 0 {
		t.Errorf("set %g min, source %q", j.SetMinutes, j.MaterialSource)
	}
}

// Cold only where it surely is: of two placements that may lie along the edge the older has set and the newer has not.
func TestAnEdgeThatMayBeColdIsClosing(t *testing.T) {
	s := viewtest.Site(t, viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0), 0.5), viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(10, 0),
		0.5))...)
	for _, c := range []struct {
		now   time.Time
		state string
	}{
		{viewtest.Clock(10, 20), "closing"}, // the older at 140 min, closing
		{viewtest.Clock(11, 0), "closing"},  // the older at 180, cold; the newer at 60, live
		{viewtest.Clock(12, 29), "closing"}, // the newer at 149
		{viewtest.Clock(12, 31), "cold"},    // both
	} {
		j := viewtest.Joint(t, view.JointsOf(s, c.now, time.UTC).Joints, "edge", "A1", "A2", false)
		viewtest.Same(t, "state at "+c.now.Format("15:04"), j.State, c.state)
		viewtest.At(t, "may turn", j.TurnsAt, viewtest.Clock(10, 30))
		viewtest.At(t, "turns at the latest", j.TurnsLatest, viewtest.Clock(12, 30))
	}
}
