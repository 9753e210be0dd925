package daily_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view/daily"
	"hod/internal/view/viewtest"
)

// Each coat by what was placed in it: volumes of weighed batches are their mass over their unit weight.
func TestACoatLineHasWhatWasPlaced(t *testing.T) {
	for _, c := range []struct {
		name                  string
		work                  []sim.Work
		state                 string
		placed, left, batches float64
		last                  time.Time
	}{
		{"nothing", nil, "waiting", 0, viewtest.NeededM3, 0, time.Time{}},
		{
			"mixed and not placed",
			[]sim.Work{
				viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
				viewtest.Tested(viewtest.Batch(1), viewtest.Clock(8, 1), viewtest.Weighed),
			},
			"waiting", 0, viewtest.NeededM3, 0,
			time.Time{},
		},
		{
			"one batch", viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)), "under way",
			viewtest.BatchM3, viewtest.NeededM3 - viewtest.BatchM3, 1, viewtest.Clock(8, 10),
		},
		{"half of one", []sim.Work{
			viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
			viewtest.Tested(viewtest.Batch(1), viewtest.Clock(8, 1), viewtest.Weighed),
			viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 5), viewtest.Clock(8, 9), 0.5),
		}, "under way", viewtest.BatchM3 / 2, viewtest.NeededM3 - viewtest.BatchM3/2, 0.5, viewtest.Clock(8, 9)},
		{"a lighter batch is a greater one", []sim.Work{
			viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0)),
			viewtest.Tested(viewtest.Batch(1), viewtest.Clock(8, 1), 2000),
			viewtest.Placed(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 5), viewtest.Clock(8, 9), 1),
		}, "under way", viewtest.BatchKg / 2000, viewtest.NeededM3 - viewtest.BatchKg/2000, 1, viewtest.Clock(8, 9)},
		{
			"two batches, over what is needed",
			viewtest.All(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
				viewtest.Whole(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(8, 20))), "under way",
			2 * viewtest.BatchM3, 0, 2, viewtest.Clock(8, 30),
		},
		{
			"into the other zone", viewtest.Whole(viewtest.Batch(1), viewtest.CoatA2, viewtest.Clock(8, 0)), "waiting",
			0,
			viewtest.NeededM3, 0,
			time.Time{},
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := daily.BoardOf(viewtest.Site(t, c.work...), viewtest.Noon, time.UTC)
			if len(b.Zones) != 2 {
				t.Fatalf("%d coats, want 2", len(b.Zones))
			}
			l := b.Zones[0]
			viewtest.Same(t, "zone", l.Zone+" "+l.Face+" "+l.Mix, "A1 outer face")
			viewtest.Same(t, "coat", l.Coat, 1)
			viewtest.Same(t, "state", l.State, c.state)
			viewtest.Is(t, "area", l.AreaM2, 9)
			viewtest.Is(t, "design", l.DesignM, 0.012)
			viewtest.Is(t, "needed", l.NeededM3, viewtest.NeededM3)
			viewtest.Is(t, "placed", l.PlacedM3, c.placed)
			viewtest.Is(t, "left", l.LeftM3, c.left)
			viewtest.Is(t, "batches", l.Batches, c.batches)
			viewtest.Is(t, "mean thickness", l.MeanThicknessM, c.placed/1.08/9) // what is not lost lies on 9 m²
			viewtest.At(t, "last placed", l.LastPlacedAt, c.last)
			viewtest.At(t, "finished", l.FinishedAt, time.Time{})
			viewtest.Same(t, "finished by", l.FinishedBy+l.FinishedEvent, "")
		})
	}
}

