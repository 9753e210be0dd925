package fold_test

import (
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

func broken7d(n int) event.SpecimensBroken {
	b := north(n)
	return event.SpecimensBroken{
		Mix: "face", Batch: &b, Shape: event.Cube, Size: ref(unit.Length(0.05)),
		Age: 7 * 24 * time.Hour, Loads: []unit.Force{53000},
	}
}

func TestWhatCannotHaveHappenedInThatOrderIsSetAside(t *testing.T) {
	const day = 24 * 60
	for name, k := range map[string]struct {
		write func(d *desk)
		want  string
	}{
		"placed an hour before it was mixed": {func(d *desk) {
			d.by("n1", 70, mixed(1, 70))
			d.by("n1", 80, put(1, "A1", 5, 15))
		}, "n1/2:placed-before-mixed"},
		"placed nine minutes before, by two phones": {func(d *desk) {
			d.by("n1", 20, mixed(1, 20))
			d.by("n2", 30, put(1, "A1", 6, 15))
		}, ""},
		"placed eleven minutes before": {func(d *desk) {
			d.by("n1", 20, mixed(1, 20))
			d.by("n2", 30, put(1, "A1", 4, 15))
		}, "n2/1:placed-before-mixed"},
		"placed while it was mixed, nobody having said when that began": {func(d *desk) {
			b := mixed(1, 30)
			b.WaterAt = time.Time{}
			d.by("n1", 30, b)
			d.by("n1", 31, put(1, "A1", 6, 31))
		}, ""},
		"yesterday's batch by a slip": {func(d *desk) {
			d.by("n1", 0, mixed(1, 0))
			d.by("n1", day+20, put(1, "A1", day+5, day+15))
		}, "n1/2:placed-another-day"},
		"over midnight": {func(d *desk) {
			d.by("n1", 16*60+50, mixed(1, 16*60+50))
			d.by("n1", 17*60+10, put(1, "A1", 17*60+5, 17*60+10))
		}, ""},
		"a number used twice": {func(d *desk) {
			d.by("n1", 0, mixed(1, 0))
			d.by("n1", 10, share(put(1, "A1", 5, 9), 0.5))
			d.by("n1", 300, mixed(1, 300))
			d.by("n1", 310, share(put(1, "A1", 305, 309), 0.5))
		}, ""},
		"seven days of a batch two days old": {func(d *desk) {
			d.by("n1", 0, mixed(1, 0))
			d.by("n1", 2*day, broken7d(1))
		}, "n1/2:break-before-age"},
		"seven days by the calendar": {func(d *desk) {
			d.by("n1", 500, mixed(1, 500))
			d.by("n1", 7*day, broken7d(1))
		}, ""},
		"seven days of a batch that is not there": {func(d *desk) { d.by("n1", 2*day, broken7d(1)) }, ""},
		"a break that the batch's own time refutes": {func(d *desk) {
			d.by("n1", 2*day, broken7d(1))
			d.by("n2", 0, mixed(1, 0))
		}, "n1/1:break-before-age"},
	} {
		t.Run(name, func(t *testing.T) {
			d := newDesk(t)
			k.write(d)
			if got := aside(d.site()); got != k.want {
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
			d := newDesk(t)
			d.by("n1", 70, mixed(1, 70))
			e, err := event.Write(event.Event{
				Name: event.Name{Device: "n2", Seq: 1}, Crew: "north", HappenedAt: clock(15), LoggedAt: clock(15),
				Offset: k.offset, Body: put(1, "A1", 5, 15),
			})
			if err != nil {
				t.Fatal(err)
			}
			s := d.site()
			s.Add(e)
			if got := aside(s); got != k.want {
				t.Errorf("set aside %q, not %q", got, k.want)
			}
		})
	}
}

func TestAPlacementStandsAgainWhenTheBatchsTimeIsPutRight(t *testing.T) {
	d := newDesk(t)
	b := d.by("n1", 70, mixed(1, 70))
	d.by("n1", 80, put(1, "A1", 5, 15))
	s := d.site()
	if got := aside(s); got != "n1/2:placed-before-mixed" {
		t.Fatalf("set aside %q", got)
	}
	s.Add(d.by("n1", 90, event.Amended{Target: b.Hash(), Body: mixed(1, 3), Why: "written late"}))
	if got := aside(s); got != "" {
		t.Errorf("still set aside: %q", got)
	}
	if r, _ := s.Record(event.Name{Device: "n1", Seq: 2}); r.State != fold.Holds {
		t.Errorf("the placement is %s", r.State)
	}
}
