package view_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/sim"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/viewtest"
)

// lastPlaced is the last placement that the record of some work holds.
func lastPlaced(t *testing.T, work []sim.Work) (*fold.Site, event.Name, event.Placement) {
	t.Helper()
	s := viewtest.Site(t, work...)
	var name event.Name
	var body event.Placement
	for _, r := range s.Records() {
		if p, ok := r.Body.(event.Placement); ok {
			name, body = r.Name, p
		}
	}
	if name.Seq == 0 {
		t.Fatal("nothing was placed")
	}
	return s, name, body
}

func TestAPlacementHasItsShareItsVolumeAndWhatIsLeft(t *testing.T) {
	quarter := event.Part{Share: viewtest.Ref(unit.Share(0.25))}
	put := func(p event.Part, test bool) []sim.Work {
		work := []sim.Work{viewtest.Mixed(viewtest.Batch(1), viewtest.Clock(8, 0))}
		if test {
			work = append(work, viewtest.Tested(viewtest.Batch(1), viewtest.Clock(8, 1), viewtest.Weighed))
		}
		return append(work, viewtest.Wrote(viewtest.Clock(8, 9), event.Placement{
			Batch: viewtest.Batch(1), Coat: viewtest.CoatA1, Part: p,
			From: viewtest.Clock(8, 5), To: viewtest.Clock(8, 9),
		}))
	}
	for _, c := range []struct {
		name                           string
		work                           []sim.Work
		share, volume, left, leftShare float64
		basis                          string
		none                           bool
	}{
		{
			"a quarter of a weighed batch", put(quarter, true), 0.25, viewtest.BatchM3 / 4, viewtest.BatchM3 * 3 / 4,
			0.75, "weighed",
			false,
		},
		{
			"a quarter of one that was not weighed", put(quarter, false), 0.25, viewtest.DesignedM3 / 4,
			viewtest.DesignedM3 * 3 / 4,
			0.75,
			"estimated", false,
		},
		{"all of it", put(event.Part{}, true), 1, viewtest.BatchM3, 0, 0, "weighed", true},
	} {
		s, name, body := lastPlaced(t, c.work)
		v := view.PlacementOf(s, name, body, viewtest.Noon)
		if !v.Known || v.Batch.None != c.none || v.Basis != c.basis {
			t.Errorf("%s: %+v", c.name, v)
		}
		viewtest.Is(t, c.name+": share", float64(v.Share), c.share)
		viewtest.Is(t, c.name+": volume", float64(v.Volume), c.volume)
		viewtest.Is(t, c.name+": share left", float64(v.Batch.Share), c.leftShare)
		viewtest.Is(t, c.name+": volume left", float64(v.Batch.Volume), c.left)
	}
}

// Where others of the mix were weighed, what is left of a batch that nobody weighed is by the yield that they had.
func TestWhatIsLeftIsByTheYieldThatTheMixHad(t *testing.T) {
	var work []sim.Work
	for n := range 4 {
		at := viewtest.Clock(7, 10*n)
		work = append(work, viewtest.Mixed(viewtest.Batch(n+1), at),
			viewtest.Tested(viewtest.Batch(n+1), at.Add(time.Minute), viewtest.Weighed))
	}
	half := unit.Share(0.5)
	work = append(work, viewtest.Mixed(viewtest.Batch(5), viewtest.Clock(8, 0)),
		viewtest.Wrote(viewtest.Clock(8, 9), event.Placement{
			Batch: viewtest.Batch(5), Coat: viewtest.CoatA1, Part: event.Part{Share: viewtest.Ref(half)},
			From: viewtest.Clock(8, 5), To: viewtest.Clock(8, 9),
		}))
	s, name, body := lastPlaced(t, work)
	left := view.PlacementOf(s, name, body, viewtest.Noon).Batch.Volume
	low, high := min(viewtest.BatchM3, viewtest.DesignedM3)/2, max(viewtest.BatchM3, viewtest.DesignedM3)/2
	if float64(left) <= low || float64(left) >= high || viewtest.Near(float64(left), viewtest.DesignedM3/2) {
		t.Errorf("%.5f m3 are left; want between half a batch as weighed, %.5f, and half of one as designed, %.5f",
			left, viewtest.BatchM3/2, viewtest.DesignedM3/2)
	}
}

// The mix sets in 150 minutes at 23 °C: what was placed at that temperature is good to be joined until then, and its
// joint stands open; whoever asks later hears when it turned.
func TestAPlacementsJointIsGoodUntilItsInitialSet(t *testing.T) {
	air := unit.Celsius(23)
	warm := viewtest.Read(event.Weather{At: viewtest.Clock(7, 0), Air: &air})
	s, name, body := lastPlaced(t,
		append([]sim.Work{warm}, viewtest.Whole(viewtest.Batch(1), viewtest.CoatA1, viewtest.Clock(8, 0))...))
	v := view.PlacementOf(s, name, body, viewtest.Clock(8, 10))
	if !v.Opens {
		t.Fatalf("no joint waits: %+v", v)
	}
	if d := v.GoodTo.Sub(viewtest.Clock(10, 30)).Abs(); d > 20*time.Minute {
		t.Errorf("it is good until %s; want about two and a half hours after water met cement at 08:00",
			v.GoodTo.Format("15:04"))
	}
	if later := view.PlacementOf(s, name, body, viewtest.Clock(16, 0)); !later.Opens ||
		later.GoodTo.After(viewtest.Clock(16, 0)) {
		t.Errorf("in the afternoon it is good until %s", later.GoodTo.Format("15:04"))
	}
}

func TestAPlacementOfABatchThatNobodyKnowsHasNoFigures(t *testing.T) {
	s := viewtest.Site(t)
	v := view.PlacementOf(s, event.Name{Device: "n2", Seq: 9}, event.Placement{
		Batch: viewtest.Batch(3),
		Coat:  viewtest.CoatA1,
	}, viewtest.Noon)
	if v != (view.Placement{}) {
		t.Errorf("it has %+v", v)
	}
}
