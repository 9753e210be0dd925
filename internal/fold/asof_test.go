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
	"hod/internal/report"
	"hod/internal/report/summary"
	"hod/internal/sim"
	"hod/internal/sim/simtest"
	"hod/internal/unit"
	"hod/internal/view"
	"hod/internal/view/daily"
)

// threeDays is a job of three days.
func threeDays(t testing.TB) *desk {
	t.Helper()
	plan := smallPlan()
	for i, b := range plan {
		if z, is := b.(event.ZonePlanned); is {
			z.Area.SI *= 11
			plan[i] = z
		}
	}
	job := sim.Job{Plan: plan, First: midnight, Days: 3, Seed: 11, Late: 4 * time.Hour, HotDay: 1}
	work, err := job.Work()
	if err != nil {
		t.Fatal(err)
	}
	events, err := simtest.Written(plan, work, midnight)
	if err != nil {
		t.Fatal(err)
	}
	d := &desk{t: t, Devices: *simtest.Continue(events)}
	d.Events = events
	return d
}

// later writes a body on a device that happened at one time and was written at another.
func (d *desk) later(device event.Device, crew event.Crew, happened, written time.Time, b event.Body) event.Event {
	d.t.Helper()
	if err := d.Write(device, crew, happened, true, b); err != nil {
		d.t.Fatal(err)
	}
	last := len(d.Events) - 1
	e := d.Events[last]
	e.LoggedAt = written
	e, err := event.Write(e)
	if err != nil {
		d.t.Fatal(err)
	}
	d.Events[last] = e
	return e
}

func dayAfter(n int) time.Time { return midnight.AddDate(0, 0, n) }

// dayOf is the report of a day, counted from 0, as it reads at an instant, but for the instant itself and for who may
// still write of it.
func dayOf(t testing.TB, s *fold.Site, n int, now time.Time) (daily.Day, string) {
	t.Helper()
	v, err := daily.DayOf(s, now, place, dayAfter(n).Format(time.DateOnly))
	if err != nil {
		t.Fatal(err)
	}
	v.AsOf, v.Provisional = time.Time{}, ""
	return v, summary.DayAll(v, report.Page{In: place})
}

// knownBy is the site as a device had it that evening: what was written by then.
func (d *desk) knownBy(evening time.Time, but ...event.Event) *fold.Site {
	var known []event.Event
	for _, e := range d.Events {
		if e.LoggedAt.Before(evening) ||
			slices.ContainsFunc(but, func(o event.Event) bool { return o.Hash() == e.Hash() }) {
			known = append(known, e)
		}
	}
	return folded(known...)
}

// foreman writes on the third day and after it what moved the figures of past days before: plans of all kinds written
// anew, a treatment, an answer, a break, a delivery.
func (d *desk) foreman(t testing.TB) {
	t.Helper()
	write := func(hour int, b event.Body) event.Event {
		if err := d.Write("f1", "office", midnight.Add(time.Duration(hour)*time.Hour), true, b); err != nil {
			t.Fatal(err)
		}
		return d.Events[len(d.Events)-1]
	}
	for _, e := range slices.Clone(d.Events) {
		hash := []event.Hash{e.Hash()}
		switch b := e.Body.(type) {
		case event.SitePlanned:
			b.Closing, b.Loss, b.EvaporationMetric, b.WorkTo, b.WorkFrom, b.Replaces = ref(unit.Share(0.5)),
				ref(unit.Share(0.2)), 2, 20*time.Hour, 6*time.Hour, hash
			write(73, b)
		case event.MixPlanned:
			b.Revision, b.InitialSet, b.Air, b.WaterLimit, b.Replaces = 2, 5*time.Hour, ref(unit.Share(0.15)), 0.36,
				hash
			write(74, b)
		case event.ZonePlanned:
			b.Area.SI, b.Replaces = b.Area.SI*2, hash
			write(75, b)
		case event.CoatPlanned:
			b.Thickness.SI, b.Replaces = b.Thickness.SI*1.5, hash
			write(76, b)
		case event.EdgePlanned:
			b.Length.SI, b.Replaces = b.Length.SI*2, hash
			write(76, b)
		case event.CrewPlanned:
			b.People, b.Replaces = 9, hash
			write(76, b)
		}
	}
	write(77, event.ZonePlanned{Zone: "Z1", Area: as(unit.Area(40))})
	write(77, event.CoatPlanned{
		Coat:      event.Coat{Zone: "Z1", Face: event.Outer, Number: 1},
		Thickness: as(unit.Length(0.012)), Mix: "face",
	})
	write(78, event.StockReceived{Material: "sand", Amount: event.Amount{Mass: 4000}})
	write(78, event.SpecimensBroken{
		Mix: "face", Shape: event.Cube, Size: ref(unit.Length(0.05)), Age: 48 * time.Hour,
		Loads: []unit.Force{40000},
	})
	for _, z := range []event.Zone{"A1", "A2", "A3", "A4"} {
		write(79, event.JointTreated{Coat: event.Coat{Zone: z, Face: event.Outer, Number: 1}, Method: "brushed"})
	}
}

