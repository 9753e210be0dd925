package judge_test

import (
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/view"
	"hod/internal/view/daily"
)

func TestAWrongMixInACoatIsFlagged(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.OtherMix()
	b := foldtest.Mixed(1, 0)
	b.Mix = "base"
	d.By("n1", 0, b)
	placed := d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	f := foldtest.FlagOf(t, d.Site(), fold.WrongMix)
	if !f.Concerns(placed.Name) || !f.Grave ||
		!strings.Contains(f.Text, "is of mix base, and A1 outer 1 is planned in face") {
		t.Errorf("the finding is %+v", f)
	}
	right := foldtest.Put(1, "A1", 5, 10)
	right.Batch = foldtest.North(2)
	d.By("n1", 11, foldtest.Mixed(2, 11))
	d.By("n1", 20, right)
	foldtest.FlagOf(t, d.Site(), fold.WrongMix)
}

// A1 takes 9 m² × 12 mm × 1.08 = 116.6 L. A batch as designed holds 42/3.15 + 85/2.65 + 16 = 61.41 L, and 65.3 L at 6 %
// of air: two make 112 %, three 168 %.
func TestACoatOverfilledByMoreThanAFifthIsFlagged(t *testing.T) {
	d := foldtest.NewDesk(t)
	var placed []event.Event
	for i := range 3 {
		if i == 2 {
			if n := foldtest.Count(d.Site(), fold.Overfull); n != 0 {
				t.Errorf("%d flags at 112 %%", n)
			}
		}
		d.By("n1", 20*i, foldtest.Mixed(i+1, 20*i))
		placed = append(placed, d.By("n1", 20*i+10, foldtest.Put(i+1, "A1", 20*i+5, 20*i+10)))
	}
	f := foldtest.FlagOf(t, d.Site(), fold.Overfull)
	if !strings.Contains(f.Text, "68 % more") || f.Concerns(placed[1].Name) || !f.Concerns(placed[2].Name) {
		t.Errorf("the finding is %+v", f)
	}
	over := foldtest.Put(3, "A2", 45, 50)
	d.By("n1", 60, event.Amended{Target: placed[2].Hash(), Body: over, Why: "it was A2"})
	if n := foldtest.Count(d.Site(), fold.Overfull); n != 0 {
		t.Errorf("%d flags after the third batch was moved to A2", n)
	}
}

// Two batches are in A2; a third was written into A1 and is moved to A2 by an amendment.
func TestAZoneThatAnAmendmentMovedAPlacementToIsJudgedAgain(t *testing.T) {
	d := foldtest.NewDesk(t)
	var last event.Event
	for i, z := range []event.Zone{"A2", "A2", "A1"} {
		d.By("n1", 20*i, foldtest.Mixed(i+1, 20*i))
		last = d.By("n1", 20*i+10, foldtest.Put(i+1, z, 20*i+5, 20*i+10))
	}
	s := d.Site()
	if n := foldtest.Count(s, fold.Overfull); n != 0 {
		t.Fatalf("%d flags before", n)
	}
	s.Add(d.By("n1", 60, event.Amended{Target: last.Hash(), Body: foldtest.Put(3, "A2", 45, 50), Why: "it was A2"}))
	if f := foldtest.FlagOf(t, s, fold.Overfull); f.Subject != "A2 outer 1" || !f.Concerns(last.Name) {
		t.Errorf("the finding is %+v", f)
	}
}

