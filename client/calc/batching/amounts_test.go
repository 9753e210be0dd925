package batching

import (
	"testing"

	"hod/client/calc/sheet/sheettest"
)

// The units by their definitions, and water as mix design takes it: 62.4 lb/ft³.
const (
	lb    = 0.45359237
	ft3   = 0.028316846592
	floz  = 29.5735295625e-6
	quart = 0.946352946e-3
	yd3   = 27 * ft3
	water = 62.4 * lb / ft3
)

type (
	line    = sheettest.Line
	figures = sheettest.Figures
)

// A rate of 650 mL/100 kg on 106.5 lb; 1 fl oz/cwt is 29.5735 mL on 100 lb.
func TestADoseIsARateOnTheCementitious(t *testing.T) {
	const cm = 106.5 * lb
	const mass = 650e-6 / 100 * cm * 1.07 * water
	sheettest.Check(t, NewDose,
		line{
			Line: "dose --dose 650mL/100kg --cementitious 106.5lb --gravity 1.07 --solids 40%",
			Want: figures{
				"ml_per_100_kg": 650, "fl_oz_per_cwt": 650e-6 / 100 * 100 * lb / floz, "liquid_m3": 650e-6 / 100 * cm,
				"liquid_kg":      mass,
				"liquid_percent": mass / cm * 100, "solids_percent": mass / cm * 40, "water_kg": mass * 0.6,
				"warnings.1": nil,
			},
			Says: "dose",
		},
		line{
			Line: "dose --liquid 16floz --cementitious 106.5lb",
			Want: figures{
				"liquid_m3": 16 * floz, "fl_oz_per_cwt": 16 / 1.065, "liquid_kg": nil,
				"warnings.0": "its water counts in w/cm: give --gravity and --solids to have it",
			},
		},
		line{Line: "dose --liquid 16floz --dose 1floz/cwt --cementitious 1lb", Err: "say the same thing twice"},
		line{Line: "dose --cementitious 1lb", Err: "needs --dose or --liquid"},
		line{Line: "dose --dose 650mL/100kg", Err: "needs --cementitious"},
		line{Line: "dose --dose much --cementitious 1lb", Err: "--dose: "},
		line{Line: "dose --liquid 1floz --cementitious 1lb --solids 40%", Err: "needs its --gravity"},
		line{Line: "dose --liquid 1floz --cementitious 100lb --gravity heavy", Err: "--gravity: "},
		line{Line: "dose --liquid 1floz --cementitious 100lb --gravity 1.1 --solids 140%", Err: "--solids: "},
	)
}

// 2 % of 2.7 ft³ at a gravity of 1.30: 0.054 ft³ of 81.12 lb/ft³.
func TestFibreByShareByMassAndLoose(t *testing.T) {
	const mass = 0.02 * 2.7 * 1.30 * 62.4 * lb
	const loose = 0.012 * 45.0 // 12 L of 45 kg/m³
	sheettest.Check(t, NewFibre,
		line{
			Line: "fibre --volume-share 2% --yield 2.7ft3 --gravity 1.30 --bulk 45kg/m3 --batch-mass 356lb",
			Want: figures{
				"mass_kg": mass, "loose_m3": mass / 45, "mass_percent": mass / (356 * lb) * 100,
				"volume_percent": nil,
			},
		},
		line{
			Line: "fibre --loose 12L --bulk 45kg/m3 --yield 2.7ft3 --gravity 1.30",
			Want: figures{
				"mass_kg": loose, "absolute_m3": loose / (1.3 * water),
				"volume_percent": loose / (1.3 * water) / (2.7 * ft3) * 100, "loose_m3": nil,
			},
		},
		line{Line: "fibre --mass 1.2lb", Want: figures{"mass_kg": 1.2 * lb, "volume_percent": nil}, Says: "CAUTION"},
		line{Line: "fibre --mass 0lb", Err: `--mass: "0lb" is no fibre`},
		line{Line: "fibre --mass 1lb --loose 12L", Err: "say the same thing twice"},
		line{Line: "fibre", Err: "needs --volume-share or --mass or --loose"},
		line{Line: "fibre --loose 12L", Err: "needs --bulk"},
		line{Line: "fibre --volume-share 2%", Err: "needs --yield"},
		line{Line: "fibre --volume-share 2% --yield 1L", Err: "needs --gravity"},
		line{Line: "fibre --mass 1lb --batch-mass 1lb", Err: "the batch holds the fibre and must weigh more"},
		line{Line: "fibre --mass 10kg --yield 5L --gravity 1.3", Err: "the batch holds the fibre and must fill more"},
	)
}

