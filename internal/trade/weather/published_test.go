package weather

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"testing"
	"time"

	"hod/internal/unit"
	"hod/testdata"
)

var byWord = map[string]Saturation{"magnus": Magnus, "ashrae": ASHRAE, "fao56": FAO56, "uno": Uno, "if97": IF97}

// Each row of trade/weather.csv, with its source, against this room.
func TestPublishedValues(t *testing.T) {
	for _, v := range testdata.Trade(t, "weather") {
		if !v.Assert {
			continue
		}
		t.Run(v.ID, func(t *testing.T) {
			got := figures(t, v)
			for name := range v.Expected {
				x, ok := got[name]
				if !ok {
					t.Fatalf("%s: the test computes no figure %q from %v", v.ID, name, v.Inputs)
				}
				v.Want(t, name, x)
			}
		})
	}
}

func celsius(in map[string]float64, name string) unit.Celsius {
	if f, ok := in[name+"_f"]; ok {
		return unit.Fahrenheit(f)
	}
	return unit.Celsius(in[name+"_c"])
}

func number(b bool) float64 {
	if b {
		return 1
	}
	return 0
}

func figures(t *testing.T, v testdata.Value) map[string]float64 {
	in, out := v.Inputs, map[string]float64{}
	has := func(name string) bool { _, ok := in[name]; return ok }
	formula := byWord[v.Words["formula"]]
	air := Air{celsius(in, "air"), unit.Share(in["rh_pct"] / 100)}
	switch {
	case v.Words["rule"] != "":
		judged(t, v, out)
	case v.Words["threshold"] != "":
		h := map[string]Threshold{
			"ordinary": Ordinary, "lowbleed": LowBleed,
			"strictest": Strictest,
		}[v.Words["threshold"]]
		out["si_kg_m2_h"], out["us_lb_ft2_h"] = float64(h.SI), h.US
	case has("rate_kg_m2_h"):
		low, high := Estimate{Rate: unit.Evaporation(in["rate_kg_m2_h"])}.Between()
		out["low_kg_m2_h"], out["high_kg_m2_h"] = float64(low), float64(high)
	case has("rate_lb_ft2_h"):
		layer := Layer{
			unit.Mass(in["water_lb"]) * unit.Pound, unit.Volume(in["yield_ft3"]) * unit.CubicFoot,
			unit.Length(in["thickness_in"]) * unit.Inch,
		}
		lost, err := Lost(layer,
			[]Span{{
				time.Duration(in["hours"] * float64(time.Hour)),
				unit.Evaporation(in["rate_lb_ft2_h"]) * unit.PoundPerSquareFootHour,
			}})
		must(t, err)
		covers := float64(layer.Yield) / float64(layer.Thickness)
		out["lost_pct"] = 100 * float64(lost.Share)
		out["covers_ft2"] = covers / float64(unit.SquareFoot)
		out["lost_lb"] = float64(lost.Mass) * covers / float64(unit.Pound)
	case has("concrete_c") || has("concrete_f"):
		wind := unit.Speed(in["wind_kmh"]) * unit.KilometrePerHour
		if has("wind_mph") {
			wind = unit.Speed(in["wind_mph"]) * unit.MilePerHour
		}
		o := Observation{air, wind, celsius(in, "concrete")}
		si, err := UnoSI(o)
		must(t, err)
		us, err := UnoUS(o)
		must(t, err)
		menzel, err := MenzelSI(o, Uno)
		must(t, err)
		out["uno_si_kg_m2_h"], out["raw_uno_si_kg_m2_h"], out["condensation"] = float64(si.Rate), float64(si.Raw),
			number(si.Condensation)
		out["uno_us_lb_ft2_h"], out["uno_us_kg_m2_h"] = us.Pounds(), float64(us.Rate)
		out["menzel_kg_m2_h"] = float64(menzel.Rate)
		// The steam tables' own equation, also below freezing, where the exported one refuses: the table was recomputed
		// so.
		deficit := steamTables(float64(o.Surface)) - float64(air.Humidity)*steamTables(float64(air.Temperature))
		out["menzel_if97_lb_ft2_h"] = menzelUS(deficit/float64(unit.PSI), in["wind_mph"])
		if air.Temperature >= 0 {
			e, err := MenzelUS(o, IF97)
			must(t, err)
			out["menzel_if97_lb_ft2_h"] = e.Pounds()
		}
	case has("read_m_s"):
		read, height := unit.Speed(in["read_m_s"]), unit.Length(in["height_m"])
		two, err := AtTwoMetres(read, height)
		must(t, err)
		half, err := AtWorkHeight(read, height)
		must(t, err)
		out["two_metres_m_s"], out["factor_two_metres"], out["factor_half_metre"] = float64(two), float64(two/read),
			float64(half/read)
	case has("heat_f"):
		h, err := HeatIndex(Air{celsius(in, "heat"), air.Humidity})
		must(t, err)
		out["heat_index_f"] = h.Fahrenheit()
	case has("rh_pct"):
		dew, err := air.DewPoint(formula)
		if v.Expected["refused"] == 1 {
			out["refused"] = number(err != nil)
			break
		}
		must(t, err)
		out["dewpoint_c"], out["dewpoint_f"] = float64(dew), dew.Fahrenheit()
	case has("dry_c"):
		a, err := FromWetBulb(celsius(in, "dry"), celsius(in, "wet"), unit.Pressure(in["pressure_pa"]))
		must(t, err)
		dew, err := a.DewPoint(ASHRAE)
		must(t, err)
		held, err := a.VapourPressure(ASHRAE)
		must(t, err)
		out["rh"], out["wetbulb_dewpoint_c"] = float64(a.Humidity), float64(dew)
		out["humidity_ratio"] = 0.621945 * float64(held) / (in["pressure_pa"] - float64(held))
	case has("height_m"):
		p, err := StandardPressure(unit.Length(in["height_m"]))
		must(t, err)
		out["standard_pa"] = float64(p)
	case v.Expected["magnus_over_if97"] == 1:
		a, err := Magnus.Pressure(celsius(in, "t"))
		must(t, err)
		b, err := IF97.Pressure(celsius(in, "t"))
		must(t, err)
		out["magnus_over_if97"] = float64(a / b)
	case has("t_c") || has("t_k"):
		at := celsius(in, "t")
		if has("t_k") {
			at = unit.Celsius(in["t_k"] - unit.Zero)
		}
		p, err := formula.Pressure(at)
		must(t, err)
		out["pa"] = float64(p)
	case has("service"):
		plain, err := Protection(Service(in["service"]), false)
		must(t, err)
		fast, err := Protection(Service(in["service"]), true)
		must(t, err)
		out["days"], out["days_accelerated"] = plain.Hours()/24, fast.Hours()/24
	}
	return out
}

