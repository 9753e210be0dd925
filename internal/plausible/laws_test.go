package plausible_test

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"hod/internal/plausible"
	"hod/internal/unit"
)

var ranges = []plausible.Range{
	plausible.Air, plausible.DewPoint, plausible.Humidity, plausible.Wind, plausible.Rain, plausible.Sun,
	plausible.Surface, plausible.Mortar,
	plausible.Coat, plausible.UnitWeight, plausible.SandMoisture, plausible.Flow, plausible.Meter, plausible.Wand,
	plausible.Specimen,
	plausible.Thickness, plausible.Edge, plausible.SetReference, plausible.Strength,
}

func TestWhatLiesInTheRangeIsNeverDoubtfulAndTheOtherReadingAlwaysDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := rapid.SampledFrom(ranges).Draw(t, "range")
		sys := rapid.SampledFrom([]unit.System{unit.Metric, unit.US}).Draw(t, "system")
		x := r.Lo + (r.Hi-r.Lo)*rapid.Float64Range(-3, 4).Draw(t, "place")
		d, doubtful := r.Judge(x, "", sys)
		if inside := x >= r.Lo && x <= r.Hi; inside == doubtful {
			t.Fatalf("%s of %g, between %g and %g: doubtful %v", r.Name, x, r.Lo, r.Hi, doubtful)
		}
		if doubtful && d.Other != nil && (d.Other.SI < r.Lo || d.Other.SI > r.Hi) {
			t.Fatalf("%s: %s would be %g, which is not between %g and %g", r.Name, d.Other.Text, d.Other.SI, r.Lo, r.Hi)
		}
	})
}

func TestEachRangeHasASourceAndSaysWhatIsBeyondIt(t *testing.T) {
	for _, r := range ranges {
		if r.Name == "" || r.Source == "" || r.Above == "" || r.Lo >= r.Hi || r.Lo != 0 && r.Below == "" {
			t.Errorf("the table is not whole: %+v", r)
		}
	}
	if _, doubtful := plausible.Air.Judge(math.NaN(), "", unit.Metric); doubtful {
		t.Error("what is no number is for the check of events")
	}
}
