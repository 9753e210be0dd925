package crew

import (
	"math"
	"strings"
	"testing"
	"time"

	"hod/client/session/sessiontest"
	"hod/internal/event"
	"hod/internal/unit"
)

// placed is crew north's device after batch 1 went into A1 at 12:50.
func placed(t *testing.T) *sessiontest.Device {
	t.Helper()
	d := sessiontest.NewDevice(t, "n2")
	d.Must(NewBatch, "batch body --moisture 1.2% --to 12:40")
	d.Must(NewPlace, "place 1 A1 --face outer --at 12:50")
	return d
}

func TestSurfacesAreTendedZoneByZone(t *testing.T) {
	d := placed(t)
	d.Must(NewBatch, "batch body --moisture 1.2% --to 12:55")
	d.Must(NewPlace, "place 2 B1 --face outer")
	d.Check(t, NewCover,
		sessiontest.Line{
			Line: "cover a1 wet burlap",
			Want: []event.Body{event.SurfaceTended{Zone: "A1", Tending: event.Covered, With: "wet burlap"}},
			Says: "A1 covered with wet burlap; kept here, not sent yet. Not covered in the record: B1",
		},
		sessiontest.Line{
			Line: "cover A1 B1 plastic --face outer --at 12:55",
			Want: []event.Body{
				event.SurfaceTended{Zone: "A1", Tending: event.Covered, With: "plastic", Face: event.Outer},
				event.SurfaceTended{Zone: "B1", Tending: event.Covered, With: "plastic", Face: event.Outer},
			},
			Says: "B1 outer covered with plastic, at 12:55",
		},
		sessiontest.Line{Line: "cover burlap", Err: `no zone "burlap" is planned`},
		sessiontest.Line{Line: "cover A1 burlap B1", Err: "zones come first"},
		sessiontest.Line{Line: "cover A1 --face under", Err: "--face: "},
		sessiontest.Line{Line: "cover A1 --at 23:00", Err: "--at: 2026-07-18 23:00 is still to come"},
		sessiontest.Line{Line: "cover", Err: "hod cover needs a zone"},
	)
	d.Check(t, NewUncover, sessiontest.Line{
		Line: "uncover A1,B1",
		Want: []event.Body{
			event.SurfaceTended{Zone: "A1", Tending: event.Uncovered},
			event.SurfaceTended{Zone: "B1", Tending: event.Uncovered},
		},
	})
	d.Check(t, NewWet, sessiontest.Line{
		Line: "wet A1 fog nozzle --at -20m",
		Want: []event.Body{event.SurfaceTended{Zone: "A1", Tending: event.Wetted, With: "fog nozzle"}},
		Says: "A1 wetted with fog nozzle, at 12:40",
	})
}

func TestAJointIsTreatedInItsCoatOrAlongAnEdge(t *testing.T) {
	placed(t).Check(t, NewTreat,
		sessiontest.Line{
			Line: "treat A1 chipped, wetted",
			Want: []event.Body{event.JointTreated{Coat: sessiontest.Outer("A1", 1), Method: "chipped, wetted"}},
			Says: "joint in A1 outer 1 treated: chipped, wetted",
		},
		sessiontest.Line{
			Line: "treat A1 slurried --along B1,A2 --at 12:58",
			Want: []event.Body{
				event.JointTreated{Coat: sessiontest.Outer("A1", 1), OtherZone: "B1", Method: "slurried"},
				event.JointTreated{Coat: sessiontest.Outer("A1", 1), OtherZone: "A2", Method: "slurried"},
			},
			Says: "joint of A1 outer 1 along A2 treated: slurried, at 12:58",
		},
		sessiontest.Line{
			Name: "the edge between neighbours is another joint than the one in each", Line: "treat A1 B1 chipped",
			Note: "the edge between A1 and B1 is another: `hod treat A1 METHOD --along B1`",
		},
		sessiontest.Line{
			Line: "treat A1 chipped --along C1",
			Err:  "zones A1 and C1 share no edge in the plan; A1 shares one with A2, B1",
		},
		sessiontest.Line{Line: "treat A1 B1", Err: "say how the joint of A1, B1 was treated"},
		sessiontest.Line{Line: "treat A1", Err: "hod treat needs a zone and what was done"},
	)
}

