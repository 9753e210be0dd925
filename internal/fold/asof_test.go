package fold_test

import (
	"encoding/json"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/report"
	"hod/internal/report/summary"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// threeDays is a job of three days.
func threeDays(t testing.TB) *foldtest.Desk {
	t.Helper()
	plan := foldtest.SmallPlan()
	for i, b := range plan {
		if z, is := b.(event.ZonePlanned); is {
			z.Area.SI *= 11
			plan[i] = z
		}
	}
	job := sim.Job{Plan: plan, First: foldtest.Midnight, Days: 3, Seed: 11, Late: 4 * time.Hour, HotDay: 1}
	work, err := job.Work()
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.Written(plan, work, foldtest.Midnight)
	if err != nil {
		t.Fatal(err)
	}
	d := &foldtest.Desk{TB: t, Devices: *simtest.Continue(events)}
	d.Events = events
	return d
}

func dayAfter(n int) time.Time { return foldtest.Midnight.AddDate(0, 0, n) }

// dayOf is the report of a day, counted from 0, as it reads at an instant, but for the instant itself and for who may
// still write of it.
func dayOf(t testing.TB, s *fold.Site, n int, now time.Time) (daily.Day, string) {
	t.Helper()
	v, err := daily.DayOf(s, now, foldtest.Place, dayAfter(n).Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	v.AsOf, v.Provisional = time.Time{}, ""
	return v, summary.DayAll(v, report.Page{In: foldtest.Place})
}

func TestADayReadsLaterAsItWasPrintedThatEvening(t *testing.T) {
	d := threeDays(t)
	d.Foreman(t)
	all := foldtest.Folded(d.Events...)
	for n := range 3 {
		evening := dayAfter(n + 1)
		_, printed := dayOf(t, d.KnownBy(evening), n, evening)
		if !strings.Contains(printed, "JOINTS") || !strings.Contains(printed, "LEFT") {
			t.Fatalf("day %d has no joints or nothing left:\n%s", n, printed)
		}
		if _, read := dayOf(t, all, n, dayAfter(9)); read != printed {
			t.Errorf("day %d reads otherwise a week later (-that evening +later):\n%s", n, cmp.Diff(printed, read))
		}
	}
}

// What was forgotten on the first evening and written on the second morning is in the first day's report, marked, and
// moves what it concerns and nothing else.
func TestWhatCameLateIsInItsDayAndMarked(t *testing.T) {
	d := threeDays(t)
	evening, morning := dayAfter(1), dayAfter(1).Add(7*time.Hour)
	var mixed event.BatchMixed
	var crew event.Event
	for _, e := range d.Events {
		if b, ok := e.Body.(event.BatchMixed); ok && b.Batch.Day == dayAfter(0).Format(time.DateOnly) {
			mixed, crew = b, e
		}
	}
	_, printed := dayOf(t, d.KnownBy(evening), 0, evening)
	ready := evening.Add(-3 * time.Hour)
	extra := mixed
	extra.Batch.Number += 50
	extra.MixedFrom, extra.WaterAt, extra.MixedTo = ready.Add(-10*time.Minute), ready.Add(-8*time.Minute), ready
	late := []event.Event{
		d.Later(crew.Device, crew.Crew, ready, morning, extra),
		d.Later(crew.Device, crew.Crew, ready.Add(10*time.Minute), morning, event.BatchDiscarded{
			Batch: extra.Batch,
			Why:   "rain",
		}),
		d.Later(crew.Device, crew.Crew, ready.Add(20*time.Minute), morning, event.Noted{Text: "it rained at last"}),
	}
	d.Foreman(t)
	v, read := dayOf(t, foldtest.Folded(d.Events...), 0, dayAfter(9))
	if _, then := dayOf(t, d.KnownBy(evening, late...), 0, evening); read != then {
		t.Errorf("it is not as if it had been written in time and marked:\n%s", cmp.Diff(then, read))
	}
	if len(v.Late) != 2 || v.Late[0].Name != late[0].Name.String() || v.Late[1].Name != late[1].Name.String() {
		t.Errorf("came late: %+v", v.Late)
	}
	if n := slices.IndexFunc(v.Notes, func(e view.Entry) bool {
		return e.Text == "it rained at last" &&
			e.Late
	}); n < 0 {
		t.Errorf("the note is not marked: %+v", v.Notes)
	}
	for _, want := range []string{
		"3 entries of it were written after it had ended and marked LATE", "CAME LATE",
		"(LATE: written 13 May 07:00)",
	} {
		if !strings.Contains(strings.Join(strings.Fields(read), " "), want) {
			t.Errorf("the report does not say %q:\n%s", want, read)
		}
	}
	if read == printed {
		t.Error("the report is that of the evening")
	}
	// the next day's report says that it rests on them, and is as printed but for them
	next, _ := dayOf(t, foldtest.Folded(d.Events...), 1, dayAfter(9))
	if len(next.Late) != 0 || next.LateBefore != 0 {
		t.Errorf("written on the second day, they are late in its report: %d, %d before", len(next.Late),
			next.LateBefore)
	}
}

// A correction belongs to what it corrects: made a week later it is in the report of the day, marked.
func TestACorrectionMadeLaterIsInTheDayOfWhatItCorrectsAndMarked(t *testing.T) {
	d := threeDays(t)
	for _, e := range d.Events {
		p, ok := e.Body.(event.Placement)
		if !ok || !e.HappenedAt.Before(dayAfter(1)) {
			continue
		}
		p.Part = event.Part{Share: foldtest.Ref(unit.Share(0.01))}
		fix := d.Later(e.Device, e.Crew, dayAfter(7), dayAfter(7), event.Amended{
			Target: e.Hash(), Body: p,
			Why: "dropped",
		})
		v, _ := dayOf(t, foldtest.Folded(d.Events...), 0, dayAfter(9))
		if i := slices.IndexFunc(v.Changes, func(c view.Entry) bool { return c.Name == fix.Name.String() }); i < 0 ||
			!v.Changes[i].Late {
			t.Errorf("changes: %+v", v.Changes)
		}
		return
	}
	t.Fatal("nothing was placed on the first day")
}

func TestACorrectingRevisionIsListedWithWhatItMoved(t *testing.T) {
	d := foldtest.NewDesk(t)
	foldtest.ColdPair(d)
	first := d.Planned(foldtest.IsMix)
	fix := d.By("f1", 300, foldtest.Face(2,
		func(m *event.MixPlanned) {
			m.InitialSet, m.Corrects, m.Air = 4*time.Hour, 1, foldtest.Ref(unit.Share(0.2))
		}, first))
	v, text := dayOf(t, d.Site(), 0, foldtest.Clock(600))
	if len(v.Changes) != 1 || v.Changes[0].Name != fix.Name.String() {
		t.Fatalf("changes: %+v", v.Changes)
	}
	// 61.4 L of solids and water (42/3.15 + 85/2.65 + 16) over 1 − 0.06 and over 1 − 0.20: 65.4 and 76.8 L; 170 of 240
	// min is 71 %
	for _, want := range []string{"corrects 1: air 20%, was 6%, initial set 4 h, was 2 h 30 min"} {
		if !strings.Contains(v.Changes[0].Text, want) {
			t.Errorf("%q is not in %q", want, v.Changes[0].Text)
		}
	}
	if want := "1 joint cold -> live; 2 batches 65.4 L -> 76.8 L; 1 flag overfull more; 1 flag cold-joint less"; v.Changes[0].Moved != want {
		t.Errorf("it moved %q, not %q", v.Changes[0].Moved, want)
	}
	if !strings.Contains(text, "CORRECTIONS") || strings.Contains(text, "Nothing was corrected") {
		t.Errorf("the report says:\n%s", text)
	}
}

// What a plan written a day later, by a foreman whose clock was fast, was needed for stands in the report of the day.
func TestAPlanWhoseClockWasFastHoldsForWhatWasPlacedByIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("f1", 3*24*60, event.ZonePlanned{Zone: "B1", Area: foldtest.As(unit.Area(5))})
	d.By("f1", 3*24*60+1, event.CoatPlanned{
		Coat:      event.Coat{Zone: "B1", Face: event.Outer, Number: 1},
		Thickness: foldtest.As(unit.Length(0.012)), Mix: "face",
	})
	d.By("f1", 3*24*60+2, event.ZonePlanned{Zone: "B2", Area: foldtest.As(unit.Area(5))})
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Put(1, "B1", 5, 10))
	s := d.Site().Until(foldtest.Clock(60))
	if got := foldtest.Aside(s); got != "" {
		t.Errorf("set aside %q", got)
	}
	if foldtest.PlacedIn(t, s, "B1") <= 0 {
		t.Error("nothing is in B1")
	}
	if _, there := s.Zone("B2"); there {
		t.Error("a zone that was planned later and not worked on is there")
	}
}

