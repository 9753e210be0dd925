package fold_test

import (
	"crypto/sha256"
	"encoding/base32"
	"fmt"
	"strings"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
	"hod/internal/view/daily"
)

// oldID is a flag's id as versions made it that grouped nothing; it stands in answers on disk.
func oldID(code, key string) string {
	h := sha256.Sum256([]byte(code + "\x00" + key))
	return strings.ToLower(base32.StdEncoding.EncodeToString(h[:])[:5])
}

// lateMeeting is A1 and A3 placed in the morning, and hours later one placement of A2 that meets both cold.
func lateMeeting(t *testing.T) (*foldtest.Desk, event.Event) {
	t.Helper()
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Along(foldtest.Put(1, "A1", 5, 10), "A2"))
	d.By("n1", 20, foldtest.Mixed(2, 20))
	d.By("n1", 30, foldtest.Along(foldtest.Put(2, "A3", 25, 30), "A2"))
	d.By("n1", 400, foldtest.Mixed(3, 400))
	return d, d.By("n1", 410, foldtest.Along(foldtest.Put(3, "A2", 405, 410), "A1", "A3"))
}

func TestTwoJointsNeverShareAFlagAndNoAnswerClosesBoth(t *testing.T) {
	d, _ := lateMeeting(t)
	joints := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 420), fold.ColdJoint)
	if len(joints) != 2 || joints[0].FullID == joints[1].FullID || joints[0].ID == joints[1].ID {
		t.Fatalf("one placement met two zones cold; flags %+v", joints)
	}
	d.By("f1", 430, event.FlagAnswered{Flag: joints[0].FullID, Answer: "cut out and slurried"})
	for _, f := range foldtest.OfCode(foldtest.FlagsAt(d.Site(), 440), fold.ColdJoint) {
		if want := f.FullID != joints[0].FullID; f.Open != want {
			t.Errorf("after an answer to %s, %s (%s) is open: %v", joints[0].ID, f.ID, f.Subject, f.Open)
		}
	}
}

func TestAnAnswerToAnOldIDThatTwoJointsSharedClosesNeitherAndSaysSo(t *testing.T) {
	d, met := lateMeeting(t)
	d.By("f1", 430, event.FlagAnswered{
		Flag:   oldID(fold.ColdJoint, met.Name.String()+" edge A2"),
		Answer: "cut out and slurried",
	})
	joints := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 440), fold.ColdJoint)
	for _, f := range joints {
		if !f.Open || !strings.Contains(f.Note, "cut out and slurried") || !strings.Contains(f.Note, "closes neither") {
			t.Errorf("%s (%s): open %v, note %q", f.ID, f.Subject, f.Open, f.Note)
		}
	}
	if len(joints) != 2 {
		t.Errorf("%d cold joints, not 2", len(joints))
	}
}

func TestAnAnswerToAnOldIDClosesTheOneFlagThatWentByIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Along(foldtest.Put(1, "A1", 5, 10), "A2"))
	d.By("n1", 400, foldtest.Mixed(2, 400))
	met := d.By("n1", 410, foldtest.Along(foldtest.Put(2, "A2", 405, 410), "A1"))
	d.By("f1", 430, event.FlagAnswered{Flag: oldID(fold.ColdJoint, met.Name.String()+" edge A2"), Answer: "dowelled"})
	sand := foldtest.Mixed(3, 440)
	sand.Charges[1].Amount.Mass = 100
	odd := d.By("n1", 440, sand)
	d.By("f1", 450, event.FlagAnswered{
		Flag:   oldID("ticket", "ticket  "+odd.Name.String()),
		Answer: "the pail was changed",
	})
	all := foldtest.FlagsAt(d.Site(), 460)
	for code, want := range map[string]string{fold.ColdJoint: "dowelled", fold.Weighing: "the pail was changed"} {
		if f := foldtest.OfCode(all, code); len(f) != 1 || f[0].Open || f[0].Answer != want {
			t.Errorf("%s after an answer by its old id: %+v", code, f)
		}
	}
}

