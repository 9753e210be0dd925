package hardening

import (
	"math"
	"testing"

	"hod/client/calc/sheet/sheettest"
)

type (
	line    = sheettest.Line
	figures = sheettest.Figures
)

var check = sheettest.Check

const (
	lb  = 0.45359237
	ft  = 0.3048
	psi = lb * 9.80665 / (0.0254 * 0.0254) / 1e6 // MPa
)

// uno is the metric form by Uno (ACI Materials Journal, 1998): temperatures in °C, humidity as a share, wind in km/h.
func uno(concrete, air, humidity, wind float64) float64 {
	return 5 * (math.Pow(concrete+18, 2.5) - humidity*math.Pow(air+18, 2.5)) * (wind + 4) * 1e-6
}

// unoUS is its US form: °F, a share, mph, lb/ft²/h.
func unoUS(concrete, air, humidity, wind float64) float64 {
	return (math.Pow(concrete, 2.5) - humidity*math.Pow(air, 2.5)) * (1 + 0.4*wind) * 1e-6
}

func TestEvaporationByUno(t *testing.T) {
	const c, a = (87.0 - 32) / 1.8, (80.0 - 32) / 1.8
	rate := uno(c, a, 0.5, 12*1.609344)
	check(t, NewEvaporation,
		line{
			Line: "evaporation --concrete 87F --air 80F --humidity 50% --wind 12mph",
			Want: figures{
				"uno_si_kg_m2_h": rate, "uno_us_lb_ft2_h": unoUS(87, 80, 0.5, 12), "uno_si_low_kg_m2_h": rate * 0.6,
				"uno_si_high_kg_m2_h": rate * 1.4,
				"condensation":        false, "humidity_percent": 50, "wind_at_half_metre_m_s": 12 * 0.44704,
				"wind_at_two_metres_m_s": nil, "lost_kg_m2": nil,
			},
			Says: "ordinary mixes: 1 kg/m²/h by the metric form, 0.2 lb/ft²/h by the US form: REACHED",
		},
		line{
			Line: "evaporation --concrete 5C --air 30C --humidity 90% --wind 2m/s",
			Want: figures{"uno_si_kg_m2_h": 0, "condensation": true},
			Says: "dew settles on the surface",
		},
		line{
			Line: "evaporation --concrete 30C --air 25C --humidity 40% --wind 3m/s --water 46.8lb --yield 3ft3 --thickness 1/2in --for 1h",
			Want: figures{
				"layer_water_kg_m2": 46.8 * lb / (3 * ft * ft * ft) * 0.0127, "lost_kg_m2": uno(30, 25, 0.4, 10.8),
				"lost_share": uno(30, 25, 0.4, 10.8) / (46.8 * lb / (3 * ft * ft * ft) * 0.0127),
			},
		},
		line{
			Line: "evaporation --concrete 30C --air 25C --humidity 40% --wind 3m/s --wind-height 10m",
			Says: "wind at 0.5 m",
		},
		line{Line: "evaporation --concrete 30C --air 25C --humidity 40%", Err: "needs --wind"},
		line{Line: "evaporation --concrete 30C --humidity 40% --wind 3m/s", Err: "needs --air"},
		line{Line: "evaporation --concrete 30C --air 25C --wind 3m/s", Err: "needs --humidity or --dewpoint"},
		line{Line: "evaporation --air 25C --humidity 40% --wind 3m/s", Err: "needs --concrete"},
		line{Line: "evaporation --concrete 30C --air 25C --humidity 0% --wind 3m/s", Err: "air of no humidity at all"},
		line{
			Line: "evaporation --concrete 30C --air 25C --humidity 40% --dewpoint 9C --wind 3m/s",
			Err:  "say the same thing twice",
		},
		line{
			Line: "evaporation --concrete 30C --air 25C --humidity 40% --altitude 90m --wind 3m/s",
			Err:  "count for --wet-bulb alone",
		},
		line{Line: "evaporation --concrete 30C --air 25C --humidity 40% --wind 3m/s --for 1h", Err: "needs --water"},
		line{Line: "evaporation --concrete 30C --air 25C --humidity 40% --wind breezy", Err: "--wind: "},
	)
}

// Magnus: 0.6112 exp(17.62 t / (243.12 + t)) kPa over water.
func magnus(t float64) float64 { return 0.6112 * math.Exp(17.62*t/(243.12+t)) }

