package unit

import (
	"fmt"
	"slices"
	"strconv"
	"testing"

	"hod/testdata"
)

// read parses x with the unit glued to it, as a person would write it.
func read[Q ~float64](t *testing.T, parse func(string) (Q, error), x float64, unit string) Q {
	t.Helper()
	q, err := parse(strconv.FormatFloat(x, 'f', -1, 64) + unit)
	if err != nil {
		t.Fatal(err)
	}
	return q
}

// TestPublishedConversions takes every row through the parser and the factors, so both must be right.
func TestPublishedConversions(t *testing.T) {
	var seen []string
	for _, v := range testdata.Trade(t, "unit") {
		seen = append(seen, v.ID)
		if !v.Assert {
			continue
		}
		got := map[string]float64{}
		for name, x := range v.Inputs {
			switch name {
			case "lb":
				got["kg"] = float64(read(t, ParseMass, x, "lb"))
			case "ft3":
				q := read(t, ParseVolume, x, "ft3")
				got["m3"], got["gal"] = float64(q), float64(q/Gallon)
			case "yd3":
				got["m3"] = float64(read(t, ParseVolume, x, "yd3"))
			case "gal":
				got["l"] = float64(read(t, ParseVolume, x, "gal") / Litre)
			case "floz":
				got["ml"] = float64(read(t, ParseVolume, x, "floz") / Millilitre)
			case "lb_per_ft3":
				got["kg_m3"] = float64(read(t, ParseDensity, x, "lb/ft3"))
			case "lb_per_ft2_h":
				got["kg_m2_h"] = float64(read(t, ParseEvaporation, x, "lb/ft2/h"))
			case "psi":
				q := read(t, ParsePressure, x, "psi")
				got["kpa"], got["mpa"] = float64(q/Kilopascal), float64(q/Megapascal)
			case "floz_per_cwt":
				got["ml_100kg"] = float64(read(t, ParseDose, x, "floz/cwt")) * 100 / float64(Millilitre)
			case "inhg":
				got["kpa"] = float64(read(t, ParsePressure, x, "inHg") / Kilopascal)
			case "water_lb_per_ft3":
				q := read(t, ParseDensity, x, "pcf")
				if q != WaterDensity {
					t.Errorf("%s: %v lb/ft3 is not WaterDensity: %v, %v", v.ID, x, q, WaterDensity)
				}
				got["lb_gal"], got["kg_m3"] = float64(q/PoundPerGallon), float64(q)
			case "water_g_per_ml":
				got["lb_gal"] = float64(read(t, ParseDensity, x, "g/mL") / PoundPerGallon)
			case "f":
				got["c"] = float64(read(t, ParseTemperature, x, "F"))
			default:
				t.Fatalf("%s: this test knows no input %q", v.ID, name)
			}
		}
		for name := range v.Expected {
			x, ok := got[name]
			if !ok {
				t.Fatalf("%s: this test has no figure %q", v.ID, name)
			}
			v.Want(t, name, x)
		}
	}
	for i := 1; i <= 14; i++ {
		if id := fmt.Sprintf("UNIT-%02d", i); !slices.Contains(seen, id) {
			t.Errorf("%s is not among the published values", id)
		}
	}
}
