package mix

import (
	"strings"
	"testing"
	"time"

	"hod/internal/unit"
)

func TestFiguresOfABatchWithEveryWaterInIt(t *testing.T) {
	m := shellMortar()
	m.Constituents = append(m.Constituents, Constituent{
		Name: "plasticizer", Kind: Admixture, Mass: 1 * lb,
		Gravity: 1.07, Solids: 0.4,
	})
	b := must(m.Charged([]Amount{
		{Name: "cement", Mass: 94 * lb},
		{Name: "ash", Mass: 20 * lb},
		{Name: "metakaolin", Mass: 6 * lb},
		// 180 lb dry: 1.8 lb inside the grains at SSD, 7.2 lb free.
		{Name: "sand", Mass: 189 * lb, Moisture: new(unit.Share(0.05))},
		{Name: "water", Mass: 30 * lb},
		{Name: "water", Mass: 5 * lb},
		{Name: "plasticizer", Mass: 1 * lb},
		{Name: "fibre", Mass: 1.2 * lb},
	}, Spray{unit.Flow(unit.Quart) / 4, 10 * time.Second}))(t)
	f := must(b.Figures(0.08))(t)
	sprayed := 2.5 * 231.0 / 4 / 1728 * 62.4 // lb: 2.5 qt at 62.4 lb/ft³
	for _, c := range []struct {
		what      string
		got, want float64
	}{
		{"added", inLb(f.Water.From(Added)), 35},
		{"free in sand", inLb(f.Water.From(InSand)), 7.2},
		{"in admixture", inLb(f.Water.From(InAdmixture)), 0.6},
		{"in foam", inLb(f.Water.From(InFoam)), 0},
		{"sprayed", inLb(f.Water.From(Sprayed)), sprayed},
		{"w/cm", f.WaterCementitious, (42.8 + sprayed) / 120},
		{"mass", inLb(f.Mass), 94 + 20 + 6 + 189 + 35 + 1 + 1.2 + sprayed},
		{"sand/cementitious", f.SandCementitious, 181.8 / 120},
		{"pozzolan of cementitious", float64(f.PozzolanOfCementitious), 26.0 / 120},
		{"pozzolan of cement", float64(f.PozzolanOfCement), 26.0 / 94},
		{"yield", float64(f.Yield), float64(f.AirFree) / 0.92},
		{"cement content", float64(f.CementContent), float64(94*lb) / float64(f.Yield)},
		{"cementitious content", float64(f.CementitiousContent), float64(120*lb) / float64(f.Yield)},
		{"dose of liquid by mass", float64(f.Doses[0].Mass), 1.0 / 120},
		{"dose of solids by mass", float64(f.Doses[0].Solids), 0.4 / 120},
		{
			"dose in fl oz/cwt", float64(f.Doses[0].Rate / unit.FluidOuncePerHundredweight),
			1 / (1.07 * 62.4) * 1728 / 231 * 128 / 1.2,
		},
		{
			"dose in mL/100 kg", float64(f.Doses[0].Rate) * 100 / float64(unit.Millilitre),
			float64(f.Doses[0].Rate/unit.FluidOuncePerHundredweight) * 65.198472,
		},
		{"fibre by mass", float64(f.Fibres[0].Mass), 1.2 * float64(lb) / float64(f.Mass)},
		{"fibre by volume", float64(f.Fibres[0].Volume), 1.2 / (1.3 * 62.4) * float64(ft3) / float64(f.Yield)},
		{"water left to 0.45", inLb(must(f.WaterLeft(0.45))(t)), 54 - 42.8 - sprayed},
		{"water left to 0.30", inLb(must(f.WaterLeft(0.30))(t)), 36 - 42.8 - sprayed}, // past it
	} {
		if !near(c.got, c.want, 1e-8) {
			t.Errorf("%s: got %v, want %v", c.what, c.got, c.want)
		}
	}
	if len(f.Remarks) != 0 {
		t.Errorf("remarks on a batch that is wholly known: %q", f.Remarks)
	}
}