// 138 (1 − f) + 3 f = 110: f = 28/135. One fluid ounce of agent at 1.02 in 40 of water.
func TestFoamLightensAMortar(t *testing.T) {
	const f = 28.0 / 135
	const liquid = (1*1.02 + 40) * floz * water
	const solids = 1.02 / (1.02 + 40)
	sheettest.Check(t, NewFoam,
		line{
			Line: "foam --base 138lb/ft3 --foam 3lb/ft3 --target 110lb/ft3",
			Want: figures{"foam_fraction": f, "foam_per_base_m3": f / (1 - f), "liquid_kg": nil},
		},
		line{
			Line: "foam --agent 1floz --agent-gravity 1.02 --agent-water 40floz",
			Want: figures{
				"liquid_kg": liquid, "liquid_solids_percent": solids * 100, "liquid_gravity": (1.02 + 40) / 41,
				"liquid_water_kg": 40 * floz * water, "foam_fraction": nil,
			},
		},
		line{
			Line: "foam --agent 1floz --agent-gravity 1.02 --agent-water 40floz --base 138lb/ft3 --foam 3lb/ft3 --target 110lb/ft3",
			Want: figures{"foam_water_per_base_kg": f / (1 - f) * 3 * lb / ft3 * (1 - solids)},
			Says: "water in that foam",
		},
		line{Line: "foam --base 110lb/ft3 --foam 3lb/ft3 --target 138lb/ft3", Err: "target"},
		line{Line: "foam --base 138lb/ft3 --foam 3lb/ft3", Err: "needs --target"},
		line{Line: "foam --agent 1floz", Err: "needs --agent-gravity"},
		line{Line: "foam", Err: "needs --base"},
	)
}

// 188 lb SSD at 1 % absorption: 188/1.01 dry; at 5 % moisture weigh 188/1.01·1.05. A sample of 512 g dries to 488.
func TestWhatToWeighOfDampSand(t *testing.T) {
	const dry, sampled = 188 * lb / 1.01, 24.0 / 488
	sheettest.Check(t, NewMoisture,
		line{
			Line: "moisture --ssd 188lb --absorption 1% --moisture 5%",
			Want: figures{
				"oven_dry_kg": dry, "ssd_kg": 188 * lb, "weigh_kg": dry * 1.05, "free_water_kg": dry * 0.04,
				"moisture_percent": 5,
				"surface_percent":  0.04 / 1.01 * 100,
			},
			Says: "add so much less",
		},
		line{
			Line: "moisture --ssd 188lb --absorption 1% --sample-wet 512g --sample-dry 488g",
			Want: figures{"moisture_percent": sampled * 100, "weigh_kg": dry * (1 + sampled)},
		},
		line{Line: "moisture --sample-wet 512g --sample-dry 488g", Want: figures{
			"moisture_percent": sampled * 100,
			"weigh_kg":         nil,
		}},
		line{
			Line: "moisture --dry 100kg --absorption 2% --moisture 0.5%",
			Want: figures{"ssd_kg": 102, "weigh_kg": 100.5, "free_water_kg": -1.5},
			Says: "none; the sand takes up 1.5 kg",
		},
		line{
			Line: "moisture --weighed 105kg --absorption 1% --moisture 5%",
			Want: figures{"oven_dry_kg": 100, "free_water_kg": 4},
		},
		line{
			Line: "moisture --ssd 101kg --absorption 1% --surface 4%",
			Want: figures{"free_water_kg": 4.04, "moisture_percent": (1.04*1.01 - 1) * 100},
		},
		line{
			Line: "moisture --bucket 1ft3 --dry-loose 95lb/ft3 --bulking 25% --absorption 1% --moisture 5%",
			Want: figures{"oven_dry_kg": 95 * lb / 1.25, "weigh_kg": 95 * lb / 1.25 * 1.05},
		},
		line{Line: "moisture --dry 1kg --ssd 1kg", Err: "say the same thing twice"},
		line{Line: "moisture --ssd 1kg --moisture 1% --surface 1% --absorption 1%", Err: "say the same thing twice"},
		line{Line: "moisture --ssd 1kg --bulking 25%", Err: "--dry-loose and --bulking go with --bucket"},
		line{Line: "moisture --dry 1kg --absorption 1% --surface 1%", Err: "--surface is of the SSD mass"},
		line{Line: "moisture --absorption 1%", Err: "needs --ssd or --dry or --weighed or --bucket"},
		line{Line: "moisture --ssd 1kg --moisture 1%", Err: "needs --absorption"},
		line{Line: "moisture --ssd 1kg --absorption 1%", Err: "needs --moisture"},
		line{Line: "moisture --sample-wet 400g --sample-dry 488g", Err: "moisture of the sample is -18%"},
		line{Line: "moisture --bucket 1ft3 --bulking 25%", Err: "needs --dry-loose"},
	)
}

