package mixed_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

func broken7d(n int) event.SpecimensBroken {
	b := foldtest.North(n)
	return event.SpecimensBroken{
		Mix: "face", Batch: &b, Shape: event.Cube, Size: foldtest.Ref(unit.Length(0.05)),
		Age: 7 * 24 * time.Hour, Loads: []unit.Force{53000},
	}
}

func TestWhatCannotHaveHappenedInThatOrderIsSetAside(t *testing.T) {
	const day = 24 * 60
	for name, k := range map[string]struct {
		write func(d *foldtest.Desk)
		want  string
	}{
		"placed an hour before it was mixed": {func(d *foldtest.Desk) {
			d.By("n1", 70, foldtest.Mixed(1, 70))
			d.By("n1", 80, foldtest.Put(1, "A1", 5, 15))
		}, "n1/2:placed-before-mixed"},
		"placed nine minutes before, by two phones": {func(d *foldtest.Desk) {
			d.By("n1", 20, foldtest.Mixed(1, 20))
			d.By("n2", 30, foldtest.Put(1, "A1", 6, 15))
		}, ""},
		"placed eleven minutes before": {func(d *foldtest.Desk) {
			d.By("n1", 20, foldtest.Mixed(1, 20))
			d.By("n2", 30, foldtest.Put(1, "A1", 4, 15))
		}, "n2/1:placed-before-mixed"},
		"placed while it was mixed, nobody having said when that began": {func(d *foldtest.Desk) {
			b := foldtest.Mixed(1, 30)
			b.WaterAt = time.Time{}
			d.By("n1", 30, b)
			d.By("n1", 31, foldtest.Put(1, "A1", 6, 31))
		}, ""},
		"yesterday's batch by a slip": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			d.By("n1", day+20, foldtest.Put(1, "A1", day+5, day+15))
		}, "n1/2:placed-another-day"},
		"over midnight": {func(d *foldtest.Desk) {
			d.By("n1", 16*60+50, foldtest.Mixed(1, 16*60+50))
			d.By("n1", 17*60+10, foldtest.Put(1, "A1", 17*60+5, 17*60+10))
		}, ""},
		"a number used twice": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			d.By("n1", 10, foldtest.Share(foldtest.Put(1, "A1", 5, 9), 0.5))
			d.By("n1", 300, foldtest.Mixed(1, 300))
			d.By("n1", 310, foldtest.Share(foldtest.Put(1, "A1", 305, 309), 0.5))
		}, ""},
		"seven days of a batch two days old": {func(d *foldtest.Desk) {
			d.By("n1", 0, foldtest.Mixed(1, 0))
			d.By("n1", 2*day, broken7d(1))
		}, "n1/2:break-before-age"},
		"seven days by the calendar": {func(d *foldtest.Desk) {
			d.By("n1", 500, foldtest.Mixed(1, 500))
			d.By("n1", 7*day, broken7d(1))
		}, ""},
		"seven days of a batch that is not there": {func(d *foldtest.Desk) { d.By("n1", 2*day, broken7d(1)) }, ""},
		"a break that the batch's own time refutes": {func(d *foldtest.Desk) {
			d.By("n1", 2*day, broken7d(1))
			d.By("n2", 0, foldtest.Mixed(1, 0))
		}, "n1/1:break-before-age"},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			k.write(d)
			if got := foldtest.Aside(d.Site()); got != k.want {
				t.Errorf("set aside %q, not %q", got, k.want)
			}
		})
	}
}

// Two phones of which no contact has measured the clocks may differ by an hour and more: that is no reason to lose what
// was placed. Once measured, the times are the site's and are held to it.
func TestAClockThatNobodyMeasuredDoesNotSetAPlacementAside(t *testing.T) {
	for name, k := range map[string]struct {
		offset *time.Duration
		want   string
	}{
		"not measured":      {nil, ""},
		"measured as right": {new(time.Duration), "n2/1:placed-before-mixed"},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 70, foldtest.Mixed(1, 70))
			e, err := event.Write(event.Event{
				Name: event.Name{Device: "n2", Seq: 1}, Crew: "north", HappenedAt: foldtest.Clock(15),
				LoggedAt: foldtest.Clock(15),
				Offset:   k.offset, Body: foldtest.Put(1, "A1", 5, 15),
			})
			if err != nil {
				t.Fatal(err)
			}
			s := d.Site()
			s.Add(e)
			if got := foldtest.Aside(s); got != k.want {
				t.Errorf("set aside %q, not %q", got, k.want)
			}
		})
	}
}

func TestAPlacementStandsAgainWhenTheBatchsTimeIsPutRight(t *testing.T) {
	d := foldtest.NewDesk(t)
	b := d.By("n1", 70, foldtest.Mixed(1, 70))
	d.By("n1", 80, foldtest.Put(1, "A1", 5, 15))
	s := d.Site()
	if got := foldtest.Aside(s); got != "n1/2:placed-before-mixed" {
		t.Fatalf("set aside %q", got)
	}
	s.Add(d.By("n1", 90, event.Amended{Target: b.Hash(), Body: foldtest.Mixed(1, 3), Why: "written late"}))
	if got := foldtest.Aside(s); got != "" {
		t.Errorf("still set aside: %q", got)
	}
	if r, _ := s.Record(event.Name{Device: "n1", Seq: 2}); r.State != fold.Holds {
		t.Errorf("the placement is %s", r.State)
	}
}
