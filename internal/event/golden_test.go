package event_test

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"hod/internal/event"
	"hod/internal/event/eventtest"
	"hod/internal/unit"
)

var update = flag.Bool("update", false, "write the bytes of events that have none yet, and what each says")

const golden = "testdata/events"

var (
	batch7 = event.Batch{Crew: "north", Day: "2026-07-18", Number: 7}
	a3     = event.Coat{Zone: "A3", Face: event.Outer, Number: 1}
)

func as[Q ~float64](si Q, entered string) *unit.As[Q] { return &unit.As[Q]{SI: si, Entered: entered} }

func ptr[V any](v V) *V { return &v }

// examples are one event of each kind with all that it can say. An example may grow with its event; the bytes kept of
// earlier ones stay, under their own name.
func examples() map[string]event.Event {
	one, two := event.Hash{1, 2, 3}, event.Hash{0xff, 31: 0xee}
	at := func(clock string) time.Time {
		t, err := time.Parse(time.DateTime, "2026-07-18 "+clock)
		if err != nil {
			panic(err) // an example is wrong
		}
		return t
	}
	samples := []event.Weather{
		{
			At: at("10:00:00"), Air: ptr(unit.Celsius(27.5)), Humidity: ptr(unit.Share(0.42)),
			DewPoint: ptr(unit.Celsius(13.4)), Wind: ptr(unit.Speed(4.5)),
			SunWattPerM2: ptr(780.0), RainMillimetres: ptr(0.0), SurfaceTemperature: ptr(unit.Celsius(31)),
		},
		{At: at("11:00:00"), Air: ptr(unit.Celsius(29))},
	}
	bodies := []event.Body{
		event.SitePlanned{
			Name: "Chapel of the Quarry", Place: "above the old quarry", Units: event.US, TimeZone: "America/Denver",
			WorkFrom: 7 * time.Hour, WorkTo: 17*time.Hour + 30*time.Minute,
			Loss: as(unit.Share(0.08), "8%"), Closing: as(unit.Share(0.8), "80%"), Weighing: as(unit.Share(0.05), "5%"),
			EvaporationMetric: 0.5, EvaporationUS: 0.1, WarnBefore: 20 * time.Minute,
			Week: []event.WorkDays{
				{
					Days: []time.Weekday{time.Monday, time.Tuesday, time.Wednesday, time.Thursday, time.Friday},
					From: 7 * time.Hour, To: 17*time.Hour + 30*time.Minute,
				},
				{Days: []time.Weekday{time.Saturday, time.Sunday}, From: 8 * time.Hour, To: 12 * time.Hour},
			},
			Except: []event.WorkException{{Date: "2026-12-25"}, {
				Date: "2026-12-24", From: 7 * time.Hour,
				To: 12 * time.Hour,
			}},
			Replaces: []event.Hash{one, two},
		},
		event.ZonePlanned{
			Zone: "A3", Area: *as(unit.Area(6.7), "72ft2"), Shape: "east haunch", Order: 3,
			Form: &event.Form{
				Outline:  []event.Corner{{X: 0, Y: 0}, {X: 4, Y: 0}, {X: 4, Y: 2.5}, {X: 0, Y: 2.5}},
				Openings: [][]event.Corner{{{X: 1, Y: 1}, {X: 2, Y: 1}, {X: 2, Y: 1.5}}},
				Sides:    []event.Side{{Name: "south"}, {Name: "east"}, {Name: "north"}, {Name: "west"}},
			}, At: &event.MapCell{Row: 1, Column: 2}, Exposure: &event.Exposure{
				From: 9 * time.Hour, To: 16 * time.Hour,
				Warmer: 6,
			}, ReachedFrom: "south", Replaces: []event.Hash{one},
		},
		event.EdgePlanned{
			A: "A3", B: "A4", Length: *as(unit.Length(2.4384), "8ft"),
			PartA: &event.EdgePart{Side: "east", From: as(unit.Length(0.0), "0m"), To: as(unit.Length(2.4384), "8ft")},
			PartB: &event.EdgePart{Side: "west"}, Joint: event.JointEngineer, Replaces: []event.Hash{one},
		},
		event.CoatPlanned{
			Coat: a3, Thickness: *as(unit.Length(0.0127), "1/2in"), Mix: "face",
			Replaces: []event.Hash{one},
		},
		event.MixPlanned{
			Mix: "face", Revision: 2,
			Constituents: []event.Constituent{
				{
					Name: "cement", Kind: event.Cement, Amount: event.Amount{Mass: 94 * unit.Pound, Entered: "94lb"},
					Gravity: 3.15,
				},
				{
					Name: "sand", Kind: event.Sand, Amount: event.Amount{Mass: 188 * unit.Pound, Entered: "188lb"},
					Gravity: 2.65, Absorption: as(unit.Share(0.012), "1.2%"), Bulk: as(unit.Density(1550), "1550kg/m3"),
					Bag: as(1000*unit.Mass(1), "1000kg"),
				},
				{Name: "water", Kind: event.Water, Amount: event.Amount{
					Volume: 4 * unit.Gallon, ByVolume: true,
					Entered: "4gal",
				}, Gravity: 1},
				{Name: "plasticizer", Kind: event.Admixture, Amount: event.Amount{
					Volume:   9 * unit.FluidOunce,
					ByVolume: true, Entered: "9floz",
				}, Gravity: 1.07, Solids: as(unit.Share(0.4), "40%")},
			},
			Air: as(unit.Share(0.04), "4%"), DesignYield: as(unit.Volume(0.064), "64L"), WaterLimit: 0.4,
			UnitWeight:          as(unit.Density(2180), "136lb/ft3"),
			UnitWeightTolerance: as(unit.Share(0.02), "2%"), InitialSet: 225 * time.Minute,
			SetReference: as(unit.Celsius(23), "23C"), Activation: 40,
			Steps: []event.Step{
				{Constituent: "water", Share: as(unit.Share(0.75), "3/4"), Wait: 10 * time.Second},
				{Constituent: "cement", Wait: 4 * time.Minute, LookFor: "flows by itself"},
			},
			Working: 90 * time.Minute, Datum: as(unit.Celsius(0), "0C"), Replaces: []event.Hash{one}, Corrects: 1,
		},
		event.CrewPlanned{
			Crew: "north", Name: "North side", People: 5, Zones: []event.Zone{"A3", "A4"},
			Replaces: []event.Hash{one},
		},
		event.MaterialPlanned{
			Material: "sand", Bulk: as(unit.Density(1490), "93lb/ft3"),
			Bag: as(50*unit.Pound, "50lb"), Replaces: []event.Hash{one},
		},
		event.BatchMixed{
			Batch: batch7, Mix: "face", Revision: 2,
			Charges: []event.Charge{
				{
					Constituent: "cement", Amount: event.Amount{Mass: 94 * unit.Pound, Entered: "94lb"},
					At: at("10:31:05"),
				},
				{Constituent: "water", Amount: event.Amount{
					Volume: 3.5 * unit.Gallon, ByVolume: true,
					Entered: "3.5gal",
				}},
			},
			SandMoisture: as(unit.Share(0.04), "4%"), Spray: 8500 * time.Millisecond,
			SprayPerS: as(unit.Volume(0.00025), "0.25L"),
			MixedFrom: at("10:30:00"), MixedTo: at("10:42:00"), WaterAt: at("10:30:20"),
			CutShort: []string{"1 min of 4 after cement"},
			Because:  "the mixer was leaking", Temperature: as(unit.Celsius(29.4), "85F"),
		},
		event.BatchTested{
			Batch: batch7, Gross: as(20*unit.Pound, "20lb"), Tare: as(2*unit.Pound, "2lb"),
			Measure:    as(unit.Volume(0.00375), "3.75L"),
			UnitWeight: as(unit.Density(2177), "2177kg/m3"), Temperature: as(unit.Celsius(29), "29C"),
			Flow: as(unit.Share(1.1), "110%"), Air: as(unit.Share(0.05), "5%"),
			InitialSet: 195 * time.Minute,
		},
		event.Placement{
			Batch: batch7, Part: event.Part{Share: as(unit.Share(0.5), "1/2")}, Coat: a3, From: at("10:45:00"),
			To:     at("11:05:00"),
			Gauges: []unit.As[unit.Length]{*as(unit.Length(0.013), "13mm"), *as(unit.Length(0), "0mm")},
			Along:  []event.Zone{"A4", "B3"}, Because: "the edge was wetted",
			Complete: as(unit.Share(0.6), "60%"), Start: "south",
		},
		event.BatchBegun{Batch: batch7, Mix: "face", Ready: at("10:42:00")},
		event.FrontEnded{Coat: a3, OtherZone: "A4", Treatment: "cut square, rough, damp"},
		event.ProposalTaken{
			Crew: "north", Coat: a3, Nth: 2, Along: []event.Zone{"A4"}, Until: at("11:30:00"), Trials: 200, Cold: 14,
			CountedUntil: at("17:00:00"),
			Following:    []event.Coat{a3, {Zone: "A4", Face: event.Outer, Number: 1}}, OldestFirst: true,
		},
		event.DayOrdered{
			Day: "2026-07-19", Start: at("06:00:00"), Crews: []event.Crew{"north", "south"},
			Bays: []event.DayBay{
				{Zones: []event.Zone{"A1", "A2"}, BeginBy: at("09:30:00")},
				{Zones: []event.Zone{"A3"}},
			},
			Batches: 24, Trials: 100, Cold: 11, Done: 96, OnPurpose: 15.6, Mixes: []string{"face=face-slow"},
		},
		event.CoatFinished{Coat: a3, Why: "the gauges say so"},
		event.ProgressStated{Coat: a3, Complete: *as(unit.Share(0.6), "60%")},
		event.MethodChanged{What: "one pass less with the trowel"},
		event.BatchDiscarded{
			Batch: batch7, Part: event.Part{Volume: as(unit.Volume(0.005), "5L")}, Why: "stiff",
			Where: "the footing",
		},
		event.JointTreated{Coat: a3, OtherZone: "A4", Method: "chipped, wetted, slurried"},
		event.SurfaceTended{Zone: "A3", Face: event.Inner, Tending: event.Wetted, With: "fog"},
		event.WeatherObserved{
			Station: "crew", WindHeight: *as(unit.Length(2), "2m"), Samples: samples,
			Entered: "27.5C 42% 10mph",
		},
		event.WeatherForecast{
			Source: "airfield", IssuedAt: at("06:00:00"), WindHeight: *as(unit.Length(10), ""),
			Samples: samples,
		},
		event.CureReadings{
			Probe: "p1", Coat: a3, Depth: as(unit.Length(0.005), "5mm"), Entered: "logger",
			Samples: []event.Reading{{At: at("12:00:00"), Temperature: 31.5}, {At: at("12:30:00"), Temperature: 33}},
		},
		event.StockReceived{
			Material: "cement", Amount: event.Amount{Mass: 40 * 94 * unit.Pound, Entered: "3760lb"},
			Lot: "L-0718",
		},
		event.StockCounted{Material: "cement", Amount: event.Amount{Mass: 0, Entered: "0lb"}},
		event.StockSpoiled{
			Material: "cement", Amount: event.Amount{Mass: 94 * unit.Pound, Entered: "94lb"},
			Lot: "L-0718", Why: "got wet",
		},
		event.SpecimensBroken{
			Mix: "face", Batch: &batch7, Shape: event.Cylinder, Size: as(unit.Length(0.1016), "4in"),
			Height: as(unit.Length(0.2032), "8in"), Age: 7 * 24 * time.Hour,
			Loads: []unit.Force{201000, 198500}, MaturityCH: 3900, Laboratory: "Hill Testing",
		},
		event.Noted{Text: "rain from the west\nsheets on A3", Zone: "A3"},
		event.FlagAnswered{
			Flag: "cold/A3/A4", Answer: "chipped back and slurried",
			Lines: []string{"k7qd2m4xw3ab", "uz3qkb5t7h2c"},
		},
		event.ShiftStarted{People: 5},
		event.ShiftEnded{Left: "half of A4"},
		event.DeviceEnrolled{
			Device: "n2", PublicKey: []byte("an Ed25519 public key, 32 bytes."), Role: event.CrewRole,
			Crew: "north", Label: "Ana's phone",
		},
		event.DeviceRevoked{Device: "n2", LastSeq: 147, Why: "lost"},
		event.DeviceExcluded{Device: "n2", FromSeq: 12, Why: "200,000 notes of nothing"},
		event.Amended{
			Target: one, Body: event.Noted{Text: "rain from the east"}, HappenedAt: at("14:10:00"),
			Why: "wrong way round",
		},
		event.Voided{Target: one, Why: "entered twice"},
		event.Settled{Holds: one, Over: []event.Hash{two}, Why: "the foreman was there"},
	}
	all := map[string]event.Event{}
	for i, b := range bodies {
		e, err := event.Write(event.Event{
			Name: event.Name{Device: "n2", Seq: uint64(i) + 1}, Crew: "north", HappenedAt: at("10:45:00"),
			LoggedAt: at("11:06:30").Add(250 * time.Millisecond),
			Typed:    true, Offset: ptr(-1500 * time.Millisecond), Person: "Ana", StandsFor: two, Body: b,
		})
		if err != nil {
			panic(fmt.Sprintf("the example of a %s: %v", event.KindOf(b), err))
		}
		all[event.KindOf(b)] = e
	}
	return all
}

