package event_test

import (
	"errors"
	"math"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
)

// with is the example of a kind, changed.
func with[B event.Body](kind string, change func(*B)) event.Body {
	b := examples()[kind].Body.(B)
	change(&b)
	return b
}

func repeat[V any](v V, n int) []V { return slices.Repeat([]V{v}, n) }

// What each event cannot say, and a part of the sentence that tells so.
func TestWhatCannotBe(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	later := noon.Add(time.Hour)
	for _, c := range []struct {
		name string
		body event.Body
		want string
	}{
		{
			"a site without a name", with("site", func(b *event.SitePlanned) { b.Name = " " }),
			"name of the site is empty",
		},
		{"a site of two lines", with("site", func(b *event.SitePlanned) { b.Name = "a\nb" }), "one line"},
		{"units of a newer version", with("site", func(b *event.SitePlanned) { b.Units = 3 }), "units 3 is not known"},
		{
			"a time zone with a path", with("site", func(b *event.SitePlanned) { b.TimeZone = "../etc/passwd" }),
			"Europe/Lisbon",
		},
		{
			"work that ends before it begins", with("site", func(b *event.SitePlanned) { b.WorkTo = time.Hour }),
			"before it begins",
		},
		{
			"work before midnight", with("site", func(b *event.SitePlanned) { b.WorkFrom = -time.Hour }),
			"beginning of work of -1h0m0s",
		},
		{
			"work beyond the day", with("site", func(b *event.SitePlanned) { b.WorkTo = 25 * time.Hour }),
			"from 0 to 24h",
		},
		{
			"work from a half minute", with("site", func(b *event.SitePlanned) { b.WorkFrom = 90 * time.Second }),
			"whole number of minutes",
		},
		{
			"a loss of 120 %", with("site", func(b *event.SitePlanned) { b.Loss = as(unit.Share(1.2), "120%") }),
			`loss of "120%", 120%, cannot be; it must be from 0 to 100%`,
		},
		{
			"closing at nothing", with("site", func(b *event.SitePlanned) { b.Closing = as(unit.Share(0), "0%") }),
			"above 0",
		},
		{
			"an evaporation limit that is no number",
			with("site", func(b *event.SitePlanned) { b.EvaporationUS = nan }),
			"no finite number",
		},
		{
			"a negative evaporation limit", with("site", func(b *event.SitePlanned) { b.EvaporationMetric = -1 }),
			"-1 kg/(m²·h)",
		},
		{
			"a warning of two days", with("site", func(b *event.SitePlanned) { b.WarnBefore = 48 * time.Hour }),
			"warning",
		},
		{
			"a plan that replaces nothing in particular",
			with("site", func(b *event.SitePlanned) { b.Replaces = []event.Hash{{}} }), "replaced plan 1 of 1",
		},
		{
			"a plan that replaces one twice",
			with("crew", func(b *event.CrewPlanned) { b.Replaces = repeat(event.Hash{1}, 2) }), "named twice",
		},

		{
			"a zone without area", with("zone", func(b *event.ZonePlanned) { b.Area = unit.As[unit.Area]{} }),
			"area of 0 m²",
		},
		{
			"a zone of infinite area", with("zone", func(b *event.ZonePlanned) { b.Area.SI = unit.Area(inf) }),
			"no finite number",
		},
		{"a zone before the first", with("zone", func(b *event.ZonePlanned) { b.Order = -1 }), "order -1"},
		{"an edge of one zone", with("edge", func(b *event.EdgePlanned) { b.B = b.A }), "no edge with itself"},
		{"an edge without length", with("edge", func(b *event.EdgePlanned) { b.Length.SI = 0 }), "length of the edge"},
		{"coat 0", with("coat", func(b *event.CoatPlanned) { b.Coat.Number = 0 }), "coat number 0"},
		{"a third face", with("coat", func(b *event.CoatPlanned) { b.Coat.Face = 3 }), "face 3"},
		{
			"a coat of half an inch in metres", with("coat", func(b *event.CoatPlanned) { b.Thickness.SI = 12.7 }),
			"12700 mm",
		},
		{"a coat of no mix", with("coat", func(b *event.CoatPlanned) { b.Mix = "" }), "mix has no name"},
		{"a crew of thousands", with("crew", func(b *event.CrewPlanned) { b.People = 2000 }), "people 2000"},

		{
			"a mix of nothing", with("mix", func(b *event.MixPlanned) { b.Constituents, b.Steps = nil, nil }),
			"no constituent",
		},
		{"revision 0", with("mix", func(b *event.MixPlanned) { b.Revision = 0 }), "mix revision 0"},
		{
			"a revision that corrects a later one",
			with("mix", func(b *event.MixPlanned) { b.Corrects = b.Revision + 1 }),
			"a revision corrects an earlier one",
		},
		{
			"a revision that corrects itself", with("mix", func(b *event.MixPlanned) { b.Corrects = b.Revision }),
			"a revision corrects an earlier one",
		},
		{
			"a constituent twice", with("mix", func(b *event.MixPlanned) { b.Constituents[1].Name = "cement" }),
			`constituent 2 of 4: "cement" is there already`,
		},
		{
			"a constituent of no kind", with("mix", func(b *event.MixPlanned) { b.Constituents[0].Kind = 0 }),
			"kind is not said",
		},
		{
			"2500 gal of water designed",
			with("mix", func(b *event.MixPlanned) { b.Constituents[2].Amount.Volume = 2500 * unit.Gallon }),
			"from 0 to 500 L",
		},
		{
			"a constituent of no amount",
			with("mix", func(b *event.MixPlanned) { b.Constituents[0].Amount = event.Amount{} }), "above 0",
		},
		{
			"a gravity in kg/m³", with("mix", func(b *event.MixPlanned) { b.Constituents[0].Gravity = 3150 }),
			"specific gravity of 3150",
		},
		{
			"absorption of 40 %", with("mix", func(b *event.MixPlanned) { b.Constituents[1].Absorption.SI = 0.4 }),
			"absorption",
		},
		{"more solids than all", with("mix", func(b *event.MixPlanned) { b.Constituents[3].Solids.SI = 40 }), "4000%"},
		{"air of 95 %", with("mix", func(b *event.MixPlanned) { b.Air.SI = 0.95 }), "air of"},
		{
			"w/cm in per cent", with("mix", func(b *event.MixPlanned) { b.WaterLimit = 40 }),
			"highest w/cm of 40 cannot be",
		},
		{"a unit weight in g/cm³", with("mix", func(b *event.MixPlanned) { b.UnitWeight.SI = 2.18 }), "unit weight"},
		{
			"a tolerance of nothing", with("mix", func(b *event.MixPlanned) { b.UnitWeightTolerance.SI = 0 }),
			"tolerance",
		},
		{
			"an initial set within a second", with("mix", func(b *event.MixPlanned) { b.InitialSet = time.Second }),
			"initial set of 1s",
		},
		{
			"a negative initial set", with("mix", func(b *event.MixPlanned) { b.InitialSet = -time.Hour }),
			"initial set of -1h",
		},
		{"a reference of 230 °C", with("mix", func(b *event.MixPlanned) { b.SetReference.SI = 230 }), "230 °C"},
		{
			"an activation energy in J/mol", with("mix", func(b *event.MixPlanned) { b.Activation = 40000 }),
			"40000 kJ/mol",
		},
		{
			"a step with what is not in the mix",
			with("mix", func(b *event.MixPlanned) { b.Steps[1].Constituent = "lime" }), `"lime" is not in the mix`,
		},
		{"a step of nothing", with("mix", func(b *event.MixPlanned) { b.Steps[0] = event.Step{} }), "nothing goes in"},
		{"steps with more than all", with("mix", func(b *event.MixPlanned) {
			b.Steps[1] = event.Step{Constituent: "water", Share: as(unit.Share(0.5), "1/2")}
		}), "125%"},
		{
			"a wait of half a second", with("mix", func(b *event.MixPlanned) { b.Steps[0].Wait = time.Second / 2 }),
			"whole number of seconds",
		},
		{
			"a negative working time", with("mix", func(b *event.MixPlanned) { b.Working = -time.Minute }),
			"working time",
		},
		{"a datum below all frost", with("mix", func(b *event.MixPlanned) { b.Datum.SI = -273 }), "-273 °C"},
		{
			"too many constituents",
			with("mix", func(b *event.MixPlanned) {
				b.Constituents = repeat(b.Constituents[0], event.MaxConstituents+1)
			}), "it may have 40",
		},
		{
			"too many steps", with("mix", func(b *event.MixPlanned) { b.Steps = repeat(b.Steps[0], event.MaxSteps+1) }),
			"it may have 100",
		},

		{"a batch of no crew", with("batch", func(b *event.BatchMixed) { b.Batch.Crew = "" }), "crew has no name"},
		{"a batch of no day", with("batch", func(b *event.BatchMixed) { b.Batch.Day = "18 July" }), "is not a date"},
		{"batch 0", with("batch", func(b *event.BatchMixed) { b.Batch.Number = 0 }), "batch number 0"},
		{"a batch with nothing in it", with("batch", func(b *event.BatchMixed) { b.Charges = nil }), "no charge"},
		{"2500 gal of water", with("batch", func(b *event.BatchMixed) {
			b.Charges[1].Amount = event.Amount{Volume: 2500 * unit.Gallon, ByVolume: true, Entered: "2500gal"}
		}), `charge 2 of 2: the amount of water of "2500gal", 9463.53 L, cannot be; it must be from 0 to 500 L`},
		{
			"600 kg of water", with("batch",
				func(b *event.BatchMixed) { b.Charges[1].Amount = event.Amount{Mass: 600} }),
			"from 0 to 500 kg",
		},
		{
			"a negative charge", with("batch", func(b *event.BatchMixed) { b.Charges[0].Amount.Mass = -1 }),
			"amount of cement",
		},
		{
			"a charge that is no number",
			with("batch", func(b *event.BatchMixed) { b.Charges[0].Amount.Mass = unit.Mass(nan) }), "no finite number",
		},
		{
			"a charge by mass and by volume",
			with("batch", func(b *event.BatchMixed) { b.Charges[0].Amount.Volume = 1 }),
			"by mass and by volume",
		},
		{
			"sand of 35 % moisture",
			with("batch", func(b *event.BatchMixed) { b.SandMoisture = as(unit.Share(0.35), "35%") }), "sand moisture",
		},
		{"spraying for two hours", with("batch", func(b *event.BatchMixed) { b.Spray = 2 * time.Hour }), "spraying"},
		{"a wand like a hydrant", with("batch", func(b *event.BatchMixed) { b.SprayPerS.SI = 0.1 }), "100 L/s"},
		{
			"mixing that ends before it begins",
			with("batch", func(b *event.BatchMixed) { b.MixedFrom = b.MixedTo.Add(time.Minute) }), "mixing cannot end",
		},
		{
			"mixing for days", with("batch",
				func(b *event.BatchMixed) { b.MixedFrom = b.MixedTo.Add(-48 * time.Hour) }),
			"would take 48h",
		},
		{
			"water after the end", with("batch", func(b *event.BatchMixed) { b.WaterAt = b.MixedTo.Add(time.Minute) }),
			"water cannot meet cement",
		},
		{
			"mixing in 1850", with("batch", func(b *event.BatchMixed) { b.MixedFrom = noon.AddDate(-176, 0, 0) }),
			"from 1970 to 2199",
		},
		{
			"mixing in 2300", with("batch", func(b *event.BatchMixed) { b.MixedTo = noon.AddDate(274, 0, 0) }),
			"from 1970 to 2199",
		},
		{"a reason too long", with("batch",
			func(b *event.BatchMixed) { b.Because = strings.Repeat("x", event.MaxText+1) }), "it may have 4096"},
		{
			"a reason with an escape", with("batch", func(b *event.BatchMixed) { b.Because = "a\x1b[2J" }),
			"control character",
		},
		{
			"a reason with a C1 escape", with("batch", func(b *event.BatchMixed) { b.Because = "a\u009b2J" }),
			"control character",
		},
		{
			"a quantity typed over lines",
			with("batch", func(b *event.BatchMixed) { b.Charges[0].Amount.Entered = "94\nlb" }), "one line",
		},
		{
			"a quantity typed at length",
			with("batch", func(b *event.BatchMixed) { b.Charges[0].Amount.Entered = strings.Repeat("9", 300) }),
			"300 characters",
		},
		{"mortar of 105 °C", with("batch", func(b *event.BatchMixed) { b.Temperature.SI = 105 }), "from -40 to 100 °C"},
		{"mortar of −41 °C", with("batch", func(b *event.BatchMixed) { b.Temperature.SI = -41 }), "-41 °C"},
		{
			"charges beyond count",
			with("batch", func(b *event.BatchMixed) { b.Charges = repeat(b.Charges[0], event.MaxRun+1) }),
			"513 is too many",
		},

		{"a test of nothing", event.BatchTested{Batch: batch7}, "nothing was tested"},
		{
			"a full measure lighter than empty", with("test", func(b *event.BatchTested) { b.Gross.SI = b.Tare.SI }),
			"cannot weigh less",
		},
		{"a measure of no volume", with("test", func(b *event.BatchTested) { b.Measure = nil }), "volume is not said"},
		{"only the empty measure", with("test", func(b *event.BatchTested) { b.Gross = nil }), "the filled one is not"},
		{
			"mortar heavier than lead", with("test", func(b *event.BatchTested) { b.Measure.SI = 0.0005 }),
			"unit weight that follows",
		},
		{"a flow of minus one", with("test", func(b *event.BatchTested) { b.Flow.SI = -1 }), "flow"},
		{"air that is infinite", with("test", func(b *event.BatchTested) { b.Air.SI = unit.Share(inf) }), "air"},

		{
			"no part of a batch", with("placement", func(b *event.Placement) { b.Part.Share = as(unit.Share(0), "0") }),
			"share of the batch",
		},
		{"more than a batch", with("placement", func(b *event.Placement) { b.Part.Share.SI = 1.01 }), "101%"},
		{"a negative part", with("placement", func(b *event.Placement) { b.Part.Share.SI = -0.5 }), "-50%"},
		{
			"a share and a volume",
			with("placement", func(b *event.Placement) { b.Part.Volume = as(unit.Volume(0.02), "20L") }),
			"not as both",
		},
		{"a volume of nothing", with("placement",
			func(b *event.Placement) { b.Part = event.Part{Volume: as(unit.Volume(0), "0l")} }), "above 0"},
		{"a volume of 25 m³", with("placement",
			func(b *event.Placement) { b.Part = event.Part{Volume: as(unit.Volume(25), "25")} }), "25000 L"},
		{
			"placing that ends before it begins",
			with("placement", func(b *event.Placement) { b.From = b.To.Add(time.Second) }), "placing cannot end",
		},
		{
			"a negative gauge", with("placement", func(b *event.Placement) { b.Gauges[1].SI = -0.001 }),
			"gauge reading 2 of 2",
		},
		{
			"a gauge that is no number",
			with("placement", func(b *event.Placement) { b.Gauges[0].SI = unit.Length(nan) }),
			"gauge reading 1 of 2",
		},
		{"along itself", with("placement", func(b *event.Placement) { b.Along[0] = "A3" }), "is the one placed in"},
		{"along nothing", with("placement", func(b *event.Placement) { b.Along[1] = "" }), "neighbour 2 of 2"},
		{"in no coat", with("placement", func(b *event.Placement) { b.Coat = event.Coat{} }), "zone has no name"},

		{
			"a discard of two parts",
			with("discard", func(b *event.BatchDiscarded) { b.Part.Share = as(unit.Share(1), "") }), "not as both",
		},
		{
			"a joint with itself", with("joint", func(b *event.JointTreated) { b.OtherZone = b.Coat.Zone }),
			"no edge with itself",
		},
		{
			"a joint treated in no way", with("joint", func(b *event.JointTreated) { b.Method = "" }),
			"treatment is empty",
		},
		{
			"a surface to which nothing was done", with("surface", func(b *event.SurfaceTended) { b.Tending = 0 }),
			"covered, uncovered, wetted",
		},

		{"weather without readings", with("weather", func(b *event.WeatherObserved) { b.Samples = nil }), "no reading"},
		{
			"weather of no station", with("weather", func(b *event.WeatherObserved) { b.Station = "" }),
			"station is empty",
		},
		{
			"wind at no height", with("weather", func(b *event.WeatherObserved) {
				b.WindHeight = unit.As[unit.Length]{}
			}),
			"at no height",
		},
		{
			"wind below the ground", with("weather", func(b *event.WeatherObserved) { b.WindHeight.SI = -2 }),
			"height of the wind",
		},
		{
			"weather without a time", with("weather", func(b *event.WeatherObserved) { b.Samples[1].At = time.Time{} }),
			"reading 2 of 2: the time of the reading is missing",
		},
		{
			"weather out of order", with("weather", func(b *event.WeatherObserved) {
				b.Samples[1].At = b.Samples[0].At
			}),
			"does not come after",
		},
		{
			"weather within one millisecond",
			with("weather", func(b *event.WeatherObserved) { b.Samples[1].At = b.Samples[0].At.Add(time.Microsecond) }),
			"does not come after",
		},
		{
			"a reading of nothing", with("weather", func(b *event.WeatherObserved) { b.Samples[1].Air = nil }),
			"nothing was read",
		},
		{
			"humidity of 0", with("weather", func(b *event.WeatherObserved) { *b.Samples[0].Humidity = 0 }),
			"humidity of 0%",
		},
		{
			"humidity of 101 %", with("weather", func(b *event.WeatherObserved) { *b.Samples[0].Humidity = 1.01 }),
			"humidity of 101%",
		},
		{
			"a dew point above the air",
			with("weather", func(b *event.WeatherObserved) { *b.Samples[0].DewPoint = 30 }),
			"cannot be above the air",
		},
		{
			"a dew point that is no number",
			with("weather", func(b *event.WeatherObserved) { *b.Samples[0].DewPoint = unit.Celsius(nan) }),
			"dew point",
		},
		{"wind from behind", with("weather", func(b *event.WeatherObserved) { *b.Samples[0].Wind = -1 }), "wind of -1"},
		{"sun at night", with("weather", func(b *event.WeatherObserved) { *b.Samples[0].SunWattPerM2 = -5 }), "sun"},
		{
			"a metre of rain", with("weather", func(b *event.WeatherObserved) { *b.Samples[0].RainMillimetres = 1000 }),
			"rain",
		},
		{
			"a surface in Fahrenheit",
			with("weather", func(b *event.WeatherObserved) { *b.Samples[0].SurfaceTemperature = 120 }), "120 °C",
		},
		{
			"a forecast issued never", with("forecast", func(b *event.WeatherForecast) { b.IssuedAt = time.Time{} }),
			"no time of issue",
		},
		{
			"a forecast by nobody", with("forecast", func(b *event.WeatherForecast) { b.Source = "" }),
			"source of the forecast",
		},
		{
			"a forecast out of order",
			with("forecast", func(b *event.WeatherForecast) { b.Samples[1].At = b.IssuedAt }),
			"does not come after",
		},

		{"no cure readings", with("cure", func(b *event.CureReadings) { b.Samples = nil }), "no reading"},
		{"cure readings by no probe", with("cure", func(b *event.CureReadings) { b.Probe = "" }), "name of the probe"},
		{
			"cure readings backwards",
			with("cure", func(b *event.CureReadings) { b.Samples[1].At = noon.Add(-time.Hour) }),
			"does not come after",
		},
		{
			"a cure reading in Fahrenheit",
			with("cure", func(b *event.CureReadings) { b.Samples[0].Temperature = 104 }),
			"reading 1 of 2",
		},
		{
			"a cure reading that is no number",
			with("cure", func(b *event.CureReadings) { b.Samples[1].Temperature = unit.Celsius(nan) }),
			"reading 2 of 2",
		},
		{"a depth of a metre", with("cure", func(b *event.CureReadings) { b.Depth.SI = 1 }), "depth"},

		{"nothing received", with("stock received", func(b *event.StockReceived) { b.Amount.Mass = 0 }), "above 0"},
		{"a lot of many lines", with("stock received", func(b *event.StockReceived) { b.Lot = "a\tb" }), "one line"},
		{
			"fewer than none counted", with("stock counted", func(b *event.StockCounted) { b.Amount.Mass = -1 }),
			"amount counted",
		},
		{"nothing spoiled", with("stock spoiled", func(b *event.StockSpoiled) { b.Amount.Mass = 0 }), "above 0"},

		{"specimens of no shape", with("break", func(b *event.SpecimensBroken) { b.Shape = 0 }), "cube, cylinder"},
		{
			"specimens of no size", with("break", func(b *event.SpecimensBroken) { b.Size = nil }),
			"size of the specimens is missing",
		},
		{"specimens of 2 mm", with("break", func(b *event.SpecimensBroken) { b.Size.SI = 0.002 }), "2 mm"},
		{"specimens broken unborn", with("break", func(b *event.SpecimensBroken) { b.Age = 0 }), "above 0"},
		{
			"specimens of a thousand years",
			with("break", func(b *event.SpecimensBroken) { b.Age = 200 * 365 * 24 * time.Hour }), "age at the break",
		},
		{"no loads", with("break", func(b *event.SpecimensBroken) { b.Loads = nil }), "no load"},
		{"a load of nothing", with("break", func(b *event.SpecimensBroken) { b.Loads[1] = 0 }), "load 2 of 2"},
		{"a negative maturity", with("break", func(b *event.SpecimensBroken) { b.MaturityCH = -1 }), "maturity"},
		{
			"a batch without a number",
			with("break", func(b *event.SpecimensBroken) { b.Batch = &event.Batch{Crew: "north", Day: "2026-07-18"} }),
			"batch number 0",
		},

		{"a note without words", event.Noted{}, "note is empty"},
		{"a note of a megabyte", event.Noted{Text: strings.Repeat("x", 1<<20)}, "1048576 bytes"},
		{"a note that is not text", event.Noted{Text: "\xff"}, "is not text"},
		{"an answer to no flag", event.FlagAnswered{Answer: "done"}, "name of the flag"},
		{"no answer", event.FlagAnswered{Flag: "cold/A3"}, "answer is empty"},
		{"a shift of minus one", event.ShiftStarted{People: -1}, "people -1"},
		{"a shift's end with an escape", event.ShiftEnded{Left: "\x1b]0;"}, "control character"},
		{"a short key", with("enrolment", func(b *event.DeviceEnrolled) { b.PublicKey = b.PublicKey[1:] }), "31 bytes"},
		{
			"a role of a newer version", with("enrolment", func(b *event.DeviceEnrolled) { b.Role = 6 }),
			"role 6 is not known",
		},
		{"no role", with("enrolment", func(b *event.DeviceEnrolled) { b.Role = 0 }), "role is not said"},
		{
			"a crew's device of no crew", with("enrolment", func(b *event.DeviceEnrolled) { b.Crew = "" }),
			"crew is not said",
		},
		{"a revocation of nobody", event.DeviceRevoked{}, "device has no name"},

		{
			"an amendment of nothing", with("amendment", func(b *event.Amended) { b.Target = event.Hash{} }),
			"event that is amended",
		},
		{"an amendment to nothing", with("amendment", func(b *event.Amended) { b.Body = nil }), "new body in full"},
		{
			"an amendment to what cannot be", with("amendment", func(b *event.Amended) { b.Body = event.Noted{} }),
			"note is empty",
		},
		{
			"an amendment in an amendment", with("amendment", func(b *event.Amended) { b.Body = *b }),
			"cannot hold a correction (amendment)",
		},
		{
			"a void in an amendment",
			with("amendment", func(b *event.Amended) { b.Body = event.Voided{Target: b.Target} }),
			"cannot hold a correction (void)",
		},
		{
			"a settlement in an amendment",
			with("amendment", func(b *event.Amended) { b.Body = examples()["settlement"].Body }),
			"cannot hold a correction (settlement)",
		},
		{
			"an amendment to the year 9000",
			with("amendment", func(b *event.Amended) { b.HappenedAt = noon.AddDate(6974, 0, 0) }), "amended event",
		},
		{"a void of nothing", event.Voided{}, "taken back"},
		{"a settlement over nothing", with("settlement", func(b *event.Settled) { b.Over = nil }), "at least 1"},
		{
			"a settlement over what holds",
			with("settlement", func(b *event.Settled) { b.Over = append(b.Over, b.Holds) }), "also named",
		},
		{
			"a settlement over one twice", with("settlement", func(b *event.Settled) { b.Over = repeat(b.Over[0], 2) }),
			"named twice",
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			_, err := event.Write(event.Event{Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: later, Body: c.body})
			var cannot event.CannotBe
			if !errors.As(err, &cannot) {
				t.Fatalf("write says %v, want that it cannot be", err)
			}
			if !strings.Contains(err.Error(), c.want) {
				t.Errorf("it says %q, want a part %q", err, c.want)
			}
		})
	}
}

