package batching

import (
	"testing"
)

// A bag of shell mortar in US units: 94 lb of cement and 26 of fly ash, sand at SSD with 1 % absorption.
const shellMortar = `name: m15
revision: 3
air: 5%
w_cm_limit: 0.42
constituents:
  - {name: cement, kind: cement, amount: 94lb, gravity: 3.15}
  - {name: ash, kind: pozzolan, amount: 26lb, gravity: 2.35}
  - {name: sand, kind: sand, amount: 188lb, gravity: 2.65, absorption: 1%}
  - {name: water, kind: water, amount: 46.8lb}
  - {name: fibre, kind: fibre, amount: 1.2lb, gravity: 1.30}
`

// Its figures by absolute volumes (ACI 211.1), in lb and ft³.
const (
	solid  = (94/3.15 + 26/2.35 + 188/2.65 + 46.8 + 1.2/1.30) / 62.4 // without air
	yield  = solid / 0.95
	weight = 94 + 26 + 188 + 46.8 + 1.2
	damp   = 188 / 1.01 * 1.05 // what is weighed of the sand at 5 %
	free   = 188 / 1.01 * 0.04
)

func TestAMixesFiguresAreThoseOfItsAbsoluteVolumes(t *testing.T) {
	check := func(lines ...line) {
		t.Helper()
		for i := range lines {
			lines[i].File = shellMortar
		}
		checkMix(t, lines...)
	}
	check(
		line{
			Line: "mix --mix -",
			Want: figures{
				"mix": "m15", "revision": 3, "mass_kg": weight * lb, "yield_m3": yield * ft3,
				"unit_weight_kg_m3": weight / yield * lb / ft3,
				"air_free_kg_m3":    weight / solid * lb / ft3, "air_free_m3": solid * ft3, "air_percent": 5,
				"w_cm":         0.39,
				"water_kg":     46.8 * lb,
				"cement_kg_m3": 94 / yield * lb / ft3, "cementitious_kg_m3": 120 / yield * lb / ft3,
				"sand_cementitious":                188.0 / 120,
				"pozzolan_of_cementitious_percent": 26.0 / 120 * 100, "pozzolan_of_cement_percent": 26.0 / 94 * 100,
				"water_left_kg": 0.03 * 120 * lb, "fibres.0.volume_percent": 1.2 / 1.3 / 62.4 / yield * 100,
				"fibres.0.mass_percent": 1.2 / weight * 100,
				"charged":               nil, "limits.0.verdict": "kept",
			},
			Says: "w/cm: at most 0.42: kept",
		},
		line{
			Line: "mix --mix - --moisture 5%",
			Want: figures{
				"amounts.2.mass_kg": damp * lb, "amounts.2.design_kg": 188 * lb, "amounts.2.moisture_percent": 5,
				"amounts.3.mass_kg": (46.8 - free) * lb, "w_cm": 0.39, "mass_kg": weight * lb,
			},
		},
		line{
			Line: "mix --mix - --moisture sand=5% --absorption 2%",
			Want: figures{"amounts.2.mass_kg": 188 / 1.02 * 1.05 * lb},
		},
		line{Line: "mix --mix - --air 8%", Want: figures{
			"air_percent": 8, "yield_m3": solid / 0.92 * ft3,
			"w_cm": 0.39,
		}},
		line{Line: "mix --mix - --batch 1/2x", Want: figures{"mass_kg": weight / 2 * lb, "amounts.0.mass_kg": 47 * lb}},
		line{Line: "mix --mix - --batch '3 bags' --bag 94lb", Want: figures{"mass_kg": weight * 3 * lb}},
		line{
			Line: "mix --mix - --batch 100kg",
			Want: figures{"mass_kg": 100, "yield_m3": yield * ft3 / (weight * lb) * 100},
		},
		line{
			Line: "mix --mix - --batch 3ft3",
			Want: figures{"yield_m3": 3 * ft3, "amounts.0.mass_kg": 94 * 3 / yield * lb},
		},
		line{
			Line: "mix --mix - --mixer 9ft3", Want: figures{"yield_m3": 3 * ft3},
			Says: "a third of the drum is taken",
		},
		line{
			Line: "mix --mix - --mixer 9ft3 --mixer-share 60%", Want: figures{"yield_m3": 5.4 * ft3},
			Says: "share of the drum: at most 80%, of a mortar that flows: kept",
		},
		line{Line: "mix --mix - --pozzolan-least 25% --pozzolan-of cement", Want: figures{"pozzolan_met": true}},
		line{
			Line: "mix --mix - --pozzolan-least 25% --pozzolan-of cementitious", Want: figures{"pozzolan_met": false},
			Says: "UNDER",
		},
		line{Line: "mix --mix - --pozzolan-least 25%", Want: figures{"pozzolan_met": nil}},
		line{Line: "mix --mix - --pozzolan-of cement", Err: "give both"},
		line{Line: "mix --mix - --pozzolan-least 25% --pozzolan-of sand", Err: `"sand" is not a basis`},
		line{Line: "mix --mix - --batch '2 bags'", Err: "needs --bag"},
		line{Line: "mix --mix - --batch 0x", Err: `"0" is not how many`},
		line{Line: "mix --mix - --batch big", Err: `"big" is not the size of a batch`},
		line{Line: "mix --mix - --bag 94lb", Err: "--bag says what a bag of cement holds"},
		line{Line: "mix --mix - --batch 1x --mixer 9ft3", Err: "say the same thing twice"},
		line{Line: "mix --mix - --moisture snad=5%", Err: "did you mean sand?"},
		line{Line: "mix --mix - --moisture wet", Err: "--moisture: "},
		line{Line: "mix --mix - --air 180%", Err: "--air: "},
		line{Line: "mix", Err: "needs --mix"},
	)
}

