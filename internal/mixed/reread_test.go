package mixed_test

import (
	"slices"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/fold/foldtest"
	"hod/internal/mixed"
	"hod/internal/unit"
)

func TestDoubtsOfOneQuantityAreToldOnceWithHowManyThereAreAndOneUnitThatFitsAll(t *testing.T) {
	weather := func(air ...unit.Celsius) event.WeatherObserved {
		b := event.WeatherObserved{Station: "crew"}
		for i, c := range air {
			b.Samples = append(b.Samples, event.Weather{At: foldtest.Clock(60 * i), Air: new(c)})
		}
		return b
	}
	both := weather(85)
	both.Samples[0].Humidity = new(unit.Share(0.0062))
	for name, k := range map[string]struct {
		body event.Body
		want []string // of each doubt
		fits []bool
	}{
		"nothing odd": {weather(20, 31), nil, nil},
		"one of two":  {weather(20, 85), []string{"85 °F would fit"}, []bool{true}},
		"three alike": {
			weather(85, 20, 86, 87),
			[]string{"(and 2 more values like it)"},
			[]bool{true},
		},
		"two, of which one fits in no unit": {weather(85, 400), []string{"(and 1 more value like it)"}, []bool{false}},
		"two quantities": {
			both,
			[]string{"85 °C is hotter", "is drier than any air"},
			[]bool{true, true},
		},
		"an amendment is read like its body": {
			event.Amended{Body: weather(85)},
			[]string{"85 °F would fit"},
			[]bool{true},
		},
		"a word is no measurement": {event.Noted{Text: "85 C in the shade"}, nil, nil},
	} {
		t.Run(name, func(t *testing.T) {
			all := foldtest.NewDesk(t).Site().Doubts(k.body, foldtest.Clock(0))
			if len(all) != len(k.want) {
				t.Fatalf("%d doubts, not %d: %v", len(all), len(k.want), all)
			}
			for i, d := range all {
				if !strings.Contains(d.String(), k.want[i]) || (d.Other != nil) != k.fits[i] {
					t.Errorf("%q, another unit fits: %v; want %q, %v", d, d.Other != nil, k.want[i], k.fits[i])
				}
			}
		})
	}
}

func TestWhatIsReadInTheOtherUnitKeepsWhatWasTypedAndChangesNothingElse(t *testing.T) {
	b := event.WeatherObserved{
		Station: "crew", Entered: "air 85",
		Samples: []event.Weather{
			{At: foldtest.Clock(0), Air: new(unit.Celsius(85)), Humidity: new(unit.Share(0.5))},
			{At: foldtest.Clock(60), Air: new(unit.Celsius(31))},
		},
	}
	s := foldtest.NewDesk(t).Site()
	is := s.Reread(b, foldtest.Clock(0)).(event.WeatherObserved)
	if got := *is.Samples[0].Air; !near(float64(got), (85-32)*5.0/9, 1e-9) {
		t.Errorf("85 °F is read as %g °C", got)
	}
	if *is.Samples[0].Humidity != 0.5 || *is.Samples[1].Air != 31 || is.Entered != "air 85; meant: 85 °F" {
		t.Errorf("beside it: %+v, typed %q", is.Samples, is.Entered)
	}
	if *b.Samples[0].Air != 85 || b.Entered != "air 85" {
		t.Error("the body that was given was changed")
	}
	cool := event.WeatherObserved{Station: "crew", Entered: "air 20", Samples: b.Samples[1:]}
	if got := s.Reread(cool, foldtest.Clock(0)).(event.WeatherObserved).Entered; got != "air 20" {
		t.Errorf("of what is in no doubt it says that %q was typed", got)
	}
}

