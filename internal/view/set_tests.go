package view

import (
	"math"
	"time"

	"hod/internal/fold"
	"hod/internal/trade/next"
)

// SetTests are the tests of set of a day that move the set that the next batch is reckoned with, and not the times of
// the view that says so.
type SetTests struct {
	Tests  int32   `json:"tests"`
	Factor float64 `json:"set_factor"` // the day's set by them, as a share of the stated one
}

// SetTestsOf the day of an instant; nil where none was made, or they move the set by less than a hundredth.
func SetTestsOf(s *fold.Site, now time.Time, in *time.Location) *SetTests {
	ratios := SetRatios(s, now, in)
	factor, _ := next.UsualSpreads.Learned(ratios)
	v := &SetTests{Tests: int32(len(ratios)), Factor: float64(factor) / 1_000_000}
	if len(ratios) == 0 || math.Abs(v.Factor-1) < 0.01 {
		return nil
	}
	return v
}

// SetRatios are what each test of set of the day of an instant makes of the stated set, in per mille.
func SetRatios(s *fold.Site, now time.Time, in *time.Location) []int {
	today := now.In(in).Format(time.DateOnly)
	var ratios []int
	for _, b := range s.Batches() {
		for _, t := range b.Tests {
			set := b.Water.Add(t.Body.InitialSet)
			if b.ID.Day != today || t.Body.InitialSet <= 0 || set.After(now) || b.Mix == nil {
				continue
			}
			minutes := int(t.Body.InitialSet / time.Minute)
			ages, err := s.AgesAhead(b.Mix, b.Water, minutes, nil, in)
			if err != nil || b.Mix.Set.Initial <= 0 {
				continue
			}
			ratios = append(ratios,
				int(math.Round(1000*float64(ages[minutes])/float64(b.Mix.Set.Initial.Milliseconds()))))
		}
	}
	return ratios
}
