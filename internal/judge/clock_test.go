package judge_test

import (
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
)

func clockFlags(s *fold.Site) map[string][]fold.Finding {
	found := map[string][]fold.Finding{}
	for _, f := range s.Findings() {
		if f.Code == fold.Clock || f.Code == fold.ClockSet {
			found[f.Code] = append(found[f.Code], f)
		}
	}
	return found
}

func says(t *testing.T, of []fold.Finding, words ...string) {
	t.Helper()
	if len(of) != 1 {
		t.Fatalf("%d flags, not one: %v", len(of), of)
	}
	for _, w := range words {
		if !strings.Contains(of[0].Text, w) {
			t.Errorf("%q is not in %q", w, of[0].Text)
		}
	}
}

func TestTheFlagOfAClockClaimsNoMoreThanWasDone(t *testing.T) {
	fast := -4 * time.Minute
	d := foldtest.NewDesk(t)
	d.Noted(1, 10, &fast, event.Carried, true)
	d.Noted(2, 11, &fast, event.Carried, true)
	says(t, clockFlags(d.Site())[fold.Clock], "was 4 min fast at n1/1 to n1/2", "nothing is corrected")
	d.Noted(3, 12, &fast, event.Carried, false)
	says(t, clockFlags(d.Site())[fold.Clock], "4 min fast at n1/1 to n1/3",
		"that it made in 1 event of these are corrected by that, typed ones are not")
	if r, _ := d.Site().Record(event.Name{Device: "n1", Seq: 3}); !r.At().Equal(foldtest.Clock(8)) {
		t.Errorf("the time made by a clock 4 min fast is %s", r.At())
	}
	if got := clockFlags(d.Site())[fold.ClockSet]; len(got) != 0 {
		t.Errorf("a clock that nobody set: %v", got)
	}
}

func TestWhenAClockWasSetBetweenTwoContactsIsSaidAndNotShifted(t *testing.T) {
	right, hour := time.Duration(0), -time.Hour
	d := foldtest.NewDesk(t)
	d.Noted(1, 10, &right, event.AtContact, false)
	d.Noted(2, 20, &right, event.AtContact, true) // typed: by the site's clock in any case
	d.Noted(3, 90, &right, event.AtContact, false)
	d.Noted(4, 100, &hour, event.AtContact, false) // the next contact found it an hour fast
	flags := clockFlags(d.Site())
	says(t, flags[fold.ClockSet], "device n1 was set by 1 h between two contacts", "n1/1 to n1/3", "may be off by 1 h",
		"at=")
	if got := flags[fold.ClockSet][0].Events; len(got) != 2 || got[0].Seq != 1 || got[1].Seq != 3 {
		t.Errorf("the flag rests on %v", got)
	}
	for seq, want := range map[uint64]time.Time{
		1: foldtest.Clock(10), 2: foldtest.Clock(20), 3: foldtest.Clock(90), 4: foldtest.Clock(40),
	} {
		if r, _ := d.Site().Record(event.Name{Device: "n1", Seq: seq}); !r.At().Equal(want) {
			t.Errorf("n1/%d is read as at %s, not %s", seq, r.At(), want)
		}
	}
}

// What the device carried on by its uptime is right on either side of the setting, and an event before the last contact
// that found the clock right is right.
func TestOnlyWhatNothingVouchesForIsDoubted(t *testing.T) {
	right, still, hour := time.Duration(0), time.Millisecond, -time.Hour
	d := foldtest.NewDesk(t)
	d.Noted(1, 10, &right, event.AtContact, false)
	d.Noted(2, 20, &still, event.AtContact, false) // a contact in between
	d.Noted(3, 90, &hour, event.Carried, false)    // set, and found out by the uptime
	says(t, clockFlags(d.Site())[fold.ClockSet], "n1/2:")

	d = foldtest.NewDesk(t)
	d.Noted(1, 10, &right, event.Carried, false)
	d.Noted(2, 90, &hour, event.Carried, false)
	flags := clockFlags(d.Site())
	if got := flags[fold.ClockSet]; len(got) != 0 {
		t.Errorf("the uptime vouches for both, and yet: %v", got)
	}
	says(t, flags[fold.Clock], "1 h fast at n1/2;", "in 1 event of these")
}

func TestTimesMadeBeforeAFirstContactAreNotSaidToBeCorrected(t *testing.T) {
	fast := -4 * time.Minute
	d := foldtest.NewDesk(t)
	d.Noted(1, 10, nil, event.BasisNotSaid, false)
	d.Noted(2, 20, &fast, event.AtContact, false)
	flags := clockFlags(d.Site())
	says(t, flags[fold.ClockSet], "first contact of device n1 found its clock 4 min fast", "in n1/1, are not corrected")
	says(t, flags[fold.Clock], "4 min fast at n1/2;")
}

// A time that somebody typed is by the site's clock: against that of a slow device it is not in the future.
func TestATypedTimeIsNotOddOnADeviceWhoseClockIsSlow(t *testing.T) {
	slow := time.Hour
	write := func(minutes int) fold.Finding {
		d := foldtest.NewDesk(t)
		e, err := event.Write(event.Event{
			Name: event.Name{Device: "n1", Seq: 1}, Crew: "north", HappenedAt: foldtest.Clock(minutes),
			LoggedAt: foldtest.Clock(0),
			Typed:    true, Offset: &slow, Body: event.Noted{Text: "so"},
		})
		if err != nil {
			t.Fatal(err)
		}
		d.Events = append(d.Events, e)
		for _, f := range d.Site().Findings() {
			if f.Code == fold.OddTime {
				return f
			}
		}
		return fold.Finding{}
	}
	if f := write(59); f.Code != "" {
		t.Errorf("a minute before it was written: %s", f.Text)
	}
	if f := write(90); !strings.Contains(f.Text, "30 min after it was written") {
		t.Errorf("half an hour after it was written: %q", f.Text)
	}
}