// A size in the middle of what each constituent says is taken for the batch's, so that one amount in the wrong unit
// does not pass for a batch of another size. A pound is 0.45359237 kg (NIST SP 811).
func TestAnAmountInTheWrongUnitIsDoubtedAtTheSizeOfItsBatch(t *testing.T) {
	charge := func(name event.Material, kg float64) event.Charge {
		return event.Charge{Constituent: name, Amount: event.Amount{Mass: unit.Mass(kg)}}
	}
	for name, k := range map[string]struct {
		charges []event.Charge
		damp    unit.Share
		want    string // the constituent doubted
	}{
		"as designed":  {foldtest.AsDesigned(), 0, ""},
		"half a batch": {[]event.Charge{charge("cement", 21), charge("sand", 42.5), charge("water", 8)}, 0, ""},
		"five batches": {[]event.Charge{charge("cement", 210), charge("sand", 425), charge("water", 80)}, 0, ""},
		"sand as pounds": {
			[]event.Charge{charge("cement", 42), charge("sand", 85/0.45359237), charge("water", 16)},
			0,
			"sand",
		},
		"cement of half a batch as pounds": {
			[]event.Charge{charge("cement", 21/0.45359237), charge("sand", 42.5), charge("water", 8)}, 0, "cement",
		},
		"sand in a barrow and a shovelful": {
			[]event.Charge{charge("cement", 42), charge("sand", 84), charge("sand", 1), charge("water", 16)}, 0, "",
		},
		// By hand: 85 kg at SSD of 1 % are 84.158 kg dry and 90.891 kg at 8 %; of the 16 kg of water 5.891 come with
		// them.
		"little water to very damp sand": {
			[]event.Charge{charge("cement", 42), charge("sand", 90.891), charge("water", 10.109)}, 0.08, "",
		},
		"water as ounces": {
			[]event.Charge{charge("cement", 42), charge("sand", 85), charge("water", 16*16/0.45359237)},
			0, "water",
		},
	} {
		t.Run(name, func(t *testing.T) {
			b := foldtest.Mixed(1, 0)
			b.Charges = k.charges
			if k.damp > 0 {
				b.SandMoisture = foldtest.Ref(k.damp)
			}
			got := ""
			for _, d := range foldtest.NewDesk(t).Site().Doubts(b, foldtest.Clock(0)) {
				got += d.What
			}
			if got != k.want {
				t.Errorf("doubted: %q, not %q", got, k.want)
			}
		})
	}
}

// 15.4 kg of mortar in 7 L are 2200 kg/m³. Written as pounds the same measure leaves an air that no mix holds (ASTM
// C138), and the same numbers in kilograms fit.
func TestAMeasureWeighedInTheOtherUnitIsReadAgainBothFullAndEmpty(t *testing.T) {
	pounds := func(n float64, entered string) *unit.As[unit.Mass] {
		return &unit.As[unit.Mass]{SI: unit.Mass(n) * unit.Pound, Entered: entered}
	}
	for name, k := range map[string]struct {
		tested event.BatchTested
		full   float64 // kg that are meant; 0: nobody can tell
		empty  float64
	}{
		"full and empty": {event.BatchTested{Gross: pounds(18.4, "18.4lb"), Tare: pounds(3, "3lb")}, 18.4, 3},
		"set to zero":    {event.BatchTested{Gross: pounds(15.4, "15.4lb")}, 15.4, 0},
		"no unit fits":   {event.BatchTested{Gross: pounds(2.2, "2.2lb")}, 0, 0},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			d.By("n1", 0, foldtest.Mixed(1, 0))
			k.tested.Batch, k.tested.Measure = foldtest.North(1), foldtest.Ref(unit.Volume(0.007))
			s := d.Site()
			all := s.Doubts(k.tested, foldtest.Clock(5))
			if len(all) != 1 || all[0].What != "unit weight by the measure" || (all[0].Other != nil) != (k.full > 0) {
				t.Fatalf("the doubts are %v", all)
			}
			is := s.Reread(k.tested, foldtest.Clock(5)).(event.BatchTested)
			full, empty := is.Gross.SI, unit.Mass(0)
			if is.Tare != nil {
				empty = is.Tare.SI
			}
			if k.full == 0 {
				k.full = float64(k.tested.Gross.SI)
			}
			if !near(float64(full), k.full, 1e-9) || !near(float64(empty), k.empty, 1e-9) {
				t.Errorf("%g kg full and %g empty, not %g and %g", full, empty, k.full, k.empty)
			}
		})
	}
}

