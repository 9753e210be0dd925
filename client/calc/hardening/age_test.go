package hardening

import (
	"math"
	"testing"
)

// factor is the age factor by Arrhenius (ASTM C1074): q = Ea/R in K.
func factor(t, reference, q float64) float64 {
	return math.Exp(-q * (1/(t+273.15) - 1/(reference+273.15)))
}

func TestInitialSetAtAnotherTemperatureAndOverAHistory(t *testing.T) {
	const q = 40000 / 8.314462618
	check(t, NewSet,
		line{
			Line: "set --initial 300min --reference 23C --ea 40kJ/mol --temperature 35C",
			Want: figures{
				"age_factor": factor(35, 23, q), "set_min": 300 / factor(35, 23, q),
				"third_longer_min": 300 / math.Pow(4.0/3, 12*1.8/10), "doubled_per_20f_min": 300 / math.Pow(2,
					12*1.8/20),
			},
		},
		line{
			Line: "set --initial 5h --reference 23C --history -", File: "minutes,temp_c\n60,23\n30,35\n",
			Want: figures{
				"equivalent_min": 60 + 30*factor(35, 23, q), "consumed": (60 + 30*factor(35, 23, q)) / 300,
				"state": "live",
			},
		},
		line{
			Line: "set --initial 5h --reference 73F --history -", File: "minutes,temp_f\n240,73\n",
			Want: figures{"consumed": 0.8, "state": "closing"},
		},
		line{
			Line: "set --initial 5h --reference 23C --history -", File: "minutes,temp_c\n301,23\n",
			Want: figures{"state": "cold"}, Says: "cold: initial set: REACHED",
		},
		line{
			Line: "set --initial 5h --reference 23C --ea 4811K --temperature 10C",
			Want: figures{"age_factor": factor(10, 23, 4811)},
		},
		line{
			Line: "set --force 62lbf --needle 1/10in2",
			Want: figures{
				"resistance_psi": 620, "resistance_mpa": 620 * psi,
				"needle_diameter_mm": math.Sqrt(0.4/math.Pi) * 25.4,
			}, Says: "REACHED",
		},
		// Readings on a line: psi = 500 · (t/300)^3, so 4000 at 600 min.
		line{
			Line: "set --penetration - --at 450min",
			File: "minutes,psi\n150,62.5\n200,148.148148\n250,289.351852\n300,500\n400,1185.185185\n500,2314.814815\n600,4000\n",
			Want: figures{
				"initial_min": 300, "final_min": 600, "slope": 3, "r2": 1, "readings": 7,
				"resistance_psi": 500 * 3.375, "initial_extrapolated": false,
			},
		},
		line{
			Line: "set --penetration -",
			File: "minutes,lbf,needle_in2\n150,62.5,1\n200,74.074074,0.5\n250,72.337963,0.25\n300,50,0.1\n400,59.259259,0.05\n500,57.870370,0.025\n", Want: figures{"initial_min": 300, "final_min": 600, "readings": 6},
		},
		line{
			Line: "set --penetration -", File: "minutes,psi\n200,100\n300,500\n",
			Err: "ASTM C403 asks for at least 6",
		},
		// 25 mm lies half way between 30 mm at 100 min and 20 mm at 120.
		line{
			Line: "set --vicat -", File: "minutes,mm\n80,38\n100,30\n120,20\n",
			Want: figures{"initial_min": 110, "readings": 3},
		},
		line{Line: "set", Err: "needs --penetration or --initial"},
		line{Line: "set --initial 5h", Err: "needs --reference"},
		line{Line: "set --initial 5h --reference 23C", Err: "needs --temperature or --history"},
		line{
			Line: "set --initial 5h --reference 23C --ea strong --temperature 20C",
			Err:  `"strong" is not an activation energy`,
		},
		line{Line: "set --initial 5h --reference 23C --ea 900kJ/mol --temperature 20C", Err: "--ea: "},
		line{Line: "set --vicat - --force 3N", Err: "give one of them"},
		line{
			Line: "set --initial 5h --reference 23C --at 3h --temperature 20C",
			Err:  "--at reads the line through --penetration",
		},
		line{Line: "set --force 62lbf", Err: "needs --needle"},
		line{Line: "set --force 0N --needle 1in2", Err: "0"},
		line{
			Line: "set --initial 5h --reference 23C --history -", File: "minutes,temp_c\n0,23\n",
			Err: "piece 1: 0 minutes cannot be",
		},
		line{
			Line: "set --penetration -", File: "minutes,lbf,needle_in2\n200,50,0\n",
			Err: "reading 1: 50 lbf on needle_in2 0: both must be above 0",
		},
		line{
			Line: "set --penetration - --at 0min",
			File: "minutes,psi\n150,62.5\n200,148\n250,289\n300,500\n400,1185\n500,2315\n600,4000\n", Err: "--at: ",
		},
	)
}

