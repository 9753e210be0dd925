package view_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view/daily"
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
		{"nothing", nil, "waiting", 0, neededM3, 0, time.Time{}},
		{
			"mixed and not placed",
			[]sim.Work{mixed(batch(1), clock(8, 0)), tested(batch(1), clock(8, 1), weighed)},
			"waiting", 0, neededM3, 0,
			time.Time{},
		},
		{"one batch", whole(batch(1), coatA1, clock(8, 0)), "under way", batchM3, neededM3 - batchM3, 1, clock(8, 10)},
		{"half of one", []sim.Work{
			mixed(batch(1), clock(8, 0)), tested(batch(1), clock(8, 1), weighed),
			placed(batch(1), coatA1, clock(8, 5), clock(8, 9), 0.5),
		}, "under way", batchM3 / 2, neededM3 - batchM3/2, 0.5, clock(8, 9)},
		{"a lighter batch is a greater one", []sim.Work{
			mixed(batch(1), clock(8, 0)), tested(batch(1), clock(8, 1), 2000),
			placed(batch(1), coatA1, clock(8, 5), clock(8, 9), 1),
		}, "under way", batchKg / 2000, neededM3 - batchKg/2000, 1, clock(8, 9)},
		{"two batches, over what is needed", all(whole(batch(1), coatA1, clock(8, 0)),
			whole(batch(2), coatA1, clock(8, 20))), "under way", 2 * batchM3, 0, 2, clock(8, 30)},
		{"into the other zone", whole(batch(1), coatA2, clock(8, 0)), "waiting", 0, neededM3, 0, time.Time{}},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := daily.BoardOf(site(t, c.work...), noon, time.UTC)
			if len(b.Zones) != 2 {
				t.Fatalf("%d coats, want 2", len(b.Zones))
			}
			l := b.Zones[0]
			same(t, "zone", l.Zone+" "+l.Face+" "+l.Mix, "A1 outer face")
			same(t, "coat", l.Coat, 1)
			same(t, "state", l.State, c.state)
			is(t, "area", l.AreaM2, 9)
			is(t, "design", l.DesignM, 0.012)
			is(t, "needed", l.NeededM3, neededM3)
			is(t, "placed", l.PlacedM3, c.placed)
			is(t, "left", l.LeftM3, c.left)
			is(t, "batches", l.Batches, c.batches)
			is(t, "mean thickness", l.MeanThicknessM, c.placed/1.08/9) // what is not lost lies on 9 m²
			at(t, "last placed", l.LastPlacedAt, c.last)
			at(t, "finished", l.FinishedAt, time.Time{})
			same(t, "finished by", l.FinishedBy+l.FinishedEvent, "")
		})
	}
}

// What finishes a coat, and what it says of itself.
func TestACoatIsFinishedByWhatIsSaidOrDone(t *testing.T) {
	one := whole(batch(1), coatA1, clock(8, 0))
	two := all(one, whole(batch(2), coatA1, clock(8, 20)))
	progress := func(at time.Time, share unit.Share) sim.Work {
		return wrote(at, event.ProgressStated{Coat: coatA1, Complete: as(share)})
	}
	cover := wrote(clock(9, 0), event.SurfaceTended{
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
			"said to be half complete", append(one, progress(clock(9, 0), 0.5)), "under way", "", "", false,
			time.Time{},
			0.5, neededM3 - batchM3,
		},
		{
			"said to be all complete", append(one, progress(clock(9, 0), 1)), "done", "all of it said to be complete",
			"n1/4", true, clock(9, 0), 1, 0,
		},
		// 0.065 of 0.11664 m³ is 56 %, and a cover counts from two thirds: crews cover half-filled coats for the night
		{
			"covered when half full", append(one, cover), "under way", "", "", false,
			time.Time{},
			none,
			neededM3 - batchM3,
		},
		{
			"covered when full", append(two, cover), "done", "covered with wet burlap", "n1/7", false, clock(9, 0),
			none,
			0,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			l := daily.BoardOf(site(t, c.work...), noon, time.UTC).Zones[0]
			same(t, "state", l.State, c.state)
			same(t, "finished by", l.FinishedBy, c.how)
			same(t, "finished event", l.FinishedEvent, c.by)
			same(t, "somebody said so", l.FinishedSaid, c.said)
			at(t, "finished", l.FinishedAt, c.at)
			maybeIs(t, "complete", l.Complete, c.complete)
			is(t, "left", l.LeftM3, c.left)
		})
	}
}

