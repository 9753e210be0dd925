package fold_test

import (
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
	"hod/internal/view/daily"
)

func (d *desk) otherMix() {
	for _, b := range smallPlan() {
		if m, ok := b.(event.MixPlanned); ok {
			m.Mix = "base"
			d.by("f1", 0, m)
		}
	}
}

func TestAWrongMixInACoatIsFlagged(t *testing.T) {
	d := newDesk(t)
	d.otherMix()
	b := mixed(1, 0)
	b.Mix = "base"
	d.by("n1", 0, b)
	placed := d.by("n1", 10, put(1, "A1", 5, 10))
	f := flagOf(t, d.site(), fold.WrongMix)
	if !f.Concerns(placed.Name) || !f.Grave ||
		!strings.Contains(f.Text, "is of mix base, and A1 outer 1 is planned in face") {
		t.Errorf("the finding is %+v", f)
	}
	right := put(1, "A1", 5, 10)
	right.Batch = north(2)
	d.by("n1", 11, mixed(2, 11))
	d.by("n1", 20, right)
	flagOf(t, d.site(), fold.WrongMix)
}

// A1 takes 9 m² × 12 mm × 1.08 = 116.6 L. A batch as designed holds 42/3.15 + 85/2.65 + 16 = 61.41 L, and 65.3 L at 6 %
// of air: two make 112 %, three 168 %.
func TestACoatOverfilledByMoreThanAFifthIsFlagged(t *testing.T) {
	d := newDesk(t)
	var placed []event.Event
	for i := range 3 {
		if i == 2 {
			if n := count(d.site(), fold.Overfull); n != 0 {
				t.Errorf("%d flags at 112 %%", n)
			}
		}
		d.by("n1", 20*i, mixed(i+1, 20*i))
		placed = append(placed, d.by("n1", 20*i+10, put(i+1, "A1", 20*i+5, 20*i+10)))
	}
	f := flagOf(t, d.site(), fold.Overfull)
	if !strings.Contains(f.Text, "68 % more") || f.Concerns(placed[1].Name) || !f.Concerns(placed[2].Name) {
		t.Errorf("the finding is %+v", f)
	}
	over := put(3, "A2", 45, 50)
	d.by("n1", 60, event.Amended{Target: placed[2].Hash(), Body: over, Why: "it was A2"})
	if n := count(d.site(), fold.Overfull); n != 0 {
		t.Errorf("%d flags after the third batch was moved to A2", n)
	}
}

// Two batches are in A2; a third was written into A1 and is moved to A2 by an amendment.
func TestAZoneThatAnAmendmentMovedAPlacementToIsJudgedAgain(t *testing.T) {
	d := newDesk(t)
	var last event.Event
	for i, z := range []event.Zone{"A2", "A2", "A1"} {
		d.by("n1", 20*i, mixed(i+1, 20*i))
		last = d.by("n1", 20*i+10, put(i+1, z, 20*i+5, 20*i+10))
	}
	s := d.site()
	if n := count(s, fold.Overfull); n != 0 {
		t.Fatalf("%d flags before", n)
	}
	s.Add(d.by("n1", 60, event.Amended{Target: last.Hash(), Body: put(3, "A2", 45, 50), Why: "it was A2"}))
	if f := flagOf(t, s, fold.Overfull); f.Subject != "A2 outer 1" || !f.Concerns(last.Name) {
		t.Errorf("the finding is %+v", f)
	}
}