func TestTheVapourInTheAir(t *testing.T) {
	g := math.Log(0.8) + 17.62*25/(243.12+25)
	check(t, NewVapour,
		line{
			Line: "vapour --air 25C --humidity 80%",
			Want: figures{
				"saturation_kpa": magnus(25), "vapour_kpa": 0.8 * magnus(25),
				"dewpoint_c": 243.12 * g / (17.62 - g), "humidity_percent": 80,
			},
		},
		line{Line: "vapour --air 25C --dewpoint 15C", Want: figures{
			"humidity_percent": magnus(15) / magnus(25) * 100,
			"dewpoint_c":       15,
		}},
		line{
			Line: "vapour --air 20C --wet-bulb 20C", Want: figures{"humidity_percent": 100},
			Says: "standard air pressure",
		},
		// At 15 °C the air holds 1.7056 kPa, 0.010648 kg/kg; less 1.006 · 5 K of heat that is 0.0085762, 1.3782 kPa of
		// the 2.3388 that 20 °C would hold (ASHRAE Fundamentals 2017, chapter 1, equation 33).
		line{Line: "vapour --air 20C --wet-bulb 15C --pressure 101.325kPa", Says: "relative humidity    58.9%"},
		// 96 °F and 50 % feel like 108 °F, rounded, by the National Weather Service's table: danger.
		line{
			Line: "vapour --air 96F --humidity 50%", Want: figures{"heat_level": "danger"},
			Says: "107.6 °F (42 °C): danger for people",
		},
		line{Line: "vapour --air 25C", Err: "needs --humidity or --dewpoint"},
		line{Line: "vapour --air 25C --dewpoint 30C", Err: "30"},
		line{Line: "vapour --air 20C --wet-bulb 22C", Err: "22"},
		line{Line: "vapour --air 20C --wet-bulb 15C --altitude 90m --pressure 90kPa", Err: "say the same thing twice"},
	)
}

// Of a section under 12 in, ACI 306R asks 55 °F (13 °C) as placed, printed so in both systems.
func TestColdWeatherIsJudgedByWhatIsGiven(t *testing.T) {
	check(t, NewCold,
		line{Line: "cold --mortar 12C --thickness 12mm", Want: figures{
			"judgements.0.broken":        true,
			"judgements.0.broken_metric": true, "judgements.0.measured_c": 12, "judgements.0.limit_c": 13,
			"judgements.0.limit_f": 55,
		}},
		line{Line: "cold --mortar 55F --thickness 1/2in", Want: figures{
			"judgements.0.broken_us": false,
			"judgements.1":           nil,
		}},
		line{Line: "cold --lowest 30F --strength 300psi", Want: figures{"judgements.0.broken": true}},
		line{Line: "cold --lowest 30F --strength 600psi", Want: figures{"judgements.0.broken": false}},
		line{Line: "cold --lowest 5C --strength 0", Want: figures{"judgements.0.broken": false}, Says: "0, fresh"},
		line{Line: "cold --fall 55F --thickness 1/2in", Want: figures{
			"judgements.0.difference_f": 55,
			"judgements.0.difference_k": 55 / 1.8, "judgements.0.broken": true,
		}},
		line{Line: "cold --air 2C --mixed 17C --thickness 12mm", Want: figures{
			"judgements.0.rule":       "cold weather",
			"judgements.1.measured_c": 17,
		}},
		line{
			Line: "cold --protect exposed", Want: figures{"protection_days": 3},
			Says: "responsible licensed engineer",
		},
		line{Line: "cold --protect exposed --accelerated", Want: figures{"protection_days": 2}},
		line{Line: "cold", Err: "needs --air or --mortar"},
		line{Line: "cold --mortar 12C", Err: "needs --thickness"},
		line{Line: "cold --mixed 17C --thickness 12mm", Err: "needs --air"},
		line{Line: "cold --lowest 1C", Err: "needs --strength"},
		line{Line: "cold --strength 1MPa", Err: "needs --lowest"},
		line{Line: "cold --fall -3K --thickness 12mm", Err: "is a rise"},
		line{Line: "cold --air 2C --accelerated", Err: "shortens the days of --protect"},
		line{Line: "cold --protect full", Err: "full load is for the engineer"},
		line{Line: "cold --hourly -", File: "temp_k\n280\n", Err: "no column temp_c or temp_f"},
	)
}