// What finishes a coat, and what it says of itself.
func TestACoatIsFinishedByWhatIsSaidOrDone(t *testing.T) {
	one := viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0))
	two := viewtest.All(one, viewtest.Whole(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(8, 20)))
	progress := func(at time.Time, share unit.Share) sim.Work {
		return viewtest.Wrote(at, event.ProgressStated{Coat: viewtest.CoatA1, Complete: viewtest.As(share)})
	}
	cover := viewtest.Wrote(viewtest.Clock(9, 0), event.SurfaceTended{
		Zone: "A1", Face: event.Outer, Tending: event.Covered,
		With: "wet burlap",
	})
	for _, c := range []struct {
		name           string
		work           []sim.Work
		state, how, by string
		said           bool
		at             time.Time
		complete       float64
		left           float64
	}{
		{
			"said to be half complete", append(one, progress(viewtest.Clock(9, 0), 0.5)), "under way", "", "", false,
			time.Time{},
			0.5, viewtest.NeededM3 - viewtest.BatchM3,
		},
		{
			"said to be all complete", append(one, progress(viewtest.Clock(9, 0), 1)), "done",
			"all of it said to be complete",
			"n1/4", true, viewtest.Clock(9, 0), 1, 0,
		},
		// 0.065 of 0.11664 m³ is 56 %, and a cover counts from two thirds: crews cover half-filled coats for the night
		{
			"covered when half full", append(one, cover), "under way", "", "", false,
			time.Time{},
			viewtest.None,
			viewtest.NeededM3 - viewtest.BatchM3,
		},
		{
			"covered when full", append(two, cover), "done", "covered with wet burlap", "n1/7", false,
			viewtest.Clock(9, 0),
			viewtest.None,
			0,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := daily.BoardOf(viewtest.Site(t, c.work...), viewtest.Noon, time.UTC).Zones[0]
			viewtest.Same(t, "state", l.State, c.state)
			viewtest.Same(t, "finished by", l.FinishedBy, c.how)
			viewtest.Same(t, "finished event", l.FinishedEvent, c.by)
			viewtest.Same(t, "somebody said so", l.FinishedSaid, c.said)
			viewtest.At(t, "finished", l.FinishedAt, c.at)
			viewtest.MaybeIs(t, "complete", l.Complete, c.complete)
			viewtest.Is(t, "left", l.LeftM3, c.left)
		})
	}
}

func TestACoatThatIsClosedAndPlacedInAgainIsOpenAgain(t *testing.T) {
	work := append(viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		viewtest.Wrote(viewtest.Clock(9, 0), event.ProgressStated{
			Coat:     viewtest.CoatA1,
			Complete: viewtest.As(unit.Share(1)),
		}))
	work = append(work, viewtest.Whole(viewtest.Batch(2), viewtest.CoatA1, viewtest.Clock(10, 0))...)
	l := daily.BoardOf(viewtest.Site(t, work...), viewtest.Noon, time.UTC).Zones[0]
	viewtest.Same(t, "state", l.State, "under way")
	viewtest.At(t, "opened again", l.OpenedAgainAt, viewtest.Clock(10, 5)) // when its placing began
	viewtest.At(t, "finished", l.FinishedAt, time.Time{})
}

// What each crew did that day, and when it was last heard.
func TestABoardHasALineForEachCrew(t *testing.T) {
	yesterday := event.Batch{Crew: "north", Day: "2031-05-11", Number: 1}
	work := viewtest.All(
		[]sim.Work{
			viewtest.Mixed(yesterday, viewtest.Clock(8, 0).AddDate(0, 0, -1)),
			viewtest.Placed(yesterday, viewtest.CoatA1, viewtest.Clock(8, 5).AddDate(0, 0, -1),
				viewtest.Clock(8, 9).AddDate(0, 0, -1), 1),
		},
		viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0)),
		[]sim.Work{
			viewtest.Mixed(viewtest.Batch(2), viewtest.Clock(9, 0)),
			viewtest.Tested(viewtest.Batch(2), viewtest.Clock(9, 1), viewtest.Weighed),
			viewtest.Placed(viewtest.Batch(2), viewtest.CoatA2, viewtest.Clock(9, 5), viewtest.Clock(9, 9), 0.25),
		},
		viewtest.Whole(viewtest.BatchOf("south", 1), viewtest.CoatA2, viewtest.Clock(10, 0)),
	)
	b := daily.BoardOf(viewtest.Site(t, work...), viewtest.Noon, time.UTC)
	if len(b.Crews) != 2 {
		t.Fatalf("%d crews, want 2: %+v", len(b.Crews), b.Crews)
	}
	n, s := b.Crews[0], b.Crews[1]
	viewtest.Same(t, "crews", n.Crew+" "+s.Crew, "north south")
	viewtest.Same(t, "batches of north today", n.Batches, 2)
	viewtest.Is(t, "mixed by north", n.MixedM3, 2*viewtest.BatchM3)
	viewtest.Is(t, "placed by north", n.PlacedM3, 1.25*viewtest.BatchM3)
	viewtest.At(t, "north was heard", n.LastEventAt, viewtest.Clock(9, 9))
	viewtest.Same(t, "batches of south", s.Batches, 1)
	viewtest.Is(t, "mixed by south", s.MixedM3, viewtest.BatchM3)
	viewtest.At(t, "south was heard", s.LastEventAt, viewtest.Clock(10, 10))
}

