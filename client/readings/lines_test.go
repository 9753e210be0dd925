package readings

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
)

type line = sessiontest.Line

// placed is crew north's device after batch 1 of body, ready at 12:20, went into A1 at 12:30.
func placed(t *testing.T) *sessiontest.Device {
	t.Helper()
	d := sessiontest.NewDevice(t, "n2")
	d.Must(crew.NewBatch, "batch body --moisture 1.2% --to 12:20")
	d.Must(crew.NewPlace, "place A1 --face outer --at 12:30")
	return d
}

// A batch of body weighs 40 + 8.5 + 2.5 + 80 + 17.992 + 0.449 + 0.52 = 149.96 kg; 15.05 kg in 7 L are 2150 kg/m³, so it
// fills 69.75 L of the 69.84 designed, with 149.96/66.35 − 2150 over 149.96/66.35 of air.
func TestAFreshTestIsReadAndJudged(t *testing.T) {
	d := placed(t)
	d.Check(t, NewTest,
		line{
			Line: "test 1 --gross 18.05kg --tare 3kg --measure 7l --temp 29C",
			Want: []event.Body{event.BatchTested{
				Batch: sessiontest.North(1), Gross: sessiontest.Typed[unit.Mass](18.05, "18.05kg"),
				Tare: sessiontest.Typed[unit.Mass](3, "3kg"), Measure: sessiontest.Typed[unit.Volume](0.007, "7l"),
				Temperature: sessiontest.Typed[unit.Celsius](29, "29C"),
			}},
			Says: "Unit weight 2150 kg/m³ (134.2 lb/ft³); yield 69.7 L (2.46 ft³), 0.999 of the design; air 4.88% by weight; " +
				"within what the mix asks",
		},
		line{
			Name: "the measure and its tare are those of the crew's last test", Line: "test --gross 16.6kg",
			Want: []event.Body{event.BatchTested{
				Batch: sessiontest.North(1), Gross: sessiontest.Typed[unit.Mass](16.6, "16.6kg"),
				Tare: sessiontest.Typed[unit.Mass](3, "3kg"), Measure: sessiontest.Typed[unit.Volume](0.007, "7l"),
			}},
			Says: "Unit weight 1943 kg/m³",
		},
		line{
			Line: "test 1 2150kg/m3 --flow 110% --air 5%",
			Want: []event.Body{event.BatchTested{
				Batch: sessiontest.North(1), UnitWeight: sessiontest.Typed[unit.Density](2150, "2150kg/m3"),
				Flow: sessiontest.Typed[unit.Share](1.1, "110%"), Air: sessiontest.Typed[unit.Share](0.05, "5%"),
			}},
			Says: "flow 110%, air 5% by the meter",
		},
		line{
			Line: "test --set 3h10m",
			Want: []event.Body{event.BatchTested{Batch: sessiontest.North(1), InitialSet: 190 * time.Minute}},
			Says: "initial set 3 h 10 min after water contact; kept here, not sent yet. `hod next` reckons with it today",
		},
		line{Line: "test 9", Err: "crew north has 1 that day"},
		line{Line: "test 2150kg/m3 2100kg/m3", Err: "the unit weight is given twice, 2150kg/m3 and 2100kg/m3"},
		line{Line: "test 1 heavy", Err: "--unit-weight: "},
		line{Line: "test --gross 18kg --tare 19kg", Err: "cannot weigh less than the empty one, 19 kg"},
		line{Line: "test --set soon", Err: "it is from water contact to 500 psi (3.5 MPa), as in 3h10m"},
		line{Line: "test --flow much", Err: "--flow"},
		line{Line: "test --air 104%", Err: "--air: "},
	)
}