func checkMix(t *testing.T, lines ...line) {
	t.Helper()
	sheetCheck(t, NewMix, lines...)
}

// What was charged against ASTM C94: cement within 1 %, and never short, where the scale is used from 30 % on.
func TestWhatWasChargedIsHeldAgainstTheStandard(t *testing.T) {
	const charged = "mix --mix - --charged cement=95lb --charged ash=26lb --charged sand=188lb --charged water=46lb --charged fibre=1.2lb"
	lines := []line{
		{
			Line: charged,
			Want: figures{
				"weighing.0.name": "cement", "weighing.0.target_kg": 94 * lb, "weighing.0.charged_kg": 95 * lb,
				"weighing.0.deviation_percent": 1 / 0.94,
				"charged.mass_kg":              (weight + 1 - 0.8) * lb, "charged.w_cm": 46.0 / 121,
				"charged.water_kg": 46 * lb, "ticket.0.name": "cement",
			},
			Says: "charged water added    20.9 kg (46 lb) for 21.2 kg (46.8 lb): −1.71 %",
		},
		{
			Line: charged + " --spray 10s@1qt/4s", Want: figures{"charged.water_kg": 46*lb + 2.5*quart*water},
			Says: "OVER",
		},
		{
			Line: "mix --mix - --charged cement=94lb --charged water=46lb",
			Says: "not among --charged, so taken as left out of the batch: ash, sand, fibre",
		},
		{Line: charged + " --standard c95", Err: `"c95" is not known; did you mean c94?`},
		{Line: charged + " --scale light", Err: "--scale: "},
		{Line: charged + " --spray 10s", Err: "it looks like 10s@1qt/4s"},
		{Line: charged + " --spray long@1qt/4s", Err: "--spray: "},
		{Line: "mix --mix - --charged cement", Err: `"cement" is not a charge; it looks like cement=94lb`},
		{Line: "mix --mix - --charged cemment=94lb", Err: "did you mean cement?"},
		{Line: "mix --mix - --charged cement=much", Err: "--charged: "},
		{Line: "mix --mix - --standard c94", Err: "say it with --charged"},
	}
	for i := range lines {
		lines[i].File = shellMortar
	}
	checkMix(t, lines...)
}

