package mixed_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

// weigh has batches mixed by a revision, twenty minutes apart, and tested: those of a unit weight above 0.
func weigh(d *foldtest.Desk, first, revision int, weights ...unit.Density) []event.Event {
	var tests []event.Event
	for i, w := range weights {
		n, minute := first+i, 20*(first+i)
		d.By("n1", minute, foldtest.ByRevision(revision, n, minute))
		if w > 0 {
			tests = append(tests, d.By("n1", minute+2, event.BatchTested{
				Batch: foldtest.North(n), UnitWeight: foldtest.Ref(w),
			}))
		}
	}
	return tests
}

// What a mix yields over its design is learned by Bayes' rule for a normal mean (DeGroot, Probability and Statistics,
// conjugate priors; from memory): a prior of 0 ± 0.025 for its logarithm, and a scatter from batch to batch of 0.055
// that is worth four batches. For n logarithms of mean m and squares S about it: scatter² = (4·0.055² + S)/(4 + n − 1),
// and the mean is m·0.025²/(0.025² + scatter²/n).
func TestAMixLearnsWhatItYieldsFromItsWeighedBatchesAlone(t *testing.T) {
	ln := func(w float64) float64 { return math.Log(massCharged / w * 1000 / designL) }
	light, lighter := ln(2100), ln(2000)
	mean := (light + lighter) / 2
	scatter := math.Sqrt((4*0.055*0.055 + (light-mean)*(light-mean) + (lighter-mean)*(lighter-mean)) / 5)
	learned := func(m, scatter float64, n int) float64 {
		return math.Exp(m * 0.025 * 0.025 / (0.025*0.025 + scatter*scatter/float64(n)))
	}
	for name, k := range map[string]struct {
		weights []unit.Density
		weighed int
		ratio   float64
		scatter float64
	}{
		"none weighed":              {[]unit.Density{0, 0}, 0, 1, 0.055},
		"one, and one not weighed":  {[]unit.Density{2100, 0}, 1, learned(light, 0.055, 1), 0.055},
		"two that scatter":          {[]unit.Density{2100, 2000}, 2, learned(mean, scatter, 2), scatter},
		"an absurd one beside them": {[]unit.Density{2100, 2000, 134}, 2, learned(mean, scatter, 2), scatter},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			weigh(d, 1, 1, k.weights...)
			s := d.Site()
			y := s.YieldOf(one(t, s))
			if y.Weighed != k.weighed || !near(y.Ratio, k.ratio, 1e-6) {
				t.Errorf("%.6f of the design from %d batches; want %.6f from %d", y.Ratio, y.Weighed, k.ratio,
					k.weighed)
			}
			if !near(float64(y.Mean)*1000, designL*k.ratio, 1e-3) || !near(float64(y.Scale/y.Mean), k.scatter, 1e-6) {
				t.Errorf("%.4f L ± %.6f of it; want %.4f ± %.6f", float64(y.Mean)*1000, float64(y.Scale/y.Mean),
					designL*k.ratio, k.scatter)
			}
			// what an unweighed batch holds is its design at that ratio
			b := one(t, s)
			if b.Yield == 0 && !near(float64(b.Volume(0.5, y.Ratio))*1000, designL*k.ratio/2, 1e-3) {
				t.Errorf("half of it is %.4f L", float64(b.Volume(0.5, y.Ratio))*1000)
			}
		})
	}
}

func TestRevisionsTeachEachOtherTheirYieldWhileTheirDesignIsOne(t *testing.T) {
	fibre := event.Constituent{Name: "fibre", Kind: event.Fibre, Amount: event.Amount{Mass: 0.5}, Gravity: 0.91}
	for name, k := range map[string]struct {
		change func(*event.MixPlanned)
		want   int // batches that the second revision knows of
	}{
		"more water and a later set": {func(m *event.MixPlanned) {
			m.Constituents[2].Amount.Mass, m.InitialSet = 17, 4*time.Hour
		}, 2},
		"other air":       {func(m *event.MixPlanned) { m.Air = foldtest.Ref(unit.Share(0.08)) }, 0},
		"another gravity": {func(m *event.MixPlanned) { m.Constituents[1].Gravity = 2.6 }, 0},
		"another absorption": {func(m *event.MixPlanned) {
			m.Constituents[1].Absorption = foldtest.Ref(unit.Share(0.02))
		}, 0},
		"a constituent more": {func(m *event.MixPlanned) { m.Constituents = append(m.Constituents, fibre) }, 0},
		"its yield stated":   {func(m *event.MixPlanned) { m.DesignYield = foldtest.Ref(unit.Volume(0.066)) }, 0},
		"its bulk density said": {func(m *event.MixPlanned) {
			m.Constituents[1].Bulk = foldtest.Ref(unit.Density(1500))
		}, 0},
		"its list in another order": {func(m *event.MixPlanned) {
			m.Constituents[0], m.Constituents[2] = m.Constituents[2], m.Constituents[0]
		}, 2},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			weigh(d, 1, 1, 2100, 2050)
			d.By("f1", 100, foldtest.Face(2, k.change, d.Planned(foldtest.IsMix)))
			s := d.Site()
			if y := s.YieldFor(s.Plan().Mixes["face"]); y.Weighed != k.want {
				t.Errorf("it learned from %d batches, not %d", y.Weighed, k.want)
			}
			if y := s.YieldOf(one(t, s)); y.Weighed != 2 {
				t.Errorf("the revision that they carry learned from %d of them", y.Weighed)
			}
		})
	}
}

