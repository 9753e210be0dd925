package forecast_test

import (
	"math/rand/v2"
	"testing"
	"time"

	"hod/internal/event"
	"hod/internal/view/ahead"
)

// Two mixes follow one another. What is left of the last batch of the first is thrown away; some crews write that down,
// and most write that the whole batch was placed. The forecast must not take that for a thick coat and run high.
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
		t.Errorf("%.2f batches are left where the rest is written down as thrown away, %.2f where it is not", written,
			not)
	}
}

// A crew has mixed its first batch of the second mix and not placed it yet: the coat of the first, which it was at, is
// full.
func TestACoatTakesNoMoreOnceItsCrewHasMixedWhatDoesNotGoThere(t *testing.T) {
	s := with("a change of mix", func(s *scenario) { all(s); s.mixes, s.zones, s.batches, s.crews = 2, 1, 24, 1 })
	job := s.invent(5_000_000)
	rec := job.record()
	for _, start := range job.starts {
		if start.mix == "core" {
			rec.until(start.ready)
			break
		}
	}
	last, ok := job.work[rec.at-1].body.(event.BatchMixed)
	if !ok || last.Mix != "core" {
		last, ok = job.work[rec.at-2].body.(event.BatchMixed)
	}
	if !ok || last.Mix != "core" {
		t.Fatalf("the record does not end with the first batch of the second mix: %v", job.work[rec.at-1].body)
	}
	v := ahead.ForecastOf(rec.site, job.work[rec.at-1].at, time.UTC)
	for _, m := range v.Mixes {
		if m.Mix == "face" && m.P95 > 0 {
			t.Errorf("%d to %d batches of the first mix are still asked for", m.P05, m.P95)
		}
	}
	if v.InTransit < 0.9 {
		t.Errorf("%.2f batches are mixed and not placed", v.InTransit)
	}
}
