package parse

import (
	"math"
	"strings"
	"testing"

	"hod/internal/event"
)

// FuzzLine gives any line to all that reads a quantity of the site: none panics, and numbers are finite.
func FuzzLine(f *testing.F) {
	for _, line := range []string{
		"7 A1 1/2", "A1", "a1 40l", "north/7 A1", "north/2026-07-18/7 A1 rest", "A1 outer 1", "outer 1 12mm body",
		"B3=2.4m", "south/999", "n2/1", "1", "2/1",
		"sand=190lb,kind=sand,gravity=2.62,absorption=1%", "sand=rest,gravity=2.62", "+water=1qt",
		"water 3/4, wait 2min, look flows by itself", "=", "sand=", "cement=1kg,gravity=NaN",
		"40x94lb", "1e6x1kg", "NaNx1kg", "0x1p3%", "110%", "NaN%", "Inf%", "800 W/m2", "nan", "53kN,54kN",
		"12mm,14mm,13 mm", "-5C", "--wind -5C", "none", "0", "½", "1e400", "\x1b[2J",
		"north/7/7/7", "/", "//", "yesterday 16:10", "2026-07-18", "0000-00-00", strings.Repeat("9", 40),
		strings.Repeat("A", 100),
	} {
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
