package planned_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
	"hod/internal/view"
)

func inside(t *testing.T, s *fold.Site) view.Joint {
	t.Helper()
	for _, j := range view.JointsOf(s, foldtest.Clock(600), foldtest.Place).Joints {
		if j.Made && j.Kind == "inside" {
			return j
		}
	}
	t.Fatal("no joint is made")
	return view.Joint{}
}

func TestARevisedSetDoesNotTurnAnOldColdJointLive(t *testing.T) {
	d := foldtest.NewDesk(t)
	foldtest.ColdPair(d)
	if j := inside(t, d.Site()); j.State != "cold" || foldtest.Count(d.Site(), fold.ColdJoint) != 1 {
		t.Fatalf("the joint is %s at %.3f to begin with", j.State, j.ConsumedLow)
	}
	first := d.Planned(foldtest.IsMix)
	d.By("f1", 300, foldtest.Face(2, func(m *event.MixPlanned) { m.InitialSet = 4 * time.Hour }, first))
	s := d.Site()
	if j := inside(t, s); j.State != "cold" || j.SetMinutes != 150 {
		t.Errorf("after a revision of the set the old joint is %s with a set of %g min", j.State, j.SetMinutes)
	}
	if n := foldtest.Count(s, fold.ColdJoint); n != 1 {
		t.Errorf("%d flags of the cold joint, not 1", n)
	}
	if s.Plan().Mixes["face"].Set.Initial != 4*time.Hour {
		t.Error("the revision does not hold for what is to come")
	}
}

func TestARevisedAirAndGravityMoveNoOldBatch(t *testing.T) {
	d := foldtest.NewDesk(t)
	foldtest.ColdPair(d)
	before := everyBatch(d.Site())
	first := d.Planned(foldtest.IsMix)
	d.By("f1", 300, foldtest.Face(2, func(m *event.MixPlanned) {
		m.Air = foldtest.Ref(unit.Share(0.2))
		m.Constituents[1].Gravity = 2.2
		m.Constituents[1].Absorption = foldtest.Ref(unit.Share(0.03))
		m.WaterLimit, m.Activation, m.UnitWeight = 0.3, 55, foldtest.Ref(unit.Density(1800))
	}, first))
	if after := everyBatch(d.Site()); after != before {
		t.Errorf("old batches moved:\n%s\nwere\n%s", after, before)
	}
	d.By("n1", 320, foldtest.ByRevision(2, 3, 320))
	s := d.Site()
	// by hand: 42/3.15 + 85/2.2 + 16 = 67.97 L of solids and water at 1 kg/L, over 1 − 0.2
	if b, _ := s.Batch(foldtest.North(3)); math.Abs(float64(b.Design)*1000-67.97/0.8) > 0.1 {
		t.Errorf("the new batch is %.2f L as designed, not %.2f", float64(b.Design)*1000, 67.97/0.8)
	}
}

// everyBatch is what the record says of the batches that were mixed, in words.
func everyBatch(s *fold.Site) string {
	text := ""
	for _, b := range s.Batches() {
		text += fmt.Sprintf("%s: revision %d, %.6f L, w/cm %.4f, %d findings\n", b.ID, b.Mix.Revision,
			1000*float64(b.Volume(1, s.YieldOf(b).Ratio)), b.Figures.WaterCementitious, len(b.Findings))
	}
	return text
}

func TestARevisionThatCorrectsIsWhatOldBatchesAreJudgedByUntilItIsTakenBack(t *testing.T) {
	d := foldtest.NewDesk(t)
	foldtest.ColdPair(d)
	first := d.Planned(foldtest.IsMix)
	second := d.By("f1", 200, foldtest.Face(2, func(m *event.MixPlanned) { m.WaterLimit = 0.41 }, first))
	third := d.By("f1", 300, foldtest.Face(3, func(m *event.MixPlanned) { m.InitialSet, m.Corrects = 4*time.Hour, 1 },
		second))
	if j := inside(t, d.Site()); j.State == "cold" || j.SetMinutes != 240 {
		t.Errorf("the corrected joint is %s with a set of %g min, not by revision 3's 240", j.State, j.SetMinutes)
	}
	if b, _ := d.Site().Batch(foldtest.North(1)); b.Mix.Revision != 3 {
		t.Errorf("batch 1 is judged by revision %d", b.Mix.Revision)
	}
	d.By("f1", 310, foldtest.Face(4, func(m *event.MixPlanned) { m.InitialSet, m.Corrects = 3*time.Hour, 3 }, third))
	if j := inside(t, d.Site()); j.SetMinutes != 180 {
		t.Errorf("a correction of the correction does not reach the batch: a set of %g min", j.SetMinutes)
	}
	d.By("f1", 320, event.Voided{Target: d.Events[len(d.Events)-1].Hash(), Why: "it was right"})
	d.By("f1", 321, event.Voided{Target: third.Hash(), Why: "it was right, too"})
	if j := inside(t, d.Site()); j.State != "cold" || j.SetMinutes != 150 {
		t.Errorf("with the corrections taken back the joint is %s with a set of %g min", j.State, j.SetMinutes)
	}
}

