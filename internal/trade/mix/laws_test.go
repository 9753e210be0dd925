package mix

import (
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"hod/internal/unit"
)

func near(a, b, rel float64) bool { return math.Abs(a-b) <= rel*max(math.Abs(a), math.Abs(b)) }

// anyMix draws a mortar with two sands, an admixture and foam: more water in it than its sand can bring.
func anyMix(t *rapid.T) Mix {
	mass := func(name string, low, high float64) unit.Mass {
		return unit.Mass(rapid.Float64Range(low, high).Draw(t, name))
	}
	share := func(name string, high float64) unit.Share {
		return unit.Share(rapid.Float64Range(0, high).Draw(t, name))
	}
	return Mix{Name: "any", Air: share("air", 0.6), Constituents: []Constituent{
		{Name: "cement", Kind: Cement, Mass: mass("cement", 30, 100), Gravity: 3.15},
		{Name: "metakaolin", Kind: Pozzolan, Mass: mass("metakaolin", 1, 20), Gravity: 2.5},
		{
			Name: "fine", Kind: Sand, Mass: mass("fine", 10, 100), Gravity: 2.65,
			Absorption: share("fine absorption", 0.05),
		},
		{
			Name: "coarse", Kind: Sand, Mass: mass("coarse", 10, 100), Gravity: 2.6,
			Absorption: share("coarse absorption", 0.05),
		},
		{Name: "water", Kind: Water, Mass: mass("water", 40, 80)},
		{
			Name: "plasticizer", Kind: Admixture, Mass: mass("plasticizer", 0.1, 2), Gravity: 1.07,
			Solids: share("solids", 1),
		},
		{Name: "foam", Kind: Foam, Mass: mass("foam", 0.1, 3), Gravity: 1.01, Solids: share("foam solids", 0.2)},
		{Name: "fibre", Kind: Fibre, Mass: mass("fibre", 0.1, 2), Gravity: 1.3},
	}}
}

func TestScalingKeepsProportionsAndSumsItsMass(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := anyMix(rt)
		factor := rapid.Float64Range(0.01, 50).Draw(rt, "factor")
		before := must(m.Figures())(t)
		scaled := must(m.Scaled(factor))(t)
		after := must(scaled.Figures())(t)
		if !near(float64(after.Mass), factor*float64(before.Mass), 1e-12) ||
			!near(float64(after.Yield), factor*float64(before.Yield), 1e-12) {
			rt.Fatalf("×%v: mass %v of %v, yield %v of %v", factor, after.Mass, before.Mass, after.Yield, before.Yield)
		}
		if !near(after.WaterCementitious, before.WaterCementitious, 1e-12) ||
			!near(float64(after.UnitWeight), float64(before.UnitWeight), 1e-12) {
			rt.Fatalf("×%v: w/cm %v of %v, unit weight %v of %v", factor, after.WaterCementitious,
				before.WaterCementitious, after.UnitWeight, before.UnitWeight)
		}
		whole := must(m.ForVolume(unit.Volume(factor) * before.Yield))(t)
		bags := must(m.ForBags(factor*float64(m.Cement())/42.6, 42.6))(t)
		for i := range scaled.Constituents {
			want := float64(scaled.Constituents[i].Mass)
			if !near(float64(whole.Constituents[i].Mass), want, 1e-9) || !near(float64(bags.Constituents[i].Mass), want,
				1e-9) {
				rt.Fatalf("%s: %v by factor, %v by volume, %v by bags", scaled.Constituents[i].Name, want,
					whole.Constituents[i].Mass, bags.Constituents[i].Mass)
			}
		}
	})
}