func TestHeatIsJudgedAsMortarAndInside(t *testing.T) {
	check(t, NewHot,
		line{Line: "hot --mortar 93F", Want: figures{
			"judgements.0.broken": false, "judgements.0.limit_f": 95,
			"judgements.0.limit_c": 35,
		}},
		line{Line: "hot --mortar 96F", Want: figures{"judgements.0.broken": true}, Says: "OVER"},
		line{
			Line: "hot --inside 48C --surface 30C", Want: figures{
				"judgements.0.measured_c":   48,
				"judgements.1.difference_k": 18, "judgements.1.difference_f": 32.4,
			},
			Says: "a thin shell seldom comes near them",
		},
		line{Line: "hot", Err: "needs --mortar or --inside"},
		line{Line: "hot --surface 30C", Err: "needs --inside"},
		line{Line: "hot --inside warm", Err: "--inside: "},
	)
}

func TestIntervalsAreThoseThatCodesPrint(t *testing.T) {
	check(t, NewIntervals,
		line{
			Line: "intervals --air 28C --since 95min", Want: figures{"since_min": 95},
			Says: "a cold joint is one made past initial set",
		},
		line{Line: "intervals --air 28C", Want: figures{"since_min": nil}},
		line{Line: "intervals", Err: "needs --air"},
		line{Line: "intervals --air 150C", Err: "--air: "},
		line{Line: "intervals --air 28C --since noon", Err: "--since: "},
	)
}

// τ = ρ c d / (films), c = 4186.8 (0.22 · 0.88 + 0.12), films 5.7 + 3.8 · 2 and 8.3 W/(m²·K).
func TestAThinLayerGoesOverToTheAir(t *testing.T) {
	const heat = 4186.8 * (0.22*0.88 + 0.12)
	const tau = 2100 * heat * 0.012 / (5.7 + 7.6 + 8.3) / 60
	check(t, NewLayer,
		line{
			Line: "layer --thickness 12mm --density 2100kg/m3",
			Want: figures{
				"specific_heat_j_kg_k": heat, "outer_film_w_m2_k": 13.3, "inner_film_w_m2_k": 8.3,
				"time_constant_min": tau, "temperature_c": nil,
			},
		},
		line{
			Line: "layer --thickness 12mm --density 2100kg/m3 --inner none --wind 0m/s",
			Want: figures{"time_constant_min": 2100 * heat * 0.012 / 5.7 / 60},
		},
		line{
			Line: "layer --thickness 12mm --density 2100kg/m3 --start 30C --air 15C --at 40min",
			Want: figures{"at_min": 40, "temperature_c": 15 + 15*math.Exp(-40/tau), "consumed": nil},
		},
		line{
			Line: "layer --thickness 12mm --density 2100kg/m3 --start 23C --air 23C --at 150min --initial 300min --reference 23C",
			Want: figures{"temperature_c": 23, "consumed": 0.5, "set_min": 300},
		},
		line{
			Line: "layer --thickness 12mm --density 2100kg/m3 --start 23C --air-readings - --at 1h",
			File: "hours,temp_c\n0,23\n5,23\n", Want: figures{"temperature_c": 23},
		},
		line{Line: "layer --thickness 12mm", Err: "needs --density"},
		line{Line: "layer --density 2100kg/m3", Err: "needs --thickness"},
		line{Line: "layer --thickness 12mm --density 2100kg/m3 --inner foam", Err: `"foam" is neither still`},
		line{Line: "layer --thickness 12mm --density 2100kg/m3 --at 1h", Err: "needs --start"},
		line{
			Line: "layer --thickness 12mm --density 2100kg/m3 --start 20C --at 1h",
			Err:  "needs --air or --air-readings",
		},
		line{Line: "layer --thickness 12mm --density 2100kg/m3 --start 20C --air 20C", Err: "needs --at or --initial"},
		line{Line: "layer --thickness 12mm --density 2100kg/m3 --start 20C --air 20C --at 900h", Err: "is beyond the"},
		line{
			Line: "layer --thickness 12mm --density 2100kg/m3 --start 20C --air 20C --initial 5h",
			Err:  "needs --reference",
		},
	)
}
