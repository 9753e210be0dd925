package renewal

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/unit"
)

func TestNoVolumeNeedsNoBatches(t *testing.T) {
	p := must[Posterior](t)(Learn(DesignPrior(0.08), nil))
	for _, v := range []unit.Volume{0, -1, -1e-12} {
		for name, d := range map[string]Distribution{
			"posterior": must[Distribution](t)(Batches(p, v)),
			"normal":    must[Distribution](t)(BatchesNormal(0.08, 0.004, v)),
			"empirical": must[Distribution](t)(BatchesEmpirical([]unit.Volume{0.08, 0.07}, v)),
		} {
			if d.At(0) != 1 || d.P50() != 0 || d.P90() != 0 || d.Mean() != 0 || d.SD() != 0 {
				t.Errorf("%s, %v m³: %+v, want 0 batches with certainty", name, float64(v), d)
			}
		}
	}
	var zero Distribution
	if zero.P90() != 0 || zero.Mean() != 0 || zero.At(0) != 1 || zero.Last() != 0 {
		t.Errorf("the zero distribution is not 0 with certainty: %+v", zero)
	}
}

// The empirical sum against every sequence of yields written out, with fractions of whole litres.
func TestEmpiricalSumsAgreeWithEverySequence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		litres := rapid.SliceOfN(rapid.IntRange(1, 9), 2, 4).Draw(t, "litres")
		volume := rapid.IntRange(1, 12).Draw(t, "volume")
		least := 10
		ys := make([]unit.Volume, len(litres))
		for i, l := range litres {
			ys[i] = unit.Volume(l) * unit.Litre
			least = min(least, l)
		}
		if volume/least > 6 {
			t.Skip("too many sequences")
		}
		d, err := BatchesEmpirical(ys, unit.Volume(volume)*unit.Litre)
		if err != nil {
			t.Fatal(err)
		}
		var reached func(sum, n int) int // sequences of n batches that reach the volume from sum
		reached = func(sum, n int) int {
			if sum >= volume {
				return int(math.Pow(float64(len(litres)), float64(n)))
			}
			if n == 0 {
				return 0
			}
			count := 0
			for _, l := range litres {
				count += reached(sum+l, n-1)
			}
			return count
		}
		for n := 1; n <= d.Last(); n++ {
			want := float64(reached(0, n)) / math.Pow(float64(len(litres)), float64(n))
			if got := d.At(n); math.Abs(got-want) > 1e-9 {
				t.Fatalf("%v l until %d l: P(N ≤ %d) is %.12f, counted %.12f", litres, volume, n, got, want)
			}
		}
	})
}

// Yields off any common step go on a grid; theory and a common step set against them.
func TestEmpiricalSumsOnAGridKeepTheMean(t *testing.T) {
	var ys []unit.Volume
	for i := range 40 {
		ys = append(ys, unit.Volume(0.08+0.008*math.Sin(float64(i)*math.Sqrt2)))
	}
	s := must[Sample](t)(Describe(must[[]float64](t)(cubicMetres(ys))))
	sd := unit.Volume(s.SD * math.Sqrt(39.0/40))
	for _, batches := range []float64{5, 40, 300} {
		v := unit.Volume(batches * s.Mean)
		d := must[Distribution](t)(BatchesEmpirical(ys, v))
		want := must[float64](t)(MeanBatches(unit.Volume(s.Mean), sd, v))
		// The first two terms of renewal theory hold only once the sums have spread over a batch; then what is left is
		// that sums fall on a grid, by half a step of 1/32 of the yields' range (0.2 of a yield) at most.
		if tolerance := map[float64]float64{5: 0.5, 40: 0.1, 300: 0.2 / 32 / 2}[batches]; math.Abs(
			d.Mean()-want) > tolerance {
			t.Errorf("%g batches' volume: mean count %.6f, renewal theory %.6f", batches, d.Mean(), want)
		}
		normal := must[Distribution](t)(BatchesNormal(unit.Volume(s.Mean), sd, v))
		if math.Abs(float64(normal.P90()-d.P90())) > 1 {
			t.Errorf("%g batches' volume: 90 %% figure %d, of normal yields %d", batches, d.P90(), normal.P90())
		}
	}
	if d := must[Distribution](t)(BatchesEmpirical(ys, unit.Volume(5000*s.Mean))); math.Abs(d.Mean()-5000.5) > 0.1 {
		t.Errorf("5000 batches' volume, taken as normal: mean count %g", d.Mean())
	}
}

func TestDistributionsObeyTheirLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		mean := rapid.Float64Range(0.02, 0.2).Draw(t, "mean")
		spread := rapid.Float64Range(0, 0.4).Draw(t, "spread")
		volume := unit.Volume(mean * rapid.Float64Range(0.01, 120).Draw(t, "batches"))
		more := volume * unit.Volume(1+rapid.Float64Range(0, 0.5).Draw(t, "more"))
		weight := rapid.Float64Range(1, 30).Draw(t, "weight")
		ys := rapid.SliceOfN(rapid.Float64Range(0.5*mean, 1.5*mean), 2, 12).Draw(t, "yields")
		kinds := map[string]func(unit.Volume) (Distribution, error){
			"normal": func(v unit.Volume) (Distribution, error) {
				return BatchesNormal(unit.Volume(mean), unit.Volume(mean*spread), v)
			},
			"posterior": func(v unit.Volume) (Distribution, error) {
				p := Posterior{
					Mean: unit.Volume(mean), Scale: unit.Volume(mean * spread), Weight: weight,
					Freedom: weight,
				}
				return Batches(p, v)
			},
			"empirical": func(v unit.Volume) (Distribution, error) { return BatchesEmpirical(volumes(ys), v) },
		}
		for _, name := range []string{"normal", "posterior", "empirical"} {
			d, err := kinds[name](volume)
			if err != nil {
				t.Fatal(name, err)
			}
			lawful(t, name, d)
			e, err := kinds[name](more)
			if err != nil {
				t.Fatal(name, err)
			}
			for n := range max(d.Last(), e.Last()) + 1 {
				if e.At(n) > d.At(n)+1e-9 {
					t.Fatalf("%s: %d batches suffice for %v with %.12f, for more, %v, with %.12f", name, n, volume,
						d.At(n), more, e.At(n))
				}
			}
			if e.P50() < d.P50() || e.P90() < d.P90() {
				t.Fatalf("%s: more volume needs fewer batches", name)
			}
		}
	})
}

func lawful(t *rapid.T, name string, d Distribution) {
	t.Helper()
	before := 0.0
	for n, c := range d.All() {
		if !(c >= before && c <= 1) {
			t.Fatalf("%s: P(N ≤ %d) = %v after %v", name, n, c, before)
		}
		before = c
	}
	if before != 1 {
		t.Fatalf("%s: ends at %v, not 1", name, before)
	}
	if !(d.From <= d.P50() && d.P50() <= d.P90() && d.P90() <= d.Last()) {
		t.Fatalf("%s: from %d, 50 %% %d, 90 %% %d, last %d", name, d.From, d.P50(), d.P90(), d.Last())
	}
	if !finite(d.Mean()) || !finite(d.SD()) {
		t.Fatalf("%s: mean %v, sd %v", name, d.Mean(), d.SD())
	}
}

func TestMoreSpreadParts50And90Further(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		volume := unit.Volume(rapid.Float64Range(1, 150).Draw(t, "batches"))
		a := rapid.Float64Range(0, 0.3).Draw(t, "spread")
		b := a + rapid.Float64Range(0, 0.2).Draw(t, "more")
		little, err := BatchesNormal(1, unit.Volume(a), volume)
		if err != nil {
			t.Fatal(err)
		}
		much, err := BatchesNormal(1, unit.Volume(b), volume)
		if err != nil {
			t.Fatal(err)
		}
		if little.P90()-little.P50() > much.P90()-much.P50() {
			t.Fatalf("spread %g: %d to %d; spread %g: %d to %d", a, little.P50(), little.P90(), b, much.P50(),
				much.P90())
		}
		// What is known of few batches is less sure than what is known of many.
		few, err := Batches(Posterior{Mean: 1, Scale: unit.Volume(a), Weight: 3, Freedom: 8}, volume)
		if err != nil {
			t.Fatal(err)
		}
		many, err := Batches(Posterior{Mean: 1, Scale: unit.Volume(a), Weight: 60, Freedom: 8}, volume)
		if err != nil {
			t.Fatal(err)
		}
		if few.P90() < many.P90() {
			t.Fatalf("90 %% figure %d from few batches, %d from many", few.P90(), many.P90())
		}
	})
}

