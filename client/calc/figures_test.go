package calc

import (
	"math"
	"testing"

	"hod/client/calc/sheet/sheettest"
)

type (
	line    = sheettest.Line
	figures = sheettest.Figures
)

// The closed forms of the shapes, from their textbooks: a parabola's arc, a sphere's cap, a cone's mantle, a ring.
func TestTheAreaOfEachShape(t *testing.T) {
	// A parabola of span s and rise r: half the arc is √(s²/4 + 4r²)/2 + s²/(16 r)·asinh(4r/s).
	arc := 2 * (math.Sqrt(81.0/4+4*9)/2 + 81.0/(16*3)*math.Asinh(4*3.0/9))
	// A circle of span 9 and rise 3 has the radius (81/4 + 9)/(2·3) and the angle 2·asin(4.5/R).
	circle := (81.0/4 + 9) / 6
	barrel := circle * 2 * math.Asin(4.5/circle)
	// A cap of rim radius a and rise h has π (a² + h²); a paraboloid (π a/(6 h²)) ((a² + 4 h²)^1.5 − a³).
	bowl := math.Pi * 3 / (6 * 4) * (math.Pow(9+4*4, 1.5) - 27)
	sheettest.Check(t, newCalcShell,
		line{Line: "shell vault --span 9m --rise 3m --length 12m", Want: figures{
			"area_m2": arc * 12, "arc_m": arc,
			"volume_m3": nil,
		}},
		line{
			Line: "shell barrel --span 9m --rise 3m --length 12m",
			Want: figures{"area_m2": barrel * 12, "radius_m": circle},
		},
		line{Line: "shell cap --radius 4m --rise 2m", Want: figures{"area_m2": math.Pi * 20, "radius_m": 5}},
		line{
			Line: "shell paraboloid --radius 3m --rise 2m",
			Want: figures{"area_m2": bowl, "enclosed_m3": math.Pi / 2 * 9 * 2},
		},
		line{
			Line: "shell frustum --radius 3m --top-radius 1m --rise 2m",
			Want: figures{"area_m2": math.Pi * 4 * math.Sqrt(8)},
		},
		line{Line: "shell half-spheroid --radius 3m --rise 3m", Want: figures{"area_m2": 2 * math.Pi * 9}},
		line{Line: "shell torus --radius 5m --tube 1m", Want: figures{"area_m2": 4 * math.Pi * math.Pi * 5}},
		line{
			Line: "shell flat --area 1000ft2 --thickness 1.5in --batch 3ft3 --waste 8% --density 132lb/ft3",
			Want: figures{
				"area_m2": 92.90304, "volume_m3": 125 * 0.028316846592,
				"dead_load_kg_m2": 16.5 * 0.45359237 / 0.09290304,
				"mass_kg":         16500 * 0.45359237, "batches": 45, // 125 · 1.08 / 3
			},
		},
		line{Line: "shell SHPERE", Err: `"shpere" is not a shape`},
		line{Line: "shell vault --span 9m --rise 3m", Err: "length"},
		line{Line: "shell cap --radius 4m --rise 2m --width 1m", Err: "width"},
		line{Line: "shell flat --area 5m2 --span 3m", Err: "a flat piece has no --span; it has --area"},
		line{Line: "shell flat --area 0m2", Err: `"0m2" is no area of a shell`},
		line{Line: "shell flat --area 5m2 --batch 70L", Err: "which needs --thickness"},
		line{Line: "shell flat --area 5m2 --group A3", Err: "--file and --group go with mesh"},
		line{Line: "shell flat --area 5m2 --thickness thick", Err: "--thickness: "},
		line{Line: "shell mesh", Err: "file"},
		line{Line: "shell", Err: "needs a shape, one of vault"},
	)
}