// ln t over 1/T: 300 min at 23 °C and 300/f at 35 °C give the energy back that made f.
func TestTheActivationEnergyOfSetTimes(t *testing.T) {
	const ea = 45.0
	at35 := 300 / factor(35, 23, ea*1000/8.314462618)
	file := "minutes,temp_c\n300,23\n" + number(at35) + ",35\n"
	check(t, NewEnergy,
		line{Line: "energy --sets - --reference 23C", File: file, Want: figures{
			"ea_kj_mol": ea, "r2": 1, "points": 2,
			"believable": true, "set_min": 300,
		}, Says: "two points always lie on a line"},
		line{
			Line: "energy --rates -", File: "per_day,temp_c\n1,23\n" + number(300/at35) + ",35\n",
			Want: figures{"ea_kj_mol": ea, "set_min": nil},
		},
		line{Line: "energy --trade-table", Want: figures{"believable": true}, Says: "contractors' table"},
		line{Line: "energy", Err: "needs --sets or --rates or --trade-table"},
		line{Line: "energy --sets - --trade-table", File: file, Err: "three ways to the same figure"},
		line{Line: "energy --rates - --reference 23C", File: "per_day,temp_c\n1,23\n2,35\n", Err: "--rates knows none"},
		line{Line: "energy --sets -", File: "minutes,temp_c\n300,23\n0,35\n", Err: "set time 2 is 0 minutes"},
		line{Line: "energy --sets -", File: "hours,temp_f\n5,73\n4,500\n", Err: "row 2: 500 °F (260 °C) cannot be"},
		line{Line: "energy --sets -", File: "hours,temp_c\n5,23\n", Err: "--sets: "},
	)
}

// Twelve hours at 10 °C and twelve at 30, over a datum of 0 °C: 480 °C·h, and 24 h at 20 °C by Nurse and Saul.
func TestTheMaturityOfAHistory(t *testing.T) {
	const means = "hours,temp_c\n0,10\n12,30\n24,30\n"
	age := 12*factor(10, 20, 5000) + 12*factor(30, 20, 5000)
	en1992 := 12*math.Exp(13.65-4000/(273+10.0)) + 12*math.Exp(13.65-4000/(273+30.0))
	check(t, NewMaturity,
		line{
			Line: "maturity --readings -", File: means,
			Want: figures{
				"nurse_saul_c_h": 480, "saul_age_h": 24, "equivalent_age_h": age, "en1992_age_h": en1992,
				"covered_h": 24, "readings": 3, "bridged_h": 0,
			},
		},
		line{
			Line: "maturity --readings - --datum -10C", File: means,
			Want: figures{"nurse_saul_c_h": 720, "saul_age_h": 24},
		},
		line{Line: "maturity --readings - --sampled", File: means, Want: figures{"nurse_saul_c_h": 12*20 + 12*30}},
		line{
			Line: "maturity --readings - --from 6h --until 18h", File: means,
			Want: figures{"nurse_saul_c_h": 6*10 + 6*30, "covered_h": 12},
		},
		line{
			Line: "maturity --readings - --sampled --gap 6h", File: "hours,temp_c\n0,20\n6,20\n18,40\n24,40\n",
			Want: figures{"nurse_saul_c_h": 6*20 + 6*40, "gaps.0.from_h": 6, "gaps.0.to_h": 18},
		},
		line{
			Line: "maturity --readings - --sampled --gap 6h --bridge straight",
			File: "hours,temp_c\n0,20\n6,20\n18,40\n24,40\n", Want: figures{
				"nurse_saul_c_h": 6*20 + 12*30 + 6*40,
				"bridged_h":      12,
			},
		},
		line{
			Line: "maturity --readings - --sampled --gap 6h --bridge held",
			File: "hours,temp_c\n0,20\n6,20\n18,40\n24,40\n", Want: figures{"nurse_saul_c_h": 6*20 + 12*20 + 6*40},
		},
		line{
			Line: "maturity --readings - --datum 25C", File: means,
			Want: figures{"nurse_saul_c_h": 12 * 5, "saul_age_h": nil}, Says: "below the datum adds nothing",
		},
		line{Line: "maturity", Err: "needs --readings"},
		line{Line: "maturity --readings - --bridge held", File: means, Err: "needs --gap"},
		line{
			Line: "maturity --readings - --bridge guessed", File: means,
			Err: `"guessed" is not a way to bridge a gap`,
		},
		line{Line: "maturity --readings - --gap 0h", File: means, Err: "--gap: a pause of 0h cannot be"},
		line{Line: "maturity --readings - --from 30h", File: means, Err: "nothing is left of the readings from 30h"},
		line{Line: "maturity --readings - --q 1K", File: means, Err: "--q: "},
		line{Line: "maturity --readings -", File: "hours,temp_c\n-1,10\n", Err: "hour -1 cannot be"},
		line{
			Line: "maturity --readings -", File: "hours,temp_c\n0,10\n1,400\n",
			Err: "is the probe sound and the unit right?",
		},
	)
}

func TestMoistCureIsAskedByTheCement(t *testing.T) {
	check(t, NewMoist,
		line{Line: "moist", Want: figures{"asked_h": 168, "credited_h": nil}},
		line{Line: "moist --cement high-early", Want: figures{"asked_h": 72}},
		line{Line: "moist --cement ii", Want: figures{"asked_h": 240}},
		line{Line: "moist --cement V", Want: figures{"asked_h": 336}},
		line{Line: "moist --cement quick", Err: `"quick" is not a class that has a period`},
		line{Line: "moist --wet -", File: "from_h,to_h\n0,3\n", Err: "--wet and --readings go together"},
	)
}