// A quart in 4 s, for 10 s: 2.5 qt.
func TestTheWaterOfASprayWand(t *testing.T) {
	const mass = 2.5 * quart * water
	sheettest.Check(t, NewSpray,
		line{
			Line: "spray --caught 1qt --in 4s --for 10s --cementitious 106.5lb",
			Want: figures{
				"rate_l_s": quart / 4 * 1000, "water_m3": 2.5 * quart, "water_kg": mass,
				"w_cm_more": mass / (106.5 * lb),
			},
		},
		line{Line: "spray --rate 0.24L/s --for 10s", Want: figures{"water_m3": 0.0024, "w_cm_more": nil}},
		line{Line: "spray --rate 3.75gal/min", Want: figures{"rate_l_s": 3.75 * 3.785411784 / 60, "water_m3": nil}},
		line{Line: "spray", Err: "needs --rate or --caught"},
		line{Line: "spray --rate 1L/s --caught 1qt", Err: "say the same thing twice"},
		line{Line: "spray --caught 1qt", Err: "needs --in"},
		line{Line: "spray --caught 1qt --in 0s", Err: "0"},
		line{Line: "spray --rate 1L/s --cementitious 1lb", Err: "which needs --for"},
		line{Line: "spray --rate 1L/s --for ever", Err: "--for: "},
		line{Line: "spray --rate fast", Err: "--rate: "},
	)
}