func TestMoistureCorrectionKeepsMassWaterAndVolume(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := anyMix(rt)
		moisture := map[string]unit.Share{
			"fine":   unit.Share(rapid.Float64Range(0, 0.15).Draw(rt, "fine moisture")),
			"coarse": unit.Share(rapid.Float64Range(0, 0.15).Draw(rt, "coarse moisture")),
		}
		want := must(m.Figures())(t)
		b := must(m.AtMoisture(moisture))(t)
		got := must(b.Figures(m.Air))(t)
		for _, c := range []struct {
			what      string
			got, want float64
		}{
			{"mass on the scales", float64(onTheScales(b)), float64(want.Mass)},
			{"mass", float64(got.Mass), float64(want.Mass)},
			{"water", float64(got.Water.Total), float64(want.Water.Total)},
			{"w/cm", got.WaterCementitious, want.WaterCementitious},
			{"sand at SSD", float64(got.SandSSD), float64(want.SandSSD)},
			{"air-free volume", float64(got.AirFree), float64(want.AirFree)},
			{"yield", float64(got.Yield), float64(want.Yield)},
		} {
			if !near(c.got, c.want, 1e-12) {
				rt.Fatalf("%s is %v as weighed and %v as designed", c.what, c.got, c.want)
			}
		}
	})
}

func TestWaterBalanceCloses(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := must(anyMix(rt).AtMoisture(
			map[string]unit.Share{"fine": unit.Share(rapid.Float64Range(0, 0.15).Draw(rt, "moisture"))}))(t)
		before := must(b.Figures(0))(t)
		b.Sprays = []Spray{{2.5e-4, time.Duration(rapid.IntRange(1, 60).Draw(rt, "seconds")) * time.Second}}
		f := must(b.Figures(0))(t)
		var bySource, mass unit.Mass
		for s := Added; s <= Sprayed; s++ {
			bySource += f.Water.From(s)
		}
		var volume unit.Volume
		for _, p := range f.Parts {
			mass += p.Mass
			volume += p.Volume
		}
		sprayed := must(b.Sprays[0].Mass())(t)
		if !near(float64(bySource), float64(f.Water.Total), 1e-12) || !near(float64(f.Water.Total-before.Water.Total),
			float64(sprayed), 1e-9) {
			rt.Fatalf("water %v, by source %v; %v before a spray of %v", f.Water.Total, bySource, before.Water.Total,
				sprayed)
		}
		if mass != f.Mass || volume != f.AirFree || !near(float64(mass), float64(onTheScales(b)), 1e-12) {
			rt.Fatalf("parts weigh %v of %v and fill %v of %v", mass, f.Mass, volume, f.AirFree)
		}
		if left := must(f.WaterLeft(f.WaterCementitious))(t); math.Abs(float64(left)) > 1e-9 {
			rt.Fatalf("at its own w/cm as limit a batch has no water left, got %v", left)
		}
		left := must(f.WaterLeft(4))(t)
		b.Charges = append(b.Charges, Charge{Constituent: Constituent{Name: "rest", Kind: Water, Mass: left}})
		if got := must(b.Figures(0))(t).WaterCementitious; !near(got, 4, 1e-9) {
			rt.Fatalf("with the water that was left w/cm is %v, not the limit of 4", got)
		}
	})
}

func TestMoreMoistureNeverRaisesTheWaterToAdd(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		m := anyMix(rt)
		w := unit.Share(rapid.Float64Range(0, 0.1).Draw(rt, "moisture"))
		more := w + unit.Share(rapid.Float64Range(0, 0.1).Draw(rt, "more"))
		added := func(w unit.Share) unit.Mass {
			return must(must(m.AtMoisture(map[string]unit.Share{"fine": w}))(t).Balance())(t).From(Added)
		}
		if a, b := added(w), added(more); b > a {
			rt.Fatalf("moisture %v asks for %v kg and %v for %v", w, a, more, b)
		}
	})
}

