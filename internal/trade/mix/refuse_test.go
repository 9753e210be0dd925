package mix

import (
	"math"
	"strings"
	"testing"
	"time"

	"hod/internal/unit"
)

// A refusal says what was wrong in words that a person finds in their own input.
func TestRefusals(t *testing.T) {
	with := func(i int, change func(*Constituent)) Mix {
		m := shellMortar()
		change(&m.Constituents[i])
		return m
	}
	second := func(_ any, err error) error { return err }
	batch := shellMortar().ssd()
	short := func(remove string) Batch {
		var b Batch
		for _, c := range batch.Charges {
			if c.Name != remove {
				b.Charges = append(b.Charges, c)
			}
		}
		return b
	}
	dry := func() Batch {
		var b Batch
		for _, c := range batch.Charges {
			if c.Kind == Water {
				c.Mass = 0.5
			}
			if c.Kind == Sand {
				c.Moisture = new(unit.Share(0))
			}
			b.Charges = append(b.Charges, c)
		}
		return b
	}
	warm := []Ingredient{{"sand", Solid, 85, 30}, {"cement", Solid, 55, 40}, {"water", MixingWater, 19, 25}}
	stiff := []Ingredient{{"sand", Solid, 85, 30}, {"cement", Solid, 55, 40}, {"water", MixingWater, 6, 25}}
	trial := Trial{
		Name: "t", Volume: 0.1, Water: 20, WaterCementitious: 0.4,
		Binder: []Portion{{Constituent{Name: "cement", Kind: Cement, Gravity: 3.15}, 0.9}},
		Sand:   Constituent{Name: "sand", Kind: Sand, Gravity: 2.65},
	}
	for _, c := range []struct {
		what string
		err  error
		say  string
	}{
		{"a mass of zero", with(0, func(c *Constituent) { c.Mass = 0 }).Check(), "mass of cement is 0 g (0 oz)"},
		{"a negative mass", with(0, func(c *Constituent) { c.Mass = -1 }).Check(), "must be above 0"},
		{
			"a mass that is no number", with(0, func(c *Constituent) { c.Mass = unit.Mass(math.NaN()) }).Check(),
			"not known",
		},
		{"a gravity left out", with(3, func(c *Constituent) { c.Gravity = 0 }).Check(), "specific gravity of sand"},
		{"a percentage for a share", with(3, func(c *Constituent) { c.Absorption = 1.2 }).Check(), "as 1%"},
		{
			"an absorption of cement", with(0, func(c *Constituent) { c.Absorption = 0.01 }).Check(),
			"only a sand has one",
		},
		{"solids of water", with(4, func(c *Constituent) { c.Solids = 0.3 }).Check(), "only an admixture or a foam"},
		{"a name twice", with(1, func(c *Constituent) { c.Name = "cement" }).Check(), "stands twice"},
		{"no name", with(1, func(c *Constituent) { c.Name = " " }).Check(), "no name"},
		{"no kind", with(1, func(c *Constituent) { c.Kind = KindNotSaid }).Check(), "no kind"},
		{"no cement", Mix{Name: "m", Constituents: shellMortar().Constituents[1:]}.Check(), "no cement"},
		{"no water", Mix{Name: "m", Constituents: shellMortar().Constituents[:4]}.Check(), "no water"},
		{"air in percent", Mix{Name: "m", Constituents: shellMortar().Constituents, Air: 8}.Check(), "as 6%"},
		{"a yield below the constituents", Mix{
			Name: "m", Constituents: shellMortar().Constituents,
			DesignYield: 0.05,
		}.Check(), "design yield"},
		{
			"a limit of w/cm in percent", Mix{
				Name: "m", Constituents: shellMortar().Constituents,
				WaterLimit: 40,
			}.Check(),
			"as 0.40",
		},
		{"half a mixer too much", second(two(shellMortar().ForMixer(0.1, 1.5))), "at most 1"},
		{"no bags", second(two(shellMortar().ForBags(0, 42.6))), "number of bags"},
		{"moisture below zero", second(two(SandFromSSD(85, 0.01, -0.01))), "moisture of sand is -1%"},
		{"moisture in percent", second(two(SandFromSSD(85, 0.01, 5))), "as 5%"},
		{"no sand", second(two(SandFromSSD(0, 0.01, 0.05))), "mass of sand"},
		{"a sample heavier when dried", second(two(SandMoisture(1, 1.1))), "moisture of the sample"},
		{"drier than dry", second(two(SandFromSurface(85, 0.01, -0.02))), "drier than oven-dry"},
		{
			"moisture of cement",
			Batch{Charges: []Charge{{batch.Charges[0].Constituent, new(unit.Share(0.05))}}}.Check(),
			"only a sand has one",
		},
		{
			"moisture of a sand that is not there",
			second(two(shellMortar().AtMoisture(map[string]unit.Share{"pit sand": 0.05}))), "no sand named pit sand",
		},
		{
			"sand that brings more than all the water",
			second(two(shellMortar().AtMoisture(map[string]unit.Share{"sand": 0.35}))), "use drier sand",
		},
		{"an empty batch", second(two(Batch{}.Figures(0))), "nothing was charged"},
		{"a batch without cement", second(two(short("cement").Figures(0))), "no cement was charged"},
		{"a batch without water", second(two(short("water").Figures(0))), "no mixing water"},
		{"sand that drinks all the water", second(two(dry().Figures(0))), "the sand takes up"},
		{
			"a charge that the mix does not have",
			second(two(shellMortar().Charged([]Amount{{Name: "lime", Mass: 1}}))),
			"lime is not a constituent",
		},
		{"a yield that cannot be", second(two(batch.FiguresAtYield(0.05))), "check gravities"},
		{"a spray without end", second(two(Spray{2e-4, 2 * time.Hour}.Mass())), "at most an hour"},
		{"a spray in litres a second", second(two(Spray{0.25, time.Second}.Mass())), "spray rate"},
		{"a full measure lighter than empty", second(two(UnitWeight(3, 4, 0.007))), "must weigh more"},
		{"a measure in litres", second(two(UnitWeight(20, 4, 7))), "unit weight"},
		{"a dose of nothing", second(two(DoseOf(0, 50))), "above 0"},
		{"a dose beyond all doses", second(two(DoseVolume(1, 50))), "at most 100000 mL/100 kg (1534 fl oz/cwt)"},
		{"more than a mixer holds", second(two(Yield(300000*unit.Pound, 2000))), "300000 lb"},
		{
			"a trial with both weight and volume", second(two(Proportion(Trial{Name: "t", Volume: 0.1, Weight: 200}))),
			"one of them",
		},
		{"a yield of nothing", second(two(Yield(0, 2000))), "mass of the batch"},
		{"mortar far denser than its parts", second(two(AirByWeight(2000, 2300))), "check gravities"},
		{"no tolerance", second(two(JudgeUnitWeight(2000, 2000, 0))), "tolerance"},
		{"shares that make no whole", second(two(Divide(54, trial.Binder))), "must make 100%"},
		{"a trial whose binder is no whole", second(two(Proportion(trial))), "must make 100%"},
		{
			"no room for sand", second(two(SandByVolume(0.06, shellMortar().Constituents[:5], 0, trial.Sand))),
			"nothing of 60 L (2.12 ft³)",
		},
		{
			"no weight for sand", second(two(SandByWeight(100, shellMortar().Constituents[:5], trial.Sand))),
			"nothing of 100 kg (220 lb)",
		},
		{"foam heavier than the mortar", second(two(FoamFor(2000, 2100, 1800))), "not lighter"},
		{"a target above the base", second(two(FoamFor(2000, 50, 2100))), "cannot be reached"},
		{"fibre in percent", second(two(FibreFor(2, 0.07, 1.3))), "as 2%"},
		{"a standard not said", second(two(Weighing{}.Judge(batch, batch))), "which standard"},
		{"frozen sand", second(two(HeatSI.Temperature([]Ingredient{{"sand", SandWater, 2, -3}}))), "thawed"},
		{"warm ice", second(two(HeatSI.Temperature([]Ingredient{{"ice", Ice, 2, 3}}))), "ice is from"},
		{
			"ice that does not melt",
			second(two(HeatSI.Temperature([]Ingredient{{"water", MixingWater, 10, 5}, {"ice", Ice, 9, 0}}))),
			"would not all melt",
		},
		{"ice above the mixing water", second(two(HeatSI.IceFor(stiff, 5))), "only 6 kg (13.2 lb) of mixing water"},
		{"water colder than ice", second(two(HeatSI.WaterFor(warm, 10))), "cool it with ice"},
		{"water hotter than boiling", second(two(HeatSI.WaterFor(stiff, 59))), "warm the sand"},
		{"a form not said", second(two(HeatSI.Temperature([]Ingredient{{"sand", FormNotSaid, 2, 3}}))), "no form"},
		{"air warmer than the mix", second(two(DeliveryLoss(15, 20, time.Hour))), "cold weather"},
	} {
		if c.err == nil {
			t.Errorf("%s was taken", c.what)
		} else if !strings.Contains(c.err.Error(), c.say) {
			t.Errorf("%s: %q does not say %q", c.what, c.err, c.say)
		}
	}
}