// (44.75 − 8.45)/0.25 = 145.2 lb/ft³ and 356/145.2 = 2.4518 ft³ (ASTM C138).
func TestTheFreshTest(t *testing.T) {
	const d = 145.2 * lb / ft3
	sheettest.Check(t, NewYield,
		line{
			Line: "yield --gross 44.75lb --tare 8.45lb --measure 0.25ft3 --batch-mass 356lb --design-yield 2.7ft3 --air-free 150lb/ft3 --design-air 5% --cement 94lb",
			Want: figures{
				"unit_weight_kg_m3": d, "yield_m3": 356 / 145.2 * ft3, "relative_yield": 356 / 145.2 / 2.7,
				"air_percent":                (150 - 145.2) / 150 * 100,
				"unit_weight_expected_kg_m3": 150 * 0.95 * lb / ft3,
				"cement_content_kg_m3":       94 * lb / (356 / 145.2 * ft3),
			},
			Says: "fills less than designed",
		},
		line{
			Line: "yield --gross 44.75lb --tare 8.45lb --measure 0.25ft3",
			Want: figures{"unit_weight_kg_m3": d, "yield_m3": nil},
		},
		line{
			Line: "yield --gross 44.75lb --tare 8.45lb --measure 0.25ft3 --batch-mass 356lb --air-free 2.4ft3",
			Want: figures{"air_percent": (1 - 2.4*145.2/356) * 100},
		},
		line{
			Line: "yield --gross 44.75lb --tare 8.45lb --measure 0.25ft3 --batch-mass 356lb --design-yield 2.4ft3",
			Says: "fills more than designed",
			Want: figures{"relative_yield": 356 / 145.2 / 2.4},
		},
		line{
			Line: "yield --gross 44.75lb --tare 8.45lb --measure 0.25ft3 --air-free 140lb/ft3",
			Want: figures{"air_percent": (140 - 145.2) / 140 * 100},
			Says: "the air comes out below 0",
		},
		line{Line: "yield --gross 8lb --tare 9lb --measure 0.25ft3", Err: "9"},
		line{Line: "yield --gross 44lb --tare 8lb --measure 0.25ft3 --design-yield 2.7ft3", Err: "needs --batch-mass"},
		line{Line: "yield --gross 44lb --tare 8lb --measure 0.25ft3 --air-free 2.5ft3", Err: "needs --batch-mass"},
		line{Line: "yield --gross 44lb --tare 8lb --measure 0.25ft3 --cement 94lb", Err: "needs --batch-mass"},
		line{Line: "yield --gross 44lb --tare 8lb --measure 0.25ft3 --design-air 5%", Err: "needs --air-free"},
		line{Line: "yield --gross 44lb --tare 8lb", Err: "needs --measure"},
		line{Line: "yield --tare 8lb", Err: "needs --gross"},
	)
}

// Solids count 0.22 of water (ACI 305R): (0.22·120·T + 40·T)/(0.22·120 + 40) in whatever unit.
func TestTheTemperatureOfAMix(t *testing.T) {
	const hot = (0.22*120*40 + 40*140.0) / (0.22*120 + 40) // °F
	const cold = (0.22*100*30 + 50*10.0) / (0.22*100 + 50) // °C
	const ice = (0.22*100*30 + 40*30 - 79.6*10) / (0.22*100 + 40 + 10)
	sheettest.Check(t, NewTemperature,
		line{
			Line: "temperature --part cement=120lb@40F,solid --part water=40lb@140F,water",
			Want: figures{
				"equation": "us", "mix_f": hot, "mix_c": (hot - 32) / 1.8, "changes.0.name": "cement",
				"changes.0.change_k": (0.22*120 + 40) / (0.22 * 120), "water_c_for_target": nil,
			},
		},
		line{
			Line: "temperature --part sand=100kg@30C,solid --part water=50kg@10C,water --target 25C --outside 5C --on-way 1h",
			Want: figures{
				"equation": "si", "mix_c": cold, "water_c_for_target": (25*(0.22*100+50) - 0.22*100*30) / 50,
				"ice_kg_for_target": nil,
				"lost_on_the_way_k": 0.25 * (cold - 5), "arrives_c": cold - 0.25*(cold-5),
			},
		},
		line{
			Line: "temperature --part sand=100kg@30C,solid --part water=40kg@30C,water --part cubes=10kg@0C,ice",
			Want: figures{"mix_c": ice},
		},
		line{Line: "temperature --part sand=100kg@30C,stone", Err: `"stone" is not a kind of part`},
		line{Line: "temperature --part sand", Err: `"sand" is not a part; it looks like sand=188lb@38F,solid`},
		line{Line: "temperature --part sand=0kg@30C,solid", Err: "a mass of 0kg cannot be"},
		line{Line: "temperature --part sand=heavy@30C,solid", Err: "sand: "},
		line{Line: "temperature --part sand=1kg@warm,solid", Err: "sand: "},
		line{Line: "temperature", Err: "needs --part"},
		line{
			Line: "temperature --part sand=100kg@30C,solid --part water=1kg@10C,water --target 90C",
			Err:  "--target: ",
		},
		line{
			Line: "temperature --part sand=100kg@30C,solid --part water=1kg@10C,water --outside 5C",
			Err:  "needs --on-way",
		},
	)
}