func TestABatchOfARevisionThatIsNotInTheRecordIsJudgedByTheOneOfItsTimeAndSaysSo(t *testing.T) {
	d := foldtest.NewDesk(t)
	first := d.Planned(foldtest.IsMix)
	d.By("n1", 5, foldtest.ByRevision(7, 1, 5))
	d.By("f1", 60, foldtest.Face(2, func(m *event.MixPlanned) { m.InitialSet = 4 * time.Hour }, first))
	d.By("n1", 90, foldtest.ByRevision(7, 2, 90))
	s := d.Site()
	one, _ := s.Batch(foldtest.North(1))
	two, _ := s.Batch(foldtest.North(2))
	if one.Mix.Revision != 1 || two.Mix.Revision != 2 {
		t.Errorf("judged by revisions %d and %d, not 1 and 2", one.Mix.Revision, two.Mix.Revision)
	}
	if n := foldtest.Count(s, fold.UnknownRevision); n != 2 {
		t.Errorf("%d flags of it, not 2", n)
	}
}

func TestACoatPlannedThickerLaterWasNotThinThen(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 5, foldtest.Mixed(1, 5))
	p := foldtest.Put(1, "A1", 10, 20)
	p.Gauges = []unit.As[unit.Length]{foldtest.As(unit.Length(0.012)), foldtest.As(unit.Length(0.0115))}
	d.By("n1", 20, p)
	was := d.Planned(func(b event.Body) bool {
		c, is := b.(event.CoatPlanned)
		return is && c.Coat == p.Coat
	})
	thicker := was.Body.(event.CoatPlanned)
	thicker.Thickness, thicker.Replaces = foldtest.As(unit.Length(0.016)), []event.Hash{was.Hash()}
	d.By("f1", 100, thicker)
	s := d.Site()
	if n := foldtest.Count(s, fold.Thin); n != 0 {
		t.Errorf("%d flags of a thin coat, though it was to be 12 mm when it was placed", n)
	}
	z, _ := s.Zone("A1")
	// what is left is by the plan of now: 9 m² × 16 mm × 1.08
	if got := float64(z.Coats[0].Needed); math.Abs(got-9*0.016*1.08) > 1e-9 {
		t.Errorf("the coat needs %g m³, not by its new thickness", got)
	}
}

func TestACoatPlannedThinnerLaterWasNotOverfullThen(t *testing.T) {
	d := foldtest.NewDesk(t)
	for i := range 2 { // 129 L where 9 m² × 12 mm × 1.08 = 117 L are needed
		d.By("n1", 20*i, foldtest.Mixed(i+1, 20*i))
		d.By("n1", 20*i+10, foldtest.Put(i+1, "A1", 20*i+5, 20*i+10))
	}
	if n := foldtest.Count(d.Site(), fold.Overfull); n != 0 {
		t.Fatalf("%d flags of an overfull coat to begin with", n)
	}
	was := d.Planned(func(b event.Body) bool {
		c, is := b.(event.CoatPlanned)
		return is && c.Coat == foldtest.Put(1, "A1", 0, 0).Coat
	})
	thinner := was.Body.(event.CoatPlanned)
	thinner.Thickness, thinner.Replaces = foldtest.As(unit.Length(0.008)), []event.Hash{was.Hash()}
	d.By("f1", 100, thinner)
	if n := foldtest.Count(d.Site(), fold.Overfull); n != 0 {
		t.Errorf("%d flags of an overfull coat, though it was to be 12 mm when it was placed", n)
	}
}