func TestATestThatIsTakenBackTeachesNothingAnyMore(t *testing.T) {
	d := foldtest.NewDesk(t)
	tests := weigh(d, 1, 1, 2100, 2050)
	s := d.Site()
	mix := s.Plan().Mixes["face"]
	if y := s.YieldFor(mix); y.Weighed != 2 {
		t.Fatalf("learned from %d batches to begin with", y.Weighed)
	}
	for left := 1; left >= 0; left-- {
		s.Add(d.By("n1", 200-left, event.Voided{Target: tests[left].Hash(), Why: "the scale was off"}))
		if y := s.YieldFor(s.Plan().Mixes["face"]); y.Weighed != left || (left == 0) != (y.Ratio == 1) {
			t.Errorf("%d tests are left, and it learned %.4f from %d", left, y.Ratio, y.Weighed)
		}
	}
}

func TestAMixThatGivesNoFiguresSaysSoInsteadOfAYield(t *testing.T) {
	d := foldtest.NewDesk(t)
	planMix(d, func(m *event.MixPlanned) {
		m.Constituents[1].Amount = event.Amount{Volume: 0.05, ByVolume: true} // of no bulk density
	})
	s := d.Site()
	m := s.Plan().Mixes["face"]
	if y := s.YieldFor(m); y.Wrong == "" || y.Ratio != 1 || y.Mean != 0 {
		t.Errorf("the yield is %+v", y)
	}
	if !strings.Contains(m.Wrong, "bulk density") {
		t.Errorf("the mix says %q", m.Wrong)
	}
	all, of := s.Mortars()
	if len(all) != 0 || of(m) != -1 {
		t.Errorf("a forecast is given it: %+v, as %d", all, of(m))
	}
}

func TestMortarsAreTheMixesEachWithItsOwnWeighedBatches(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.OtherMix()
	weigh(d, 1, 1, 2100, 0, 2050)
	base := foldtest.Mixed(4, 80)
	base.Mix = "base"
	d.By("n1", 80, base)
	d.By("n1", 82, event.BatchTested{Batch: foldtest.North(4), UnitWeight: foldtest.Ref(unit.Density(2200))})
	s := d.Site()
	all, of := s.Mortars()
	got := ""
	for _, m := range all {
		got += fmt.Sprintf("%s: %.3f L, %d weighed; ", m.Name, m.Yield*1000, len(m.Logs))
	}
	if want := "base: 65.358 L, 1 weighed; face: 65.358 L, 2 weighed; "; got != want {
		t.Errorf("%q, not %q", got, want)
	}
	for name, m := range s.Plan().Mixes {
		if i := of(m); i < 0 || all[i].Name != string(name) {
			t.Errorf("mix %s is mortar %d", name, i)
		}
	}
}

func TestBatchesAreInOrderOfDayCrewAndNumberAndTheLastIsByWhenItWasReady(t *testing.T) {
	const day = 24 * 60
	batch := func(crew event.Crew, on string, n, minute int) event.BatchMixed {
		b := foldtest.Mixed(n, minute)
		b.Batch = event.Batch{Crew: crew, Day: on, Number: n}
		return b
	}
	d := foldtest.NewDesk(t)
	d.By("n1", day, batch("north", "2031-05-13", 1, day))
	d.By("s1", 30, batch("south", "2031-05-12", 1, 30))
	d.By("n1", 40, batch("north", "2031-05-12", 10, 40))
	d.By("n1", 50, batch("north", "2031-05-12", 2, 50)) // its number is lower, and yet it came later
	s := d.Site()
	got := ""
	for _, b := range s.Batches() {
		got += fmt.Sprintf("%s/%s/%d ", b.ID.Day[8:], b.ID.Crew, b.ID.Number)
	}
	if want := "12/north/2 12/north/10 12/south/1 13/north/1 "; got != want {
		t.Errorf("in the order %q, not %q", got, want)
	}
	got = ""
	for _, b := range s.BatchesOn("north", "2031-05-12") {
		got += fmt.Sprint(b.ID.Number, " ")
	}
	if got != "2 10 " {
		t.Errorf("north's of the first day: %q", got)
	}
	if b, ok := s.LastBatch("north"); !ok || b.ID.Day != "2031-05-13" {
		t.Errorf("north's last is %v, %v", b, ok)
	}
	s.Add(d.By("n1", day+10, event.Voided{Target: d.Events[len(d.Events)-4].Hash(), Why: "not mixed"}))
	if b, ok := s.LastBatch("north"); !ok || b.ID.Number != 2 {
		t.Errorf("with that taken back north's last is %v, %v; want number 2, the later of the two", b, ok)
	}
	if b, ok := s.LastBatch("office"); ok {
		t.Errorf("who mixed nothing has %v", b.ID)
	}
}