func TestRemarks(t *testing.T) {
	b := shellMortar().ssd()
	b.Charges[3].Moisture = nil
	says(t, must(b.Figures(0))(t).Remarks, "moisture of sand is not known")
	b.Charges[3].Moisture = new(unit.Share(0.002))
	says(t, must(b.Figures(0))(t).Remarks, "sand was drier than SSD")
	b = shellMortar().ssd()
	says(t, must(b.FiguresAtYield(cubicFeet(2.5)))(t).Remarks, "which cannot be")
	m := shellMortar()
	m.Air, m.DesignYield = 0.08, cubicFeet(3)
	f := must(m.Figures())(t)
	says(t, f.Remarks, "the mix states 8.0 %")
	if f.Yield != m.DesignYield {
		t.Errorf("yield %v, want the stated %v", f.Yield, m.DesignYield)
	}
	m.Constituents[4].Mass = 30 * lb
	says(t, must(m.Figures())(t).Unusual(), "w/cm 0.250")
	hot := must(HeatSI.WaterFor([]Ingredient{
		{"sand", Solid, 85, 3},
		{"cement", Solid, 55, 5},
		{"water", MixingWater, 19, 10},
	}, 28))(t)
	says(t, hot.Remarks, "flash set")
	iced := []Ingredient{{"sand", Solid, 85, 30}, {"cement", Solid, 55, 30}, {"water", MixingWater, 8, 30}}
	says(t, must(HeatSI.IceFor(iced, 17))(t).Remarks, "over half")
	says(t, must(HeatSI.Temperature([]Ingredient{
		{"sand", Solid, 85, 30},
		{"water", MixingWater, 5, 30},
		{"ice", Ice, 6, 0},
	}))(t).Remarks, "over half")
}

func says(t *testing.T, remarks []string, want string) {
	t.Helper()
	if !strings.Contains(strings.Join(remarks, "\n"), want) {
		t.Errorf("remarks %q do not say %q", remarks, want)
	}
}

func TestWeighing(t *testing.T) {
	m := shellMortar()
	m.Constituents = append(m.Constituents, Constituent{
		Name: "plasticizer", Kind: Admixture, Mass: 1 * lb,
		Gravity: 1.07, Solids: 0.4,
	})
	target := must(m.AtMoisture(map[string]unit.Share{"sand": 0.05}))(t)
	big := Weighing{Standard: C94, Scale: 60 * lb} // every cementitious charge but metakaolin is over 30 % of it
	for _, c := range []struct {
		what     string
		weighing Weighing
		name     string
		factor   float64
		within   bool
	}{
		{"cement at +1 %", big, "cement", 1.01, true},
		{"cement at -1 %", big, "cement", 0.99, true},
		{"cement over +1 %", big, "cement", 1.0101, false},
		{"metakaolin on a scale that is large for it, short", big, "metakaolin", 0.999, false},
		{"metakaolin on a scale that is large for it, +4 %", big, "metakaolin", 1.04, true},
		{"cement of a small batch short", Weighing{Standard: C94}, "cement", 0.995, false},
		{"cement of a small batch +3 %", Weighing{Standard: C94}, "cement", 1.03, true},
		{"sand at -2 %", big, "sand", 0.98, true},
		{"sand beyond -2 %", big, "sand", 0.9799, false},
		{"admixture at +3 %", big, "plasticizer", 1.03, true},
		{"admixture beyond", big, "plasticizer", 1.031, false},
		{"water at +1.5 %", big, "water added", 1.015, true},
		{"water beyond +1.5 %", big, "water added", 1.016, false},
		{"water by volume at +1 %", Weighing{Standard: C685}, "water added", 1.01, true},
		{"water by volume beyond +1 %", Weighing{Standard: C685}, "water added", 1.011, false},
		// Of all mixing water, which is more than the water added: 1 % of it is over 1.1 % of that.
		{"water before 2021 at +1.1 %", Weighing{Standard: C94Before2021}, "water added", 1.011, true},
	} {
		charged := Batch{}
		for _, charge := range target.Charges {
			if charge.Name == c.name || c.name == "water added" && charge.Kind == Water {
				charge.Mass *= unit.Mass(c.factor)
			}
			charged.Charges = append(charged.Charges, charge)
		}
		found := false
		for _, l := range must(c.weighing.Judge(target, charged))(t) {
			switch {
			case l.Name == c.name:
				found = true
				if !l.Judged || l.Within != c.within || l.Source == "" {
					t.Errorf("%s: got %+v, want within=%v", c.what, l, c.within)
				}
			case l.Judged && !l.Within && l.Kind != Water:
				t.Errorf("%s: %s was as it should be and is out: %+v", c.what, l.Name, l)
			}
		}
		if !found {
			t.Errorf("%s: no line for %s", c.what, c.name)
		}
	}
}