func TestASecondShiftStartedWhileOneIsOpenIsFlagged(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, event.ShiftStarted{People: 4})
	d.By("s1", 5, event.ShiftStarted{People: 3})
	again := d.By("n2", 240, event.ShiftStarted{People: 2})
	s := d.Site()
	if f := foldtest.FlagOf(t, s, fold.SecondShift); f.Key != again.Name.String() {
		t.Errorf("the finding is of %s", f.Key)
	}
	if r := s.OpenShift("north", foldtest.Clock(300)); r == nil || !r.When.Equal(foldtest.Clock(0)) {
		t.Errorf("the open shift is %v, not the first", r)
	}
	for _, c := range func() []daily.CrewDay {
		v, _ := daily.DayOf(s, foldtest.Clock(600), foldtest.Place, "")
		return v.Crews
	}() {
		if c.Crew == "north" && !c.From.Equal(foldtest.Clock(0)) {
			t.Errorf("north's day begins at %s", c.From)
		}
	}
	d.By("n1", 500, event.ShiftEnded{})
	s = d.Site()
	if r := s.OpenShift("north", foldtest.Clock(600)); r != nil {
		t.Errorf("a shift of %s is open after its end", r.When)
	}
	d.By("n1", 24*60, event.ShiftStarted{})
	d.By("n1", 48*60, event.ShiftStarted{}) // yesterday's end was forgotten
	if n := foldtest.Count(d.Site(), fold.SecondShift); n != 1 {
		t.Errorf("%d flags: a shift of the day before is no second one", n)
	}
}

// The reason that a person gave stands in the flag of what was passed over, in the log, the zone and the day.
func TestTheReasonGivenIsShownWhereverTheFlagIs(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.OtherMix()
	b := foldtest.Mixed(1, 0)
	b.Mix = "base"
	d.By("n1", 0, b)
	p := foldtest.Put(1, "A1", 5, 10)
	p.Because = "the face sand ran out"
	d.By("n1", 10, p)
	s := d.Site()
	const want = "the face sand ran out (n1/2)"
	if f := foldtest.FlagOf(t, s, fold.WrongMix); f.Because != want {
		t.Errorf("the finding gives %q", f.Because)
	}
	day, _ := daily.DayOf(s, foldtest.Clock(600), foldtest.Place, "")
	for where, flags := range map[string][]daily.Flag{
		"flags": daily.FlagsOf(s, foldtest.Clock(20), foldtest.Place, false).Flags, "board": daily.BoardOf(s,
			foldtest.Clock(20),
			foldtest.Place).Flags, "day": day.Flags,
	} {
		found := false
		for _, f := range flags {
			found = found || f.Because == want
		}
		if !found {
			t.Errorf("%s: no flag gives the reason", where)
		}
	}
	z, _ := view.ZoneOf(s, foldtest.Clock(20), foldtest.Place, "A1")
	if got := z.Coats[0].Placements[0].Because; got != "the face sand ran out" {
		t.Errorf("the zone gives %q", got)
	}
	r, _ := s.Record(event.Name{Device: "n1", Seq: 2})
	if got := view.Describe(s, r, foldtest.Place); !strings.HasSuffix(got, "; because: the face sand ran out") {
		t.Errorf("the log says %q", got)
	}
}

// A rule passed over by a batch is one flag with its reason, not two.
func TestAReasonMakesNoSecondFlag(t *testing.T) {
	d := foldtest.NewDesk(t)
	b := foldtest.Mixed(1, 0)
	b.Charges[2].Amount.Mass = 19
	b.Because = "the sand was dust dry"
	d.By("n1", 0, b)
	s := d.Site()
	if f := foldtest.FlagOf(t, s, fold.WaterLimit); f.Because != "the sand was dust dry (n1/1)" {
		t.Errorf("the finding gives %q", f.Because)
	}
	if n := foldtest.Count(s, fold.PassedOver); n != 0 {
		t.Errorf("%d flags of a rule passed over beside it", n)
	}
}

// What was passed over may be no finding of the record; the reason stands in a flag of its own all the same.
func TestAReasonForWhatIsNoFindingIsAFlagOfItsOwn(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	p := foldtest.Put(1, "A1", 5, 10)
	p.Because = "the foreman said so"
	d.By("n1", 10, p)
	if f := foldtest.FlagOf(t, d.Site(), fold.PassedOver); f.Because != "the foreman said so (n1/2)" ||
		f.Subject != "A1 outer 1" {
		t.Errorf("the finding is %+v", f)
	}
}