func file(kind string) string {
	return filepath.Join(golden, strings.ReplaceAll(kind, " ", "_")+".bin")
}

// What is to be said of an event whose bytes were kept.
func saying(t *testing.T, e event.Event) []byte {
	t.Helper()
	b, err := json.MarshalIndent(struct {
		Kind, Hash string
		Event      event.Event
	}{event.KindOf(e.Body), e.Hash().String(), e}, "", "\t")
	if err != nil {
		t.Fatal(err)
	}
	return append(b, '\n')
}

// says reports whether a file's bytes have the body of an example; its place in the list, and so its seq, may have
// moved.
func says(t *testing.T, file string, example event.Event) bool {
	t.Helper()
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	e, err := event.Read(raw)
	return err == nil && reflect.DeepEqual(e.Body, example.Body)
}

// Bytes that lie on disks since they were first written must say today what they said then.
func TestOldBytesStayReadable(t *testing.T) {
	now := examples()
	for _, k := range eventtest.Kinds() {
		e, ok := now[k.Name]
		if !ok {
			t.Errorf("there is no example of a %s", k.Name)
			continue
		}
		// a kind that grew has its later bytes beside the first ones: site_weighing.bin, site_2.bin beside site.bin
		kept, err := filepath.Glob(strings.TrimSuffix(file(k.Name), ".bin") + "*.bin")
		if err != nil {
			t.Fatal(err)
		}
		if slices.ContainsFunc(kept, func(f string) bool { return says(t, f, e) }) {
			continue
		}
		if !*update {
			t.Errorf(
				"no bytes are kept of a %s as its example says it now; run with -update once, when its message is as it shall stay", k.Name)
			continue
		}
		f := file(k.Name)
		if len(kept) > 0 {
			f = file(fmt.Sprintf("%s_%d", k.Name, len(kept)+1))
		}
		if err := os.WriteFile(f, e.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	files, err := filepath.Glob(golden + "/*.bin")
	if err != nil || len(files) < len(now) {
		t.Fatalf("%d files of bytes, want %d or more; %v", len(files), len(now), err)
	}
	for _, f := range files {
		t.Run(strings.TrimSuffix(filepath.Base(f), ".bin"), func(t *testing.T) {
			raw, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			e, err := event.Read(raw)
			if err != nil {
				t.Fatal(err)
			}
			if err := e.Check(); err != nil {
				t.Errorf("what stood once is refused: %v", err)
			}
			text := strings.TrimSuffix(f, ".bin") + ".json"
			if *update {
				if err := os.WriteFile(text, saying(t, e), 0o644); err != nil {
					t.Fatal(err)
				}
			}
			want, err := os.ReadFile(text)
			if err != nil {
				t.Fatal(err)
			}
			if got := saying(t, e); string(got) != string(want) {
				t.Errorf("it says something else than it did (-then +now):\n%s", cmp.Diff(string(want), string(got)))
			}
		})
	}
}

// An example that leaves a field out would not notice when that field is lost.
func TestExamplesSayAllThatTheyCan(t *testing.T) {
	may := map[string]bool{ // said otherwise in the same example, or zero on purpose
		"placement.Part.Volume": true, "discard.Part.Share": true, "stock counted.Amount.Mass": true,
		"crew.FromList": true,
	}
	for kind, e := range examples() {
		v := reflect.ValueOf(e.Body)
		for i := range v.NumField() {
			unsaid(t, may, kind+"."+v.Type().Field(i).Name, v.Field(i))
		}
	}
}

func unsaid(t *testing.T, may map[string]bool, path string, v reflect.Value) {
	if part, ok := v.Interface().(event.Part); ok {
		unsaid(t, may, path+".Share", reflect.ValueOf(part.Share))
		unsaid(t, may, path+".Volume", reflect.ValueOf(part.Volume))
		return
	}
	if v.IsZero() && !may[path] {
		t.Errorf("%s is not said", path)
	}
}
