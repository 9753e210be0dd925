package renewal

import (
	"math"
	"math/rand/v2"
	"testing"

	"hod/internal/unit"
)

// tally counts jobs on which a 90 % figure held, beside what the distributions themselves promised.
type tally struct {
	jobs, held int
	promised   float64 // sum of P(N ≤ the 90 % figure), which is above 0.9 as counts are whole
	variance   float64
	exactly    int // jobs within 90 % exactly: the whole-number step that crosses 0.9 is shared out at random
}

func (s *tally) add(d Distribution, n int, share float64) {
	s.jobs++
	p90 := d.P90()
	if n <= p90 {
		s.held++
	}
	s.promised += d.At(p90)
	s.variance += d.At(p90) * (1 - d.At(p90))
	if d.At(n-1)+share*(d.At(n)-d.At(n-1)) <= 0.9 {
		s.exactly++
	}
}

func (s *tally) rates() (held, promised, exactly float64) {
	n := float64(s.jobs)
	return float64(s.held) / n, s.promised / n, float64(s.exactly) / n
}

// job forecasts from k weighed batches the batches for the volume, and makes batches until it is reached.
func job(p Prior, k int, volume float64, yield func() float64) (Distribution, int, error) {
	ys := make([]unit.Volume, k)
	for i := range ys {
		ys[i] = unit.Volume(yield())
	}
	post, err := Learn(p, ys)
	if err != nil {
		return Distribution{}, 0, err
	}
	d, err := Batches(post, unit.Volume(volume))
	n := 0
	for sum := 0.0; sum < volume; n++ {
		sum += yield()
	}
	return d, n, err
}

// Jobs whose mixes are drawn from a prior worth six batches, with 0 to 20 batches weighed and 3 to 80 left: 4000 jobs.
// The 90 % figure must hold as often as its own distribution says, within 3.5 standard errors of a binomial count. With
// this seed it held on 3845 of 3998 jobs (96.2 %) where 96.0 % were promised: whole batches are coarse steps. With the
// step that crosses 90 % shared out it held on 89.7 %.
func TestCalibratedOnJobsDrawnFromThePrior(t *testing.T) {
	r := rand.New(rand.NewPCG(7, 90))
	var all tally
	for i := range 4000 {
		prior := Prior{Yield: unit.Volume(0.05 + 0.05*r.Float64()), Weight: 6, Spread: 0.05}
		// Squared spread is inverse gamma with six degrees of freedom: the prior's, over the mean of three
		// exponentials.
		sd := float64(prior.Yield) * float64(prior.Spread) / math.Sqrt((r.ExpFloat64()+r.ExpFloat64()+r.ExpFloat64())/3)
		mean := float64(prior.Yield) + sd/math.Sqrt(prior.Weight)*r.NormFloat64()
		if mean < 4*sd { // two or three jobs in ten thousand: yields would fall below 0
			continue
		}
		k := []int{0, 1, 2, 5, 10, 20}[i%6]
		d, n, err := job(prior, k, float64(prior.Yield)*(3+77*r.Float64()),
			func() float64 { return mean + sd*r.NormFloat64() })
		if err != nil {
			t.Fatal(err)
		}
		all.add(d, n, r.Float64())
	}
	held, promised, exactly := all.rates()
	t.Logf("%d jobs: 90 %% figure held on %d (%.1f %%), promised %.1f %%; step shared out: %.1f %%", all.jobs, all.held,
		100*held, 100*promised, 100*exactly)
	if off := math.Abs(float64(all.held) - all.promised); off > 3.5*math.Sqrt(all.variance) {
		t.Errorf("held on %d jobs, promised %.1f ± %.1f", all.held, all.promised, math.Sqrt(all.variance))
	}
	if off, se := math.Abs(exactly-0.9), math.Sqrt(0.09/float64(all.jobs)); off > 3.5*se {
		t.Errorf("with the whole-number step shared out it held on %.4f of the jobs, want 0.9 ± %.4f", exactly, se)
	}
}

// Jobs as sites have them and the prior does not: skewed yields, batches 2 to 7 % apart, a mix that yields up to a
// tenth less or more than designed. The figure need not be exact here, but must stay near. It held, of 2000 jobs each
// and in this order, on 1953, 1937, 1965, 1799, 1914 and 1999; the weak spot is a design 10 % too high with few batches
// weighed, since the design counts as two.
func TestNearlyCalibratedOnJobsUnlikeThePrior(t *testing.T) {
	for _, c := range []struct {
		name      string
		bias      func(r *rand.Rand) float64
		weighed   int
		low, high float64 // for the share held with the step shared out
	}{
		{
			"design right within 4 %, nothing weighed", func(r *rand.Rand) float64 { return 0.04 * r.NormFloat64() }, 0,
			0.86, 0.96,
		},
		{
			"design right within 4 %, 5 weighed", func(r *rand.Rand) float64 { return 0.04 * r.NormFloat64() }, 5, 0.86,
			0.96,
		},
		{
			"design right within 4 %, 20 weighed", func(r *rand.Rand) float64 { return 0.04 * r.NormFloat64() }, 20,
			0.86,
			0.96,
		},
		{"every batch 10 % under design, 10 weighed", func(*rand.Rand) float64 { return -0.10 }, 10, 0.75, 0.96},
		{"every batch 10 % under design, 30 weighed", func(*rand.Rand) float64 { return -0.10 }, 30, 0.83, 0.96},
		{"every batch 10 % over design, 10 weighed", func(*rand.Rand) float64 { return 0.10 }, 10, 0.9, 1},
	} {
		t.Run(c.name, func(t *testing.T) {
			r := rand.New(rand.NewPCG(11, uint64(c.weighed)))
			var all tally
			for range 2000 {
				prior := DesignPrior(0.085)
				mean := float64(prior.Yield) * (1 + c.bias(r))
				log := 0.02 + 0.05*r.Float64() // lognormal: skewed to the high side
				d, n, err := job(prior, c.weighed, float64(prior.Yield)*(5+60*r.Float64()), func() float64 {
					return mean * math.Exp(log*r.NormFloat64()-log*log/2)
				})
				if err != nil {
					t.Fatal(err)
				}
				all.add(d, n, r.Float64())
			}
			held, promised, exactly := all.rates()
			t.Logf("%d jobs: 90 %% figure held on %d (%.1f %%), promised %.1f %%; step shared out: %.1f %%", all.jobs,
				all.held, 100*held, 100*promised, 100*exactly)
			if exactly < c.low || exactly > c.high {
				t.Errorf("with the whole-number step shared out it held on %.3f of the jobs, want %.2f to %.2f",
					exactly, c.low, c.high)
			}
		})
	}
}
