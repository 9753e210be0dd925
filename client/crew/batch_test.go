package crew

import (
	"testing"
)

func TestFiguresThatDifferAreShownToDiffer(t *testing.T) {
	for _, c := range []struct {
		a, b         float64
		wantA, wantB string
	}{
		{0.433, 0.42, "0.433", "0.420"},
		{0.4003, 0.4, "0.4003", "0.4000"},
		{0.40004, 0.4, "0.40004", "0.40000"},
		{0.4, 0.4, "0.400", "0.400"},
	} {
		if a, b := apart(c.a, c.b); a != c.wantA || b != c.wantB {
			t.Errorf("%v and %v are written %s and %s; want %s and %s", c.a, c.b, a, b, c.wantA, c.wantB)
		}
	}
}
