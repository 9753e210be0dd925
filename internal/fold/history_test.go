package fold_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
	"hod/internal/view"
)

// face is the small plan's mix in a revision, changed, replacing what it names.
func face(revision int, change func(*event.MixPlanned), replaces ...event.Event) event.MixPlanned {
	for _, b := range smallPlan() {
		if m, ok := b.(event.MixPlanned); ok {
			m.Revision = revision
			change(&m)
			for _, e := range replaces {
				m.Replaces = append(m.Replaces, e.Hash())
			}
			return m
		}
	}
	panic("the small plan has no mix")
}

// planned is the event of a desk that plans a thing first.
func (d *desk) planned(is func(event.Body) bool) event.Event {
	d.t.Helper()
	for _, e := range d.Events {
		if is(e.Body) {
			return e
		}
	}
	d.t.Fatal("it is not planned")
	return event.Event{}
}

func isMix(b event.Body) bool { _, is := b.(event.MixPlanned); return is }

// byRevision is a batch that carries one.
func byRevision(revision, n, minute int) event.BatchMixed {
	b := mixed(n, minute)
	b.Revision = revision
	return b
}

// coldPair is two batches in A1 of which the second meets the first 170 min after its water contact at 23 °C, the mix's
// own temperature: past the 150 min of its initial set, so cold (ASTM C403, C1074).
func coldPair(d *desk) {
	air := unit.Celsius(23)
	for hour := -1; hour < 12; hour++ {
		d.by("n1", 60*hour, event.WeatherObserved{
			Station: "crew", WindHeight: as(unit.Length(2)),
			Samples: []event.Weather{{At: clock(60 * hour), Air: &air}},
		})
	}
	d.by("n1", 5, byRevision(1, 1, 5))
	d.by("n1", 20, put(1, "A1", 10, 20))
	d.by("n1", 168, byRevision(1, 2, 168))
	d.by("n1", 179, put(2, "A1", 170, 179))
}

func inside(t *testing.T, s *fold.Site) view.Joint {
	t.Helper()
	for _, j := range view.JointsOf(s, clock(600), place).Joints {
		if j.Made && j.Kind == "inside" {
			return j
		}
	}
	t.Fatal("no joint is made")
	return view.Joint{}
}

func TestARevisedSetDoesNotTurnAnOldColdJointLive(t *testing.T) {
	d := newDesk(t)
	coldPair(d)
	if j := inside(t, d.site()); j.State != "cold" || count(d.site(), fold.ColdJoint) != 1 {
		t.Fatalf("the joint is %s at %.3f to begin with", j.State, j.ConsumedLow)
	}
	first := d.planned(isMix)
	d.by("f1", 300, face(2, func(m *event.MixPlanned) { m.InitialSet = 4 * time.Hour }, first))
	s := d.site()
	if j := inside(t, s); j.State != "cold" || j.SetMinutes != 150 {
		t.Errorf("after a revision of the set the old joint is %s with a set of %g min", j.State, j.SetMinutes)
	}
	if n := count(s, fold.ColdJoint); n != 1 {
		t.Errorf("%d flags of the cold joint, not 1", n)
	}
	if s.Plan().Mixes["face"].Set.Initial != 4*time.Hour {
		t.Error("the revision does not hold for what is to come")
	}
}

