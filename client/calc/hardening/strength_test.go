package hardening

import (
	"math"
	"strconv"
	"testing"
)

// number is a figure in a file.
func number(v float64) string { return strconv.FormatFloat(v, 'f', 9, 64) }

// A 2 in cube at 12000 lbf is 3000 psi; a 4 in cylinder at 50000 lbf has 4π in².
func TestBreaksFromTheirLoads(t *testing.T) {
	const cube = 3000 * psi
	cylinder := 50000 / (4 * math.Pi) * psi
	check(t, NewBreaks,
		line{Line: "breaks --size 2in --load 12000lbf", Want: figures{
			"strengths_mpa.0": cube, "mean_mpa": cube,
			"sd_mpa": nil, "correction": nil,
		}},
		line{
			Line: "breaks --shape cylinder --size 4in --height 8in --load 50000lbf",
			Want: figures{"strengths_mpa.0": cylinder, "correction": 1},
		},
		line{
			Line: "breaks --shape cylinder --size 100mm --height 150mm --load 210kN,215kN",
			Want: figures{"correction": 0.96, "mean_mpa": 212.5e3 / (math.Pi / 4 * 1e4) * 0.96},
		},
		line{
			Line: "breaks --size 50mm --load 50kN --load 55kN,60kN",
			Want: figures{"strengths_mpa.2": 24, "mean_mpa": 22, "sd_mpa": 2},
		},
		// ACI 301: 4000 + max(1.34 s, 2.33 s − 500) psi of 30 tests; 1200 psi more of fewer than 15.
		line{
			Line: "breaks --specified 4000psi --sd 500psi --number 30",
			Want: figures{"required_average_mpa": 4670 * psi},
		},
		line{Line: "breaks --specified 4000psi", Want: figures{"required_average_mpa": 5200 * psi}},
		line{
			Line: "breaks --tests - --specified 29MPa", File: "mpa\n30\n31\n29\n28\n27.1\n",
			Want: figures{
				"running_average_mpa.0": 30, "running_average_mpa.1": 88.0 / 3,
				"running_average_mpa.2": 84.1 / 3,
			}, Says: "UNDER",
		},
		line{
			Line: "breaks --tests -", File: "psi\n3000\n",
			Want: figures{"mean_mpa": cube, "warnings.0": "1 test: an average of three needs three"},
		},
		line{Line: "breaks", Err: "needs --load or --tests or --specified"},
		line{Line: "breaks --load 1kN", Err: "needs --size"},
		line{Line: "breaks --size 2in --load heavy", Err: "--load: "},
		line{Line: "breaks --size 2in --height 4in --load 1kN", Err: "--height is a cylinder's"},
		line{Line: "breaks --shape ball --size 2in --load 1kN", Err: `"ball" is neither cube nor cylinder`},
		line{Line: "breaks --shape cylinder --size 2in --height 0in --load 1kN", Err: "--height: 0in cannot be"},
		line{Line: "breaks --tests - --load 1kN", File: "mpa\n1\n", Err: "give one of them"},
		line{Line: "breaks --tests - --number 3", File: "mpa\n1\n", Err: "leave them out"},
		line{Line: "breaks --tests -", File: "mpa\n30\n-1\n", Err: "test 2 is -1 mpa"},
		line{Line: "breaks --specified 4000psi --number 20", Err: "--number 20 needs --sd"},
		line{Line: "breaks --specified 4000psi --sd 1MPa", Err: "--sd needs --number"},
		line{Line: "breaks --specified 4000psi --number -2", Err: "-2 tests cannot be"},
	)
}

func TestStrengthByParametersOfEachForm(t *testing.T) {
	check(t, NewStrength,
		line{
			Line: "strength --parameter ultimate=50MPa --parameter rate=0.2 --parameter start=0.3 --at 14d",
			Want: figures{
				"strength_mpa": 50 * 0.2 * 13.7 / (1 + 0.2*13.7), "at_days": 14, "form": "hyperbolic",
				"parameters.ultimate": 50,
			},
		},
		line{
			Line: "strength --form logarithmic --parameter a=-2MPa --parameter b=20MPa --at 10",
			Want: figures{"strength_mpa": 18},
		},
		line{
			Line: "strength --form exponential --parameter ultimate=50MPa --parameter tau=1.2d --parameter alpha=0.8 --at 48h", Want: figures{"strength_mpa": 50 * math.Exp(-math.Pow(0.6, 0.8))},
		},
		line{
			Line: "strength --parameter ultimate=50MPa --parameter rate=0.2/d --at 14d",
			Err:  "also needs --parameter start",
		},
		line{
			Line: "strength --parameter ultimate=50MPa --parameter ultimate=51MPa --at 14d",
			Err:  "ultimate is given twice",
		},
		line{Line: "strength --parameter tau=3 --at 14d", Err: "is none of the hyperbolic form's"},
		line{Line: "strength --parameter ultimate=0MPa --at 14d", Err: "give a strength above 0"},
		line{Line: "strength --parameter rate=quick --at 14d", Err: "rate=quick cannot be"},
		line{Line: "strength --parameter ultimate=50MPa --parameter rate=0.2 --parameter start=0.3", Err: "needs --at"},
		line{Line: "strength --form cubic --parameter a=1MPa --at 1d", Err: "--form: "},
	)
}

