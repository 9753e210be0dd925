package forecast_test

import (
	"math/rand/v2"
	"testing"
)

// Two mixes follow one another. What is left of the last batch of the first is thrown away; some crews write that down, and
// most write that the whole batch was placed. The forecast must not take that for a thick coat and run high.
func TestARestThatNobodyWroteDownMovesTheForecastByLessThanHalfABatch(t *testing.T) {
	left := func(discards bool) (middle float64) {
		const n = 8
		s := with("two mixes", func(s *scenario) { all(s); s.mixes, s.discards = 2, discards })
		for k := range uint64(n) {
			var c scores
			job := s.invent(4_000_000 + k)
			job.stage(job.record(), 0.8, rand.New(rand.NewPCG(k, 7)), &c)
			middle += (c.batches.left + c.batches.bias) / n
		}
		return middle
	}
	written, not := left(true), left(false)
	if d := not - written; d < -0.5 || d > 0.5 {
		t.Errorf("%.2f batches are left where the rest is written down as thrown away, %.2f where it is not", written, not)
	}
}