func TestYieldGrowsWithAirAndContentFalls(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		b := anyMix(rt).ssd()
		air := unit.Share(rapid.Float64Range(0, 0.4).Draw(rt, "air"))
		f, g := must(b.Figures(air))(t),
			must(b.Figures(air+unit.Share(rapid.Float64Range(0.001, 0.4).Draw(rt, "more"))))(t)
		if g.Yield <= f.Yield || g.UnitWeight >= f.UnitWeight || g.CementitiousContent >= f.CementitiousContent {
			rt.Fatalf("air %v: yield %v, D %v; air %v: yield %v, D %v", f.Air, f.Yield, f.UnitWeight, g.Air, g.Yield,
				g.UnitWeight)
		}
		back := must(b.FiguresAtYield(g.Yield))(t)
		if !near(float64(back.Air), float64(g.Air), 1e-9) ||
			!near(float64(must(AirByWeight(g.AirFreeUnitWeight, g.UnitWeight))(t)), float64(g.Air), 1e-9) {
			rt.Fatalf("air %v comes back as %v from the yield", g.Air, back.Air)
		}
	})
}

func TestSandStatesAgreeWhicheverWayRound(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		a := unit.Share(rapid.Float64Range(0, 0.2).Draw(rt, "absorption"))
		w := unit.Share(rapid.Float64Range(0, 0.2).Draw(rt, "moisture"))
		s := must(SandFromSSD(unit.Mass(rapid.Float64Range(0.1, 1000).Draw(rt, "ssd")), a, w))(t)
		surface := unit.Share(s.Free / s.SSD)
		for how, other := range map[string]SandState{
			"oven-dry": must(SandFromOvenDry(s.OvenDry, a, w))(t),
			"weighed":  must(SandFromWeighed(s.Weighed, a, w))(t),
			"surface":  must(SandFromSurface(s.SSD, a, surface))(t),
		} {
			if !near(float64(other.OvenDry), float64(s.OvenDry), 1e-9) ||
				!near(float64(other.SSD), float64(s.SSD), 1e-9) ||
				!near(float64(other.Weighed), float64(s.Weighed), 1e-9) ||
				math.Abs(float64(other.Free-s.Free)) > 1e-9*float64(s.SSD) {
				rt.Fatalf("from %s: %+v, from SSD: %+v", how, other, s)
			}
		}
		if math.Abs(float64(s.SSD+s.Free-s.Weighed)) > 1e-12*float64(s.Weighed) || (w < a) != (s.Free < 0) {
			rt.Fatalf("%+v with moisture %v and absorption %v does not close", s, w, a)
		}
		if got := must(SandMoisture(s.Weighed, s.OvenDry))(t); math.Abs(float64(got-w)) > 1e-9 {
			rt.Fatalf("moisture %v comes back as %v", w, got)
		}
	})
}

func TestProportionedMixFillsItsVolume(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		trial := Trial{
			Name: "trial", Volume: 1, Water: unit.Mass(rapid.Float64Range(150, 300).Draw(rt, "water")),
			WaterCementitious: rapid.Float64Range(0.35, 0.7).Draw(rt, "w/cm"),
			Binder: []Portion{
				{Constituent{Name: "cement", Kind: Cement, Gravity: 3.15}, 0.9},
				{Constituent{Name: "silica fume", Kind: Pozzolan, Gravity: 2.2}, 0.1},
			},
			Others: []Constituent{
				{Name: "plasticizer", Kind: Admixture, Mass: 8, Gravity: 1.07, Solids: 0.3},
				{Name: "fibre", Kind: Fibre, Mass: 10, Gravity: 1.3},
			},
			Air:  unit.Share(rapid.Float64Range(0, 0.1).Draw(rt, "air")),
			Sand: Constituent{Name: "sand", Kind: Sand, Gravity: 2.65, Absorption: 0.01},
		}
		f := must(must(Proportion(trial))(t).Figures())(t)
		if !near(float64(f.Yield), 1, 1e-12) || !near(f.WaterCementitious, trial.WaterCementitious, 1e-12) ||
			!near(float64(f.PozzolanOfCementitious), 0.1, 1e-12) {
			rt.Fatalf("yield %v, w/cm %v, pozzolan %v from %+v", f.Yield, f.WaterCementitious, f.PozzolanOfCementitious,
				trial)
		}
	})
}

