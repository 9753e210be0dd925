package mixed_test

import (
	"slices"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/fold/foldtest"
	"hod/internal/unit"
)

func doubtsOf(s *fold.Site) []fold.Finding {
	var all []fold.Finding
	for _, f := range s.Findings() {
		if f.Code == fold.DoubtfulValue {
			all = append(all, f)
		}
	}
	return all
}

// tested is a unit weight of batch 1.
func tested(d unit.Density, entered string) event.BatchTested {
	return event.BatchTested{Batch: foldtest.North(1), UnitWeight: &unit.As[unit.Density]{SI: d, Entered: entered}}
}

func TestAVolumeNeverRestsOnAYieldBeyondWhatTheMixCanDo(t *testing.T) {
	d := foldtest.NewDesk(t)
	d.By("n1", 60, foldtest.Mixed(1, 60))
	d.By("n1", 70, event.Placement{Batch: foldtest.North(1), Coat: event.Coat{
		Zone: "A1", Face: event.Outer,
		Number: 1,
	}})
	before, _ := d.Site().Batch(foldtest.North(1))
	for name, weight := range map[string]unit.Density{"far too light": 134, "far too heavy": 3400} {
		with := *d
		e := with.By("n1", 75, tested(weight, "134kg/m3"))
		s := with.Site()
		b, _ := s.Batch(foldtest.North(1))
		if b.Yield != 0 || b.Volume(1, 1) != before.Volume(1, 1) {
			t.Errorf("%s: the batch is taken to hold %g m³, measured %g; want the %g of its mix", name, b.Volume(1, 1),
				b.Yield, before.Volume(1, 1))
		}
		if y := s.YieldFor(s.Plan().Mixes["face"]); y.Weighed != 0 {
			t.Errorf("%s: the yield of the mix is learned from it", name)
		}
		z, _ := s.Zone("A1")
		if p := z.Coats[0].Placed[0]; p.Basis != "estimated" {
			t.Errorf("%s: what was placed is said to be %s", name, p.Basis)
		}
		found := doubtsOf(s)
		if len(found) != 1 || found[0].Settled != "" ||
			!strings.Contains(found[0].Text, "rests on what its mix is known to yield") {
			t.Fatalf("%s: the findings are %+v", name, found)
		}
		if !strings.Contains(found[0].Key, e.Name.String()) {
			t.Errorf("%s: the finding's key %q does not name the test", name, found[0].Key)
		}
	}
	// One who is sure has no open flag, and yet no volume rests on it.
	with := *d
	with.By("n1", 75, tested(134, "134kg/m3"))
	with.Events[len(with.Events)-1] = sure(t, with.Events[len(with.Events)-1])
	s := with.Site()
	if b, _ := s.Batch(foldtest.North(1)); b.Yield != 0 {
		t.Errorf("a volume rests on an absurd yield because somebody was sure: %g m³", b.Yield)
	}
	if found := doubtsOf(s); len(found) != 1 || found[0].Settled == "" {
		t.Errorf("whoever wrote it was sure, and the findings are %+v", found)
	}
}

func sure(t *testing.T, e event.Event) event.Event {
	t.Helper()
	e.Sure = true
	e, err := event.Write(e)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

func TestAnAbsurdValueThatComesFromElsewhereIsKeptAndFlagged(t *testing.T) {
	heavy := foldtest.AsDesigned()
	heavy[1].Amount = event.Amount{Mass: 85 / unit.Pound * 1, Entered: ""}
	for _, k := range []struct {
		name string
		body event.Body
		want string
		do   string
	}{
		{
			"air of 85 °C",
			event.WeatherObserved{
				Station: "site",
				Samples: []event.Weather{{At: foldtest.Clock(60), Air: new(unit.Celsius(85))}},
			},
			"85 °C is hotter than any air",
			"air=85°F",
		},
		{"187 kg of sand where 85 is the design", event.BatchMixed{
			Batch: foldtest.North(2), Mix: "face", MixedTo: foldtest.Clock(80),
			Charges: heavy,
		}, "of the mix; ", "sand=187.393lb"},
		{
			"gauges of 76 mm on a coat of 12",
			event.Placement{
				Batch: foldtest.North(1), Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1},
				Gauges: []unit.As[unit.Length]{{SI: 0.0762, Entered: "3in"}},
			},
			"3 in is no thickness of a coat of", "",
		},
		{"a coat at 88 °C", event.CureReadings{
			Probe: "p1", Coat: event.Coat{Zone: "A1", Face: event.Outer, Number: 1},
			Samples: []event.Reading{{At: foldtest.Clock(90), Temperature: 88}},
		}, "88 °F would fit", "temperature=88°F"},
		{"a cube broken at 50 N", event.SpecimensBroken{
			Mix: "face", Shape: event.Cube, Size: foldtest.Ref(unit.Length(0.05)),
			Age: 1e12, Loads: []unit.Force{50},
		}, "weaker than mortar", ""},
	} {
		t.Run(k.name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 60, foldtest.Mixed(1, 60))
			e := d.By("n1", 95, k.body)
			s := d.Site()
			if r, ok := s.Record(e.Name); !ok || r.State != fold.Holds {
				t.Fatalf("it is not kept: %+v", r)
			}
			found := doubtsOf(s)
			if len(found) != 1 || !strings.Contains(found[0].Text, k.want) || found[0].Source == "" {
				t.Fatalf("the findings are %+v; want one that says %q", found, k.want)
			}
			if k.do != "" && !slices.Equal(found[0].Do, []string{"hod amend " + e.Name.String() + " " + k.do}) {
				t.Errorf("it is corrected by %q; want an amendment with %s", found[0].Do, k.do)
			}
			fixed := s.Reread(k.body, foldtest.Clock(95))
			if k.name != "a cube broken at 50 N" && len(s.Doubts(fixed, foldtest.Clock(95))) != 0 {
				t.Errorf("read in the other unit it is doubtful still: %v", s.Doubts(fixed, foldtest.Clock(95)))
			}
			if again := s.Doubts(k.body, foldtest.Clock(95)); len(again) != 1 {
				t.Errorf("reading it anew changed what was written: %v", again)
			}
		})
	}
}

func TestNothingOfAnOrdinaryJobIsDoubtful(t *testing.T) {
	if found := doubtsOf(foldtest.Folded(foldtest.SmallJob(t)...)); len(found) != 0 {
		t.Errorf("%d findings, the first: %s", len(found), found[0].Text)
	}
}