func TestABoardOfAnEmptySiteSaysWhatIsNotKnown(t *testing.T) {
	b := daily.BoardOf(viewtest.Planned(t, nil), viewtest.Noon, time.UTC)
	viewtest.Same(t, "name", b.Site, "tarn") // no plan names it
	viewtest.Same(t, "units", b.Units, "metric")
	if len(b.Zones)+len(b.LiveEdges)+len(b.Flags)+len(b.Crews) != 0 || b.OldEdges != 0 {
		t.Errorf("an empty site has %+v", b)
	}
	if b.NextCold != nil || b.BatchesLeft != nil || b.Weather != nil {
		t.Errorf("of an empty site it is said: next cold %v, batches left %v, weather %v", b.NextCold, b.BatchesLeft,
			b.Weather)
	}
}

func TestABoardOfAPlanWithoutACrewAtWork(t *testing.T) {
	b := daily.BoardOf(viewtest.Site(t), viewtest.Noon, time.UTC)
	viewtest.Same(t, "name", b.Site, "Tarn vault")
	if len(b.Crews) != 1 || b.Crews[0].Batches != 0 || b.Crews[0].LastEventAt != nil {
		t.Errorf("a crew that wrote nothing: %+v", b.Crews)
	}
	if b.BatchesLeft == nil || b.BatchesLeft.P50 <= 0 {
		t.Fatalf("batches left: %+v", b.BatchesLeft)
	}
	// 2 × 0.11664 m³ over 0.0653 m³ a batch is 3.6 batches
	if p := b.BatchesLeft; p.P05 > p.P50 || p.P50 > p.P90 || p.P50 < 3 || p.P50 > 5 {
		t.Errorf("of a plan of 3.6 batches are left %+v", *p)
	}
}

// A site that reads US units has the same figures: views are in SI, and say which units the site reads.
func TestABoardIsInSIWhateverTheSiteReads(t *testing.T) {
	bodies := viewtest.Plan()
	sp := bodies[0].(event.SitePlanned)
	sp.Units = event.US
	bodies[0] = sp
	b := daily.BoardOf(viewtest.Planned(t, bodies, viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1,
		viewtest.Clock(8, 0))...), viewtest.Noon, time.UTC)
	viewtest.Same(t, "units", b.Units, "us")
	viewtest.Is(t, "placed", b.Zones[0].PlacedM3, viewtest.BatchM3)
	viewtest.Is(t, "area", b.Zones[0].AreaM2, 9)
}

// A loss and a thickness of its own: 20 m² × 10 mm × 1.1 = 0.22 m³.
func TestWhatACoatNeedsIsAreaThicknessAndLoss(t *testing.T) {
	for _, c := range []struct {
		area, thickness, loss, want float64
	}{
		{20, 0.010, 0.10, 0.22},
		{20, 0.010, 0, 0.20},
		{5, 0.025, 0.2, 0.15},
	} {
		bodies := viewtest.Plan()
		sp := bodies[0].(event.SitePlanned)
		sp.Loss = viewtest.Ref(unit.Share(c.loss))
		bodies[0] = sp
		for i, b := range bodies {
			switch b := b.(type) {
			case event.ZonePlanned:
				b.Area = viewtest.As(unit.Area(c.area))
				bodies[i] = b
			case event.CoatPlanned:
				b.Thickness = viewtest.As(unit.Length(c.thickness))
				bodies[i] = b
			}
		}
		l := daily.BoardOf(viewtest.Planned(t, bodies), viewtest.Noon, time.UTC).Zones[0]
		viewtest.Is(t, "needed", l.NeededM3, c.want)
		viewtest.Is(t, "left", l.LeftM3, c.want)
	}
}
