package history_test

import (
	"math"
	"slices"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

func placed(s *fold.Site, zone event.Zone) float64 {
	total := 0.0
	for _, r := range s.Records() {
		if p, ok := r.Now.(event.Placement); ok && p.Coat.Zone == zone && r.State != fold.SetAside &&
			p.Part.Share != nil {
			total += float64(p.Part.Share.SI)
		}
	}
	return total
}

func TestWhatNamesAFirstWritingMeansTheOneWrittenAgain(t *testing.T) {
	for name, k := range map[string]struct {
		write func(d *foldtest.Desk)
		aside string
		share float64 // in A1
	}{
		"an amendment of the first writing": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.7))
			d.By("f1", 20, event.Amended{
				Target: p.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "less",
			})
			d.Again(p)
			d.Lose(p)
		}, "", 0.4},
		"an amendment that is written again itself": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.7))
			a := d.By("n1", 20, event.Amended{
				Target: p.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "less",
			})
			d.By("f1", 30, event.Amended{
				Target: a.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.3),
				Why: "less still",
			})
			d.Again(p)
			d.Again(a)
			d.Lose(p)
			d.Lose(a)
		}, "", 0.3},
		"taken back": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.7))
			d.By("n1", 20, event.Voided{Target: p.Hash(), Why: "slip"})
			d.Again(p)
			d.Lose(p)
		}, "", 0},
		"settled between two that are written again": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.7))
			x := d.By("n1", 20, event.Amended{
				Target: p.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "less",
			})
			y := d.By("n2", 21, event.Amended{
				Target: p.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.5),
				Why: "half",
			})
			d.By("f1", 30, event.Settled{Holds: x.Hash(), Over: []event.Hash{y.Hash()}, Why: "asked"})
			for _, e := range []event.Event{p, x, y} {
				d.Again(e)
				d.Lose(e)
			}
		}, "", 0.4},
		"both are there: it counts once, as it was corrected": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.3))
			again := d.Again(p)
			d.By("f1", 20, event.Amended{
				Target: again.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.2),
				Why: "less",
			})
		}, "n1/3:written-twice", 0.2},
		"written again twice": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.3))
			d.Again(p)
			d.Again(p)
			d.Lose(p)
		}, "n1/4:written-twice", 0.3},
		"nobody stands for what another device wrote": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.3))
			forged := p
			forged.Device, forged.Body = "n2", foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.1)
			d.Again(forged)
			d.By("n1", 20, event.Amended{
				Target: p.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "more",
			})
		}, "", 0.5},
		"two devices that say they stand for it": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			p := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.3))
			d.By("n1", 20, event.Amended{
				Target: p.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "more",
			})
			d.Again(p)
			p.Device, p.Body = "n2", foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.1)
			d.Again(p)
			p.Device = "n1"
			d.Lose(p)
		}, "n1/3:no-target", 0.4},
		"corrections that go round in a ring": {func(d *foldtest.Desk) {
			x := d.By("n1", 20, event.Amended{
				Target: event.Hash{1}, Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "round",
			})
			y := x
			y.Body = event.Amended{
				Target: x.Hash(), Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "and round",
			}
			y.StandsFor = event.Hash{1}
			d.Again(y)
		}, "n1/1:no-target n1/2:no-target", 0},
		"a correction of a correction of what is not there": {func(d *foldtest.Desk) {
			x := d.By("n1", 20, event.Amended{
				Target: event.Hash{1}, Body: foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.4),
				Why: "early",
			})
			d.By("n1", 21, event.Voided{Target: x.Hash(), Why: "slip"})
		}, "n1/1:no-target n1/2:no-target", 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			k.write(d)
			for _, way := range []string{"as written", "backwards"} {
				s := d.Site()
				if got := foldtest.Aside(s); got != k.aside {
					t.Errorf("%s: set aside are %q, want %q", way, got, k.aside)
				}
				if got := placed(s, "A1"); got < k.share-1e-9 || got > k.share+1e-9 {
					t.Errorf("%s: %.3f of the batch in A1, want %.3f", way, got, k.share)
				}
				slices.Reverse(d.Events)
			}
		})
	}
}

func TestAPlanThatReplacesAFirstWritingReplacesTheOneWrittenAgain(t *testing.T) {
	d := foldtest.NewDesk(t)
	first := d.By("f1", 0, event.ZonePlanned{Zone: "B1", Area: foldtest.As(unit.Area(5))})
	d.By("f2", 1, event.ZonePlanned{Zone: "B1", Area: foldtest.As(unit.Area(6)), Replaces: []event.Hash{first.Hash()}})
	d.Again(first)
	d.Lose(first)
	for range 2 {
		s := d.Site()
		if z := s.Plan().Zones["B1"]; z == nil || z.Area.SI != 6 {
			t.Errorf("B1 is planned as %+v, want 6 m²", z)
		}
		for _, r := range s.Records() {
			if r.State == fold.Disputed {
				t.Errorf("%s is in conflict", r.Name)
			}
		}
		slices.Reverse(d.Events)
	}
}

func TestCorrectionsOfCorrectionsHaveAnEnd(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	last := d.By("n1", 9, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.7))
	for i := range fold.MaxCorrections + 3 {
		last = d.By("n1", 20+i, event.Amended{
			Target: last.Hash(),
			Body:   foldtest.Share(foldtest.Put(1, "A1", 5, 9), unit.Share(0.5-0.001*float64(i))), Why: "again",
		})
	}
	for range 2 {
		s := d.Site()
		if got, want := foldtest.Aside(s), "n1/67:cannot-be n1/68:cannot-be n1/69:cannot-be"; got != want {
			t.Errorf("set aside are %q, want %q", got, want)
		}
		if got, want := placed(s, "A1"), 0.5-0.001*float64(fold.MaxCorrections-1); math.Abs(got-want) > 1e-9 {
			t.Errorf("%.4f of the batch in A1, want %.4f, what the last correction that stands says", got, want)
		}
		slices.Reverse(d.Events)
	}
}
