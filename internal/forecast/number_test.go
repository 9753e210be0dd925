package forecast

import (
	"math"
	"strconv"
	"testing"
)

// The room's own functions against the library's, which are right to the last bit or nearly.
func TestOwnFunctionsAreTheLibrarys(t *testing.T) {
	for x := -690.0; x < 690; x += 0.37 {
		if got, want := exp(x), math.Exp(x); math.Abs(got-want) > 5e-15*want*(1+math.Abs(x)/10) {
			t.Fatalf("exp(%v) is %v, want %v", x, got, want)
		}
	}
	for x := 1e-300; x < 1e300; x *= 1.7 {
		if got, want := ln(x), math.Log(x); math.Abs(got-want) > 4e-15*(1+math.Abs(want)) {
			t.Fatalf("ln(%v) is %v, want %v", x, got, want)
		}
	}
	for x := -9.0; x < 36; x += 0.013 {
		if got, want := above(x), math.Erfc(x/math.Sqrt2)/2; math.Abs(got-want) > 1e-12*want+1e-300 {
			t.Fatalf("above(%v) is %v, want %v", x, got, want)
		}
	}
	for _, p := range []float64{0.0001, 0.0249, 0.075, 0.2, 0.5, 0.61, 0.925, 0.99} {
		if got, want := normal(p), -math.Sqrt2*math.Erfcinv(2*p); math.Abs(got-want) > 1e-11*(1+math.Abs(want)) {
			t.Errorf("normal(%v) is %v, want %v", p, got, want)
		}
	}
	for _, p := range []float64{1e-250, 1e-30, 1e-9, 1e-4} { // where the library's inverse has lost digits
		if got := math.Erfc(-normal(p)/math.Sqrt2) / 2; math.Abs(got-p) > 1e-10*p {
			t.Errorf("below normal(%v) lie %v", p, got)
		}
	}
}

// Tables of the normal distribution (Abramowitz and Stegun, table 26.1 and 26.5; NIST handbook 1.3.6.7.1; from memory).
func TestOverTheDrawsEachShareIsMetOnce(t *testing.T) {
	pairs := 0.0
	for k := range 200 {
		a, b := luckOf("coat", strconv.Itoa(k)), luckOf("coat", strconv.Itoa(k+1))
		var met [bells]bool
		together := 0.0
		for i := range bells {
			if r := a.rank(i); met[r] {
				t.Fatalf("rank %d is met twice", r)
			} else {
				met[r] = true
			}
			if u := a.spread(i); u <= 0 || u >= 1 || int(u*bells) != a.rank(i) {
				t.Fatalf("%v is not in share %d", u, a.rank(i))
			}
			together += normal(a.spread(i)) * normal(b.spread(i)) / bells
		}
		pairs += together * together / 200
	}
	if r := math.Sqrt(pairs * bells); r < 0.8 || r > 1.2 { // of independent ones 1
		t.Errorf("two coats' lucks go together %.2f times as much as blind ones", r)
	}
}

func TestNormalTables(t *testing.T) {
	for _, row := range []struct{ x, below float64 }{{0, 0.5}, {0.5, 0.69146}, {1, 0.84134}, {1.28155, 0.9}, {
		1.64485,
		0.95,
	}, {1.95996, 0.975}, {2, 0.97725}, {2.32635, 0.99}, {3, 0.99865}} {
		near(t, "the chance below", 1-above(row.x), row.below, 6e-6)
		near(t, "the value with that chance", normal(row.below), row.x, 2e-3)
	}
}