func TestATemperatureOfACoat(t *testing.T) {
	d := placed(t)
	d.Check(t, NewCure,
		line{
			Line: "cure A1 31C", Says: "A1 outer 1 at 31 C (87.8 °F) (hand)",
			Want: []event.Body{event.CureReadings{
				Probe: "hand", Coat: sessiontest.Outer("A1", 1), Entered: "31C",
				Samples: []event.Reading{{At: sessiontest.Noon, Temperature: 31}},
			}},
		},
		line{
			Line: "cure a1 88F --probe p1 --depth 10mm --at 12:50", Says: "at 88 F (31.1 °C) (p1), at 12:50",
			Want: []event.Body{event.CureReadings{
				Probe: "p1", Coat: sessiontest.Outer("A1", 1), Entered: "88F",
				Depth:   sessiontest.Typed[unit.Length](0.01, "10mm"),
				Samples: []event.Reading{{At: sessiontest.At("12:50"), Temperature: unit.Fahrenheit(88)}},
			}},
		},
		line{Line: "cure A1", Err: "not both and not neither"},
		line{Line: "cure A1 31C --csv -", Err: "not both and not neither"},
		line{Line: "cure A1 900C", Err: "it must be from -40 to 100 °C (-40 °F to 212 °F)"},
		line{Line: "cure A1 88C", Err: "88 °F would fit: write it so if that was meant; if so it was, add --sure"},
		line{Line: "cure Q1 3C", Err: "did you mean A1?"},
		line{Line: "cure A1 31C --depth deep", Err: "--depth: "},
		line{Line: "cure A1 31C --at 14:00", Err: "is still to come"},
	)
}

// from gives a file to the command that reads standard input.
func from(d *sessiontest.Device, file string) *sessiontest.Device {
	d.Env.Stdin = strings.NewReader(file)
	return d
}

func TestALoggersFileIsKeptOnceAndWhole(t *testing.T) {
	const file = "time;Temp (°C)\n2026-07-18 12:45;31.5\n2026-07-18 12:35;30\n2026-07-18 12:45;31.5\n2026-07-18 12:50;\n"
	d := placed(t)
	from(d, file).Check(t, NewCure, line{
		Name: "in the order of their times, what repeats once, what has no value left out",
		Line: "cure A1 --csv - --probe p2",
		Want: []event.Body{event.CureReadings{
			Probe: "p2", Coat: sessiontest.Outer("A1", 1), Entered: "standard input",
			Samples: []event.Reading{
				{At: sessiontest.At("12:35"), Temperature: 30}, {At: sessiontest.At("12:45"), Temperature: 31.5},
			},
		}},
		Says: "2 readings of A1 outer 1 by p2, 30 °C (86 °F) to 31.5 °C (88.7 °F), 12:35 to 12:45, 1 row without a value left out",
	})
	from(d, file).Check(t, NewCure, line{
		Line: "cure A1 --csv - --probe p2",
		Err:  "nothing to record from -: 2 readings known already left out, 1 row without a value",
	})
	from(d, file+"2026-07-18 12:55;33\n").Check(t, NewCure, line{
		Line: "cure A1 --csv - --probe p2",
		Says: "1 reading of A1 outer 1",
	})
	for _, c := range []struct{ row, want string }{
		{"2026-07-18 12:40,x", `line 2: "x" is not a number`},
		{
			"2026-07-18 12:40,150\n2026-07-18 12:41,30\n2026-07-18 12:42,30",
			"line 2: 150 °C cannot be the temperature of a coat",
		},
		{
			"2026-07-18 12:40,95\n2026-07-18 12:41,30\n2026-07-18 12:42,30",
			"is no temperature of a coat that the trade knows (--sure takes it)",
		},
		{"2026-07-18 15:40,30", "line 2: 2026-07-18 15:40 is still to come"},
		{"2026-07-18 12:40,30\n2026-07-18 12:40,31", "line 3: 2026-07-18 12:40 is there twice, with two temperatures"},
		{"noon,30", "line 2: "},
	} {
		from(d, "time,temp_c\n"+c.row+"\n").Check(t, NewCure, line{
			Name: c.row, Line: "cure A1 --csv - --probe p3",
			Err: c.want,
		})
	}
	for _, c := range []struct{ head, flags, want string }{
		{"stamp,temp", "", `the column "temp" does not say its unit`},
		{"stamp,reading_c", "", "which column holds the temperatures? Its columns are stamp, reading_c"},
		{"minute,temp_c", "", "which column holds the times?"},
		{"stamp,temp_c,core_c", "", `Say which column holds them, --temperature-column temp_c`},
		{"stamp,temp_c", "--unit K", `--unit cannot be "K"; write C or F`},
		{"stamp,temp_c", "--time-column when", "when"},
	} {
		row := "2026-07-18 12:40" + strings.Repeat(",30", strings.Count(c.head, ","))
		from(d, c.head+"\n"+row+"\n").Check(t, NewCure, line{
			Name: c.head + c.flags, Line: "cure A1 --csv - " + c.flags,
			Err: c.want,
		})
	}
}