// What is unusual and can be.
func TestWhatCanBe(t *testing.T) {
	for name, body := range map[string]event.Body{
		"a site that says its name only":    event.SitePlanned{Name: "Chapel"},
		"all of a batch, at no time said":   event.Placement{Batch: batch7, Coat: a3},
		"a constituent left out of a batch": with("batch", func(b *event.BatchMixed) { b.Charges[0].Amount.Mass = 0 }),
		"water exactly at the most": with("batch",
			func(b *event.BatchMixed) { b.Charges[1].Amount = event.Amount{Volume: 0.5, ByVolume: true} }),
		"sand moist to the most": with("batch", func(b *event.BatchMixed) { b.SandMoisture.SI = 0.3 }),
		"a batch mixed in no time": with("batch",
			func(b *event.BatchMixed) { b.MixedFrom, b.WaterAt = b.MixedTo, b.MixedTo }),
		"a batch by a clock with a flat battery": with("batch", func(b *event.BatchMixed) {
			b.MixedFrom, b.MixedTo, b.WaterAt = time.Unix(0, 0), time.Unix(60, 0), time.Unix(0, 0)
		}),
		"a net mass of the measure": with("test", func(b *event.BatchTested) { b.Tare = nil }),
		"steps in thirds, as people write them": with("mix", func(b *event.MixPlanned) {
			b.Steps = repeat(event.Step{Constituent: "water", Share: as(unit.Share(0.3334), "33.34%")}, 3)
		}),
		"a joint inside the coat": event.JointTreated{Coat: a3, Method: "wetted"},
		"rain only, without a height of the wind": event.WeatherObserved{
			Station: "crew",
			Samples: []event.Weather{{At: noon, RainMillimetres: ptr(0.0)}},
		},
		"a saturated air": with("weather", func(b *event.WeatherObserved) {
			*b.Samples[0].Humidity = 1
		}),
		"a cube of an unknown batch": with("break", func(b *event.SpecimensBroken) {
			b.Batch, b.Height, b.Shape = nil, nil, event.Cube
		}),
		"a note from right to left": event.Noted{Text: "גשם מהמערב\u200f"},
		"an inspector of no crew": with("enrolment", func(b *event.DeviceEnrolled) {
			b.Role, b.Crew = event.Inspector, ""
		}),
		"a device of which nothing stands": event.DeviceRevoked{Device: "n2"},
	} {
		t.Run(name, func(t *testing.T) { write(t, "n2", 1, body) })
	}
}

