package advice_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/advice"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

// narrowVault has two zones of 5 m², which a batch fills; A1 is placed with water at 9:00, so by the stated set of 150
// min at 23 °C its edge turns cold at 11:30.
func narrowVault() []event.Body {
	bodies := viewtest.Week(viewtest.Plan())
	for i, b := range bodies {
		if z, zone := b.(event.ZonePlanned); zone {
			z.Area = viewtest.As(unit.Area(5))
			bodies[i] = z
		}
	}
	return bodies
}

// A test of set at 75 min of 150 moves the day's set; the edge that cannot be met is lost by the time that is told.
func TestAnEdgeThatIsLostIsToldByTheSetThatItIsJudgedBy(t *testing.T) {
	placed := viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(9, 0),
		1))
	tested := viewtest.Wrote(viewtest.Clock(10, 16), event.BatchTested{
		Batch:      viewtest.Batch(1),
		InitialSet: 75 * time.Minute,
	})
	now := viewtest.Clock(11, 15) // a batch takes 20 min: by the stated set it is 5 min late, by the test much later
	for _, c := range []struct {
		name  string
		work  []sim.Work
		moved bool
	}{{"untested", placed, false}, {"tested", viewtest.All(placed, []sim.Work{tested}), true}} {
		s := viewtest.Planned(t, narrowVault(), c.work...)
		v := advice.NextOf(s, now, time.UTC, "north")
		if len(v.Lost) != 1 || v.Lost[0].TurnsAt == nil {
			t.Fatalf("%s: lost %+v, missing %q", c.name, v.Lost, v.Missing)
		}
		turns := *v.Lost[0].TurnsAt
		if c.moved != turns.Before(viewtest.Clock(11, 30)) {
			t.Errorf("%s: lost at %s; by the stated set it is 11:30", c.name, turns)
		}
		board, joints := daily.BoardOf(s, now, time.UTC), view.JointsOf(s, now, time.UTC)
		if c.moved != (board.SetTests != nil) || c.moved != (joints.SetTests != nil) {
			t.Errorf("%s: the board says of tests %+v, joints %+v", c.name, board.SetTests, joints.SetTests)
		}
		if !c.moved {
			continue
		}
		viewtest.Same(t, "tests", board.SetTests.Tests, 1)
		if f := v.Basis.SetFactor; f >= 1 || board.SetTests.Factor != f {
			t.Errorf("the factor is %v with next and %v on the board", f, board.SetTests.Factor)
		}
		// water met cement at 9:00; at 23 °C age is time
		want := viewtest.Clock(9, 0).Add(time.Duration(v.Basis.SetFactor * 150 * float64(time.Minute)))
		if d := turns.Sub(want); d < -2*time.Minute || d > 2*time.Minute {
			t.Errorf("it turned at %s, by the factor %v it is %s", turns, v.Basis.SetFactor, want)
		}
		day, err := daily.DayOf(s, now, time.UTC, "")
		if err != nil || day.SetTests == nil {
			t.Errorf("the day says of tests %+v, %v", day.SetTests, err)
		}
	}
}

// A crew that began its shift, and one whose batch is in the mixer, are at work.
func TestACrewWithAnOpenShiftOrABatchInTheMixerIsAtWork(t *testing.T) {
	for name, w := range map[string]sim.Work{
		"a shift": viewtest.Wrote(viewtest.Clock(11, 0), event.ShiftStarted{People: 3}),
		"a batch that is begun": viewtest.Wrote(viewtest.Clock(11, 58), event.BatchBegun{
			Batch: viewtest.Batch(1),
			Mix:   "face",
		}),
	} {
		v := advice.NextOfAll(viewtest.Planned(t, narrowVault(), append(viewtest.At23(), w)...), viewtest.Noon,
			time.UTC)
		if len(v.Crews) != 1 || v.Crews[0].Crew != "north" {
			t.Errorf("%s: crews %+v", name, v.Crews)
		}
	}
	yesterday := viewtest.Wrote(viewtest.Clock(9, 0).AddDate(0, 0, -1), event.ShiftStarted{People: 3})
	if v := advice.NextOfAll(viewtest.Planned(t, narrowVault(), append(viewtest.At23(), yesterday)...), viewtest.Noon,
		time.UTC); len(v.Crews) != 0 {
		t.Errorf("with a shift of yesterday: %+v", v.Crews)
	}
}