// dryNoon has a zone placed and left bare in each of so many zones while a hot wind blows.
func dryNoon(t *testing.T, zones ...event.Zone) *foldtest.Desk {
	t.Helper()
	d := foldtest.NewDesk(t)
	for i, z := range zones {
		d.By("n1", 10*i, foldtest.Mixed(i+1, 10*i))
		d.By("n1", 10*i+9, foldtest.Put(i+1, z, 10*i+5, 10*i+9))
	}
	d.By("n1", 60, event.WeatherObserved{
		Station: "crew", WindHeight: foldtest.As(unit.Length(2)),
		Samples: []event.Weather{{
			At: foldtest.Clock(60), Air: new(unit.Celsius(34)), Humidity: new(unit.Share(0.25)),
			Wind: new(unit.Speed(6)),
		}},
	})
	return d
}

func TestOneAfternoonsDryingIsOneFlagThatALateCoatJoins(t *testing.T) {
	d := dryNoon(t, "A1", "A2", "A3")
	dry := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 90), fold.Drying)
	if len(dry) != 1 || len(dry[0].Lines) != 3 || !strings.HasPrefix(dry[0].Text, "3 coats ") {
		t.Fatalf("three coats bare over the limit: %+v", dry)
	}
	id := dry[0].FullID
	var known []string
	for _, l := range dry[0].Lines {
		known = append(known, l.FullID)
	}
	d.By("f1", 100, event.FlagAnswered{Flag: id, Answer: "sheeted at once", Lines: known})
	if f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 110), fold.Drying)[0]; f.Open || f.Answer != "sheeted at once" {
		t.Fatalf("after an answer to all its lines: %+v", f)
	}
	// a crew that was out of reach brings a fourth coat of the same hour
	d.By("n2", 40, foldtest.Mixed(9, 40))
	d.By("n2", 50, foldtest.Put(9, "A4", 45, 50))
	dry = foldtest.OfCode(foldtest.FlagsAt(d.Site(), 120), fold.Drying)
	if len(dry) != 1 || dry[0].FullID != id || len(dry[0].Lines) != 4 {
		t.Fatalf("with a line that joined late: %+v", dry)
	}
	f := dry[0]
	if !f.Open || !strings.Contains(f.Note, "sheeted at once") ||
		!strings.Contains(f.Note, "covers the 3 lines known then, and 1 came since") {
		t.Errorf("a new line does not open it again, or does not say so: open %v, %q", f.Open, f.Note)
	}
	for _, l := range f.Lines {
		if want := l.Subject == "A4 outer 1"; l.Open != want {
			t.Errorf("line of %s open: %v", l.Subject, l.Open)
		}
	}
}

// Three coats, of which one was seen to: two are left. "3 coats were placed, and no treatment is in the record" was not
// so.
func TestAFlagOfSeveralSaysHowManyAreOpenAndNotHowManyThereWere(t *testing.T) {
	d := dryNoon(t, "A1", "A2", "A3")
	f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 90), fold.Drying)[0]
	d.By("f1", 100, event.FlagAnswered{Flag: f.Lines[0].FullID, Answer: "fogged"})
	if f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 110), fold.Drying)[0]; !strings.HasPrefix(f.Text, "2 coats ") ||
		f.Note != "1 of 3 lines answered, 2 open" {
		t.Errorf("of three one is answered: %q, %q", f.Text, f.Note)
	}
	d.By("f1", 120, event.FlagAnswered{Flag: f.Lines[1].FullID, Answer: "fogged"})
	if f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 130), fold.Drying)[0]; f.Text != f.Lines[2].Text {
		t.Errorf("of three one is open: %q, not %q", f.Text, f.Lines[2].Text)
	}
}

func TestALineIsAnsweredAloneAndItsFlagStaysOpen(t *testing.T) {
	d := dryNoon(t, "A1", "A2")
	f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 90), fold.Drying)[0]
	d.By("f1", 100, event.FlagAnswered{Flag: f.Lines[0].FullID, Answer: "fogged"})
	f = foldtest.OfCode(foldtest.FlagsAt(d.Site(), 110), fold.Drying)[0]
	if !f.Open || f.Lines[0].Open || !f.Lines[1].Open || f.Note != "1 of 2 lines answered, 1 open" {
		t.Errorf("%+v", f)
	}
}