func TestBadRowsAreLeftOutWhereTheyAreAskedForAndWrittenAside(t *testing.T) {
	d := placed(t)
	aside := filepath.Join(t.TempDir(), "bad.csv")
	from(d, "time,temp_c\n2026-07-18 12:35,30\n2026-07-18 12:40,x\n").Check(t, NewCure, line{
		Name: "one bad row", Line: "cure A1 --csv - --probe p2 --skip-bad " + aside, Says: ", 1 bad row skipped",
	})
	text, err := os.ReadFile(aside)
	if err != nil || !strings.Contains(string(text), "2026-07-18 12:40,x") || strings.Contains(string(text), "12:35") {
		t.Errorf("aside lies %q, %v", text, err)
	}
}

// A cube of 50 mm has 2500 mm², a cylinder of 3 in 7.0686 in².
func TestBreaksAreStrengthsByLoadOverArea(t *testing.T) {
	d := placed(t)
	d.Check(t, NewBreak,
		line{
			Line: "break body --size 50mm --age 7d --load 53kN,55kN --laboratory 'county lab'",
			Says: "21.6 MPa (3133 psi) on the mean",
			Want: []event.Body{event.SpecimensBroken{
				Mix: "body", Shape: event.Cube, Size: sessiontest.Typed[unit.Length](0.05, "50mm"),
				Age:   168 * time.Hour,
				Loads: []unit.Force{53000, 55000}, Laboratory: "county lab",
			}},
		},
		line{
			Line: "break body --shape cylinder --size 3in --height 6in --age 28d --load 31000lbf",
			Says: "1 cylinder of mix body broken at 28 d: 30.2 MPa (4386 psi) on the mean",
		},
		line{Line: "break body --size 50mm --age 7d", Err: "--load is missing, as in --load 53kN"},
		line{Line: "break body --size 50mm --load 1kN", Err: "--age is missing"},
		line{Line: "break body --age 7d --load 1kN", Err: "--size is missing"},
		line{Line: "break body --size 50mm --age 7d --load 53kN --shape ball", Err: "--shape: "},
		line{Line: "break body --size 50mm --age old --load 53kN", Err: "--age: "},
		line{Line: "break body --size 50mm --age 7d --load heavy", Err: "--load: "},
		line{Line: "break boddy --size 50mm --age 7d --load 53kN", Err: "did you mean body?"},
		line{Line: "break body --size 50mm --age 7d --load 53kN --batch 1", Err: "cannot be 7 d old"},
		line{Line: "break body --size 50mm --age 7d --load 53kN --batch 9", Err: "crew north has 1 that day"},
	)
}

