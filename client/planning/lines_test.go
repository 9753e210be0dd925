package planning

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/client/crew"
	"hod/client/session/sessiontest"
	"hod/internal/event"
	"hod/internal/unit"
	"hod/testdata/plan"
)

type line = sessiontest.Line

// one is the only plan of a kind among what was written.
func one[B event.Body](t *testing.T, ran sessiontest.Ran) B {
	t.Helper()
	var found []B
	for _, e := range ran.Wrote {
		if b, ok := e.Body.(B); ok {
			found = append(found, b)
		}
	}
	if len(found) != 1 {
		t.Fatalf("%d of them were written, not one: %v", len(found), ran.Err)
	}
	return found[0]
}

func TestAZoneIsPlannedWithItsCoatsAndEdges(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	ran := d.Must(NewZone,
		"zone add D1 --area 72ft2 --at 4,1 --shape 'a lip' --coat 'outer 1 12mm body' --coat 'inner 1 3/8in finish' --edge A1=2.4m")
	z, e := one[event.ZonePlanned](t, ran), one[event.EdgePlanned](t, ran)
	if z.Zone != "D1" || !sessiontest.Near(float64(z.Area.SI), 72*0.09290304) || z.Area.Entered != "72ft2" ||
		z.Shape != "a lip" ||
		z.Order != 13 || z.At == nil || z.At.Row != 4 || z.At.Column != 1 {
		t.Errorf("the zone is %+v; want it after the twelve that are planned", z)
	}
	if e.A != "D1" || e.B != "A1" || e.Length.SI != 2.4 {
		t.Errorf("the edge is %+v", e)
	}
	if len(ran.Wrote) != 4 {
		t.Fatalf("%d events; want the zone, two coats and an edge", len(ran.Wrote))
	}
	inner := ran.Wrote[2].Body.(event.CoatPlanned)
	if inner.Coat != (event.Coat{Zone: "D1", Face: event.Inner, Number: 1}) ||
		!sessiontest.Near(float64(inner.Thickness.SI), 0.009525) || inner.Mix != "finish" {
		t.Errorf("the inner coat is %+v", inner)
	}
}

func TestAPlanThatCannotBeIsRefused(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	d.Check(t, NewZone,
		line{Line: "zone add A1 --area 1m2", Err: "zone A1 is planned already, with 44.8 m²; --replace plans it anew"},
		line{Line: "zone add D1", Err: "--area is missing, as in --area 72ft2"},
		line{Line: "zone add D1 --area big", Err: "--area: "},
		line{Line: "zone add D1 --area 1m2 --at here", Err: "--at: "},
		line{Line: "zone add D1 --area 1m2 --at 1,4", Err: "--at 1,4 of the map is zone A1 already"},
		line{Line: "zone add D1 --area 1m2 --coat 'outer 12mm'", Err: `--coat: "outer 12mm" is no coat`},
		line{Line: "zone add D1 --area 1m2 --coat 'outer one 12mm body'", Err: `"one" is no number of a coat`},
		line{Line: "zone add D1 --area 1m2 --coat 'outer 1 thick body'", Err: "--coat: "},
		line{Line: "zone add D1 --area 1m2 --coat 'outer 1 12mm boddy'", Err: "did you mean body?"},
		line{Line: "zone add D1 --area 1m2 --coat 'top 1 12mm body'", Err: "--coat: "},
		line{
			Line: "zone add D1 --area 1m2 --edge A1",
			Err:  `--edge: "A1" is no edge; write the other zone and the length, B3=2.4m`,
		},
		line{Line: "zone add D1 --area 1m2 --edge Q1=2m", Err: "did you mean A1?"},
		line{Line: "zone add D1 --area 1m2 --edge A1=long", Err: "--edge: "},
		line{Line: "zone add Al --area 1m2", Err: "A1"}, // people would take it for A1
		line{Line: "zone edge A1 A1 3m", Err: "A1"},
		line{Line: "zone coat A9 outer 1 12mm body", Err: `no zone "A9" is planned`},
	)
	sessiontest.NewDevice(t, "n2").Check(t, NewZone, line{Line: "zone add D1 --area 1m2", Err: "foreman"})
}

