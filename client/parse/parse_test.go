package parse

import (
	"math"
	"testing"

	"hod/client/parse/parsetest"
	"hod/internal/event"
)

// FuzzLine gives any line to all that reads a quantity of the site: none panics, and numbers are finite.
func FuzzLine(f *testing.F) {
	for _, line := range parsetest.Lines {
		f.Add(line)
	}
	f.Fuzz(func(t *testing.T, line string) {
		fine := func(what string, x float64, err error) {
			t.Helper()
			if err != nil {
				if err.Error() == "" {
					t.Fatalf("%s %q is refused without a word", what, line)
				}
			} else if math.IsNaN(x) || math.IsInf(x, 0) {
				t.Fatalf("%s %q is %v", what, line, x)
			}
		}
		said := func(what string, err error) { t.Helper(); fine(what, 0, err) }
		_, err := Part(line)
		said("part", err)
		scale, err := Scale(line)
		fine("scale", scale, err)
		if err == nil && !(scale > 0 && scale <= 20) {
			t.Fatalf("scale %q is %v", line, scale)
		}
		a, err := Stock(line)
		fine("stock", float64(a.Mass)+float64(a.Volume), err)
		c, rest, err := ConstituentOrRest(line)
		fine("constituent", c.Gravity, err)
		if err == nil && rest && c.Kind != event.Sand {
			t.Fatalf("%q takes the rest", line)
		}
		_, err = Step(line)
		said("step", err)
		flow, err := FlowShare(line)
		fine("flow", float64(flow), err)
		sun, err := Sun(line)
		fine("sun", sun, err)
		_, err = Loads(line)
		said("load", err)
	})
}

// What no number is, is none for a flow or for the sun either.
func TestAFlowAndTheSunAreNumbers(t *testing.T) {
	for _, word := range []string{"NaN", "Inf", "-inf", "0x1p-2", "1_000", "", "1e400"} {
		if v, err := FlowShare(word + "%"); err == nil {
			t.Errorf("a flow of %q is %v", word+"%", v)
		}
		if v, err := Sun(word + "W/m2"); err == nil {
			t.Errorf("the sun at %q is %v", word+"W/m2", v)
		}
	}
	if v, err := FlowShare("110%"); err != nil || v != 1.1 {
		t.Errorf("110%% is %v, %v", v, err)
	}
	if v, err := Sun("800 W/m²"); err != nil || v != 800 {
		t.Errorf("800 W/m² is %v, %v", v, err)
	}
}