func judged(t *testing.T, v testdata.Value, out map[string]float64) {
	in := v.Inputs
	thick := unit.Length(in["thickness_in"]) * unit.Inch
	mortar := celsius(in, "mortar")
	var j Judgement
	var err error
	switch v.Words["rule"] {
	case "cold_weather":
		j, err = ColdWeather(celsius(in, "air"))
	case "hot":
		j, err = HotWeather(mortar)
	case "placed":
		j, err = PlacingTemperature(mortar, thick)
	case "mixed":
		j, err = MixedTemperature(mortar, celsius(in, "air"), thick)
	case "cooling":
		j, err = Cooling(unit.Kelvins(in["fall_f"]*5/9), thick)
	case "frost":
		j, err = Frost(celsius(in, "lowest"), unit.Pressure(in["strength_mpa"])*unit.Megapascal)
	case "cold_surface":
		j, err = ColdSurface(celsius(in, "surface"))
	case "peak":
		j, err = Peak(celsius(in, "inside"))
	case "inside_over_surface":
		j, err = InsideOverSurface(unit.Kelvins(in["difference_k"]))
	default:
		t.Fatalf("no rule %q", v.Words["rule"])
	}
	must(t, err)
	if j.Says == "" || j.Source.Published == "" {
		t.Errorf("a judgement needs a sentence and a source: %+v", j)
	}
	out["broken"], out["broken_us"] = number(j.Broken()), number(j.US.Broken)
	out["limit_c"], out["limit_f"] = j.SI.Limit, j.US.Limit
}

func must(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// An independent psychrometric library's values: testdata/psychrometrics/results.csv, written by check.mjs beside it.
func TestAgreesWithAnotherLibrary(t *testing.T) {
	f, err := os.Open("../../../testdata/psychrometrics/results.csv")
	must(t, err)
	defer f.Close()
	r := csv.NewReader(f)
	r.Comment = '#'
	rows, err := r.ReadAll()
	must(t, err)
	seen := map[string]int{}
	for _, row := range rows[1:] {
		var x [4]float64
		for i, s := range row[1:] {
			if s == "" {
				continue
			}
			x[i], err = strconv.ParseFloat(s, 64)
			must(t, err)
		}
		var got, tolerance float64
		switch row[0] {
		case "saturation_pa":
			p, e := ASHRAE.Pressure(unit.Celsius(x[0]))
			got, tolerance, err = float64(p), 1e-9*x[3], e
		case "dewpoint_c":
			d, e := Air{unit.Celsius(x[0]), unit.Share(x[1])}.DewPoint(ASHRAE)
			got, tolerance, err = float64(d), 0.002, e // the library stops within 0.001 K
		case "humidity_from_dewpoint":
			a, e := FromDewPoint(unit.Celsius(x[0]), unit.Celsius(x[1]), ASHRAE)
			got, tolerance, err = float64(a.Humidity), 1e-9, e
		case "standard_pa":
			p, e := StandardPressure(unit.Length(x[0]))
			got, tolerance, err = float64(p), 1e-3, e
		case "humidity_from_wetbulb":
			a, e := FromWetBulb(unit.Celsius(x[0]), unit.Celsius(x[1]), unit.Pressure(x[2]))
			got, tolerance, err = float64(a.Humidity), 1e-6, e
		default:
			t.Fatalf("no figure %q", row[0])
		}
		must(t, err)
		seen[row[0]]++
		if !(math.Abs(got-x[3]) <= tolerance) {
			t.Errorf("%v: got %.10g", row, got)
		}
	}
	if len(seen) != 5 {
		t.Errorf("figures compared: %v, want five kinds", seen)
	}
}