// What is planned anew names what it replaces; what was not said of it stays.
func TestWhatIsPlannedAnewReplacesWhatWas(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	z := one[event.ZonePlanned](t, d.Must(NewZone, "zone add A1 --area 46m2 --replace"))
	if z.Area.SI != 46 || z.Order != 1 || z.At == nil || z.At.Column != 4 || len(z.Replaces) != 1 {
		t.Errorf("the zone is %+v; want its order and its place on the map as they were", z)
	}
	c := one[event.CoatPlanned](t, d.Must(NewZone, "zone coat A1 outer 1 15mm body"))
	if !sessiontest.Near(float64(c.Thickness.SI), 0.015) || len(c.Replaces) != 1 {
		t.Errorf("the coat is %+v", c)
	}
	e := one[event.EdgePlanned](t, d.Must(NewZone, "zone edge A2 A3 7.5m"))
	if e.Length.SI != 7.5 || e.Joint != event.JointYes || e.PartA == nil || len(e.Replaces) != 1 {
		t.Errorf("the edge is %+v; want that work may stop there, as before", e)
	}
	d.Check(t, NewZone,
		line{Line: "zone list", Says: "46 m²"},
		line{Line: "zone show A1", Says: "A1"},
		line{Line: "zone show Q1", Err: "did you mean A1?"},
	)
}

const shellMix = "cement=94lb,gravity=3.15 ash=26lb,kind=pozzolan,gravity=2.35 sand=188lb,gravity=2.65,absorption=1% water=46.8lb "

// (94/3.15 + 26/2.35 + 188/2.65 + 46.8)/62.4 = 2.5438 ft³, which is 2.6777 ft³, 75.8 L, at 5 % air.
func TestAMixIsPlannedByWhatGoesIntoOneBatch(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	m := one[event.MixPlanned](t, d.Must(NewMix, "mix add shell "+shellMix+
		"--air 5% --limit 0.42 --set 3h@23C --activation 40 --working 75min --datum 0C --unit-weight 134lb/ft3 --tolerance 2% "+
		"--step 'water 3/4' --step cement --step 'wait 2min'"))
	if m.Mix != "shell" || m.Revision != 1 || len(m.Constituents) != 4 || m.WaterLimit != 0.42 ||
		m.InitialSet != 3*time.Hour ||
		m.SetReference.SI != 23 || m.Activation != 40 || m.Working != 75*time.Minute || m.Datum.SI != 0 ||
		m.Air.SI != 0.05 ||
		m.UnitWeightTolerance.SI != 0.02 || len(m.Steps) != 3 || m.Steps[0].Share.SI != 0.75 ||
		m.Steps[2].Wait != 2*time.Minute {
		t.Errorf("%+v", m)
	}
	if sand := m.Constituents[2]; sand.Kind != event.Sand || sand.Absorption.SI != 0.01 ||
		!sessiontest.Near(float64(sand.Amount.Mass), 188*0.45359237) {
		t.Errorf("the sand is %+v", sand)
	}
	d.Check(t, NewMix,
		line{Line: "mix show shell", Says: "w/cm 0.390, 0.420 at most; yield 75.8 L"},
		line{
			Line: "mix add shell " + shellMix,
			Err:  "mix shell is planned already, in revision 1; --replace plans it anew",
		},
		line{
			Line: "mix add shell --replace --corrects 7 " + shellMix,
			Err:  "mix shell has no revision 7 to correct; it has 1",
		},
		line{
			Line: "mix add other " + shellMix + "--set 3h",
			Err:  "--set needs the temperature that it holds at: 3h@23C",
		},
		line{Line: "mix add other " + shellMix + "--set soon@23C", Err: "--set: "},
		line{Line: "mix add other " + shellMix + "--working long", Err: "--working: "},
		line{Line: "mix add other " + shellMix + "--air 104%", Err: "--air: "},
		line{Line: "mix add other " + shellMix + "--step 'cement, sand'", Err: "--step"},
		line{Line: "mix add other cement=94lb,gravity=3.15", Err: "mix other cannot be: "},
		line{Line: "mix show shel", Err: "did you mean shell?"},
	)
	again := one[event.MixPlanned](t, d.Must(NewMix, "mix add shell --replace --corrects 1 "+shellMix))
	if again.Revision != 2 || again.Corrects != 1 || len(again.Replaces) != 1 {
		t.Errorf("the second is revision %d, corrects %d, replaces %d", again.Revision, again.Corrects,
			len(again.Replaces))
	}
	d.Check(t, NewMix, line{Line: "mix list", Says: "shell"})
}