func TestFoamReachesTheTarget(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		base := rapid.Float64Range(1500, 2500).Draw(rt, "base")
		foam := rapid.Float64Range(20, 100).Draw(rt, "foam")
		target := rapid.Float64Range(400, base).Draw(rt, "target")
		n := must(FoamFor(unit.Density(base), unit.Density(foam), unit.Density(target)))(t)
		// One volume of base and its foam, weighed together.
		if got := (base + foam*n.PerBase) / (1 + n.PerBase); !near(got, target, 1e-9) ||
			!near(n.PerBase/(1+n.PerBase), float64(n.Fraction), 1e-9) {
			rt.Fatalf("%+v brings %v to %v, not %v", n, base, got, target)
		}
	})
}

func TestWaterAndIceReachTheTarget(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		at := func(name string, low, high float64) unit.Celsius {
			return unit.Celsius(rapid.Float64Range(low, high).Draw(rt, name))
		}
		sand := at("sand", 2, 45)
		parts := []Ingredient{
			{"sand", Solid, 85, sand},
			{"free", SandWater, 2, sand},
			{"cement", Solid, 55, at("cement", 0, 60)},
			{"water", MixingWater, 19, at("water", 0, 40)},
		}
		now := must(HeatSI.Temperature(parts))(t).At
		target := now + at("change", -8, 8)
		if w, err := HeatSI.WaterFor(parts, target); err == nil {
			chosen := append([]Ingredient(nil), parts...)
			chosen[3].At = w.At
			if got := must(HeatSI.Temperature(chosen))(t).At; math.Abs(float64(got-target)) > 1e-9 {
				rt.Fatalf("water of %v °C brings the mix to %v, not %v", w.At, got, target)
			}
		}
		n, err := HeatSI.IceFor(parts, target)
		switch {
		case err != nil:
		case target >= now:
			if n.Ice != 0 {
				rt.Fatalf("%v of ice for a mix of %v that should be %v", n.Ice, now, target)
			}
		case n.Ice > leastMass && n.Water > leastMass:
			iced := append([]Ingredient(nil), parts...)
			iced[3].Mass = n.Water
			iced = append(iced, Ingredient{"ice", Ice, n.Ice, 0})
			if got := must(HeatSI.Temperature(iced))(t).At; math.Abs(float64(got-target)) > 1e-9 {
				rt.Fatalf("%v kg of ice brings the mix to %v, not %v", n.Ice, got, target)
			}
		}
	})
}

// The °F equation, as printed, beside the constants that stand for it.
func TestFahrenheitEquationIsTheSame(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		f := func(name string, low, high float64) float64 { return rapid.Float64Range(low, high).Draw(rt, name) }
		ta, tc, tw := f("aggregate", 40, 110), f("cement", 40, 150), f("water", 35, 100)
		wa, wc, ww, wwa, wi := f("Wa", 100, 300), f("Wc", 50, 150), f("Ww", 20, 60), f("Wwa", 0.1, 10), f("Wi", 0.1, 5)
		want := (0.22*(ta*wa+tc*wc) + tw*ww + ta*wwa - 112*wi) / (0.22*(wa+wc) + ww + wwa + wi)
		got := must(HeatUS.Temperature([]Ingredient{
			{"aggregate", Solid, pounds(wa), unit.Fahrenheit(ta)},
			{"cement", Solid, pounds(wc), unit.Fahrenheit(tc)},
			{"water", MixingWater, pounds(ww), unit.Fahrenheit(tw)},
			{"free", SandWater, pounds(wwa), unit.Fahrenheit(ta)},
			{"ice", Ice, pounds(wi), 0},
		}))(t).At.Fahrenheit()
		if math.Abs(got-want) > 1e-9 {
			rt.Fatalf("got %v °F, the printed equation gives %v", got, want)
		}
	})
}