func TestASecondShiftStartedWhileOneIsOpenIsFlagged(t *testing.T) {
	d := newDesk(t)
	d.by("n1", 0, event.ShiftStarted{People: 4})
	d.by("s1", 5, event.ShiftStarted{People: 3})
	again := d.by("n2", 240, event.ShiftStarted{People: 2})
	s := d.site()
	if f := flagOf(t, s, fold.SecondShift); f.Key != again.Name.String() {
		t.Errorf("the finding is of %s", f.Key)
	}
	if r := s.OpenShift("north", clock(300)); r == nil || !r.When.Equal(clock(0)) {
		t.Errorf("the open shift is %v, not the first", r)
	}
	for _, c := range func() []daily.CrewDay { v, _ := daily.DayOf(s, clock(600), place, ""); return v.Crews }() {
		if c.Crew == "north" && !c.From.Equal(clock(0)) {
			t.Errorf("north's day begins at %s", c.From)
		}
	}
	d.by("n1", 500, event.ShiftEnded{})
	s = d.site()
	if r := s.OpenShift("north", clock(600)); r != nil {
		t.Errorf("a shift of %s is open after its end", r.When)
	}
	d.by("n1", 24*60, event.ShiftStarted{})
	d.by("n1", 48*60, event.ShiftStarted{}) // yesterday's end was forgotten
	if n := count(d.site(), fold.SecondShift); n != 1 {
		t.Errorf("%d flags: a shift of the day before is no second one", n)
	}
}

// The reason that a person gave stands in the flag of what was passed over, in the log, the zone and the day.
func TestTheReasonGivenIsShownWhereverTheFlagIs(t *testing.T) {
	d := newDesk(t)
	d.otherMix()
	b := mixed(1, 0)
	b.Mix = "base"
	d.by("n1", 0, b)
	p := put(1, "A1", 5, 10)
	p.Because = "the face sand ran out"
	d.by("n1", 10, p)
	s := d.site()
	const want = "the face sand ran out (n1/2)"
	if f := flagOf(t, s, fold.WrongMix); f.Because != want {
		t.Errorf("the finding gives %q", f.Because)
	}
	day, _ := daily.DayOf(s, clock(600), place, "")
	for where, flags := range map[string][]daily.Flag{
		"flags": daily.FlagsOf(s, clock(20), place, false).Flags, "board": daily.BoardOf(s, clock(20),
			place).Flags, "day": day.Flags,
	} {
		found := false
		for _, f := range flags {
			found = found || f.Because == want
		}
		if !found {
			t.Errorf("%s: no flag gives the reason", where)
		}
	}
	z, _ := view.ZoneOf(s, clock(20), place, "A1")
	if got := z.Coats[0].Placements[0].Because; got != "the face sand ran out" {
		t.Errorf("the zone gives %q", got)
	}
	r, _ := s.Record(event.Name{Device: "n1", Seq: 2})
	if got := view.Describe(s, r, place); !strings.HasSuffix(got, "; because: the face sand ran out") {
		t.Errorf("the log says %q", got)
	}
}

// A rule passed over by a batch is one flag with its reason, not two.
func TestAReasonMakesNoSecondFlag(t *testing.T) {
	d := newDesk(t)
	b := mixed(1, 0)
	b.Charges[2].Amount.Mass = 19
	b.Because = "the sand was dust dry"
	d.by("n1", 0, b)
	s := d.site()
	if f := flagOf(t, s, fold.WaterLimit); f.Because != "the sand was dust dry (n1/1)" {
		t.Errorf("the finding gives %q", f.Because)
	}
	if n := count(s, fold.PassedOver); n != 0 {
		t.Errorf("%d flags of a rule passed over beside it", n)
	}
}

// What was passed over may be no finding of the record; the reason stands in a flag of its own all the same.
func TestAReasonForWhatIsNoFindingIsAFlagOfItsOwn(t *testing.T) {
	d := newDesk(t)
	d.by("n1", 0, mixed(1, 0))
	p := put(1, "A1", 5, 10)
	p.Because = "the foreman said so"
	d.by("n1", 10, p)
	if f := flagOf(t, d.site(), fold.PassedOver); f.Because != "the foreman said so (n1/2)" ||
		f.Subject != "A1 outer 1" {
		t.Errorf("the finding is %+v", f)
	}
}