// Load over area: ASTM C109 of cubes, C39 of cylinders, whose factor is 0.96 at a height of one and a half diameters
// and 0.87 at one (from memory). By hand: 53 kN/(50 mm)² = 21.2 MPa; 157.08 kN/(π·(100 mm)²/4) = 20.0 MPa.
func TestASpecimenIsAsStrongAsItsLoadOverItsArea(t *testing.T) {
	length := func(m float64) *unit.As[unit.Length] { return foldtest.Ref(unit.Length(m)) }
	for name, k := range map[string]struct {
		of   event.SpecimensBroken
		load unit.Force
		mpa  float64 // 0: an error
	}{
		"a cube of 50 mm":       {event.SpecimensBroken{Shape: event.Cube, Size: length(0.05)}, 53e3, 21.2},
		"a cylinder, no height": {event.SpecimensBroken{Shape: event.Cylinder, Size: length(0.1)}, 157.08e3, 20},
		"twice as high as wide": {event.SpecimensBroken{
			Shape: event.Cylinder, Size: length(0.1),
			Height: length(0.2),
		}, 157.08e3, 20},
		"one and a half times": {event.SpecimensBroken{
			Shape: event.Cylinder, Size: length(0.1),
			Height: length(0.15),
		}, 157.08e3, 19.2},
		"as high as wide": {event.SpecimensBroken{
			Shape: event.Cylinder, Size: length(0.1),
			Height: length(0.1),
		}, 157.08e3, 17.4},
		"lower than C39 knows": {event.SpecimensBroken{
			Shape: event.Cylinder, Size: length(0.1),
			Height: length(0.09),
		}, 157.08e3, 0},
		"of a size nobody measured": {event.SpecimensBroken{Shape: event.Cube}, 53e3, 0},
	} {
		p, err := mixed.StrengthOf(k.of, k.load)
		if (err != nil) != (k.mpa == 0) || err == nil && !near(float64(p)/1e6, k.mpa, 1e-3) {
			t.Errorf("%s: %g MPa, %v; want %g", name, float64(p)/1e6, err, k.mpa)
		}
	}
}

func TestACorrectionIsOfferedOnlyWhereOneLineSaysAllOfIt(t *testing.T) {
	odd, other := new(unit.Celsius(85)), new(unit.Celsius(86))
	for name, k := range map[string]struct {
		body event.Body
		want string // after hod amend and the event's name; empty: no line
	}{
		"one reading": {
			event.WeatherObserved{Station: "crew", Samples: []event.Weather{{At: foldtest.Clock(0), Air: odd}}},
			"air=85°F",
		},
		"two values of one reading": {
			event.WeatherObserved{Station: "crew", Samples: []event.Weather{{
				At: foldtest.Clock(0), Air: odd, SurfaceTemperature: new(unit.Celsius(90)),
			}}},
			"air=85°F surface=90°F",
		},
		"two readings in one event": {
			event.WeatherObserved{Station: "crew", Samples: []event.Weather{
				{At: foldtest.Clock(0), Air: odd}, {At: foldtest.Clock(10), Air: other},
			}},
			"",
		},
		"one odd reading of two": {
			event.WeatherObserved{Station: "crew", Samples: []event.Weather{
				{At: foldtest.Clock(0), Air: odd}, {At: foldtest.Clock(10), Air: new(unit.Celsius(20))},
			}},
			"",
		},
		"a forecast": {forecastOf(odd), ""},
	} {
		t.Run(name, func(t *testing.T) {
			d := foldtest.NewDesk(t)
			e := d.By("f1", 15, k.body)
			all := doubtsOf(d.Site())
			if len(all) != 1 {
				t.Fatalf("%d findings, not 1", len(all))
			}
			var want []string
			if k.want != "" {
				want = []string{"hod amend " + e.Name.String() + " " + k.want}
			}
			if !slices.Equal(all[0].Do, want) {
				t.Errorf("it offers %q, not %q", all[0].Do, want)
			}
		})
	}
}

func forecastOf(air *unit.Celsius) event.WeatherForecast {
	return event.WeatherForecast{
		Source: "station", IssuedAt: foldtest.Clock(0), Samples: []event.Weather{{At: foldtest.Clock(60), Air: air}},
	}
}