// A posterior that rests on very many batches says what the known mean and spread say.
func TestPosteriorOfManyBatchesIsNormal(t *testing.T) {
	d := must[Distribution](t)(Batches(Posterior{Mean: 0.08, Scale: 0.004, Weight: 1e9, Freedom: 1e7}, 4))
	e := must[Distribution](t)(BatchesNormal(0.08, 0.004, 4))
	for n := range e.Last() + 1 {
		if math.Abs(d.At(n)-e.At(n)) > 1e-5 {
			t.Errorf("P(N ≤ %d): %.8f and %.8f", n, d.At(n), e.At(n))
		}
	}
}

// Plain arithmetic, by hand: weight 2 of 0.080 and three yields that average 0.077 make 0.0782.
func TestLearningMovesTheDesignTowardsTheRecord(t *testing.T) {
	prior := Prior{Yield: 0.080, Weight: 2, Spread: 0.05}
	p := must[Posterior](t)(Learn(prior, []unit.Volume{0.076, 0.077, 0.078}))
	if math.Abs(float64(p.Mean)-0.0782) > 1e-12 || p.Weight != 5 || p.Freedom != 5 || p.Weighed != 3 {
		t.Errorf("got %+v, want mean 0.0782 of weight 5", p)
	}
	// 2·0.004² + (0.001²+0.001²) + 2·3/5·0.003² over 5.
	if want := math.Sqrt((2*16e-6 + 2e-6 + 1.2*9e-6) / 5); math.Abs(float64(p.Scale)-want) > 1e-12 {
		t.Errorf("scale %g, want %g", float64(p.Scale), want)
	}
	before := must[Posterior](t)(Learn(prior, nil))
	if before.Mean != prior.Yield || math.Abs(float64(before.Scale)-0.004) > 1e-15 {
		t.Errorf("nothing weighed: got %+v, want the design", before)
	}
}

func TestGoodBatches(t *testing.T) {
	if d := must[Distribution](t)(BatchesForGood(20, 1)); d.P50() != 20 || d.P90() != 20 {
		t.Errorf("all good: %+v", d)
	}
	if d := must[Distribution](t)(BatchesForGood(0, 0.5)); d.P90() != 0 {
		t.Errorf("none needed: %+v", d)
	}
	// The need's own doubt carries over: mean need over share.
	need := must[Distribution](t)(BatchesNormal(0.08, 0.004, 4))
	mixed := must[Distribution](t)(need.Mixed(0.95))
	if want := need.Mean() / 0.95; math.Abs(mixed.Mean()-want) > 1e-6 {
		t.Errorf("mean %g, want %g", mixed.Mean(), want)
	}
	if got := must[unit.Share](t)(GoodShare(0.9, 10, 18, 20)); math.Abs(float64(got)-0.9) > 1e-12 {
		t.Errorf("9 of 10 before and 18 of 20 since: %v, want 0.9", got)
	}
}