func TestTheWeatherAsSomebodyReadIt(t *testing.T) {
	air, humidity, wind, dew := unit.Celsius(29), unit.Share(0.62), unit.Speed(3), unit.Fahrenheit(66)
	sun, rain, warm := 800.0, 2.0, unit.Fahrenheit(85)
	d := placed(t)
	d.Check(t, NewWeather,
		line{Line: "weather --wind 3m/s", Err: "add --wind-height 2m at the shell, 10m at most airfields"},
		line{
			Line: "weather --air 29C --humidity 62% --wind 3m/s --wind-height 2m --sun 800W/m2 --rain 2mm",
			Want: []event.Body{event.WeatherObserved{
				Station: "site", WindHeight: unit.As[unit.Length]{SI: 2, Entered: "2m"},
				Samples: []event.Weather{{
					At: sessiontest.Noon, Air: &air, Humidity: &humidity, Wind: &wind, SunWattPerM2: &sun,
					RainMillimetres: &rain,
				}},
				Entered: "air 29 C (84.2 °F), humidity 62%, wind 3 m/s (6.7 mph), sun 800 W/m², rain 2 mm (0.0787 in)",
			}},
			Says: "A fresh surface as warm as the air dries at ",
		},
		line{
			Name: "the height of the wind is taken over; what is not full leaves the last full reading",
			Line: "weather --air 85F --dew-point 66F --at 12:30",
			Want: []event.Body{event.WeatherObserved{
				Station: "site", Samples: []event.Weather{{At: sessiontest.At("12:30"), Air: &warm, DewPoint: &dew}},
				Entered: "air 85 F (29.4 °C), dew point 66 F (18.9 °C)",
			}},
			Says: "By the last full reading, of 13:00, a fresh surface dries at",
		},
		line{Line: "weather", Err: "nothing was read; say for instance --air 29C"},
		line{Line: "weather --humidity 130%", Err: "--humidity: "},
		line{Line: "weather --air hot", Err: "--air: "},
		line{Line: "weather --sun bright", Err: "--sun: "},
		line{Line: "weather --rain some", Err: "--rain: "},
		line{Line: "weather --wind 3m/s --wind-height high", Err: "--wind-height: "},
		line{Line: "weather now", Says: "air          29 °C, humidity 62%"},
	)
	sessiontest.NewDevice(t, "n2").Check(t, NewWeather,
		line{Line: "weather now", Err: "no weather is in the record on this device"})
}

func TestAFileOfTheWeatherByItsColumns(t *testing.T) {
	const file = "time,temp_c,humid,wind_ms\n2026-07-18 10:00,29,62,3\n2026-07-18 11:00,30,60,\n"
	d := placed(t)
	from(d, file).Check(t, NewWeather, line{
		Line: "weather --csv - --wind-height 2m --station mast",
		Says: "2 readings of mast, 10:00 to 11:00 (air (°C), humidity (%), wind (m/s), wind read at 2 m (6.6 ft)); missing: 1 value of wind",
	})
	from(d, file).Check(t, NewWeather, line{
		Line: "weather --csv - --station mast",
		Err:  "2 readings known already left out",
	})
	from(d, file).Check(t, NewWeather, line{
		Name: "a day that is not in it", Line: "weather --csv - --station sea --wind-height 2m --from 2026-07-19",
		Err: "nothing to record from -: 2 rows are not between --from and --until",
	})
	from(d, file).Check(t, NewWeather, line{
		Name: "an hour of it", Line: "weather --csv - --station sea --wind-height 2m --until '2026-07-18 10:30'",
		Says: "1 reading of sea",
	})
	for _, c := range []struct{ head, flags, want string }{
		{"time,temp", "", `the column "temp" does not say its unit; say it as in --take air=temp:C`},
		{"hour,temp_c", "", "which column holds the times?"},
		{"time,temp_c", "--take air=temp_x:C", "temp_x"},
		{"time,temp_c", "--take gusts=temp_c", "gusts"},
		{"time,temp_c", "--take air=temp_c:K", `"K" is no unit of temperature; it is C or F`},
		{"time,temp_c", "--from 2026-07-18 --until 2026-07-17", "--until 2026-07-17 lies before --from 2026-07-18"},
		{"time,temp_c", "--from never", "--from: "},
		{"time,temp_c", "--ignore rain", "rain"},
	} {
		from(d, c.head+"\n2026-07-18 10:00,29\n").Check(t, NewWeather,
			line{Name: c.head + " " + c.flags, Line: "weather --csv - --station x " + c.flags, Err: c.want})
	}
}