func TestAFrontIsEndedWhereSomethingLies(t *testing.T) {
	d := placed(t)
	d.Check(t, NewEnd,
		sessiontest.Line{
			Line: "end A1 cut square --along B1",
			Want: []event.Body{event.FrontEnded{
				Coat: sessiontest.Outer("A1", 1), OtherZone: "B1",
				Treatment: "cut square",
			}},
			Says: "front of A1 outer 1 along B1 ended on purpose: cut square",
			Note: "the plan permits no joint of itself between A1 and B1; ask the engineer",
		},
		sessiontest.Line{
			Line: "end A1 cut square --at 12:55",
			Want: []event.Body{event.FrontEnded{Coat: sessiontest.Outer("A1", 1), Treatment: "cut square"}},
		},
		sessiontest.Line{Line: "end A4 cut", Err: "nothing lies in A4 outer 1 at 13:00: this ends no front"},
		sessiontest.Line{Line: "end A1 cut --at 12:00", Err: "nothing lies in A1 outer 1 at 12:00"},
		sessiontest.Line{Line: "end A1 B1", Err: "say how the front of A1, B1 was left"},
	)
	// Between A2 and A3 the plan permits a joint.
	d.Must(NewBatch, "batch body --moisture 1.2% --to 12:55")
	d.Must(NewPlace, "place 2 A2 --face outer")
	if ran := d.Must(NewEnd, "end A2 cut --along A3"); strings.Contains(ran.Side, "permits no joint") {
		t.Errorf("where the plan permits a joint it hints\n%s", ran.Side)
	}
}

// A1 has 44.83 m², 12 mm and 8 % loss: 44.83 · 0.012 · 1.08 = 581 L, of which a batch of 69.8 L is 12 %.
func TestHowFarACoatIs(t *testing.T) {
	d := placed(t)
	d.Check(t, NewProgress,
		sessiontest.Line{
			Line: "progress A1 60%",
			Want: []event.Body{event.ProgressStated{
				Coat:     sessiontest.Outer("A1", 1),
				Complete: unit.As[unit.Share]{SI: 0.6, Entered: "60%"},
			}},
			Says: "A1 outer 1 is 60% complete; kept here, not sent yet. It holds 69.8 L, 12 % of what the plan says that it needs",
		},
		sessiontest.Line{
			Line: "progress A1 0 --face outer --coat 1 --at 12:52", Says: "A1 outer 1 is 0% complete, at 12:52",
			Want: []event.Body{event.ProgressStated{
				Coat:     sessiontest.Outer("A1", 1),
				Complete: unit.As[unit.Share]{Entered: "0"},
			}},
		},
		sessiontest.Line{Line: "progress A1 200%", Err: "it is more than the whole, which is 100%"},
		sessiontest.Line{Line: "progress A1 half way", Err: `"way" is too much`},
		sessiontest.Line{Line: "progress Z9 60%", Err: `no zone "Z9" is planned`},
	)
	d.Check(t, NewFinish, sessiontest.Line{Line: "finish A1", Err: "a foreman closes a coat"})
	d.Check(t, NewMethod,
		sessiontest.Line{
			Line: "method one pass less", Want: []event.Body{event.MethodChanged{What: "one pass less"}},
			Says: "placed differently from now on: one pass less",
		},
		sessiontest.Line{Line: "method", Err: "hod method needs what is done differently"},
	)
	f := sessiontest.NewDevice(t, "n1")
	f.Check(t, NewFinish,
		sessiontest.Line{
			Line: "finish A1 --face outer --coat 1 --why gauged",
			Says: "A1 outer 1 is finished; kept here, not sent yet. It holds 0 L, 0 %",
			Want: []event.Body{event.CoatFinished{Coat: sessiontest.Outer("A1", 1), Why: "gauged"}},
		},
		sessiontest.Line{Line: "finish Z9", Err: `no zone "Z9" is planned`},
	)
}