// An edge that turns unmet within the time that was counted went cold, also where it was made ready afterwards; where
// it was ended on purpose or made ready before it turned it did not. Whether it was met since changes nothing.
func TestAnEdgeWentColdUnlessItWasEndedBeforeItTurned(t *testing.T) {
	taken := viewtest.Wrote(viewtest.Clock(9, 20), event.ProposalTaken{
		Crew: "north", Coat: viewtest.CoatA2, Nth: 1, Until: viewtest.Clock(10, 0),
		Trials: 100, Cold: 2, CountedUntil: viewtest.Clock(16, 0),
	})
	// so that no edge inside it waits
	whole := viewtest.Wrote(viewtest.Clock(9, 30), event.ProgressStated{
		Coat:     viewtest.CoatA1,
		Complete: viewtest.As(unit.Share(1)),
	})
	ended := func(at time.Time) sim.Work {
		return viewtest.Wrote(at, event.FrontEnded{Coat: viewtest.CoatA1, OtherZone: "A2", Treatment: "cut square"})
	}
	treated := func(at time.Time) sim.Work {
		return viewtest.Wrote(at, event.JointTreated{Coat: viewtest.CoatA1, OtherZone: "A2", Method: "wire brush"})
	}
	met := viewtest.BatchAt23(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(14, 0), 1)
	for _, c := range []struct {
		name string
		more []sim.Work
		cold bool
	}{
		{"left", nil, true},
		{"ended before it turned", []sim.Work{ended(viewtest.Clock(10, 0))}, false},
		{"made ready after it turned", []sim.Work{treated(viewtest.Clock(13, 0))}, true},
		{"met late", met, true},
		{"ended before it turned, and met late", append([]sim.Work{ended(viewtest.Clock(10, 0))}, met...), false},
		{"made ready after it turned, and met late", append([]sim.Work{treated(viewtest.Clock(13, 0))}, met...), true},
	} {
		s := viewtest.Planned(t, narrowVault(),
			viewtest.All(viewtest.At23(), viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(9, 0),
				1),
				[]sim.Work{taken, whole}, c.more)...)
		v := advice.NextRecordOf(s, viewtest.Clock(18, 0))
		if len(v.Tenths) != 1 || c.cold != (v.Tenths[0].Came == 0) {
			t.Errorf("%s: %+v", c.name, v.Tenths)
		}
	}
}

// What the crew took anew before it placed counts once, and where it placed nothing since it is not said to have gone
// elsewhere.
func TestAProposalThatWasTakenAnewCountsOnce(t *testing.T) {
	take := func(at time.Time, coat event.Coat) sim.Work {
		return viewtest.Wrote(at, event.ProposalTaken{
			Crew: "north", Coat: coat, Nth: 1,
			Until: at.Add(40 * time.Minute),
		})
	}
	twice := []sim.Work{take(viewtest.Clock(8, 0), viewtest.CoatA1), take(viewtest.Clock(8, 5), viewtest.CoatA1)}
	for _, c := range []struct {
		name                      string
		work                      []sim.Work
		taken, followed, unplaced int32
	}{
		{"nothing placed", twice, 1, 0, 1},
		{"placed there", append(twice, viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(9, 0),
			1)...), 1, 1, 0},
		{"placed elsewhere", append(twice, viewtest.BatchAt23(viewtest.Batch(1), viewtest.CoatA2, viewtest.Clock(9, 0),
			1)...), 1, 0, 0},
		{"two coats", []sim.Work{
			take(viewtest.Clock(8, 0), viewtest.CoatA1),
			take(viewtest.Clock(8, 5), viewtest.CoatA2),
		}, 2, 0, 2},
	} {
		v := advice.NextRecordOf(viewtest.Planned(t, narrowVault(), append(viewtest.At23(), c.work...)...),
			viewtest.Clock(12, 0))
		if v.Taken != c.taken || v.Followed != c.followed || v.Unplaced != c.unplaced {
			t.Errorf("%s: taken %d, followed %d, unplaced %d", c.name, v.Taken, v.Followed, v.Unplaced)
		}
	}
}
