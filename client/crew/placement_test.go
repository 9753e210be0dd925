package crew

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"hod/client/session/sessiontest"
	"hod/internal/event"
	"hod/internal/unit"
)

// mixed is crew north's device after two batches: 1 ready at 12:40, 2 at 12:20.
func mixed(t *testing.T) *sessiontest.Device {
	t.Helper()
	d := sessiontest.NewDevice(t, "n2")
	d.Must(NewBatch, "batch body --moisture 1.2% --to 12:40")
	d.Must(NewBatch, "batch body --moisture 1.2% --to 12:20")
	return d
}

// share is part of a batch as it was typed.
func share(of unit.Share, word string) event.Part {
	return event.Part{Share: sessiontest.Typed(of, word)}
}

// By the example's plan a batch of body is 69.84 L: 66.35 L of solids and water at 5 % air. It sets in 4.5 h at 23 °C,
// so in 5 h 19 min at the 20 °C that are taken where nobody measured: exp(40000/8.314 · (1/293.15 − 1/296.15)) times as
// long.
func TestAPlacementIsWhatItsWordsSay(t *testing.T) {
	mixed(t).Check(t, NewPlace,
		sessiontest.Line{
			Line: "place 1 a1 1/2 --face outer --from 12:42 --to 12:50",
			Want: []event.Body{event.Placement{
				Batch: sessiontest.North(1), Coat: sessiontest.Outer("A1", 1), Part: share(0.5, "1/2"),
				From: sessiontest.At("12:42"), To: sessiontest.At("12:50"),
			}},
			Says: "1/2 of batch 1, 34.9 L (1.23 ft³), in A1 outer 1, 12:42 to 12:50; kept here, not sent yet. Joint good until 17:58; 50% of batch 1 left",
		},
		sessiontest.Line{
			Name: "the part may stand before the zone, and the zone before the batch",
			Line: "place b1 40% 1 --face outer --at 12:55",
			Want: []event.Body{event.Placement{
				Batch: sessiontest.North(1), Coat: sessiontest.Outer("B1", 1), Part: share(0.4, "40%"),
				To: sessiontest.At("12:55"),
			}},
			Says: "10% of batch 1 left, 6.98 L",
		},
		sessiontest.Line{
			Name: "without a batch it is the one that was ready last, of which all that is left goes in",
			Line: "place B1 --face outer --along A1 --along C1 --thickness 12mm,14mm --complete 30% --start north",
			Want: []event.Body{event.Placement{
				Batch: sessiontest.North(1), Coat: sessiontest.Outer("B1", 1), Along: []event.Zone{"A1", "C1"},
				Gauges: []unit.As[unit.Length]{
					{SI: 0.012, Entered: "12mm"}, {SI: 0.014, Entered: "14mm"},
				},
				Complete: sessiontest.Typed[unit.Share](0.3, "30%"), Start: "north",
			}},
			Says: "the last 10% of batch 1, 6.98 L (0.247 ft³), in B1 outer 1 along A1, C1",
		},
	)
}

func TestAPlacementThatCannotBeIsRefusedWithWhatWouldBeRight(t *testing.T) {
	d := mixed(t)
	d.Must(NewPlace, "place 2 A3 --face outer --at 12:30")
	d.Check(t, NewPlace,
		sessiontest.Line{Line: "place 1 Q1", Err: `no zone "Q1" is planned; did you mean A1?`},
		sessiontest.Line{Line: "place 9 A1", Err: "crew north has 1, 2 that day"},
		sessiontest.Line{Line: "place south/1 A1", Err: "no batch south/2026-07-18/1 is in the record"},
		sessiontest.Line{Line: "place 1 A1 3/2", Err: `"3/2": it is more than the whole`},
		sessiontest.Line{Line: "place 1 A1 40 quarks", Err: `"quarks" is too much`},
		sessiontest.Line{Line: "place 1 A1 --at 12:00 --to 12:01", Err: "--at and --to both say when it was done"},
		sessiontest.Line{Line: "place 1 A1 --to 13:30", Err: "--to: 2026-07-18 13:30 is still to come"},
		sessiontest.Line{Line: "place 1 A1 --coat 7", Err: "it has A1 outer 1, A1 outer 2, A1 inner 1"},
		sessiontest.Line{Line: "place 1 A1 --face top", Err: "--face"},
		sessiontest.Line{Line: "place 1 A1 --thickness thick", Err: "--thickness: "},
		sessiontest.Line{Line: "place 1 A1 --complete 130%", Err: "--complete: "},
		sessiontest.Line{Line: "place 1 A1 --along B9", Err: `no zone "B9" is planned`},
		sessiontest.Line{Line: "place 1 A1 --start moonside", Err: "moonside"},
		sessiontest.Line{Line: "place 2 A1", Err: "nothing is left of batch 2: it went to A3 outer 1 (n2/3)"},
		sessiontest.Line{Line: "place 1 A1 200l --face outer", Err: "has 69.8 L left, not 200 L; say less"},
		sessiontest.Line{
			Name: "it was placed before it was mixed", Line: "place 1 A1 --face outer --from 12:00 --to 12:10",
			Err: "Say --from and --to as they were",
		},
	)
}

// The working time of body is 75 min; a reason lets what was done be recorded.
func TestOldMortarNeedsAReason(t *testing.T) {
	d := sessiontest.NewDevice(t, "n2")
	d.Must(NewBatch, "batch body --moisture 1.2% --to 10:40")
	d.Check(t, NewPlace,
		sessiontest.Line{Line: "place A1 --face outer", Err: "was 2 h 20 min old when it was placed in A1 outer 1"},
		sessiontest.Line{
			Line: "place A1 --face outer --because 'retempered by the engineer'",
			Want: []event.Body{event.Placement{
				Batch: sessiontest.North(1), Coat: sessiontest.Outer("A1", 1), Because: "retempered by the engineer",
			}},
		},
	)
}