// Whoever answers a flag of several by its name alone has seen what was there: what was written later is not covered.
func TestAnAnswerThatNamesNoLinesCoversNothingWrittenLater(t *testing.T) {
	d := dryNoon(t, "A1", "A2")
	f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 90), fold.Drying)[0]
	d.By("f1", 100, event.FlagAnswered{Flag: f.ID, Answer: "sheeted"})
	if f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 110), fold.Drying)[0]; f.Open {
		t.Errorf("not closed: %+v", f)
	}
	d.By("n1", 120, foldtest.Mixed(3, 120))
	d.By("n1", 125, foldtest.Put(3, "A3", 122, 125))
	d.By("n1", 130, event.WeatherObserved{
		Station: "crew", WindHeight: foldtest.As(unit.Length(2)),
		Samples: []event.Weather{{
			At: foldtest.Clock(130), Air: new(unit.Celsius(34)), Humidity: new(unit.Share(0.25)),
			Wind: new(unit.Speed(6)),
		}},
	})
	if f := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 140), fold.Drying)[0]; !f.Open || len(f.Lines) != 3 {
		t.Errorf("a coat placed after the answer is closed by it: %+v", f)
	}
}

func TestNoTwoFlagsOrLinesOfASiteHaveOneID(t *testing.T) {
	seen := map[string]string{}
	take := func(id, full, what string) {
		if !strings.HasPrefix(full, id) {
			t.Errorf("%s is not the beginning of %s", id, full)
		}
		if was, ok := seen[id]; ok {
			t.Errorf("%s and %s are both %s", was, what, id)
		}
		seen[id] = what
	}
	s := foldtest.Folded(foldtest.Troubled(t, foldtest.SmallJob(t))...)
	for _, f := range daily.FlagsOf(s, foldtest.Midnight.Add(40*time.Hour), foldtest.Place, true).Flags {
		take(f.ID, f.FullID, f.Code+" "+f.Subject)
		for _, l := range f.Lines {
			take(l.ID, l.FullID, f.Code+" line "+l.Subject)
		}
	}
	if len(seen) < 8 {
		t.Errorf("only %d flags and lines to compare", len(seen))
	}
}

// One-bag batches are not weighed like a plant's loads: 5 % where the plan says nothing (common practice, no source),
// and water is judged by the w/cm limit where there is one.
func TestWeighingByHandIsJudgedByThePlansTolerance(t *testing.T) {
	for name, k := range map[string]struct {
		sand, water unit.Mass // of 85 and 16
		tolerance   unit.Share
		limit       bool
		want        string
	}{
		"sand 4 % over, nothing said":                          {88.4, 16, 0, true, ""},
		"sand 6 % over, nothing said":                          {90.1, 16, 0, true, "sand +6.0 %"},
		"sand 4 % over where the plan allows 3":                {88.4, 16, 0.03, true, "sand +4.0 %"},
		"sand 6 % over where the plan allows 10":               {90.1, 16, 0.10, true, ""},
		"water 12 % under, inside the limit":                   {85, 14.08, 0, true, ""},
		"water 12 % under, in a mix that states no w/cm limit": {85, 14.08, 0, false, "water added -12.0 %"},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			for _, e := range d.Events {
				switch b := e.Body.(type) {
				case event.SitePlanned:
					if k.tolerance > 0 {
						b.Weighing, b.Replaces = foldtest.Ref(k.tolerance), []event.Hash{e.Hash()}
						d.By("f1", 0, b)
					}
				case event.MixPlanned:
					if !k.limit {
						b.WaterLimit, b.Replaces = 0, []event.Hash{e.Hash()}
						d.By("f1", 0, b)
					}
				}
			}
			b := foldtest.Mixed(1, 5)
			b.Charges[1].Amount.Mass, b.Charges[2].Amount.Mass = k.sand, k.water
			d.By("n1", 5, b)
			got := ""
			for _, f := range d.Site().Findings() {
				if f.Code == fold.Weighing {
					got = f.Text
				}
			}
			if k.want == "" && got != "" || !strings.HasSuffix(got, k.want) {
				t.Errorf("flag %q, want one that ends in %q", got, k.want)
			}
		})
	}
}

