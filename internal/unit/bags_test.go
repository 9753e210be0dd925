package unit_test

import (
	"testing"

	"hod/internal/unit"
)

func TestBagsAreToldToATenthAndNeverAsAFalseWhole(t *testing.T) {
	for n, want := range map[float64]string{
		0: "0 bags", 1: "1 bag", 0.5: "0.5 bags", 0.96: "1 bag", 39.74: "39.7 bags",
		40: "40 bags", 99.96: "100 bags", 123.4: "123 bags", -2.5: "-2.5 bags", -0.01: "0 bags",
	} {
		if got := unit.Bags(n); got != want {
			t.Errorf("%v is %q, not %q", n, got, want)
		}
	}
}