// odd draws what a typing slip, a broken file or a hostile event may hold.
func odd() *rapid.Generator[float64] {
	return rapid.OneOf(
		rapid.SampledFrom([]float64{
			math.NaN(), math.Inf(1), math.Inf(-1), 0, math.Copysign(0, -1), -1, 5e-324, 1e-6,
			1e308, math.MaxFloat64, 1, 0.05, 0.4, 2.65, 50, 1e5,
		}),
		rapid.Float64(), rapid.Float64Range(0, 1), rapid.Float64Range(0, 100),
	)
}

func TestNothingIsEverNaNOrInfinite(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		n := 0
		x := func() float64 { n++; return odd().Draw(rt, fmt.Sprint("x", n)) }
		m, v, s, d, c := func() unit.Mass { return unit.Mass(x()) }, func() unit.Volume { return unit.Volume(x()) },
			func() unit.Share { return unit.Share(x()) }, func() unit.Density {
				return unit.Density(x())
			}, func() unit.Celsius { return unit.Celsius(x()) }
		duration := time.Duration(rapid.Int64().Draw(rt, "duration"))
		w := s()
		b := Batch{Charges: []Charge{
			{Constituent: Constituent{Name: "cement", Kind: Cement, Mass: m(), Gravity: x()}},
			{Constituent{Name: "sand", Kind: Sand, Mass: m(), Gravity: x(), Absorption: s()}, &w},
			{Constituent: Constituent{Name: "admixture", Kind: Admixture, Mass: m(), Gravity: x(), Solids: s()}},
			{Constituent: Constituent{Name: "water", Kind: Water, Mass: m()}},
		}}
		if rapid.Bool().Draw(rt, "sprayed") {
			b.Sprays = []Spray{{unit.Flow(x()), duration}}
		}
		var design Mix
		for _, c := range b.Charges {
			design.Constituents = append(design.Constituents, c.Constituent)
		}
		design.Air, design.DesignYield = s(), v()
		parts := []Ingredient{{"s", Solid, m(), c()}, {"w", MixingWater, m(), c()}}
		if rapid.Bool().Draw(rt, "iced") {
			parts = append(parts, Ingredient{"i", Ice, m(), c()})
		}
		figures, err := b.Figures(s())
		finite(rt, "Figures", figures, err)
		if err == nil {
			left, err := figures.WaterLeft(x())
			finite(rt, "WaterLeft", left, err)
			j, err := figures.JudgePozzolan(s(), OfCement)
			finite(rt, "JudgePozzolan", j, err)
		}
		check := func(name string) func(got any, err error) {
			return func(got any, err error) { rt.Helper(); finite(rt, name, got, err) }
		}
		check("FiguresAtYield")(two(b.FiguresAtYield(v())))
		check("Mix.Figures")(two(design.Figures()))
		check("Scaled")(two(design.Scaled(x())))
		check("ForBags")(two(design.ForBags(x(), m())))
		check("ForVolume")(two(design.ForVolume(v())))
		check("ForMixer")(two(design.ForMixer(v(), s())))
		check("AtMoisture")(two(design.AtMoisture(map[string]unit.Share{"sand": s()})))
		check("Judge")(two(Weighing{Standard: C94Before2021, Scale: m()}.Judge(b, b)))
		check("SandFromSSD")(two(SandFromSSD(m(), s(), s())))
		check("SandFromOvenDry")(two(SandFromOvenDry(m(), s(), s())))
		check("SandFromWeighed")(two(SandFromWeighed(m(), s(), s())))
		check("SandFromSurface")(two(SandFromSurface(m(), s(), s())))
		check("SandFromBucket")(two(SandFromBucket(Bucket{v(), d(), s(), s(), s()})))
		check("SandMoisture")(two(SandMoisture(m(), m())))
		check("UnitWeight")(two(UnitWeight(m(), m(), v())))
		check("Yield")(two(Yield(m(), d())))
		check("RelativeYield")(two(RelativeYield(v(), v())))
		check("AirByWeight")(two(AirByWeight(d(), d())))
		check("AirByVolume")(two(AirByVolume(v(), v())))
		check("AtAir")(two(AtAir(d(), s())))
		check("CementContent")(two(CementContent(m(), v())))
		check("JudgeUnitWeight")(two(JudgeUnitWeight(d(), d(), d())))
		check("FoamFor")(two(FoamFor(d(), d(), d())))
		check("FoamPremix")(two(FoamPremix("foam", v(), v(), x())))
		check("LooseFibre")(two(LooseFibre(v(), d())))
		check("FibreFor")(two(FibreFor(s(), v(), x())))
		check("DoseOf")(two(DoseOf(v(), m())))
		check("DoseVolume")(two(DoseVolume(unit.Dose(x()), m())))
		check("DoseByMass")(two(DoseByMass(unit.Dose(x()), d())))
		check("Calibrate")(two(Calibrate(v(), duration)))
		check("CementitiousFor")(two(CementitiousFor(m(), x())))
		check("SandByVolume")(two(SandByVolume(v(), design.Constituents, s(),
			Constituent{Name: "rest", Kind: Sand, Gravity: x()})))
		check("SandByWeight")(two(SandByWeight(m(), design.Constituents,
			Constituent{Name: "rest", Kind: Sand, Gravity: x()})))
		check("Temperature")(two(HeatSI.Temperature(parts)))
		check("WaterFor")(two(HeatSI.WaterFor(parts, c())))
		check("IceFor")(two(HeatSI.IceFor(parts, c())))
		check("ChangeFor")(two(HeatSI.ChangeFor(parts, "s")))
		check("DeliveryLoss")(two(DeliveryLoss(c(), c(), duration)))
	})
}