func TestTooMuchWaterIsOneFlagAndNotTwo(t *testing.T) {
	d := foldtest.NewDesk(t)
	b := foldtest.Mixed(1, 5)
	b.Charges[2].Amount.Mass = 18 // w/cm 18.9/42, with what the sand holds: over 0.42
	d.By("n1", 5, b)
	var codes []string
	for _, f := range d.Site().Findings() {
		codes = append(codes, f.Code)
	}
	if fmt.Sprint(codes) != "[water-limit]" {
		t.Errorf("flags %v of a bucket too many, not water-limit alone", codes)
	}
}

// The first batch in a zone need not touch every edge: a joint is made where the record says that a placement ran along
// it, or at the latest when the coat is done.
func TestTheFirstBatchInAZoneNeedNotTouchEveryEdge(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	d.By("n1", 400, foldtest.Mixed(2, 400))
	d.By("n1", 410, foldtest.Put(2, "A2", 405, 410))
	if n := foldtest.Count(d.Site(), fold.ColdJoint); n != 0 {
		t.Errorf("%d cold joints after a first batch that says nothing of the edge", n)
	}
	d.By("n1", 420, foldtest.Mixed(3, 420))
	d.By("n1", 430, foldtest.Put(3, "A2", 425, 430))
	if n := foldtest.Count(d.Site(), fold.ColdJoint); n != 1 {
		t.Errorf("%d cold joints along the one edge of a coat that is done, not 1", n)
	}
}

func TestAJointThatMayBeColdSaysWhichPlacementMustSayAlongAndWhatToType(t *testing.T) {
	d := foldtest.NewDesk(t)
	for i := range 2 { // A1 is done within the hour
		d.By("n1", 20*i, foldtest.Mixed(i+1, 20*i))
		d.By("n1", 20*i+10, foldtest.Put(i+1, "A1", 20*i+5, 20*i+10))
	}
	d.By("n1", 60, foldtest.Mixed(3, 60))
	first := d.By("n1", 70, foldtest.Along(foldtest.Put(3, "A2", 65, 70), "A3"))
	d.By("n1", 300, foldtest.Mixed(4, 300))
	last := d.By("n1", 310, foldtest.Put(4, "A2", 305, 310))
	unsaid := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 320), fold.UnsaidEdge)
	if len(unsaid) != 1 || unsaid[0].Grave {
		t.Fatalf("flags of a joint that may be cold: %+v", unsaid)
	}
	f := unsaid[0]
	if !strings.Contains(f.Text, "A1 outer 1 along A2") ||
		!strings.Contains(fmt.Sprint(f.Evidence), "A2 outer 1, which ran along A1?") {
		t.Errorf("it does not say which placement must say so: %s; %v", f.Text, f.Evidence)
	}
	for _, p := range []event.Event{first, last} {
		if !strings.Contains(fmt.Sprint(f.Evidence), p.Name.String()+" (batch") {
			t.Errorf("%s is not among those that may have run along it: %v", p.Name, f.Evidence)
		}
	}
	// what it ran along already stays in the line to type
	if want := fmt.Sprintf("hod amend %s along=A3,A1", first.Name); !strings.Contains(strings.Join(f.Do, "\n"), want) {
		t.Errorf("to type: %v, want %s", f.Do, want)
	}
	amended := first.Body.(event.Placement)
	amended.Along = []event.Zone{"A3", "A1"}
	d.By("n1", 330, event.Amended{Target: first.Hash(), Body: amended, Why: "it ran along A1"})
	if left := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 340), fold.UnsaidEdge); len(left) != 0 {
		t.Errorf("once it is said: %+v", left)
	}
}

func TestAConflictShowsBothVersionsByWhomAndWhatSettlesIt(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 0, foldtest.Mixed(1, 0))
	p := d.By("n1", 10, foldtest.Put(1, "A1", 5, 10))
	half, more := foldtest.Share(foldtest.Put(1, "A1", 5, 10), 0.5), foldtest.Share(foldtest.Put(1, "A1", 5, 10), 0.6)
	x := d.By("n2", 20, event.Amended{Target: p.Hash(), Body: half, Why: "half went to waste"})
	y := d.By("f1", 30, event.Amended{Target: p.Hash(), Body: more, Why: "weighed what was left"})
	all := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 40), fold.Dispute)
	if len(all) != 1 {
		t.Fatalf("conflicts: %+v", all)
	}
	text := fmt.Sprint(all[0].Evidence)
	for _, want := range []string{
		x.Name.String(), y.Name.String(), "by crew north", "by crew office", "50%", "60%",
		"half went to waste",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the flag does not show %q: %s", want, text)
		}
	}
	if want := []string{"hod settle f1/" + fmt.Sprint(y.Name.Seq), "hod settle " + x.Name.String()}; fmt.Sprint(
		all[0].Do) != fmt.Sprint(want) {
		t.Errorf("to type: %v, want %v", all[0].Do, want)
	}
}