// Without spread a volume takes V/µ batches, rounded up. Of three batches that are each good with 95 %, three suffice
// with 0.95³ and four with 0.95³ (1 + 3 · 0.05).
func TestHowManyBatches(t *testing.T) {
	const three = 0.95 * 0.95 * 0.95
	sheettest.Check(t, newCalcBatches,
		line{Line: "batches --volume 700L --mean 70L --sd 0L", Want: figures{
			"p50": 10, "p90": 10, "sd": 0,
			"yield_mean_m3": 0.07,
		}},
		line{Line: "batches --volume 701L --mean 70L --sd 0L", Want: figures{"p50": 11, "p90": 11}},
		// V/µ + (σ² + µ²)/(2 µ²)
		line{Line: "batches --volume 7m3 --mean 70L --sd 7L", Want: figures{"mean_by_renewal": 7/0.07 + (0.01+1)/2}},
		line{
			Line: "batches --good 3 --good-share 95%",
			Want: figures{
				"distribution.3": three, "distribution.4": three * 1.15, "good_share": 0.95, "p50": 3,
				"mean": 3 / 0.95,
			},
		},
		line{Line: "batches --volume 700L --mean 70L --sd 0L --good-share 50%", Want: figures{"mix_mean": 20}},
		line{
			Line: "batches --volume 700L --yields -", File: "litres\n69\n70\n71\n",
			Want: figures{"yield_mean_m3": 0.07, "yield_sd_m3": 0.001},
		},
		line{Line: "batches --volume 700L", Err: "mean"},
		line{Line: "batches --mean 70L --sd 0L", Err: "needs --volume"},
		line{Line: "batches --volume 0L --mean 70L --sd 0L", Err: `"0L" is nothing to place`},
		line{Line: "batches --volume 1m3 --good 3", Err: "say the same thing twice"},
		line{Line: "batches --good none --good-share 95%", Err: `"none" is not how many batches`},
		line{Line: "batches --good 3", Err: "needs --good-share or --good-of"},
		line{Line: "batches --good 3 --mean 70L", Err: "give one or the other"},
		line{Line: "batches --good 3 --good-of most", Err: "it looks like 38/40"},
		line{Line: "batches --good 3 --good-share 95% --worth 20", Err: "give both"},
		line{Line: "batches --good 3 --good-share 0%", Err: "--good-share: "},
	)
}

// The line through 100, 101, 100, 101, 100 and 120 rises by 49/17.5 a row; the ranges average 4.8, so the last lies
// beyond 103.67 + 3 · 4.8/1.128.
//
// Mean 99.5, ranges 2, 4 and 4 between neighbours: limits 99.5 ± 3 · (10/3)/1.128.
func TestAChartOfIndividuals(t *testing.T) {
	const sigma = 10.0 / 3 / 1.128
	const file = "lb_ft3\n99\n101\n97\n101\n"
	sheettest.Check(t, newCalcChart,
		line{Line: "chart - --column lb_ft3", File: file, Want: figures{
			"n": 4, "mean": 99.5, "mean_range": 10.0 / 3,
			"sigma": sigma, "low": 99.5 - 3*sigma, "high": 99.5 + 3*sigma, "outside.0": nil,
		}},
		line{
			Line: "chart - --column kg_m3", File: "kg_m3\n100\n101\n100\n101\n100\n120\n",
			Want: figures{"outside.0.row": 6, "outside.0.value": 120, "line.slope": 2.8},
		},
		line{
			Line: "chart - --column kg_m3", File: "kg_m3\n100\n101\n100\n101\n100\n101\n100\n101\n100\n120\n",
			Want: figures{"outside.0.row": 10, "outside.0.value": 120}, Says: "OUTSIDE",
		},
		line{Line: "chart -", File: file, Err: "say which column has the values with --column"},
		line{Line: "chart - --column lb_in2", File: file, Err: "lb_in2"},
		line{Line: "chart - --column kg_m3", File: "kg_m3\n100\n", Err: "one value has no moving range"},
		line{Line: "chart - --column kg_m3", File: "kg_m3\nheavy\n", Err: "line 2"},
		line{Line: "chart - --column lb_ft3 --confidence 200%", File: file, Err: "--confidence: "},
	)
}