func TestACoatThatIsClosedAndPlacedInAgainIsOpenAgain(t *testing.T) {
	work := append(whole(batch(1), coatA1, clock(8, 0)),
		wrote(clock(9, 0), event.ProgressStated{Coat: coatA1, Complete: as(unit.Share(1))}))
	work = append(work, whole(batch(2), coatA1, clock(10, 0))...)
	l := daily.BoardOf(site(t, work...), noon, time.UTC).Zones[0]
	same(t, "state", l.State, "under way")
	at(t, "opened again", l.OpenedAgainAt, clock(10, 5)) // when its placing began
	at(t, "finished", l.FinishedAt, time.Time{})
}

// What each crew did that day, and when it was last heard.
func TestABoardHasALineForEachCrew(t *testing.T) {
	yesterday := event.Batch{Crew: "north", Day: "2031-05-11", Number: 1}
	work := all(
		[]sim.Work{
			mixed(yesterday, clock(8, 0).AddDate(0, 0, -1)),
			placed(yesterday, coatA1, clock(8, 5).AddDate(0, 0, -1), clock(8, 9).AddDate(0, 0, -1), 1),
		},
		whole(batch(1), coatA1, clock(8, 0)),
		[]sim.Work{
			mixed(batch(2), clock(9, 0)), tested(batch(2), clock(9, 1), weighed),
			placed(batch(2), coatA2, clock(9, 5), clock(9, 9), 0.25),
		},
		whole(batchOf("south", 1), coatA2, clock(10, 0)),
	)
	b := daily.BoardOf(site(t, work...), noon, time.UTC)
	if len(b.Crews) != 2 {
		t.Fatalf("%d crews, want 2: %+v", len(b.Crews), b.Crews)
	}
	n, s := b.Crews[0], b.Crews[1]
	same(t, "crews", n.Crew+" "+s.Crew, "north south")
	same(t, "batches of north today", n.Batches, 2)
	is(t, "mixed by north", n.MixedM3, 2*batchM3)
	is(t, "placed by north", n.PlacedM3, 1.25*batchM3)
	at(t, "north was heard", n.LastEventAt, clock(9, 9))
	same(t, "batches of south", s.Batches, 1)
	is(t, "mixed by south", s.MixedM3, batchM3)
	at(t, "south was heard", s.LastEventAt, clock(10, 10))
}

func TestABoardOfAnEmptySiteSaysWhatIsNotKnown(t *testing.T) {
	b := daily.BoardOf(planned(t, nil), noon, time.UTC)
	same(t, "name", b.Site, "tarn") // no plan names it
	same(t, "units", b.Units, "metric")
	if len(b.Zones)+len(b.LiveEdges)+len(b.Flags)+len(b.Crews) != 0 || b.OldEdges != 0 {
		t.Errorf("an empty site has %+v", b)
	}
	if b.NextCold != nil || b.BatchesLeft != nil || b.Weather != nil {
		t.Errorf("of an empty site it is said: next cold %v, batches left %v, weather %v", b.NextCold, b.BatchesLeft,
			b.Weather)
	}
}

func TestABoardOfAPlanWithoutACrewAtWork(t *testing.T) {
	b := daily.BoardOf(site(t), noon, time.UTC)
	same(t, "name", b.Site, "Tarn vault")
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
	bodies := plan()
	sp := bodies[0].(event.SitePlanned)
	sp.Units = event.US
	bodies[0] = sp
	b := daily.BoardOf(planned(t, bodies, whole(batch(1), coatA1, clock(8, 0))...), noon, time.UTC)
	same(t, "units", b.Units, "us")
	is(t, "placed", b.Zones[0].PlacedM3, batchM3)
	is(t, "area", b.Zones[0].AreaM2, 9)
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
		bodies := plan()
		sp := bodies[0].(event.SitePlanned)
		sp.Loss = ref(unit.Share(c.loss))
		bodies[0] = sp
		for i, b := range bodies {
			switch b := b.(type) {
			case event.ZonePlanned:
				b.Area = as(unit.Area(c.area))
				bodies[i] = b
			case event.CoatPlanned:
				b.Thickness = as(unit.Length(c.thickness))
				bodies[i] = b
			}
		}
		l := daily.BoardOf(planned(t, bodies), noon, time.UTC).Zones[0]
		is(t, "needed", l.NeededM3, c.want)
		is(t, "left", l.LeftM3, c.want)
	}
}