// onTheScales is the mass of everything charged and sprayed. Mixing neither adds nor removes any.
func onTheScales(b Batch) unit.Mass {
	var sum unit.Mass
	for _, c := range b.Charges {
		sum += c.Mass
	}
	for _, s := range b.Sprays {
		m, _ := s.Mass()
		sum += m
	}
	return sum
}

func two[V any](v V, err error) (any, error) { return v, err }

// finite walks a result and fails on a NaN or an infinity anywhere in it. What comes with an error is not looked at.
func finite(t *rapid.T, name string, got any, err error) {
	t.Helper()
	if err != nil {
		return
	}
	var walk func(v reflect.Value)
	walk = func(v reflect.Value) {
		switch v.Kind() {
		case reflect.Float64:
			if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
				t.Fatalf("%s gave %v in %+v", name, f, got)
			}
		case reflect.Struct:
			for i := range v.NumField() {
				walk(v.Field(i))
			}
		case reflect.Slice:
			for i := range v.Len() {
				walk(v.Index(i))
			}
		case reflect.Pointer:
			if !v.IsNil() {
				walk(v.Elem())
			}
		}
	}
	walk(reflect.ValueOf(got))
}

func TestOneDegreeOfIceIsWorthWhatTheEquationGivesIt(t *testing.T) {
	at := func(ice unit.Celsius) []Ingredient {
		return []Ingredient{{"sand", Solid, 85, 35}, {"water", MixingWater, 19, 24}, {"ice", Ice, 1.4, ice}}
	}
	colder, warmer := must(HeatSI.Temperature(at(-5)))(t), must(HeatSI.Temperature(at(-4)))(t)
	if got, want := must(HeatSI.ChangeFor(at(-5), "ice"))(t), 1/float64(warmer.At-colder.At); !near(got, want, 1e-9) {
		t.Errorf("ice by %v for one degree of the mix; the equation gives %v", got, want)
	}
}