func TestAShiftBeginsAndEnds(t *testing.T) {
	d := placed(t)
	d.Check(t, NewShift,
		sessiontest.Line{
			Line: "shift start --people 4 --at 7:00", Want: []event.Body{event.ShiftStarted{People: 4}},
			Says: "shift of crew north begun by 4 people, at 07:00",
		},
		sessiontest.Line{
			Line: "shift start --people 61", Want: []event.Body{event.ShiftStarted{People: 61}},
			Note: "note: 61 people are many for one crew; if that was a slip, `hod undo` and write it again\nnote: crew north's shift was begun already, 07:00 (n2/3), and not ended since",
		},
		sessiontest.Line{Line: "shift start --people some", Err: "--people"},
		sessiontest.Line{Line: "shift stop", Err: `hod shift has no command "stop"; it has end, start`},
	)
	d.Must(NewBatch, "batch body --moisture 1.2% --to 12:55")
	d.Must(NewDiscard, "discard 2 1/4")
	d.Check(t, NewShift, sessiontest.Line{
		Line: "shift end B1 still to cover", Want: []event.Body{event.ShiftEnded{Left: "B1 still to cover"}},
		Says: "shift of crew north ended; for tomorrow: B1 still to cover; kept here, not sent yet. Not placed in the record: batch 2 (75%)",
	})
	d.Env.Now = func() time.Time { return sessiontest.Noon.AddDate(0, 0, 1) }
	d.Must(NewShift, "shift start --at 7:00")
	d.Env.Now = func() time.Time { return sessiontest.Noon.AddDate(0, 0, 3) }
	d.Check(t, NewShift, sessiontest.Line{
		Name: "an end that was never written", Line: "shift start",
		Note: "the end of crew north's shift of 2026-07-19 07:00 (n2/8) was never written",
	})
}

func TestStockIsCountedInWhatPeopleSay(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Check(t, NewStock,
		sessiontest.Line{
			Line: "stock receive cement 40x40kg --lot 22",
			Want: []event.Body{event.StockReceived{
				Material: "cement", Lot: "22",
				Amount: event.Amount{Mass: 1600, Entered: "40x40kg"},
			}},
			Says: "cement received: 40x40kg (1600 kg); kept here, not sent yet. 1600 kg (3527 lb), 40 bags of 40 kg, on hand by the record",
		},
		sessiontest.Line{
			Name: "a bag is what the mix says", Line: "stock receive Cement 10bags",
			Want: []event.Body{event.StockReceived{
				Material: "cement",
				Amount:   event.Amount{Mass: 400, Entered: "10bags"},
			}},
			Says: "2000 kg (4409 lb), 50 bags of 40 kg", Note: "a bag of cement is 40 kg (88.2 lb), as mix body has it",
		},
		sessiontest.Line{
			Line: "stock spoil cement 1.5bags --why wet --at 12:30", Says: "1940 kg",
			Want: []event.Body{event.StockSpoiled{
				Material: "cement", Why: "wet",
				Amount: event.Amount{Mass: 60, Entered: "1.5bags"},
			}},
		},
		sessiontest.Line{
			Line: "stock count sand 2m3",
			Err:  "what a volume of sand weighs is not known; say it once with --bulk 95lb/ft3",
		},
		sessiontest.Line{
			Name: "what had to be known is kept with it", Line: "stock count sand 2m3 --bulk 1550kg/m3",
			Want: []event.Body{
				event.MaterialPlanned{Material: "sand", Bulk: sessiontest.Typed[unit.Density](1550, "1550kg/m3")},
				event.StockCounted{Material: "sand", Amount: event.Amount{Volume: 2, ByVolume: true, Entered: "2m3"}},
			},
			Says: "3100 kg", Note: "what sand weighs is kept too (n2/4); it is not asked again",
		},
		sessiontest.Line{
			Line: "stock material sand --bulk 1550kg/m3",
			Err:  "that is known already; nothing was written",
		},
		sessiontest.Line{Line: "stock material sand", Err: "say what sand weighs: --bulk 95lb/ft3, --bag 94lb"},
		sessiontest.Line{Line: "stock material sand --bag heavy", Err: "--bag: "},
		sessiontest.Line{Line: "stock material sand --bulk heavy", Err: "--bulk: "},
		sessiontest.Line{
			Line: "stock material sand --bag 25kg",
			Says: "sand, loose 1550 kg/m3 (96.8 lb/ft³), a bag of 25 kg (55.1 lb)",
		},
		sessiontest.Line{Line: "stock count sand 20bags", Says: "500 kg"},
		sessiontest.Line{Line: "stock receive cement some", Err: "some"},
		sessiontest.Line{
			Line: "stock receive gold 3kg",
			Note: "gold is a new material here: no mix and no delivery named it before",
		},
		sessiontest.Line{
			Line: "stock receive gold 2bags",
			Err:  "what a bag of gold weighs is not known; say it once with --bag 25kg",
		},
		sessiontest.Line{Line: "stock show silver", Err: `no material "silver" is in the record`},
		sessiontest.Line{Line: "stock show cement", Says: "18 Jul 12:30  spoiled"},
		sessiontest.Line{Line: "stock list", Says: "cement         1940 kg   2000 kg"},
	)
}