func TestADayReadsLaterAsItWasPrintedThatEvening(t *testing.T) {
	d := threeDays(t)
	d.foreman(t)
	all := folded(d.Events...)
	for n := range 3 {
		evening := dayAfter(n + 1)
		_, printed := dayOf(t, d.knownBy(evening), n, evening)
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
	_, printed := dayOf(t, d.knownBy(evening), 0, evening)
	ready := evening.Add(-3 * time.Hour)
	extra := mixed
	extra.Batch.Number += 50
	extra.MixedFrom, extra.WaterAt, extra.MixedTo = ready.Add(-10*time.Minute), ready.Add(-8*time.Minute), ready
	late := []event.Event{
		d.later(crew.Device, crew.Crew, ready, morning, extra),
		d.later(crew.Device, crew.Crew, ready.Add(10*time.Minute), morning, event.BatchDiscarded{
			Batch: extra.Batch,
			Why:   "rain",
		}),
		d.later(crew.Device, crew.Crew, ready.Add(20*time.Minute), morning, event.Noted{Text: "it rained at last"}),
	}
	d.foreman(t)
	v, read := dayOf(t, folded(d.Events...), 0, dayAfter(9))
	if _, then := dayOf(t, d.knownBy(evening, late...), 0, evening); read != then {
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
	next, _ := dayOf(t, folded(d.Events...), 1, dayAfter(9))
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
		p.Part = event.Part{Share: ref(unit.Share(0.01))}
		fix := d.later(e.Device, e.Crew, dayAfter(7), dayAfter(7), event.Amended{
			Target: e.Hash(), Body: p,
			Why: "dropped",
		})
		v, _ := dayOf(t, folded(d.Events...), 0, dayAfter(9))
		if i := slices.IndexFunc(v.Changes, func(c view.Entry) bool { return c.Name == fix.Name.String() }); i < 0 ||
			!v.Changes[i].Late {
			t.Errorf("changes: %+v", v.Changes)
		}
		return
	}
	t.Fatal("nothing was placed on the first day")
}

func TestACorrectingRevisionIsListedWithWhatItMoved(t *testing.T) {
	d := newDesk(t)
	coldPair(d)
	first := d.planned(isMix)
	fix := d.by("f1", 300, face(2,
		func(m *event.MixPlanned) { m.InitialSet, m.Corrects, m.Air = 4*time.Hour, 1, ref(unit.Share(0.2)) }, first))
	v, text := dayOf(t, d.site(), 0, clock(600))
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
	d := newDesk(t)
	d.by("f1", 3*24*60, event.ZonePlanned{Zone: "B1", Area: as(unit.Area(5))})
	d.by("f1", 3*24*60+1, event.CoatPlanned{
		Coat:      event.Coat{Zone: "B1", Face: event.Outer, Number: 1},
		Thickness: as(unit.Length(0.012)), Mix: "face",
	})
	d.by("f1", 3*24*60+2, event.ZonePlanned{Zone: "B2", Area: as(unit.Area(5))})
	d.by("n1", 0, mixed(1, 0))
	d.by("n1", 10, put(1, "B1", 5, 10))
	s := d.site().Until(clock(60))
	if got := aside(s); got != "" {
		t.Errorf("set aside %q", got)
	}
	if placedIn(t, s, "B1") <= 0 {
		t.Error("nothing is in B1")
	}
	if _, there := s.Zone("B2"); there {
		t.Error("a zone that was planned later and not worked on is there")
	}
}

// What the day shows does not hang on the order of arrival, nor on what a device looked at before.
func TestAPastDayIsTheSameInWhateverOrderEventsCame(t *testing.T) {
	d := threeDays(t)
	d.Events = troubled(t, d.Events)
	text := func(events []event.Event) string {
		v, _ := dayOf(t, folded(events...), 0, dayAfter(9))
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
	before, _ := dayOf(t, folded(d.Events...), 0, dayAfter(9))
	d.foreman(t)
	after, _ := dayOf(t, folded(d.Events...), 0, dayAfter(9))
	if len(before.Zones) == 0 || math.Abs(before.Zones[0].ThicknessM-after.Zones[0].ThicknessM) > 1e-12 {
		t.Errorf("%+v, then %+v", before.Zones, after.Zones)
	}
}

// A flag that was answered on a later day was open that evening; that it was answered since is told as what came late.
func TestAFlagAnsweredLaterWasOpenThatEveningAndTheAnswerCameLate(t *testing.T) {
	d := newDesk(t)
	coldPair(d)
	v, _ := dayOf(t, d.site(), 0, dayAfter(2))
	if len(v.Flags) == 0 {
		t.Fatal("no flags")
	}
	answer := d.by("f1", 30*60, event.FlagAnswered{Flag: v.Flags[0].ID, Answer: "cut out and placed anew"})
	v, _ = dayOf(t, d.site(), 0, dayAfter(2))
	if !v.Flags[0].Open {
		t.Error("the flag is answered in the report of the day before")
	}
	if len(v.Late) != 1 || v.Late[0].Name != answer.Name.String() || !v.Late[0].Late {
		t.Errorf("came late: %+v", v.Late)
	}
}
