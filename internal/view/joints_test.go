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
)

// at23 is a still, damp day at 23 °C, and batchAt23 a batch as warm: mortar then ages by the clock, and after so many
// minutes of the 150 that the mix states at 23 °C that share of its initial set is used up.
func at23() []sim.Work {
	var read23 []sim.Work
	for h := 6; h < 20; h++ {
		read23 = append(read23, read(event.Weather{
			At: clock(h, 0), Air: new(unit.Celsius(23)),
			Humidity: new(unit.Share(0.9)), Wind: new(unit.Speed(1)),
		}))
	}
	return read23
}

func batchAt23(id event.Batch, coat event.Coat, at time.Time, share unit.Share) []sim.Work {
	m := mixed(id, at)
	b := m.Body.(event.BatchMixed)
	b.Temperature = ref(unit.Celsius(23))
	m.Body = b
	return []sim.Work{m, placed(id, coat, at.Add(5*time.Minute), at.Add(10*time.Minute), share)}
}

// joint is the one of that kind, of a zone and across an edge.
func joint(t testing.TB, all []view.Joint, kind, zone, other string, made bool) view.Joint {
	t.Helper()
	for _, j := range all {
		if j.Kind == kind && j.Zone == zone && j.Other == other && j.Made == made {
			return j
		}
	}
	t.Fatalf("no %s joint of %s with %q, made %t, in %d", kind, zone, other, made, len(all))
	return view.Joint{}
}

// Water met cement at 08:00; initial set takes 150 min; closing is 80 % of it, the plan's default.
func TestAnOpenEdgeIsLiveClosingAndColdByTheClockAt23Degrees(t *testing.T) {
	s := site(t, append(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1)...)...)
	for _, c := range []struct {
		now      time.Time
		state    string
		consumed float64
		old      bool
	}{
		{clock(8, 30), "live", 30.0 / 150, false},
		{clock(9, 0), "live", 60.0 / 150, false},
		{clock(9, 59), "live", 119.0 / 150, false},
		{clock(10, 1), "closing", 121.0 / 150, false},
		{clock(10, 29), "closing", 149.0 / 150, false},
		{clock(10, 31), "cold", 151.0 / 150, false},
		{clock(13, 0), "cold", 2, false},
		{clock(23, 0).Add(2 * time.Hour), "cold", 17 * 60.0 / 150, true}, // the day after, and nobody treated it
	} {
		j := joint(t, view.JointsOf(s, c.now, time.UTC).Joints, "edge", "A1", "A2", false)
		same(t, "state at "+c.now.Format("15:04"), j.State, c.state)
		if c.consumed < 4 && (j.ConsumedLow < c.consumed-0.0001 || j.ConsumedLow > c.consumed+0.0001 ||
			j.ConsumedHigh != j.ConsumedLow) {
			t.Errorf("at %s is used up %g to %g, want %g", c.now.Format("15:04"), j.ConsumedLow, j.ConsumedHigh,
				c.consumed)
		}
		same(t, "old at "+c.now.Format("15:04"), j.Old, c.old)
		at(t, "closes", j.ClosesAt, clock(10, 0))
		at(t, "turns", j.TurnsAt, clock(10, 30))
		at(t, "turns at the latest", j.TurnsLatest, time.Time{}) // one placement: no range
		is(t, "length", j.Length, 3)
		is(t, "set", j.SetMinutes, 150)
		is(t, "reference", j.SetReferenceC, 23)
		list(t, "earlier", j.Earlier, "n1/16")
	}
}

// A closing limit of the site's own moves the word, not the clock.
func TestTheSitesOwnLimitSaysWhenAnEdgeCloses(t *testing.T) {
	bodies := plan()
	sp := bodies[0].(event.SitePlanned)
	sp.Closing = ref(unit.Share(0.5)) // 75 of 150 min
	bodies[0] = sp
	s := planned(t, bodies, append(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1)...)...)
	j := joint(t, view.JointsOf(s, clock(9, 16), time.UTC).Joints, "edge", "A1", "A2", false)
	same(t, "state", j.State, "closing")
	at(t, "closes", j.ClosesAt, clock(9, 15))
	at(t, "turns", j.TurnsAt, clock(10, 30))
}