func TestWhatABagWeighsIsAskedForOnce(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.StdinTerminal, d.Env.Stdin = true, strings.NewReader("25kg\n")
	ran := d.Run(NewStock, "stock receive lime 4bags")
	if ran.Err != nil || len(ran.Wrote) != 2 ||
		!strings.Contains(ran.Side, "What does a bag of lime weigh? (94lb, 25kg)") {
		t.Fatalf("%v, %d events:\n%s", ran.Err, len(ran.Wrote), ran.Side)
	}
	if got := ran.Wrote[1].Body.(event.StockReceived).Amount.Mass; got != 100 {
		t.Errorf("four bags of 25 kg are %g kg", got)
	}
	d.Env.Stdin = strings.NewReader("heavy\n")
	if ran := d.Run(NewStock, "stock receive chalk 4bags"); ran.Err == nil ||
		!strings.Contains(ran.Err.Error(), "say it once with --bag 25kg") {
		t.Errorf("an answer that is no mass: %v", ran.Err)
	}
	d.Env.Stdin = strings.NewReader("")
	if ran := d.Must(NewStock, "stock receive lime 2bags"); len(ran.Wrote) != 1 || strings.Contains(ran.Side, "?") {
		t.Errorf("it is asked again:\n%s", ran.Side)
	}
}

func TestANoteIsOfTheSiteOrAZone(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Check(t, NewNote,
		sessiontest.Line{
			Line: "note mesh lifted --zone a1",
			Want: []event.Body{event.Noted{Text: "mesh lifted", Zone: "A1"}}, Says: "note on A1: mesh lifted",
		},
		sessiontest.Line{
			Line: "note gate open --at 11:00", Want: []event.Body{event.Noted{Text: "gate open"}},
			Says: "note: gate open, at 11:00",
		},
		sessiontest.Line{Line: "note x --zone Q1", Err: "did you mean A1?"},
		sessiontest.Line{Line: "note x --at never", Err: "--at: "},
		sessiontest.Line{Line: "note", Err: "hod note needs the words to write down"},
	)
}

// clock is a device's clock that goes on by so much each time it is read.
func clock(from time.Time, by time.Duration) func() time.Time {
	return func() time.Time {
		from = from.Add(by)
		return from
	}
}