// What a peer may send past Write: read without a panic, and refused before a figure could come of it.
func TestForeignBodies(t *testing.T) {
	huge := math.MaxFloat64
	ref := &hodv1.BatchRef{Crew: "north", Day: "2026-07-18", Number: 7}
	coat := &hodv1.CoatRef{Zone: "A3", Number: 1}
	cement := &hodv1.Amount{Measure: &hodv1.Amount_Mass{Mass: &hodv1.Mass{Kg: 42}}}
	for name, body := range map[string]*hodv1.Body{
		"an amount of no measure": {Kind: &hodv1.Body_StockCounted{StockCounted: &hodv1.StockCounted{
			Material: "sand",
			Amount:   &hodv1.Amount{},
		}}},
		"no amount": {
			Kind: &hodv1.Body_StockCounted{StockCounted: &hodv1.StockCounted{Material: "sand"}},
		},
		"spraying for NaN seconds": {Kind: &hodv1.Body_BatchMixed{BatchMixed: &hodv1.BatchMixed{
			Batch: ref, Mix: "face", Charges: []*hodv1.Charge{{Constituent: "cement", Amount: cement}},
			SprayS: math.NaN(),
		}}},
		"spraying for more than time": {Kind: &hodv1.Body_BatchMixed{BatchMixed: &hodv1.BatchMixed{
			Batch: ref, Mix: "face", Charges: []*hodv1.Charge{{Constituent: "cement", Amount: cement}}, SprayS: huge,
		}}},
		"an age of −∞": {Kind: &hodv1.Body_SpecimensBroken{SpecimensBroken: &hodv1.SpecimensBroken{
			Mix: "face", Shape: hodv1.SpecimensBroken_SHAPE_CUBE, Size: &hodv1.Length{M: 0.05}, LoadsN: []float64{1e5},
			AgeH: math.Inf(-1),
		}}},
		"work from the last minute there is": {
			Kind: &hodv1.Body_SitePlanned{SitePlanned: &hodv1.SitePlanned{
				Name: "Chapel", WorkFromMin: math.MaxUint32,
				WorkToMin: math.MaxUint32,
			}},
		},
		"the last number there is": {Kind: &hodv1.Body_Placement{Placement: &hodv1.Placement{
			Batch: ref,
			Coat:  &hodv1.CoatRef{Zone: "A3", Number: math.MaxUint32},
		}}},
		"a face below all": {Kind: &hodv1.Body_Placement{Placement: &hodv1.Placement{
			Batch: ref,
			Coat:  &hodv1.CoatRef{Zone: "A3", Face: -1, Number: 1},
		}}},
		"a short hash": {Kind: &hodv1.Body_Voided{Voided: &hodv1.Voided{Target: []byte{
			1, 2,
			3,
		}}}},
		"a long hash": {Kind: &hodv1.Body_Settled{Settled: &hodv1.Settled{Holds: make([]byte,
			33), Over: [][]byte{make([]byte, 32)}}}},
		"a time out of range": {Kind: &hodv1.Body_CureReadings{CureReadings: &hodv1.CureReadings{
			Probe: "p1", Coat: coat,
			Samples: []*hodv1.CureSample{{At: &timestamppb.Timestamp{Seconds: math.MaxInt64, Nanos: -1}, Celsius: 20}},
		}}},
		"a reading that says nothing": {
			Kind: &hodv1.Body_WeatherObserved{WeatherObserved: &hodv1.WeatherObserved{
				Station: "crew",
				Samples: []*hodv1.WeatherSample{{}},
			}},
		},
		"amendments in one another": {Kind: &hodv1.Body_Amended{Amended: nested(8)}},
		"a charge that holds nothing": {Kind: &hodv1.Body_BatchMixed{BatchMixed: &hodv1.BatchMixed{
			Batch: ref,
			Mix:   "face", Charges: []*hodv1.Charge{{}},
		}}},
		"a constituent that says naught": {Kind: &hodv1.Body_MixPlanned{MixPlanned: &hodv1.MixPlanned{
			Mix:      "face",
			Revision: 1, Constituents: []*hodv1.Constituent{{}},
		}}},
	} {
		t.Run(name, func(t *testing.T) {
			e := read(t, body)
			var cannot event.CannotBe
			if err := e.Check(); !errors.As(err, &cannot) {
				t.Errorf("check says %v, want that it cannot be", err)
			}
		})
	}
}