// A mix sets sooner where it is warmer: by Arrhenius with E = 40 kJ/mol the rate at 33 °C is
// exp(40000/8.314 × (1/296.15 − 1/306.15)) = 1.7003 of that at 23 °C, so 150 min come down to 88 min (ASTM C1074).
func TestWarmMortarSetsSoonerByArrhenius(t *testing.T) {
	var work []sim.Work
	for h := 6; h < 20; h++ {
		work = append(work, read(event.Weather{
			At: clock(h, 0), Air: new(unit.Celsius(33)),
			Humidity: new(unit.Share(0.9)), Wind: new(unit.Speed(1)),
		}))
	}
	w := batchAt23(batch(1), coatA1, clock(8, 0), 1)
	b := w[0].Body.(event.BatchMixed)
	b.Temperature = ref(unit.Celsius(33))
	w[0].Body = b
	j := joint(t, view.JointsOf(site(t, append(work, w...)...), clock(9, 0), time.UTC).Joints, "edge", "A1", "A2",
		false)
	if want := clock(8, 0).Add(88*time.Minute + 13*time.Second); j.TurnsAt.Sub(want).Abs() > 20*time.Second {
		t.Errorf("turns cold at %s, want %s", j.TurnsAt, want)
	}
	is(t, "material", j.MaterialC, 33)
}

// The earlier side's age when it was met decides: at the beginning of the later placement.
func TestAMadeJointIsJudgedWhenItWasMet(t *testing.T) {
	for _, c := range []struct {
		water time.Time // of the later batch; it is placed from 5 min after
		state string
		used  float64
	}{
		{clock(9, 0), "live", 65.0 / 150},
		{clock(9, 57), "closing", 122.0 / 150},
		{clock(10, 24), "closing", 149.0 / 150},
		{clock(10, 26), "cold", 151.0 / 150},
	} {
		later := batchAt23(batch(2), coatA2, c.water, 1)
		p := later[1].Body.(event.Placement)
		p.Along = []event.Zone{"A1"} // else nobody knows yet that it met the edge, and no flag speaks of it
		later[1].Body = p
		s := site(t, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1), later)...)
		j := joint(t, view.JointsOf(s, clock(11, 0), time.UTC).Joints, "edge", "A1", "A2", true)
		same(t, "state", j.State, c.state)
		if j.ConsumedLow < c.used-0.0001 || j.ConsumedLow > c.used+0.0001 {
			t.Errorf("used up %g, want %g", j.ConsumedLow, c.used)
		}
		at(t, "made", j.MadeAt, c.water.Add(5*time.Minute))
		list(t, "earlier", j.Earlier, "n1/16")
		list(t, "later", j.Later, "n1/18")
		same(t, "flagged", j.Flagged, c.state == "cold")
	}
}

func TestTheRecordLeavesARangeWhereSeveralPlacementsMayLieAlongTheEdge(t *testing.T) {
	s := site(t, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 0.5), batchAt23(batch(2), coatA1, clock(9, 0),
		0.5))...)
	j := joint(t, view.JointsOf(s, clock(9, 30), time.UTC).Joints, "edge", "A1", "A2", false)
	// the newer has used 30 of 150 min, the older 90
	if j.ConsumedLow < 0.1999 || j.ConsumedLow > 0.2001 || j.ConsumedHigh < 0.5999 || j.ConsumedHigh > 0.6001 {
		t.Errorf("used up %g to %g, want 0.2 to 0.6", j.ConsumedLow, j.ConsumedHigh)
	}
	at(t, "may turn", j.TurnsAt, clock(10, 30))
	at(t, "turns at the latest", j.TurnsLatest, clock(11, 30))
	if !strings.Contains(j.Note, "does not say which placement runs along the edge") {
		t.Errorf("the note is %q", j.Note)
	}
}