func TestPlansInConflictShowInWhatTheyDiffer(t *testing.T) {
	d := foldtest.NewDesk(t)
	first := d.By("f1", 0, event.ZonePlanned{Zone: "B1", Area: foldtest.As(unit.Area(10))})
	d.By("f1", 5, event.ZonePlanned{Zone: "B1", Area: foldtest.As(unit.Area(11)), Replaces: []event.Hash{first.Hash()}})
	d.By("f2", 6, event.ZonePlanned{Zone: "B1", Area: foldtest.As(unit.Area(12)), Replaces: []event.Hash{first.Hash()}})
	all := foldtest.OfCode(foldtest.FlagsAt(d.Site(), 10), fold.Dispute)
	if len(all) != 1 || !strings.Contains(fmt.Sprint(all[0].Evidence), "area 12 m²") ||
		!strings.Contains(fmt.Sprint(all[0].Evidence), "was 11 m²") {
		t.Errorf("%+v", all)
	}
	if len(all) == 1 && len(all[0].Do) != 2 {
		t.Errorf("to type: %v, not one line for each", all[0].Do)
	}
}

func TestABatchIsHeldToTheToleranceOfWeighingOfItsDay(t *testing.T) {
	d := foldtest.NewDesk(t)
	off := func(n, minute int) {
		b := foldtest.Mixed(n, minute)
		b.Charges[1].Amount.Mass = 88.4 // 4 % over
		d.By("n1", minute, b)
	}
	off(1, 5)
	for _, e := range d.Events {
		if b, ok := e.Body.(event.SitePlanned); ok {
			b.Weighing, b.Replaces = foldtest.Ref(unit.Share(0.03)), []event.Hash{e.Hash()}
			d.By("f1", 60, b)
			break
		}
	}
	off(2, 90)
	var off3 []string
	for _, f := range d.Site().Findings() {
		if f.Code == fold.Weighing {
			off3 = append(off3, f.Subject)
		}
	}
	if fmt.Sprint(off3) != "[batch north/2031-05-12/2]" {
		t.Errorf("out of tolerance: %v; a stricter tolerance holds from when it was planned", off3)
	}
}

func TestAJointKeepsItsIDWhenAnotherOfTheSamePlacementArrives(t *testing.T) {
	ids := func(zones ...event.Zone) map[string]string {
		d := foldtest.NewDesk(t)
		for i, z := range []event.Zone{"A1", "A3"} {
			d.By("n1", 20*i, foldtest.Mixed(i+1, 20*i))
			if len(zones) == 2 || z == zones[0] {
				d.By("n1", 20*i+10, foldtest.Along(foldtest.Put(i+1, z, 20*i+5, 20*i+10), "A2"))
			} else {
				d.By("n1", 20*i+10, event.Noted{Text: "not placed"}) // so that all other events keep their names
			}
		}
		d.By("n1", 400, foldtest.Mixed(3, 400))
		d.By("n1", 410, foldtest.Along(foldtest.Put(3, "A2", 405, 410), "A1", "A3"))
		all := map[string]string{}
		for _, f := range foldtest.OfCode(foldtest.FlagsAt(d.Site(), 420), fold.ColdJoint) {
			all[f.Subject] = f.FullID
		}
		return all
	}
	both := ids("A1", "A3")
	for _, z := range []event.Zone{"A1", "A3"} {
		for subject, id := range ids(z) {
			if both[subject] != id {
				t.Errorf("%s is %s alone and %s beside another", subject, id, both[subject])
			}
		}
	}
	if len(both) != 2 {
		t.Errorf("cold joints: %v", both)
	}
}