// nested is amendments n deep.
func nested(n int) *hodv1.Amended {
	a := &hodv1.Amended{Target: make([]byte, 32)}
	a.Target[0] = 1
	if n > 0 {
		a.Body = &hodv1.Body{Kind: &hodv1.Body_Amended{Amended: nested(n - 1)}}
	}
	return a
}

func TestNestingHasAnEnd(t *testing.T) {
	raw := marshal(t, &hodv1.Event{
		Device: "n2", Seq: 1,
		Body: &hodv1.Body{Kind: &hodv1.Body_Amended{Amended: nested(100)}},
	})
	if _, err := event.Read(raw); err == nil {
		t.Error("amendments a hundred deep are read")
	}
}

// Whatever an event says, none of its fields takes what is no text, no number, no time, no count.
func TestNoFieldTakesWhatIsNoValue(t *testing.T) {
	fields := 0
	for kind := range examples() {
		for i := 0; ; i++ { // the i-th field that can be spoilt, each time in a fresh example
			body := reflect.New(reflect.TypeOf(examples()[kind].Body)).Elem()
			body.Set(reflect.ValueOf(examples()[kind].Body))
			field, path := ith(body, i)
			if !field.IsValid() {
				break
			}
			fields++
			for _, bad := range spoilt(field) {
				field.Set(bad)
				_, err := event.Write(event.Event{
					Name: event.Name{Device: "n2", Seq: 1}, HappenedAt: noon,
					Body: body.Interface().(event.Body),
				})
				var cannot event.CannotBe
				if !errors.As(err, &cannot) {
					t.Errorf("%s%s = %#v: write says %v, want that it cannot be", kind, path, bad, err)
				}
			}
		}
	}
	if fields < 150 {
		t.Errorf("only %d fields were tried", fields)
	}
}