func TestAPlacementSaidToRunAlongTheEdgeLeavesNoRange(t *testing.T) {
	second := batchAt23(batch(2), coatA1, clock(9, 0), 0.5)
	p := second[1].Body.(event.Placement)
	p.Along = []event.Zone{"A2"}
	second[1].Body = p
	s := site(t, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 0.5), second)...)
	j := joint(t, view.JointsOf(s, clock(9, 30), time.UTC).Joints, "edge", "A1", "A2", false)
	if j.ConsumedLow != j.ConsumedHigh || j.ConsumedLow < 0.1999 || j.ConsumedLow > 0.2001 {
		t.Errorf("used up %g to %g, want 0.2", j.ConsumedLow, j.ConsumedHigh)
	}
	same(t, "note", j.Note, "")
}

func TestATreatmentIsListedWithItsInstantAndEvent(t *testing.T) {
	treat := wrote(clock(11, 0), event.JointTreated{Coat: coatA1, OtherZone: "A2", Method: "chipped and wetted"})
	s := site(t, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1), []sim.Work{treat})...)
	j := joint(t, view.JointsOf(s, clock(11, 30), time.UTC).Joints, "edge", "A1", "A2", false)
	same(t, "state", j.State, "cold")
	same(t, "presses", j.Presses(), false)
	if len(j.Treatments) != 1 ||
		j.Treatments[0] != (view.Treatment{At: clock(11, 0), Method: "chipped and wetted", Event: "n1/17"}) {
		t.Errorf("treatments %+v", j.Treatments)
	}
	list(t, "in words", j.Treated, "chipped and wetted (n1/17)")
	b := daily.BoardOf(s, clock(11, 30), time.UTC)
	for _, e := range b.LiveEdges {
		if e.Kind == "edge" {
			t.Errorf("the board still presses for %s to %s, which is treated", e.Zone, e.Other)
		}
	}
}

// Open edges come in the order of their urgency: closing, cold today, live, and what is old or treated last.
func TestOpenEdgesComeByUrgency(t *testing.T) {
	s := site(t, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 0.5), batchAt23(batch(2), coatA2, clock(8, 40),
		0.5))...)
	var states []string
	for _, j := range view.JointsOf(s, clock(10, 35), time.UTC).Joints {
		if !j.Made {
			states = append(states, j.State+" "+j.Kind+" "+j.Zone)
		}
	}
	// A1 is 155 min old and cold, A2 115 min and live
	list(t, "order", states, "cold inside A1", "live inside A2", "live edge A2")
	states = nil
	for _, j := range view.JointsOf(s, clock(10, 45), time.UTC).Joints {
		if !j.Made {
			states = append(states, j.State+" "+j.Kind+" "+j.Zone)
		}
	}
	list(t, "order", states, "closing inside A2", "closing edge A2", "cold inside A1")
}

func TestTheNextToTurnColdIsTheSoonest(t *testing.T) {
	work := all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 0.5), batchAt23(batch(2), coatA2, clock(8, 40), 0.5))
	for _, c := range []struct {
		now  time.Time
		want string
		at   time.Time
	}{
		{clock(9, 0), "A1", clock(10, 30)},
		{clock(10, 31), "A2", clock(11, 10)},
		{clock(11, 11), "", time.Time{}},
	} {
		n := daily.BoardOf(site(t, work...), c.now, time.UTC).NextCold
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
	s := site(t, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1),
		batchAt23(batchOf("south", 1), coatA2, clock(9, 30), 1))...)
	for _, c := range []struct {
		now  time.Time
		crew event.Crew
		want []string
	}{
		{clock(9, 0), "north", nil},
		{clock(10, 10), "north", []string{"A1"}},
		{clock(10, 10), "south", nil},
		{clock(11, 40), "south", []string{"A2", "A2"}}, // inside its coat, and what of A1 comes after
		{clock(23, 0).Add(2 * time.Hour), "north", nil},
	} {
		var zones []string
		for _, j := range view.EdgesOf(s, c.now, time.UTC, c.crew) {
			zones = append(zones, j.Zone)
		}
		list(t, string(c.crew)+" at "+c.now.Format("15:04"), zones, c.want...)
	}
}