// EN 1992-1-1: exp(s (1 − √(28/t))), s 0.25 for class N; ACI 209R: t/(4 + 0.85 t) of moist type I.
func TestStrengthByACodesCurveIsSaidToBeNotTheMixsOwn(t *testing.T) {
	en := math.Exp(0.25 * (1 - 2))
	check(t, NewStrength,
		line{
			Line: "strength --fallback en1992 --strength-28 38MPa --at 7d",
			Want: figures{
				"share_of_28_day": en, "strength_mpa": 38 * en, "characteristic_mpa": 38*en - 8,
				"not_this_mix": true,
			}, Says: "NOT THIS MIX'S OWN",
		},
		line{Line: "strength --fallback en1992 --cement r --at 7d", Want: figures{
			"share_of_28_day": math.Exp(-0.2),
			"strength_mpa":    nil,
		}},
		line{Line: "strength --fallback aci209 --at 7d", Want: figures{"share_of_28_day": 7 / (4 + 0.85*7)}},
		line{
			Line: "strength --fallback aci209 --cure steam --cement III --at 7d",
			Want: figures{"share_of_28_day": 7 / (0.7 + 0.98*7)},
		},
		line{Line: "strength --fallback en1992 --cure moist --at 7d", Err: "--cure is for aci209"},
		line{Line: "strength --fallback en1992 --cement NN --at 7d", Err: "no class of EN 1992-1-1"},
		line{Line: "strength --fallback aci209 --cement II --at 7d", Err: "no cure and cement of ACI 209R"},
		line{Line: "strength --fallback bs8110 --at 7d", Err: "no code that has a curve here"},
		line{Line: "strength --fallback en1992", Err: "needs --at"},
		line{Line: "strength --fallback en1992 --at 0d", Err: "give an age above 0"},
		line{Line: "strength --fallback en1992 --at 7d --parameter a=1", Err: "are three curves"},
		line{Line: "strength --cement N", Err: "belong to --fallback"},
		line{Line: "strength --fallback en1992 --at 7d --reaches 3MPa", Err: "--reaches goes by the mix's own breaks"},
		line{Line: "strength", Err: "needs --breaks or --fallback"},
	)
}

// Breaks that lie on S = 50 · 0.2 t/(1 + 0.2 t) give the curve back; it comes to 25 MPa at 5 days.
func TestACurveThroughBreaksThatLieOnOne(t *testing.T) {
	file := "days,mpa\n"
	for _, day := range []float64{1, 2, 3, 7, 14, 28} {
		file += number(day) + "," + number(50*0.2*day/(1+0.2*day)) + "\n"
	}
	check(t, NewStrength,
		line{
			Line: "strength --breaks - --at 10d --reaches 25MPa", File: file,
			Want: figures{
				"parameters.ultimate_mpa": 50, "parameters.rate_per_day": 0.2, "strength_mpa": 100.0 / 3,
				"reached_at_days": 5, "breaks": 6, "extrapolated": false,
			},
			Says: "may stand one freezing",
		},
		line{Line: "strength --breaks - --at 60d", File: file, Want: figures{
			"strength_mpa": 50 * 12.0 / 13,
			"extrapolated": true,
		}, Says: "no break covers 60 days"},
		line{Line: "strength --breaks - --reaches 80MPa", File: file, Says: "the curve never comes to 80 MPa"},
		line{Line: "strength --breaks - --reaches 0MPa", File: file, Err: "--reaches: 0MPa cannot be"},
		line{Line: "strength --breaks - --form cubic", File: file, Err: "--form: "},
		line{Line: "strength --breaks -", File: "days,mpa\n1,10\n", Err: "--breaks: "},
		line{Line: "strength --breaks -", File: "age,mpa\n1,10\n", Err: "no column days"},
	)
}