func TestWeighingMissingAndUnasked(t *testing.T) {
	target := shellMortar().ssd()
	var charged Batch
	for _, c := range target.Charges {
		if c.Name != "ash" {
			charged.Charges = append(charged.Charges, c)
		}
	}
	charged.Charges = append(charged.Charges,
		Charge{Constituent: Constituent{Name: "lime", Kind: Other, Mass: 1, Gravity: 2.3}})
	for _, l := range must(Weighing{Standard: C94}.Judge(target, charged))(t) {
		switch l.Name {
		case "ash":
			if !l.Judged || l.Within || l.Share != -1 {
				t.Errorf("ash that was left out: %+v", l)
			}
		case "lime":
			if l.Judged || l.Source != "not in the mix" {
				t.Errorf("lime that nobody asked for: %+v", l)
			}
		case "fibre":
			if l.Judged || !strings.Contains(l.Source, "no tolerance known") {
				t.Errorf("fibre, whose tolerance is not known: %+v", l)
			}
		}
	}
}

func TestWeighingAggregatesWeighedTogether(t *testing.T) {
	load := func(coarse, fine float64) Batch {
		return Batch{Charges: []Charge{
			{Constituent: Constituent{Name: "coarse", Kind: Sand, Mass: unit.Mass(coarse), Gravity: 2.65}},
			{Constituent: Constituent{Name: "fine", Kind: Sand, Mass: unit.Mass(fine), Gravity: 2.65}},
			{Constituent: Constituent{Name: "water", Kind: Water, Mass: 20}},
		}}
	}
	// Within 2 % apart; together 1.5 % over.
	for cumulative, want := range map[bool]bool{false: true, true: false} {
		lines := must(Weighing{Standard: C94, Cumulative: cumulative}.Judge(load(100, 100), load(101, 102)))(t)
		if lines[0].Within != true || lines[1].Within != want {
			t.Errorf("cumulative=%v: got %+v", cumulative, lines)
		}
	}
}

func TestUnitWeightAgainstTheTarget(t *testing.T) {
	for _, c := range []struct {
		measured unit.Density
		within   bool
	}{{2000, true}, {2050, true}, {1950, true}, {2050.004, true}, {2050.02, false}, {1949.9, false}} {
		if j := must(JudgeUnitWeight(c.measured, 2000, 50))(t); j.Within != c.within {
			t.Errorf("%v against 2000 ± 50: got %+v", c.measured, j)
		}
	}
}

func TestLiquidsAndFibreByMeasure(t *testing.T) {
	if m := must(LooseFibre(10*unit.Litre, 60))(t); !near(float64(m), 0.6, 1e-12) {
		t.Errorf("10 L of loose fibre at 60 kg/m³: %v kg, want 0.6", m)
	}
	// What FibreFor asks for is the share that Figures finds in the same yield.
	m := shellMortar()
	m.Air = 0.05
	y := must(m.Yield())(t)
	m.Constituents[5].Mass = must(FibreFor(0.02, y, 1.3))(t)
	if got := must(m.ssd().FiguresAtYield(y))(t).Fibres[0].Volume; !near(float64(got), 0.02, 1e-12) {
		t.Errorf("2 %% of fibre comes to %v", got)
	}
	ml := must(DoseVolume(unit.Dose(unit.Millilitre), 50))(t)
	if !near(float64(ml), 50e-6, 1e-12) {
		t.Errorf("100 mL/100 kg for 50 kg: %v m³, want 50 mL", ml)
	}
}

func TestIceBelowFreezingCoolsMore(t *testing.T) {
	// (90·20 + 10·(0.5·(−10) − 79.6)) / 100, by hand.
	got := must(HeatSI.Temperature([]Ingredient{{"water", MixingWater, 90, 20}, {"ice", Ice, 10, -10}}))(t).At
	if !near(float64(got), 9.54, 1e-12) {
		t.Errorf("ice of -10 °C: got %v °C, want 9.54", got)
	}
}

func TestScalingLeavesTheMixAlone(t *testing.T) {
	m := shellMortar()
	must(m.Scaled(2))(t)
	if m.Constituents[0].Mass != 94*lb {
		t.Errorf("the mix that was scaled now has %v of cement", m.Constituents[0].Mass)
	}
}