func TestACoatOnACoatIsAJointBelow(t *testing.T) {
	second := event.Coat{Zone: "A1", Face: event.Outer, Number: 2}
	bodies := append(plan(), event.CoatPlanned{Coat: second, Thickness: as(unit.Length(0.012)), Mix: "face"})
	s := planned(t, bodies, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1),
		batchAt23(batch(2), second, clock(12, 0), 1))...)
	j := joint(t, view.JointsOf(s, clock(13, 0), time.UTC).Joints, "below", "A1", "", true)
	same(t, "state", j.State, "cold") // 245 of 150 min: a coat on a coat that has set
	is(t, "used up", j.ConsumedLow, 1.633333)
	at(t, "made", j.MadeAt, clock(12, 5))
}

// The id of a joint is short, and the same whatever else is written.
func TestAJointKeepsItsID(t *testing.T) {
	work := all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1))
	before := joint(t, view.JointsOf(site(t, work...), clock(9, 0), time.UTC).Joints, "edge", "A1", "A2", false)
	more := append(work, wrote(clock(9, 0), event.Noted{Text: "windy"}),
		wrote(clock(9, 1), event.SurfaceTended{Zone: "A1", Tending: event.Wetted}))
	after := joint(t, view.JointsOf(site(t, more...), clock(9, 10), time.UTC).Joints, "edge", "A1", "A2", false)
	same(t, "id", after.ID, before.ID)
	if len(before.ID) != 5 {
		t.Errorf("the id is %q", before.ID)
	}
}

func TestNothingPlacedIsNoJoint(t *testing.T) {
	v := view.JointsOf(site(t, at23()...), noon, time.UTC)
	if len(v.Joints) != 0 {
		t.Errorf("nothing is placed, and there are %+v", v.Joints)
	}
	same(t, "site", v.Site, "Tarn vault")
	if edges := view.EdgesOf(site(t), noon, time.UTC, "north"); len(edges) != 0 {
		t.Errorf("nothing is placed, and north hears of %+v", edges)
	}
}

// A mix that states no initial set is reckoned with one that is assumed, and it is said.
func TestAnAssumedSetIsSaidToBe(t *testing.T) {
	bodies := plan()
	i := slices.IndexFunc(bodies, func(b event.Body) bool { _, mix := b.(event.MixPlanned); return mix })
	m := bodies[i].(event.MixPlanned)
	m.InitialSet, m.SetReference, m.Activation = 0, nil, 0
	bodies[i] = m
	s := planned(t, bodies, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 1))...)
	j := joint(t, view.JointsOf(s, clock(9, 0), time.UTC).Joints, "edge", "A1", "A2", false)
	if !strings.HasSuffix(j.MaterialSource, "initial set assumed, the mix states none") || j.SetMinutes <= 0 {
		t.Errorf("set %g min, source %q", j.SetMinutes, j.MaterialSource)
	}
}

// Cold only where it surely is: of two placements that may lie along the edge the older has set and the newer has not.
func TestAnEdgeThatMayBeColdIsClosing(t *testing.T) {
	s := site(t, all(at23(), batchAt23(batch(1), coatA1, clock(8, 0), 0.5), batchAt23(batch(2), coatA1, clock(10, 0),
		0.5))...)
	for _, c := range []struct {
		now   time.Time
		state string
	}{
		{clock(10, 20), "closing"}, // the older at 140 min, closing
		{clock(11, 0), "closing"},  // the older at 180, cold; the newer at 60, live
		{clock(12, 29), "closing"}, // the newer at 149
		{clock(12, 31), "cold"},    // both
	} {
		j := joint(t, view.JointsOf(s, c.now, time.UTC).Joints, "edge", "A1", "A2", false)
		same(t, "state at "+c.now.Format("15:04"), j.State, c.state)
		at(t, "may turn", j.TurnsAt, clock(10, 30))
		at(t, "turns at the latest", j.TurnsLatest, clock(12, 30))
	}
}