// 2.7 ft³ at 4 % air hold 2.592 ft³; cement and water take 94/(3.15·62.4) and 4.5 gal, the rest is sand.
func TestOneSandTakesWhatTheOthersLeave(t *testing.T) {
	const gallon, ft3 = 3.785411784e-3, 0.028316846592
	const rest = (2.7*0.96 - 94/(3.15*62.4) - 4.5*gallon/ft3) * 2.62 * 62.4
	d := sessiontest.NewDevice(t, "n1")
	m := one[event.MixPlanned](t, d.Must(NewMix,
		"mix add full cement=94lb,gravity=3.15 sand=rest,gravity=2.62,absorption=1% water=4.5gal --yield 2.7ft3 --air 4%"))
	if got := float64(m.Constituents[1].Amount.Mass) / 0.45359237; !sessiontest.Near(got, rest) {
		t.Errorf("the sand is %g lb; want %g", got, rest)
	}
	d.Check(t, NewMix,
		line{
			Line: "mix add more cement=94lb,gravity=3.15 sand=rest,gravity=2.62 water=4.5gal",
			Err:  "say that with --yield",
		},
		line{
			Line: "mix add more cement=94lb,gravity=3.15 sand=rest,gravity=2.62 fine=rest,kind=sand,gravity=2.6 water=4.5gal --yield 2.7ft3",
			Err:  "sand and fine are both to take the rest",
		},
		line{
			Line: "mix add more cement=94lb,gravity=3.15 sand=rest,gravity=2.62 water=4.5gal --yield 0.5ft3",
			Err:  "sand=rest: ",
		},
	)
}

// file is a plan in a file.
func file(t *testing.T, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "vault.yaml")
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

func TestAPlanInAFileWritesWhatDiffersAndNothingElse(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	same := file(t, string(example.Vault))
	d.Check(t, NewPlan, line{
		Name: "what is planned already", Line: "plan " + same,
		Says: "Nothing differs from what is planned",
	})
	thicker := file(t, strings.Replace(string(example.Vault), "{face: outer, number: 1, thickness: 12mm, mix: body}",
		"{face: outer, number: 1, thickness: 13mm, mix: body}", 1))
	d.Check(t, NewPlan,
		line{
			Name: "only looked at", Line: "plan --check " + thicker,
			Says: "0 would be new, 12 changed, 59 stay as they are. Nothing was written.",
		},
	)
	ran := d.Must(NewPlan, "plan "+thicker)
	if len(ran.Wrote) != 12 {
		t.Errorf("%d events; want the coat of each of twelve zones:\n%s", len(ran.Wrote), ran.Out)
	}
	for _, e := range ran.Wrote {
		if c, ok := e.Body.(event.CoatPlanned); !ok || !sessiontest.Near(float64(c.Thickness.SI), 0.013) ||
			len(c.Replaces) != 1 {
			t.Errorf("%+v", e.Body)
		}
	}
}