func TestARevisedAirAndGravityMoveNoOldBatch(t *testing.T) {
	d := newDesk(t)
	coldPair(d)
	before := everyBatch(d.site())
	first := d.planned(isMix)
	d.by("f1", 300, face(2, func(m *event.MixPlanned) {
		m.Air = ref(unit.Share(0.2))
		m.Constituents[1].Gravity = 2.2
		m.Constituents[1].Absorption = ref(unit.Share(0.03))
		m.WaterLimit, m.Activation, m.UnitWeight = 0.3, 55, ref(unit.Density(1800))
	}, first))
	if after := everyBatch(d.site()); after != before {
		t.Errorf("old batches moved:\n%s\nwere\n%s", after, before)
	}
	d.by("n1", 320, byRevision(2, 3, 320))
	s := d.site()
	// by hand: 42/3.15 + 85/2.2 + 16 = 67.97 L of solids and water at 1 kg/L, over 1 − 0.2
	if b, _ := s.Batch(north(3)); math.Abs(float64(b.Design)*1000-67.97/0.8) > 0.1 {
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
	d := newDesk(t)
	coldPair(d)
	first := d.planned(isMix)
	second := d.by("f1", 200, face(2, func(m *event.MixPlanned) { m.WaterLimit = 0.41 }, first))
	third := d.by("f1", 300, face(3, func(m *event.MixPlanned) { m.InitialSet, m.Corrects = 4*time.Hour, 1 }, second))
	if j := inside(t, d.site()); j.State == "cold" || j.SetMinutes != 240 {
		t.Errorf("the corrected joint is %s with a set of %g min, not by revision 3's 240", j.State, j.SetMinutes)
	}
	if b, _ := d.site().Batch(north(1)); b.Mix.Revision != 3 {
		t.Errorf("batch 1 is judged by revision %d", b.Mix.Revision)
	}
	d.by("f1", 310, face(4, func(m *event.MixPlanned) { m.InitialSet, m.Corrects = 3*time.Hour, 3 }, third))
	if j := inside(t, d.site()); j.SetMinutes != 180 {
		t.Errorf("a correction of the correction does not reach the batch: a set of %g min", j.SetMinutes)
	}
	d.by("f1", 320, event.Voided{Target: d.Events[len(d.Events)-1].Hash(), Why: "it was right"})
	d.by("f1", 321, event.Voided{Target: third.Hash(), Why: "it was right, too"})
	if j := inside(t, d.site()); j.State != "cold" || j.SetMinutes != 150 {
		t.Errorf("with the corrections taken back the joint is %s with a set of %g min", j.State, j.SetMinutes)
	}
}

func TestABatchOfARevisionThatIsNotInTheRecordIsJudgedByTheOneOfItsTimeAndSaysSo(t *testing.T) {
	d := newDesk(t)
	first := d.planned(isMix)
	d.by("n1", 5, byRevision(7, 1, 5))
	d.by("f1", 60, face(2, func(m *event.MixPlanned) { m.InitialSet = 4 * time.Hour }, first))
	d.by("n1", 90, byRevision(7, 2, 90))
	s := d.site()
	one, _ := s.Batch(north(1))
	two, _ := s.Batch(north(2))
	if one.Mix.Revision != 1 || two.Mix.Revision != 2 {
		t.Errorf("judged by revisions %d and %d, not 1 and 2", one.Mix.Revision, two.Mix.Revision)
	}
	if n := count(s, fold.UnknownRevision); n != 2 {
		t.Errorf("%d flags of it, not 2", n)
	}
}

func TestACoatPlannedThickerLaterWasNotThinThen(t *testing.T) {
	d := newDesk(t)
	d.by("n1", 5, mixed(1, 5))
	p := put(1, "A1", 10, 20)
	p.Gauges = []unit.As[unit.Length]{as(unit.Length(0.012)), as(unit.Length(0.0115))}
	d.by("n1", 20, p)
	was := d.planned(func(b event.Body) bool {
		c, is := b.(event.CoatPlanned)
		return is && c.Coat == p.Coat
	})
	thicker := was.Body.(event.CoatPlanned)
	thicker.Thickness, thicker.Replaces = as(unit.Length(0.016)), []event.Hash{was.Hash()}
	d.by("f1", 100, thicker)
	s := d.site()
	if n := count(s, fold.Thin); n != 0 {
		t.Errorf("%d flags of a thin coat, though it was to be 12 mm when it was placed", n)
	}
	z, _ := s.Zone("A1")
	// what is left is by the plan of now: 9 m² × 16 mm × 1.08
	if got := float64(z.Coats[0].Needed); math.Abs(got-9*0.016*1.08) > 1e-9 {
		t.Errorf("the coat needs %g m³, not by its new thickness", got)
	}
}

func TestACoatPlannedThinnerLaterWasNotOverfullThen(t *testing.T) {
	d := newDesk(t)
	for i := range 2 { // 129 L where 9 m² × 12 mm × 1.08 = 117 L are needed
		d.by("n1", 20*i, mixed(i+1, 20*i))
		d.by("n1", 20*i+10, put(i+1, "A1", 20*i+5, 20*i+10))
	}
	if n := count(d.site(), fold.Overfull); n != 0 {
		t.Fatalf("%d flags of an overfull coat to begin with", n)
	}
	was := d.planned(func(b event.Body) bool {
		c, is := b.(event.CoatPlanned)
		return is && c.Coat == put(1, "A1", 0, 0).Coat
	})
	thinner := was.Body.(event.CoatPlanned)
	thinner.Thickness, thinner.Replaces = as(unit.Length(0.008)), []event.Hash{was.Hash()}
	d.by("f1", 100, thinner)
	if n := count(d.site(), fold.Overfull); n != 0 {
		t.Errorf("%d flags of an overfull coat, though it was to be 12 mm when it was placed", n)
	}
}

func TestAJointKeepsTheLengthAndTheClosingLimitOfWhenItWasMade(t *testing.T) {
	d := newDesk(t)
	d.by("n1", 5, mixed(1, 5))
	d.by("n1", 20, put(1, "A1", 10, 20))
	d.by("n1", 120, mixed(2, 120))
	d.by("n1", 130, put(2, "A2", 125, 130)) // 125 of 150 min: 83 %, closing by the limit of 80 %
	edge := func() view.Joint {
		for _, j := range view.JointsOf(d.site(), clock(600), place).Joints {
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
	is := d.planned(func(b event.Body) bool { e, is := b.(event.EdgePlanned); return is && e.A == "A1" && e.B == "A2" })
	d.by("f1", 200, event.EdgePlanned{A: "A2", B: "A1", Length: as(unit.Length(5)), Replaces: []event.Hash{is.Hash()}})
	site := d.planned(func(b event.Body) bool { _, is := b.(event.SitePlanned); return is })
	b := site.Body.(event.SitePlanned)
	b.Closing, b.Replaces = ref(unit.Share(0.95)), []event.Hash{site.Hash()}
	d.by("f1", 201, b)
	if j := edge(); j.Length != 3 || j.State != "closing" {
		t.Errorf("after edge and limit were planned anew: %g m, %s", j.Length, j.State)
	}
	if p := d.site().Plan(); p.Closing != 0.95 || p.Edges[0].Length != 5 {
		t.Errorf("of now: closing %v, %g m", p.Closing, float64(p.Edges[0].Length))
	}
}

func TestDryingIsJudgedByTheLimitOfItsHour(t *testing.T) {
	d := newDesk(t)
	d.by("n1", 0, mixed(1, 0))
	d.by("n1", 10, put(1, "A1", 5, 10))
	air, humidity, wind := unit.Celsius(30), unit.Share(0.25), unit.Speed(7)
	d.by("n1", 60, event.WeatherObserved{
		Station: "crew", WindHeight: as(unit.Length(2)),
		Samples: []event.Weather{{At: clock(60), Air: &air, Humidity: &humidity, Wind: &wind}},
	})
	site := d.planned(func(b event.Body) bool { _, is := b.(event.SitePlanned); return is })
	b := site.Body.(event.SitePlanned)
	b.EvaporationMetric, b.EvaporationUS, b.Replaces = 5, 1, []event.Hash{site.Hash()}
	d.by("f1", 200, b)
	if n := count(d.site(), fold.Drying); n != 1 {
		t.Errorf("%d flags of drying after the limit was raised, not the 1 of then", n)
	}
}

// A foreman's clock may be wrong: what replaces another holds from the moment when it happened, and never gives way to
// what it replaces.
func TestWhichPlanHeldHangsOnTheChainAndNotOnArrivalOrAFastClock(t *testing.T) {
	d := newDesk(t)
	first := d.by("f1", 60, event.MixPlanned{
		Mix: "core", Revision: 1, InitialSet: time.Hour,
		Constituents: face(1, func(*event.MixPlanned) {}).Constituents,
	})
	m := first.Body.(event.MixPlanned)
	m.Revision, m.InitialSet, m.Replaces = 2, 2*time.Hour, []event.Hash{first.Hash()}
	d.by("f2", 30, m) // its clock is slow
	late := m
	late.Revision, late.InitialSet, late.Replaces = 3, 3*time.Hour, []event.Hash{d.Events[len(d.Events)-1].Hash()}
	d.by("f1", 90, late)
	want := map[int]int{10: 1, 45: 2, 75: 2, 95: 3}
	for range 20 {
		events := append([]event.Event{}, d.Events...)
		rand.Shuffle(len(events), func(i, j int) { events[i], events[j] = events[j], events[i] })
		p := folded(events...).Plan()
		for minute, revision := range want {
			if got := p.MixAt("core", clock(minute)).Revision; got != revision {
				t.Fatalf("at minute %d revision %d held, not %d", minute, got, revision)
			}
		}
	}
}