func TestWhereAPersonCanBeAskedTheReasonIsAskedFor(t *testing.T) {
	for answer, want := range map[string]string{"the mixer stood\n": "the mixer stood", "\n": ""} {
		d := sessiontest.NewDevice(t, "n2")
		d.Must(NewBatch, "batch body --moisture 1.2% --to 10:40")
		d.Env.StdinTerminal, d.Env.Stdin = true, strings.NewReader(answer)
		ran := d.Run(NewPlace, "place A1 --face outer")
		if !strings.Contains(ran.Side, "If it is so all the same, why?") {
			t.Errorf("answering %q: it asks\n%s", answer, ran.Side)
		}
		switch {
		case want == "":
			if ran.Err == nil || len(ran.Wrote) > 0 {
				t.Errorf("without an answer it is %v and wrote %v", ran.Err, ran.Wrote)
			}
		case ran.Err != nil || len(ran.Wrote) != 1 || ran.Wrote[0].Body.(event.Placement).Because != want:
			t.Errorf("answering %q: %v, %+v", answer, ran.Err, ran.Wrote)
		}
	}
}

// Once the outer face is done, what is left of the plan lies on the other side of the shell.
func TestTheOtherFaceIsAskedAfter(t *testing.T) {
	d := mixed(t)
	d.Must(NewPlace, "place 1 A1 --face outer")
	d.Must(NewProgress, "progress A1 100% --face outer --coat 1")
	d.Must(NewPlace, "place 2 A1 1/2 --face outer --coat 2 --because 'the finish ran out'")
	d.Must(NewProgress, "progress A1 100% --face outer --coat 2")
	d.Check(t, NewPlace, sessiontest.Line{
		Line: "place 2 A1",
		Err:  "2 coats of the outer face of A1 are done; what is left is on the other face, A1 inner 1: say --face inner if it went there",
	})
	for wrote, answer := range []string{"n\n", "yes\n"} {
		d.Env.StdinTerminal, d.Env.Stdin = true, strings.NewReader(answer)
		if ran := d.Run(NewPlace, "place 2 A1"); len(ran.Wrote) != wrote || (ran.Err == nil) != (wrote == 1) ||
			!strings.Contains(ran.Side, "Did it go there? [y/N]") {
			t.Errorf("answering %q it wrote %d, %v:\n%s", answer, len(ran.Wrote), ran.Err, ran.Side)
		}
	}
}

func TestThePlacementsDocumentHasTypedFigures(t *testing.T) {
	d := mixed(t)
	d.Env.JSON = true
	ran := d.Must(NewPlace, "place 1 A1 1/2 --face outer --thickness 12mm --along B1 --to 12:50")
	type quantity struct {
		SI   float64 `json:"si"`
		Unit string  `json:"unit"`
	}
	var doc struct {
		Event, Batch, Zone, Face, Basis, State string
		Coat                                   int
		Share, Volume                          quantity
		BatchLeft                              quantity `json:"batch_left"`
		Gauges                                 []quantity
		Along                                  []string
		JointGood                              string `json:"joint_good_until"`
	}
	if err := json.Unmarshal([]byte(ran.Out), &doc); err != nil {
		t.Fatalf("%v:\n%s", err, ran.Out)
	}
	if doc.Event != "n2/3" || doc.Batch != "north/2026-07-18/1" || doc.Zone != "A1" || doc.Face != "outer" ||
		doc.Coat != 1 ||
		doc.Share != (quantity{0.5, "1"}) || doc.BatchLeft != (quantity{0.5, "1"}) || doc.Volume.Unit != "m3" ||
		math.Abs(doc.Volume.SI-0.0698375/2) > 1e-7 ||
		len(doc.Gauges) != 1 || doc.Gauges[0] != (quantity{0.012, "m"}) || len(doc.Along) != 1 || doc.JointGood == "" {
		t.Errorf("%+v\n%s", doc, ran.Out)
	}
}

func TestAThrownAwayBatchIsSaidToBe(t *testing.T) {
	d := mixed(t)
	d.Must(NewPlace, "place 2 A3 --face outer --at 12:30")
	d.Check(t, NewDiscard,
		sessiontest.Line{
			Line: "discard 1 1/4 --why 'too old' --where skip --at 12:50",
			Want: []event.Body{event.BatchDiscarded{
				Batch: sessiontest.North(1), Part: share(0.25, "1/4"),
				Why: "too old", Where: "skip",
			}},
			Says: "1/4 of batch 1 thrown away, at 12:50: too old; kept here, not sent yet. 75% of batch 1 left",
		},
		sessiontest.Line{
			Line: "discard 1",
			Want: []event.Body{event.BatchDiscarded{Batch: sessiontest.North(1)}},
			Says: "the last 75% of batch 1 thrown away; kept here, not sent yet. Nothing left of batch 1",
		},
		sessiontest.Line{Line: "discard 2", Err: "nothing is left of batch 2: it went to A3 outer 1 (n2/3)"},
		sessiontest.Line{Line: "discard 1", Err: "nothing is left of batch 1: it went to waste"},
		sessiontest.Line{Line: "discard 7", Err: "crew north has 1, 2 that day"},
		sessiontest.Line{Line: "discard 1 some", Err: "how much of the batch"},
	)
}
