package advice_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/view/advice"
	vt "hod/internal/view/viewtest"
)

// ordered is a day's order by the foreman, for A1 with A2, and what the crew did then.
func ordered(t *testing.T, bays [][]event.Zone, work ...sim.Work) *vt.Desk {
	t.Helper()
	d := vt.NewDesk(t, work...)
	o := event.DayOrdered{
		Day: vt.Day, Start: vt.Clock(7, 0), Crews: []event.Crew{"north"}, Batches: 6, Trials: 200, Cold: 10, Done: 190,
		OnPurpose: 3.5, Mixes: []string{"face"},
	}
	for i, z := range bays {
		o.Bays = append(o.Bays, event.DayBay{Zones: z, BeginBy: vt.Clock(9+i, 0)})
	}
	d.Write("f1", "office", vt.Clock(6, 0), o)
	return d
}

// What came of an order is counted by the placements of its day: batches in its zones, batches elsewhere, zones in
// which nothing was placed. A batch that lies in two zones is one batch.
func TestWhatCameOfAnOrderIsCountedByItsDay(t *testing.T) {
	first := vt.Whole(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0))
	split := []sim.Work{
		vt.Mixed(vt.Batch(2), vt.Clock(9, 0)),
		vt.Placed(vt.Batch(2), vt.CoatA1, vt.Clock(9, 5), vt.Clock(9, 10), 0.5),
		vt.Placed(vt.Batch(2), vt.CoatA2, vt.Clock(9, 15), vt.Clock(9, 20), 0.5),
	}
	both, alone := [][]event.Zone{{"A1"}, {"A2"}}, [][]event.Zone{{"A2"}}
	for _, c := range []struct {
		name               string
		bays               [][]event.Zone
		work               []sim.Work
		now                time.Time
		batches, elsewhere int32
		untouched          []string
	}{
		{"nothing is placed", both, nil, vt.Noon, 0, 0, []string{"A1", "A2"}},
		{"one in a zone of it", both, first, vt.Noon, 1, 0, []string{"A2"}},
		{"one elsewhere", alone, first, vt.Noon, 0, 1, []string{"A2"}},
		{"one in two zones", both, split, vt.Noon, 1, 0, nil},
		{"what is still to come did not come", both, vt.All(first, split), vt.Clock(9, 0), 1, 0, []string{"A2"}},
	} {
		v := advice.OrderOf(ordered(t, c.bays, c.work...).Site(), vt.Day, c.now, time.UTC)
		if v == nil || v.Came == nil {
			t.Fatalf("%s: no order", c.name)
		}
		vt.Same(t, c.name+": batches", v.Came.Batches, c.batches)
		vt.Same(t, c.name+": elsewhere", v.Came.Elsewhere, c.elsewhere)
		vt.List(t, c.name+": untouched", v.Came.Untouched, c.untouched...)
	}
}

// A joint that was made cold on the day counts, and a front that was ended on purpose; coat on coat is no matter of an
// order.
func TestAnOrdersColdJointsAndEndedFrontsAreThoseOfItsDay(t *testing.T) {
	work := vt.All(vt.At23(), vt.BatchAt23(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0), 1),
		vt.BatchAt23(vt.Batch(2), vt.CoatA2, vt.Clock(15, 0), 1),
		[]sim.Work{vt.Wrote(vt.Clock(16, 0), event.FrontEnded{Coat: vt.CoatA2, Treatment: "cut square"})})
	d := ordered(t, [][]event.Zone{{"A1", "A2"}}, work...)
	v := advice.OrderOf(d.Site(), vt.Day, vt.Clock(18, 0), time.UTC)
	vt.Same(t, "cold joints", v.Came.Cold, int32(1))
	vt.Same(t, "fronts ended", v.Came.Ended, int32(1))
	before := advice.OrderOf(d.Site(), vt.Day, vt.Clock(12, 0), time.UTC)
	vt.Same(t, "cold joints by noon", before.Came.Cold, int32(0))
	vt.Same(t, "fronts ended by noon", before.Came.Ended, int32(0))
}

// An order says what the plan said that was chosen; a day of which nobody made an order has none.
func TestAnOrderSaysWhatWasChosen(t *testing.T) {
	s := ordered(t, [][]event.Zone{{"A1"}, {"A2"}}).Site()
	v := advice.OrderOf(s, vt.Day, vt.Noon, time.UTC)
	if v == nil {
		t.Fatal("no order")
	}
	vt.Same(t, "date", v.Date, vt.Day)
	vt.At(t, "start", &v.Start, vt.Clock(7, 0))
	vt.List(t, "crews", v.Crews, "north")
	vt.List(t, "mixes", v.Mixes, "face")
	vt.Same(t, "batches", v.Batches, int32(6))
	vt.Same(t, "trials", v.Trials, int32(200))
	vt.Same(t, "trials in which an edge went cold", v.Cold, int32(10))
	vt.Same(t, "trials in which all was done", v.Done, int32(190))
	vt.Is(t, "ended on purpose", v.OnPurposeM, 3.5)
	if len(v.Bays) != 2 {
		t.Fatalf("bays %+v", v.Bays)
	}
	vt.List(t, "the second bay", v.Bays[1].Zones, "A2")
	vt.At(t, "begun by", &v.Bays[1].BeginBy, vt.Clock(10, 0))
	if v := advice.OrderOf(s, "2031-05-13", vt.Noon, time.UTC); v != nil {
		t.Errorf("a day without an order has %+v", v)
	}
	if v := advice.OrderOf(s, vt.Day, vt.Clock(5, 0), time.UTC); v != nil {
		t.Errorf("before it was written there is the order %+v", v)
	}
}