func TestAMixWithMistakesIsToldAllOfThem(t *testing.T) {
	checkMix(t, line{
		Line: "mix --mix -",
		File: "name: m\nconstituents:\n  - {name: cement, kind: cement, amount: -4lb, gravity: 3.15}\n  - {name: water, kind: water, amount: 4m}\n",
		Err:  "2 mistakes",
	})
}

// 2.7 ft³ at 5 % air: 120 lb of cementitious at 0.39 leaves the sand what the others do not fill.
func TestProportioningLeavesTheSandWhatIsLeft(t *testing.T) {
	const left = 2.7*0.95 - (96/3.15+24/2.35+46.8+1.2/1.3)/62.4
	const sand = left * 2.65 * 62.4
	const words = "proportion --volume 2.7ft3 --binder cement=80%,gravity=3.15 --binder ash=20%,kind=pozzolan,gravity=2.35 " +
		"--sand sand,gravity=2.65,absorption=1% --other fibre=1.2lb,gravity=1.30 --air 5% "
	sheetCheck(t, NewProportion,
		line{
			Line: words + "--cementitious 120lb --w-cm 0.39",
			Want: figures{
				"w_cm": 0.39, "yield_m3": 2.7 * ft3, "water_kg": 46.8 * lb, "amounts.0.mass_kg": 96 * lb,
				"amounts.1.mass_kg":  24 * lb,
				"cementitious_kg_m3": 120 / 2.7 * lb / ft3, "sand_cementitious": sand / 120,
			},
			Says: "in each m³",
		},
		line{Line: words + "--water 46.8lb --w-cm 0.39", Want: figures{"sand_cementitious": sand / 120}},
		line{Line: words + "--water 46.8lb --cementitious 120lb --moisture 4%", Want: figures{"w_cm": 0.39}},
		line{
			Line: "proportion --weight 4070lb --water 300lb --w-cm 0.62 --binder cement=100%,gravity=3.15 --other coarse=1917lb,kind=sand,gravity=2.68 --sand sand,gravity=2.64 --air 1%",
			Want: figures{"mass_kg": 4070 * lb, "sand_cementitious": (4070 - 300 - 300/0.62) / (300 / 0.62)},
			Says: "weight method",
		},
		line{Line: words + "--w-cm 0.39", Err: "give two of --water, --cementitious and --w-cm; 1 of them were given"},
		line{Line: words + "--water 1lb --cementitious 1lb --w-cm 0.39", Err: "3 of them were given"},
		line{Line: words + "--water 46.8lb --cementitious 0lb", Err: `"0lb" is no cement`},
		line{Line: words + "--water wet --w-cm 0.39", Err: "--water: "},
		line{Line: words + "--weight 1lb --cementitious 120lb --w-cm 0.39", Err: "say the same thing twice"},
		line{Line: "proportion --volume 0L --cementitious 120lb --w-cm 0.39", Err: `"0L" is no batch`},
		line{Line: "proportion --weight 0kg --cementitious 120lb --w-cm 0.39", Err: `"0kg" is no batch`},
		line{Line: "proportion --cementitious 120lb --w-cm 0.39", Err: "needs --volume or --weight"},
		line{Line: "proportion --volume 2.7ft3 --cementitious 120lb --w-cm 0.39", Err: "needs --binder"},
		line{
			Line: "proportion --volume 2.7ft3 --cementitious 120lb --w-cm 0.39 --binder cement=100%,gravity=3.15",
			Err:  "needs --sand",
		},
		line{
			Line: "proportion --volume 2.7ft3 --cementitious 120lb --w-cm 0.39 --binder cement=100% --sand sand,gravity=2.6", Err: "cement needs its specific gravity",
		},
		line{
			Line: "proportion --volume 2.7ft3 --cementitious 120lb --w-cm 0.39 --binder sand=100%,gravity=2.6 --sand sand,gravity=2.6", Err: "the rest is --other",
		},
		line{
			Line: "proportion --volume 2.7ft3 --cementitious 120lb --w-cm 0.39 --binder cement=80%,gravity=3.15 --sand sand,gravity=2.6", Err: "80",
		},
	)
}
