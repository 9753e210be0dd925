package plausible_test

import (
	"strings"
	"testing"

	"hod/internal/plausible"
	"hod/internal/unit"
)

func TestTheSameNumberInTheOtherUnitIsNamed(t *testing.T) {
	f := func(x float64) float64 { return float64(unit.Fahrenheit(x)) }
	const lb = float64(unit.Pound)
	for _, k := range []struct {
		name  string
		judge func() (plausible.Doubt, bool)
		want  string // of the sentence; empty: not doubtful
		other float64
	}{
		{"85 °C of air, 85 °F meant", func() (plausible.Doubt, bool) {
			return plausible.Air.Judge(85, "85C", unit.Metric)
		}, "85 °C is hotter than any air (-40 °C to 57 °C); 85 °F would fit", f(85)},
		{
			"the same on a US site", func() (plausible.Doubt, bool) { return plausible.Air.Judge(85, "85C", unit.US) },
			"85 °C is hotter than any air", f(85),
		},
		{
			"a hot day in °F", func() (plausible.Doubt, bool) { return plausible.Air.Judge(f(104), "104F", unit.US) },
			"",
			0,
		},
		{
			"185 °F of air", func() (plausible.Doubt, bool) { return plausible.Air.Judge(f(185), "185F", unit.US) },
			"185 °F is hotter than any air (-40 °F to 134.6 °F)", 0,
		},
		{"humidity as a share written as per cent", func() (plausible.Doubt, bool) {
			return plausible.Humidity.Judge(0.0062, "0.62%", unit.Metric)
		}, "0.62% is drier than any air", 0.62},
		{"wind in m/s, mph meant", func() (plausible.Doubt, bool) {
			return plausible.Wind.Judge(40, "40m/s", unit.Metric)
		}, "40 m/s is a hurricane", 40 * 0.44704},
		{"wind in mph, though nobody typed a unit, on a US site", func() (plausible.Doubt, bool) {
			return plausible.Wind.Judge(90*0.44704, "", unit.US)
		}, "90 mph is a hurricane", 90 / 3.6},
		{"134 kg/m³ where lb/ft³ was meant", func() (plausible.Doubt, bool) {
			return plausible.UnitWeight.Judge(134, "134kg/m3", unit.Metric)
		}, "134 kg/m³ is lighter than any foamed mortar", 134 * float64(unit.PoundPerCubicFoot)},
		{
			"the same against the batch", func() (plausible.Doubt, bool) {
				return plausible.Weight(134, 2300, 0.06, "134kg/m3", unit.Metric)
			}, "134 kg/m³ leaves 94 % air in the batch, and such a mix holds -5 % to 35 %; 134 lb/ft³ would fit",
			134 * float64(unit.PoundPerCubicFoot),
		},
		{
			"a light batch", func() (plausible.Doubt, bool) {
				return plausible.Weight(2000, 2300, 0.06, "", unit.Metric)
			},
			"", 0,
		},
		{
			"a foamed batch", func() (plausible.Doubt, bool) {
				return plausible.Weight(900, 2100, 0.5, "", unit.Metric)
			},
			"", 0,
		},
		{"190 kg of sand where the design has 190 lb", func() (plausible.Doubt, bool) {
			return plausible.Charge.JudgeAmount("sand", plausible.Amount{SI: 190, Entered: "190kg"}, 190*lb, unit.US)
		}, "sand 190 kg is far more than the 86.2 kg of the mix; 190 lb would fit", 190 * lb},
		{"190 lb where the design has 190 kg", func() (plausible.Doubt, bool) {
			return plausible.Charge.JudgeAmount("sand", plausible.Amount{SI: 190 * lb, Entered: "190lb"}, 190,
				unit.Metric)
		}, "sand 190 lb is a small part", 190},
		{"half as much water as designed", func() (plausible.Doubt, bool) {
			return plausible.Charge.JudgeAmount("water", plausible.Amount{SI: 8}, 14, unit.Metric)
		}, "", 0},
		{"5 lb of water where the design has 20 lb", func() (plausible.Doubt, bool) {
			return plausible.Charge.JudgeAmount("water", plausible.Amount{SI: 5 * lb, Entered: "5lb"}, 20*lb, unit.US)
		}, "", 0},
		{"2 oz of fibre where 2 lb is designed", func() (plausible.Doubt, bool) {
			return plausible.Charge.JudgeAmount("fibre", plausible.Amount{SI: 2 * float64(unit.Ounce), Entered: "2oz"},
				2*lb, unit.US)
		}, "fibre 2 oz is a small part", 2 * lb},
		{"none of it", func() (plausible.Doubt, bool) {
			return plausible.Charge.JudgeAmount("fibre", plausible.Amount{}, 2*lb, unit.US)
		}, "", 0},
		{"gauges of 3 in on a coat of 3/8 in", func() (plausible.Doubt, bool) {
			return plausible.Gauge.Judge(0.0762, 0.009525, "3in", unit.US)
		}, "3 in is no thickness of a coat of 0.375 in; 3 mm would fit", 0.003},
		{"12 in on a coat of 12 mm", func() (plausible.Doubt, bool) {
			return plausible.Gauge.Judge(0.3048, 0.012, "12in", unit.US)
		}, "12 in is no thickness", 0.012},
		{
			"bare mesh", func() (plausible.Doubt, bool) { return plausible.Gauge.Judge(0, 0.012, "0mm", unit.Metric) },
			"",
			0,
		},
		{"twice the coat", func() (plausible.Doubt, bool) {
			return plausible.Gauge.Judge(0.024, 0.012, "24mm",
				unit.Metric)
		}, "", 0},
		{"a load in lbf that was meant in kN", func() (plausible.Doubt, bool) {
			return plausible.Load(53*4.4482216, 0.0025, "53lbf", unit.Metric)
		}, "load 53 lbf makes 94.3 kPa, weaker", 53e3},
		{
			"a load of a cube", func() (plausible.Doubt, bool) { return plausible.Load(53e3, 0.0025, "", unit.Metric) },
			"", 0,
		},
		{
			"mortar of 85 °C", func() (plausible.Doubt, bool) { return plausible.Mortar.Judge(85, "85C", unit.Metric) },
			"is hotter than any mortar", f(85),
		},
		{"a flow beyond the table", func() (plausible.Doubt, bool) {
			return plausible.Flow.Judge(2.1, "210%", unit.Metric)
		}, "210% is wider than the flow table", 0},
	} {
		t.Run(k.name, func(t *testing.T) {
			d, doubtful := k.judge()
			if doubtful != (k.want != "") {
				t.Fatalf("doubtful: %v (%s)", doubtful, d)
			}
			if !doubtful {
				return
			}
			if !strings.Contains(d.String(), k.want) {
				t.Errorf("it says %q; want %q in it", d, k.want)
			}
			if d.Source == "" {
				t.Error("it names no source")
			}
			switch {
			case (d.Other != nil) != (k.other != 0):
				t.Errorf("the other reading is %v; want %g", d.Other, k.other)
			case d.Other != nil && !alike(d.Other.SI, k.other):
				t.Errorf("the other reading is %g; want %g", d.Other.SI, k.other)
			}
		})
	}
}

func alike(a, b float64) bool { return a > b*0.999999 && a < b*1.000001 || a == b }