// spoilt is values of a field's type that it must not take; none for a type that this test does not try.
func spoilt(v reflect.Value) (bad []reflect.Value) {
	of := func(x any) { bad = append(bad, reflect.ValueOf(x).Convert(v.Type())) }
	switch {
	case v.Type() == reflect.TypeFor[event.Hash]():
		of(event.Hash{})
	case v.Type() == reflect.TypeFor[time.Time]():
		of(noon.AddDate(5000, 0, 0))
		of(noon.AddDate(-500, 0, 0))
	case v.Type() == reflect.TypeFor[time.Duration]():
		of(time.Duration(math.MinInt64))
		of(time.Duration(math.MaxInt64))
		of(-time.Hour)
	case v.Kind() == reflect.String:
		of("a\x1b[2Jb")
		of("\xff")
		of(strings.Repeat("x", event.MaxText+1))
	case v.Kind() == reflect.Float64:
		for _, f := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), 1e300, -1e300} {
			of(f)
		}
	case v.Kind() == reflect.Int:
		of(-1)
		of(math.MaxInt32)
	}
	return bad
}

// ith is the i-th field at any depth that spoilt knows values for, and where it is.
func ith(v reflect.Value, i int) (field reflect.Value, path string) {
	var walk func(v reflect.Value, at string)
	walk = func(v reflect.Value, at string) {
		switch {
		case field.IsValid():
		case len(spoilt(v)) > 0:
			if i--; i < 0 {
				field, path = v, at
			}
		case v.Kind() == reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem(), at)
			}
		case v.Kind() == reflect.Slice:
			for n := range v.Len() {
				walk(v.Index(n), at+"["+strconv.Itoa(n)+"]")
			}
		case v.Kind() == reflect.Struct:
			for n := range v.NumField() {
				walk(v.Field(n), at+"."+v.Type().Field(n).Name)
			}
		}
	}
	walk(v, "")
	return field, path
}
