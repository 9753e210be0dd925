package renewal

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"hod/internal/unit"
	"hod/testdata"
)

func numbers(t *testing.T, text string) []float64 {
	t.Helper()
	var xs []float64
	for f := range strings.FieldsSeq(text) {
		x, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		xs = append(xs, x)
	}
	return xs
}

func volumes(xs []float64) []unit.Volume {
	vs := make([]unit.Volume, len(xs))
	for i, x := range xs {
		vs[i] = unit.Volume(x)
	}
	return vs
}

// must fails the test on an error and passes the value on.
func must[T any](t testing.TB) func(T, error) T {
	return func(v T, err error) T {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

// TestPublishedValues checks each row of testdata/trade/forecast.csv; sources stand in the rows.
func TestPublishedValues(t *testing.T) {
	for i, v := range testdata.Trade(t, "forecast") {
		t.Run(fmt.Sprintf("%s_%d", v.ID, i+1), func(t *testing.T) {
			if !v.Assert {
				t.Skip(v.Note)
			}
			in := v.Inputs
			sample := func() Sample { return must[Sample](t)(Describe(numbers(t, v.Words["values"]))) }
			wantRange := func(name string) func(Interval, error) {
				return func(r Interval, err error) {
					t.Helper()
					if err != nil {
						t.Fatal(err)
					}
					v.Want(t, name+"_low", r.Low)
					v.Want(t, name+"_high", r.High)
				}
			}
			switch v.ID {
			case "STAT-01", "STAT-02":
				v.Want(t, "t", must[float64](t)(StudentQuantile(in["p"], in["freedom"])))
			case "STAT-03":
				wantRange("ci")(Sample{N: int(in["n"]), Mean: in["mean"], SD: in["sd"]}.Confidence(in["confidence"]))
			case "STAT-04":
				wantRange("pi")(Sample{N: int(in["n"]), Mean: in["mean"], SD: in["sd"]}.Prediction(in["confidence"]))
			case "STAT-05", "STAT-20":
				s := sample()
				v.Want(t, "mean", s.Mean)
				v.Want(t, "sd", s.SD)
				wantRange("ci")(s.Confidence(in["confidence"]))
				if v.ID == "STAT-20" {
					wantRange("pi")(s.Prediction(in["confidence"]))
					// Without a prior the posterior says what the sample says.
					p := must[Posterior](t)(Learn(Prior{}, volumes(numbers(t, v.Words["values"]))))
					low, high, err := p.Next(in["confidence"])
					wantRange("pi")(Interval{float64(low), float64(high)}, err)
					low, high, err = p.LongRun(in["confidence"])
					wantRange("ci")(Interval{float64(low), float64(high)}, err)
				}
			case "STAT-06", "STAT-11":
				l := must[Line](t)(FitLine(numbers(t, v.Words["x"]), numbers(t, v.Words["y"])))
				v.Want(t, "intercept", l.Intercept)
				v.Want(t, "slope", l.Slope)
				v.Want(t, "r2", l.R2)
				if v.ID == "STAT-06" {
					v.Want(t, "intercept_se", l.InterceptSE)
					v.Want(t, "slope_se", l.SlopeSE)
					return
				}
				v.Want(t, "sigma", l.ResidualSD)
				v.Want(t, "y", l.At(in["at"]))
				wantRange("pi")(l.Prediction(in["at"], in["confidence"]))
			case "STAT-07":
				s := sample()
				v.Want(t, "mean", s.Mean)
				v.Want(t, "sd", s.SD)
				v.Want(t, "lag1", must[float64](t)(Autocorrelation(numbers(t, v.Words["values"]))))
			case "STAT-09":
				s := sample()
				v.Want(t, "mean", s.Mean)
				if _, known := v.Expected["sd"]; known {
					v.Want(t, "sd", s.SD)
				}
			case "STAT-12":
				sd := sample().SD
				v.Want(t, "variance", sd*sd)
			case "STAT-13", "STAT-14":
				v.Want(t, "mean", atLimit(func(m int) float64 {
					// Yields of 1/m, 2/m … 1 with equal chance, until the sum passes the volume.
					ys := make([]unit.Volume, m)
					for i := range ys {
						ys[i] = unit.Volume(float64(i+1) / float64(m))
					}
					return must[Distribution](t)(BatchesEmpirical(ys, unit.Volume(in["volume"]+0.5/float64(m)))).Mean()
				}))
			case "STAT-15":
				v.Want(t, "mean", must[float64](t)(MeanBatches(unit.Volume(in["mean"]), unit.Volume(in["sd"]),
					unit.Volume(in["volume"]))))
			case "STAT-16":
				v.Want(t, "mean", atLimit(func(m int) float64 {
					// Two geometric waits of steps h for each batch; the limit of small h is Erlang-2.
					h := in["volume"] / float64(m)
					p := -math.Expm1(-h)
					l := lattice{least: 2 * h, step: h, chance: make([]float64, m)}
					rest := 1.0
					for i := range l.chance[:m-1] {
						l.chance[i] = float64(i+1) * p * p * math.Pow(1-p, float64(i))
						rest -= l.chance[i]
					}
					l.chance[m-1] = rest // already past the volume, however far
					return must[Distribution](t)(l.until(in["volume"]+h/2)).Mean() - 1
				}))
			case "STAT-23":
				d := must[Distribution](t)(BatchesForGood(int(in["good"]), unit.Share(in["share"])))
				v.Want(t, "mean", d.Mean())
				v.Want(t, "variance", d.SD()*d.SD())
				for _, n := range []int{21, 22, 23} {
					v.Want(t, fmt.Sprintf("within_%d", n), d.At(n))
				}
			case "STAT-24":
				c := must[Chart](t)(IndividualsChart(numbers(t, v.Words["values"])))
				v.Want(t, "mean_range", c.MeanRange)
				v.Want(t, "sigma", c.Sigma)
				v.Want(t, "low", c.Low)
				v.Want(t, "high", c.High)
			case "GEO-27":
				volume := unit.Volume(in["area_ft2"]*float64(unit.SquareFoot)*in["thickness_in"]*float64(
					unit.Inch)) * unit.Volume(1+in["waste"])
				batch := unit.Volume(in["batch_ft3"]) * unit.CubicFoot
				exact := must[Distribution](t)(BatchesNormal(batch, 0, volume))
				for _, d := range []Distribution{
					exact,
					must[Distribution](t)(BatchesEmpirical([]unit.Volume{batch, batch}, volume)),
					must[Distribution](t)(Batches(must[Posterior](t)(Learn(Prior{}, []unit.Volume{batch, batch})),
						volume)),
				} {
					v.Want(t, "batches", float64(d.P50()))
					v.Want(t, "batches", float64(d.P90()))
					v.Want(t, "batches", d.Mean())
				}
				v.Want(t, "batches", float64(Whole(float64(volume/batch))))
				v.Want(t, "batches", float64(Whole(125*1.08/3)))
				spread := must[Distribution](t)(BatchesNormal(batch, batch/20, volume))
				v.Want(t, "batches", float64(spread.P50()))
			default:
				t.Fatalf("row %s has no check: add one here", v.ID)
			}
		})
	}
}

// atLimit carries f(m), which has an expansion in 1/m, to m without end (Richardson's scheme on m = 8, 16 … 512).
func atLimit(f func(m int) float64) float64 {
	var row []float64
	for m := 8; m <= 512; m *= 2 {
		next := []float64{f(m)}
		factor := 1.0
		for _, before := range row {
			factor *= 2
			last := next[len(next)-1]
			next = append(next, last+(last-before)/(factor-1))
		}
		row = next
	}
	return row[len(row)-1]
}