func TestBadInputIsRefusedInWords(t *testing.T) {
	nan, inf := unit.Volume(math.NaN()), unit.Volume(math.Inf(1))
	good := Posterior{Mean: 0.08, Scale: 0.004, Weight: 2, Freedom: 2}
	for _, c := range []struct {
		name string
		got  func() error
		says string
	}{
		{"volume not a number", func() error { _, err := BatchesNormal(1, 0, nan); return err }, "volume NaN"},
		{"volume without end", func() error { _, err := Batches(good, inf); return err }, "volume +Inf"},
		{"no yield", func() error { _, err := BatchesNormal(0, 0, 1); return err }, "above 0"},
		{"mean not a number", func() error { _, err := BatchesNormal(nan, 0, 1); return err }, "above 0"},
		{"spread below 0", func() error { _, err := BatchesNormal(1, -1, 1); return err }, "between 0 and"},
		{"spread above the mean", func() error { _, err := BatchesNormal(1, 2, 1); return err }, "between 0 and"},
		{
			"litres for cubic metres", func() error { _, err := BatchesNormal(0.00008, 0, 4); return err },
			"check the units",
		},
		{"one yield", func() error { _, err := BatchesEmpirical([]unit.Volume{1}, 1); return err }, "at least two"},
		{
			"a yield of 0", func() error { _, err := BatchesEmpirical([]unit.Volume{1, 0}, 1); return err },
			"yield 2 of 2",
		},
		{
			"a yield not a number", func() error { _, err := Learn(DesignPrior(1), []unit.Volume{nan}); return err },
			"yield 1 of 1",
		},
		{"a yield too small", func() error {
			_, err := BatchesEmpirical([]unit.Volume{1, 1, 1e-300}, 1e-1)
			return err
		}, ""},
		{"no design yield", func() error { _, err := Learn(DesignPrior(0), nil); return err }, "design yield"},
		{
			"no prior, one batch", func() error { _, err := Learn(Prior{}, []unit.Volume{1}); return err },
			"two weighed batches",
		},
		{
			"prior of no weight", func() error {
				_, err := Learn(Prior{Yield: 1, Weight: math.NaN()}, nil)
				return err
			},
			"weight",
		},
		{
			"prior too wide", func() error { _, err := Learn(Prior{Yield: 1, Weight: 1, Spread: 2}, nil); return err },
			"between 0 and 0.5",
		},
		{"nothing learned", func() error { _, err := Batches(Posterior{}, 1); return err }, "above 0"},
		{"yields of two units", func() error {
			p, err := Learn(Prior{}, []unit.Volume{0.08, 80})
			if err != nil {
				return err
			}
			_, err = Batches(p, 4)
			return err
		}, "check the yields and their units"},
		{"confidence 95", func() error { _, _, err := good.Next(95); return err }, "between 0 and 1"},
		{"good batches below 0", func() error { _, err := BatchesForGood(-1, 0.9); return err }, "0 or more"},
		{"no share good", func() error { _, err := BatchesForGood(3, 0); return err }, "between 1% and 100%"},
		{"more good than mixed", func() error { _, err := GoodShare(0.9, 1, 3, 2); return err }, "among 2 mixed"},
		{"nothing to describe", func() error { _, err := Describe(nil); return err }, "at least one"},
		{
			"a value not a number", func() error { _, err := Describe([]float64{1, math.NaN()}); return err },
			"value 2 of 2",
		},
		{
			"values too large", func() error { _, err := Describe([]float64{-1e308, 1e308, 1e308}); return err },
			"too large",
		},
		{"one value's spread", func() error { _, err := (Sample{N: 1}).Prediction(0.9); return err }, "at least two"},
		{"no freedom", func() error { _, err := StudentQuantile(0.9, 0); return err }, "above 0"},
		{"all certain", func() error { _, err := StudentQuantile(1, 4); return err }, "between 0 and 1"},
		{"values all alike", func() error { _, err := Autocorrelation([]float64{2, 2, 2}); return err }, "all alike"},
		{"one value on a chart", func() error { _, err := IndividualsChart([]float64{2}); return err }, "at least two"},
		{
			"points at one x", func() error { _, err := FitLine([]float64{1, 1, 1}, []float64{1, 2, 3}); return err },
			"all 3 points",
		},
		{
			"two points", func() error { _, err := FitLine([]float64{1, 2}, []float64{1, 2}); return err },
			"at least three",
		},
		{
			"an x without y", func() error { _, err := FitLine([]float64{1, 2, 3}, []float64{1, 2}); return err },
			"needs both",
		},
	} {
		err := c.got()
		if c.says == "" {
			continue // may succeed; must only return
		}
		if err == nil || !strings.Contains(err.Error(), c.says) {
			t.Errorf("%s: got %v, want an error that says %q", c.name, err, c.says)
		}
	}
}

func TestHugeFreedomAndTailsStayFinite(t *testing.T) {
	for _, nu := range []float64{1e-3, 0.5, 1, 1e3, 1e6, 1e12} {
		for _, p := range []float64{1e-300, 1e-12, 0.5, 0.999999} {
			if q, err := StudentQuantile(p, nu); err == nil && !finite(q) {
				t.Errorf("quantile at %g with %g: %v without an error", p, nu, q)
			}
		}
	}
}