func TestLedThroughABatchKeepsTheTimeOfEachStep(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.StdinTerminal, d.Env.Stdin = true, strings.NewReader(strings.Repeat("\n", 10))
	d.Env.Now = clock(sessiontest.At("12:00"), 5*time.Minute)
	ran := d.Run(NewBatch, "batch body --moisture 1.2% --lead")
	if ran.Err != nil || len(ran.Wrote) != 1 {
		t.Fatalf("%v:\n%s", ran.Err, ran.Side)
	}
	b := ran.Wrote[0].Body.(event.BatchMixed)
	if len(b.Charges) != 9 || len(b.CutShort) != 0 {
		t.Errorf("%d charges, cut short: %v; want one a step of the mix, none cut short", len(b.Charges), b.CutShort)
	}
	begun := b.Charges[0]
	if begun.Constituent != "water" || math.Abs(float64(begun.Amount.Mass)-water*2/3) > 1e-4 {
		t.Errorf("the first step is %+v; want two thirds of the water", begun)
	}
	if !b.MixedFrom.Equal(begun.At) || !b.WaterAt.Equal(b.Charges[2].At) || b.Charges[2].Constituent != "cement" ||
		!b.MixedTo.After(b.Charges[8].At) {
		t.Errorf("mixed from %v, water met %s at %v, ready %v", b.MixedFrom, b.Charges[2].Constituent, b.WaterAt,
			b.MixedTo)
	}
	if !strings.Contains(ran.Side, "1/9  water: 12 kg (26.4 lb), 66.7% of it") {
		t.Errorf("it leads by\n%s", ran.Side)
	}
}

func TestWaterBeforeItsTimeNeedsASecondWordAndIsKept(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	// Steps 1 to 7, then water while the wait of 3 min after the plasticizer lasts: y. Then the fibre, and ready.
	d.Env.StdinTerminal, d.Env.Stdin = true, strings.NewReader("\n\n\n\n\n\n\n"+"\ny"+"\n\n")
	d.Env.Now = clock(sessiontest.At("12:00"), 10*time.Second)
	ran := d.Run(NewBatch, "batch body --moisture 1.2% --lead")
	if ran.Err != nil || len(ran.Wrote) != 1 {
		t.Fatalf("%v:\n%s", ran.Err, ran.Side)
	}
	cut := strings.Join(ran.Wrote[0].Body.(event.BatchMixed).CutShort, "; ")
	if !strings.Contains(cut, "of 3 min after plasticizer, then water went in") ||
		!strings.Contains(cut, "of 1 min after metakaolin") {
		t.Errorf("cut short: %s", cut)
	}
	if !strings.Contains(ran.Side, "are left before water goes in. y puts it in all the same") {
		t.Errorf("it says\n%s", ran.Side)
	}
}

func TestABatchThatIsBrokenOffIsGivenBackInOneLineAndGoneOnWith(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Env.StdinTerminal, d.Env.Stdin = true, strings.NewReader("\n\n") // then the terminal is gone
	d.Env.Now = clock(sessiontest.At("12:00"), 5*time.Minute)
	line := "batch body --moisture 1.2% --lead"
	ran := d.Run(NewBatch, line)
	if ran.Err == nil || len(ran.Wrote) != 0 ||
		!strings.Contains(ran.Err.Error(),
			"stopped, nothing was recorded; in one line it is `hod batch body --moisture 1.2% --from 12:") {
		t.Fatalf("%v", ran.Err)
	}
	// Enter goes on with it: seven steps are left, and the last key says that it is ready.
	d.Env.Stdin = strings.NewReader("\n" + strings.Repeat("\n", 8))
	ran = d.Run(NewBatch, line)
	if ran.Err != nil || len(ran.Wrote) != 1 ||
		!strings.Contains(ran.Side, "This batch was broken off after its step 2") {
		t.Fatalf("%v:\n%s", ran.Err, ran.Side)
	}
	// b takes a step back, ? helps, q stops and forgets the steps.
	d.Env.Stdin = strings.NewReader("b\n\nb?q")
	ran = d.Run(NewBatch, line)
	for _, want := range []string{
		"nothing is done yet", "one step back: its time is forgotten", "b takes the last step back",
	} {
		if !strings.Contains(ran.Side, want) {
			t.Errorf("it does not say %q:\n%s", want, ran.Side)
		}
	}
	d.Env.Stdin = strings.NewReader("q")
	if ran = d.Run(NewBatch, line); strings.Contains(ran.Side, "broken off") {
		t.Errorf("after q the steps were kept:\n%s", ran.Side)
	}
}