func TestAForecastIsKeptAsWhatWasExpected(t *testing.T) {
	d := placed(t)
	from(d, "time,temp_c,humid,wind_ms\n2026-07-19 10:00,29,62,3\n").Check(t, NewWeather, line{
		Line: "weather --csv - --forecast --wind-height 10m --station county --issued 12:00", Says: "1 hour",
	})
}

func TestWhatAColumnIsInIsKnownByItsHeader(t *testing.T) {
	for _, c := range []struct{ said, header, want string }{
		{"", "Temp (°C)", "C"},
		{"", "temp_f", "F"},
		{"", "Temperature [F]", "F"},
		{"", "celsius", "C"},
		{"f", "temp_c", "F"},
		{"Celsius", "t", "C"},
		{"", "t", ""},
		{"kelvin", "t", ""},
	} {
		got, err := temperatureUnit(c.said, c.header)
		if got != c.want || (err != nil) != (c.want == "") {
			t.Errorf("--unit %q of the column %q: %q, %v; want %q", c.said, c.header, got, err, c.want)
		}
	}
}

// A mile an hour is 0.44704 m/s, a knot 1852 m in an hour, an inch 25.4 mm.
func TestAValueIsBroughtToSIByItsUnit(t *testing.T) {
	var w event.Weather
	for _, c := range []struct {
		put   func(*event.Weather, float64, string) error
		value float64
		in    string
		got   func() float64
		want  float64
	}{
		{putWind, 10, "mph", func() float64 { return float64(*w.Wind) }, 4.4704},
		{putWind, 36, "km/h", func() float64 { return float64(*w.Wind) }, 10},
		{putWind, 10, "kt", func() float64 { return float64(*w.Wind) }, 18520.0 / 3600},
		{putWind, 3, "MPS", func() float64 { return float64(*w.Wind) }, 3},
		{putHumidity, 62, "%", func() float64 { return float64(*w.Humidity) }, 0.62},
		{putHumidity, 0.62, "1", func() float64 { return float64(*w.Humidity) }, 0.62},
		{putSun, 0.8, "kW/m2", func() float64 { return *w.SunWattPerM2 }, 800},
		{putSun, 800, "W/m²", func() float64 { return *w.SunWattPerM2 }, 800},
		{putRain, 0.1, "in", func() float64 { return *w.RainMillimetres }, 2.54},
		{putRain, 1, "cm", func() float64 { return *w.RainMillimetres }, 10},
	} {
		if err := c.put(&w, c.value, c.in); err != nil || !sessiontest.Near(c.got(), c.want) {
			t.Errorf("%g %s is %g, %v; want %g", c.value, c.in, c.got(), err, c.want)
		}
	}
	for in, put := range map[string]func(*event.Weather, float64, string) error{
		"furlong": putWind, "ppm": putHumidity, "lux": putSun, "feet": putRain,
	} {
		if err := put(&w, 1, in); err == nil || !strings.Contains(err.Error(), "is no unit of") {
			t.Errorf("in %s: %v", in, err)
		}
	}
}

func TestAFilesStemIsItsNameAlone(t *testing.T) {
	for path, want := range map[string]string{
		"-": "standard input", "july.csv": "july", "logs/july.2026.csv": "july.2026", `C:\logs\july.csv`: "july", ".csv": ".csv",
	} {
		if got := fileStem(path); got != want {
			t.Errorf("%s: %q; want %q", path, got, want)
		}
	}
}