// What the day shows does not hang on the order of arrival, nor on what a device looked at before.
func TestAPastDayIsTheSameInWhateverOrderEventsCame(t *testing.T) {
	d := threeDays(t)
	d.Events = foldtest.Troubled(t, d.Events)
	text := func(events []event.Event) string {
		v, _ := dayOf(t, foldtest.Folded(events...), 0, dayAfter(9))
		b, err := json.Marshal(v)
		if err != nil {
			t.Fatal(err)
		}
		return string(b)
	}
	backwards := slices.Clone(d.Events)
	slices.Reverse(backwards)
	if a, b := text(d.Events), text(backwards); a != b {
		t.Errorf("(-in order +backwards)\n%s", cmp.Diff(a, b))
	}
}

func TestMeanThicknessOfAPastDayIsByTheAreaOfThen(t *testing.T) {
	d := threeDays(t)
	before, _ := dayOf(t, foldtest.Folded(d.Events...), 0, dayAfter(9))
	d.Foreman(t)
	after, _ := dayOf(t, foldtest.Folded(d.Events...), 0, dayAfter(9))
	if len(before.Zones) == 0 || math.Abs(before.Zones[0].ThicknessM-after.Zones[0].ThicknessM) > 1e-12 {
		t.Errorf("%+v, then %+v", before.Zones, after.Zones)
	}
}

// A flag that was answered on a later day was open that evening; that it was answered since is told as what came late.
func TestAFlagAnsweredLaterWasOpenThatEveningAndTheAnswerCameLate(t *testing.T) {
	d := foldtest.NewDesk(t)
	foldtest.ColdPair(d)
	v, _ := dayOf(t, d.Site(), 0, dayAfter(2))
	if len(v.Flags) == 0 {
		t.Fatal("no flags")
	}
	answer := d.By("f1", 30*60, event.FlagAnswered{Flag: v.Flags[0].ID, Answer: "cut out and placed anew"})
	v, _ = dayOf(t, d.Site(), 0, dayAfter(2))
	if !v.Flags[0].Open {
		t.Error("the flag is answered in the report of the day before")
	}
	if len(v.Late) != 1 || v.Late[0].Name != answer.Name.String() || !v.Late[0].Late {
		t.Errorf("came late: %+v", v.Late)
	}
}