func TestAJointKeepsTheLengthAndTheClosingLimitOfWhenItWasMade(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 5, foldtest.Mixed(1, 5))
	d.By("n1", 20, foldtest.Put(1, "A1", 10, 20))
	d.By("n1", 120, foldtest.Mixed(2, 120))
	d.By("n1", 130, foldtest.Put(2, "A2", 125, 130)) // 125 of 150 min: 83 %, closing by the limit of 80 %
	edge := func() view.Joint {
		for _, j := range view.JointsOf(d.Site(), foldtest.Clock(600), foldtest.Place).Joints {
			if j.Made && j.Kind == "edge" {
				return j
			}
		}
		t.Fatal("the edge is not met")
		return view.Joint{}
	}
	if j := edge(); j.Length != 3 || j.State != "closing" {
		t.Fatalf("to begin with: %g m, %s", j.Length, j.State)
	}
	is := d.Planned(func(b event.Body) bool { e, is := b.(event.EdgePlanned); return is && e.A == "A1" && e.B == "A2" })
	d.By("f1", 200, event.EdgePlanned{
		A: "A2", B: "A1", Length: foldtest.As(unit.Length(5)),
		Replaces: []event.Hash{is.Hash()},
	})
	site := d.Planned(func(b event.Body) bool { _, is := b.(event.SitePlanned); return is })
	b := site.Body.(event.SitePlanned)
	b.Closing, b.Replaces = foldtest.Ref(unit.Share(0.95)), []event.Hash{site.Hash()}
	d.By("f1", 201, b)
	if j := edge(); j.Length != 3 || j.State != "closing" {
		t.Errorf("after edge and limit were planned anew: %g m, %s", j.Length, j.State)
	}
	if p := d.Site().Plan(); p.Closing != 0.95 || p.Edges[0].Length != 5 {
		t.Errorf("of now: closing %v, %g m", p.Closing, float64(p.Edges[0].Length))
	}
}

func TestDryingIsJudgedByTheLimitOfItsHour(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	air, humidity, wind := unit.Celsius(30), unit.Share(0.25), unit.Speed(7)
	d.By("n1", 60, event.WeatherObserved{
		Station: "crew", WindHeight: foldtest.As(unit.Length(2)),
		Samples: []event.Weather{{At: foldtest.Clock(60), Air: &air, Humidity: &humidity, Wind: &wind}},
	})
	site := d.Planned(func(b event.Body) bool { _, is := b.(event.SitePlanned); return is })
	b := site.Body.(event.SitePlanned)
	b.EvaporationMetric, b.EvaporationUS, b.Replaces = 5, 1, []event.Hash{site.Hash()}
	d.By("f1", 200, b)
	if n := foldtest.Count(d.Site(), fold.Drying); n != 1 {
		t.Errorf("%d flags of drying after the limit was raised, not the 1 of then", n)
	}
}

// A foreman's clock may be wrong: what replaces another holds from the moment when it happened, and never gives way to
// what it replaces.
func TestWhichPlanHeldHangsOnTheChainAndNotOnArrivalOrAFastClock(t *testing.T) {
	d := foldtest.NewDesk(t)
	first := d.By("f1", 60, event.MixPlanned{
		Mix: "core", Revision: 1, InitialSet: time.Hour,
		Constituents: foldtest.Face(1, func(*event.MixPlanned) {}).Constituents,
	})
	m := first.Body.(event.MixPlanned)
	m.Revision, m.InitialSet, m.Replaces = 2, 2*time.Hour, []event.Hash{first.Hash()}
	d.By("f2", 30, m) // its clock is slow
	late := m
	late.Revision, late.InitialSet, late.Replaces = 3, 3*time.Hour, []event.Hash{d.Events[len(d.Events)-1].Hash()}
	d.By("f1", 90, late)
	want := map[int]int{10: 1, 45: 2, 75: 2, 95: 3}
	for range 20 {
		events := append([]event.Event{}, d.Events...)
		rand.Shuffle(len(events), func(i, j int) { events[i], events[j] = events[j], events[i] })
		p := foldtest.Folded(events...).Plan()
		for minute, revision := range want {
			if got := p.MixAt("core", foldtest.Clock(minute)).Revision; got != revision {
				t.Fatalf("at minute %d revision %d held, not %d", minute, got, revision)
			}
		}
	}
}