// What is written down of a plan that was chosen is what the plan said, metres to the centimetre.
func TestAChosenPlanIsWrittenDownAsItWasShown(t *testing.T) {
	v := advice.DayPlans{Date: vt.Day}
	p := advice.DayPlan{
		Start: vt.Clock(7, 0), Batches: 6, Trials: 200, Cold: 10, Done: 190, OnPurposeM: 3.14159,
		Mixes: []string{"face"},
		Crews: []string{"north", "south"},
		Bays:  []advice.DayBay{{Zones: []string{"A1", "A2"}, BeginBy: vt.Clock(9, 0)}},
	}
	b := v.Body(p)
	vt.Same(t, "day", b.Day, vt.Day)
	vt.Same(t, "start", b.Start, vt.Clock(7, 0))
	vt.List(t, "crews", b.Crews, "north", "south")
	vt.Same(t, "batches", b.Batches, 6)
	vt.Same(t, "trials, cold, done", [3]int{b.Trials, b.Cold, b.Done}, [3]int{200, 10, 190})
	vt.Is(t, "on purpose", b.OnPurpose, 3.14)
	vt.List(t, "mixes", b.Mixes, "face")
	if len(b.Bays) != 1 || len(b.Bays[0].Zones) != 2 || !b.Bays[0].BeginBy.Equal(vt.Clock(9, 0)) {
		t.Errorf("bays %+v", b.Bays)
	}
}

// Of each proposal its stated chance that no edge goes cold falls into a tenth; the mean of what was stated stands
// beside how often it came true. One that stated nothing is silent, one that is still being counted is pending.
func TestProposalsAreComparedByTheChanceThatTheyStated(t *testing.T) {
	take := func(at time.Time, coat event.Coat, trials, cold int, until time.Time) sim.Work {
		return vt.Wrote(at, event.ProposalTaken{
			Crew: "north", Coat: coat, Nth: 1, Until: at.Add(30 * time.Minute), Trials: trials, Cold: cold,
			CountedUntil: until,
		})
	}
	work := vt.All(vt.At23(), []sim.Work{take(vt.Clock(8, 0), vt.CoatA1, 100, 4, vt.Clock(8, 30))},
		vt.BatchAt23(vt.Batch(1), vt.CoatA1, vt.Clock(8, 10), 1),
		[]sim.Work{take(vt.Clock(8, 40), vt.CoatA2, 100, 8, vt.Clock(16, 0))},
		vt.BatchAt23(vt.Batch(2), vt.CoatA1, vt.Clock(8, 50), 1),
		[]sim.Work{
			take(vt.Clock(9, 20), vt.CoatA2, 0, 0, time.Time{}),
			take(vt.Clock(9, 30), vt.CoatA1, 100, 35, vt.Clock(23, 0)),
		})
	v := advice.NextRecordOf(vt.Site(t, work...), vt.Clock(18, 0))
	vt.Same(t, "taken", v.Taken, int32(4))
	vt.Same(t, "followed", v.Followed, int32(1))
	vt.Same(t, "nothing placed since", v.Unplaced, int32(2))
	vt.Same(t, "silent", v.Silent, int32(1))
	vt.Same(t, "pending", v.Pending, int32(1))
	if len(v.Tenths) != 1 {
		t.Fatalf("tenths %+v", v.Tenths)
	}
	top := v.Tenths[0]
	vt.Is(t, "from", top.From, 0.9)
	vt.Is(t, "to", top.To, 1)
	vt.Same(t, "decisions", top.Decisions, int32(2))
	vt.Is(t, "stated", top.Stated, (0.96+0.92)/2)
	vt.Same(t, "came: of the second an edge turned unmet by 16:00", top.Came, int32(1))
}

// What had turned before a proposal was taken was lost already, and speaks for or against none.
func TestAnEdgeThatHadTurnedSpeaksAgainstNoProposal(t *testing.T) {
	work := vt.All(vt.At23(), vt.BatchAt23(vt.Batch(1), vt.CoatA1, vt.Clock(8, 0), 1), []sim.Work{
		vt.Wrote(vt.Clock(14, 0), event.ProposalTaken{
			Crew: "north", Coat: vt.CoatA2, Nth: 1, Until: vt.Clock(14, 30), Trials: 100, Cold: 50,
			CountedUntil: vt.Clock(17, 0),
		}),
	})
	v := advice.NextRecordOf(vt.Site(t, work...), vt.Clock(18, 0))
	if len(v.Tenths) != 1 || v.Tenths[0].From != 0.5 || v.Tenths[0].Came != 1 {
		t.Errorf("tenths %+v, want one of even odds that came", v.Tenths)
	}
}