func TestAPlanInAFileIsTheForemansAndItsMistakesAreToldTogether(t *testing.T) {
	thicker := file(t, strings.Replace(string(example.Vault), "thickness: 8mm", "thickness: 9mm", 1))
	wrong := file(t, strings.Replace(strings.Replace(string(example.Vault), "thickness: 8mm", "thickness: 8", 1),
		"loss: 8%", "loss: much", 1))
	sessiontest.NewDevice(t, "n2").Check(t, NewPlan,
		line{
			Name: "a crew's device", Line: "plan " + thicker,
			Err: "only a foreman plans, and this device, n2, is not one",
		},
		line{Name: "a crew's device may look", Line: "plan --check " + thicker, Says: "12 changed"},
		line{Name: "mistakes", Line: "plan " + wrong, Err: "2 mistakes"},
		line{Name: "no file", Line: "plan nowhere.yaml", Err: "nowhere.yaml"},
	)
}

// A mix that changes under a revision that batches carry needs a reason, which is kept beside it.
func TestAMixThatChangesUnderItsRevisionNeedsAReason(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	d.Must(crew.NewBatch, "batch body --crew north --moisture 4%")
	wetter := file(t, strings.Replace(string(example.Vault), "amount: 18.0L", "amount: 18.5L", 1))
	d.Check(t, NewPlan, line{
		Name: "without a reason", Line: "plan " + wetter,
		Err: "if it is to be so all the same, say why with --because",
	})
	ran := d.Must(NewPlan, "plan "+wetter+" --because 'a slip in the file'")
	if m := one[event.MixPlanned](t, ran); m.Revision != 1 {
		t.Errorf("%+v", m)
	}
	if n := one[event.Noted](t, ran); !strings.HasSuffix(n.Text, "; because: a slip in the file") {
		t.Errorf("the note is %q", n.Text)
	}
}

func TestWithoutARecordAPlanIsOnlyLookedAt(t *testing.T) {
	d := sessiontest.NewDevice(t, "n1")
	d.Env.Dir = t.TempDir()
	path := file(t, string(example.Vault))
	var out strings.Builder
	d.Env.Stdout = &out
	c := NewPlan(d.Env)
	c.SetArgs([]string{path, "--check"})
	if err := c.Execute(); err != nil ||
		!strings.Contains(out.String(), "This device has no record of a site to compare it with") ||
		!strings.Contains(out.String(), "12 zones of 538 m²") { // twelve of 44.83
		t.Errorf("%v:\n%s", err, out.String())
	}
}

func TestWhatIsPlannedIsSaidInAFewWords(t *testing.T) {
	bag, bulk := unit.As[unit.Mass]{SI: 25, Entered: "25kg"}, unit.As[unit.Density]{SI: 1550}
	for _, c := range []struct {
		body event.Body
		want string
	}{
		{
			event.SitePlanned{Name: "Aldeira", WorkFrom: 7 * time.Hour, WorkTo: 17*time.Hour + 30*time.Minute},
			"Aldeira, 07:00 to 17:30",
		},
		{event.CrewPlanned{Crew: "north", People: 1}, "1 person"},
		{event.CrewPlanned{Crew: "north"}, "crew north"},
		{
			event.MaterialPlanned{Material: "sand", Bag: &bag, Bulk: &bulk},
			"loose 1550 kg/m³ (96.8 lb/ft³), a bag of 25 kg",
		},
		{event.ZonePlanned{
			Area: unit.As[unit.Area]{SI: 5, Entered: "5m2"}, Order: 3,
			At: &event.MapCell{Row: 2, Column: 1},
		}, "5 m2, order 3, at 2,1 on the map"},
		{event.CoatPlanned{Thickness: unit.As[unit.Length]{SI: 0.012, Entered: "12mm"}, Mix: "body"}, "12 mm of body"},
		{event.EdgePlanned{Length: unit.As[unit.Length]{SI: 6}}, "6 m (19 ft 8 1/4 in)"},
		{event.MixPlanned{Revision: 2, Constituents: make([]event.Constituent, 1)}, "revision 2, 1 constituent"},
	} {
		if got := planWords(c.body); got != c.want {
			t.Errorf("%T is %q; want %q", c.body, got, c.want)
		}
	}
}
