package sheet

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"

	"github.com/spf13/cobra"

	"hod/client/terminal"
	"hod/internal/unit"
)

// A script that reads a figure does not read the rounding of a sum behind it, wherever in a document the figure stands.
func TestNumbersInDocumentsAreShortened(t *testing.T) {
	long := 77.58000000000001
	type inner struct {
		X float64 `json:"x"`
	}
	doc := struct {
		One   float64            `json:"one"`
		Two   *float64           `json:"two"`
		List  []float64          `json:"list"`
		Rows  []inner            `json:"rows"`
		Named map[string]float64 `json:"named"`
		Tiny  float64            `json:"tiny"`
		None  *float64           `json:"none"`
		Words string             `json:"words"`
	}{
		One: long, Two: &long, List: []float64{long}, Rows: []inner{{long}}, Named: map[string]float64{"a": long},
		Tiny: 1e-21, Words: "77.58000000000001",
	}
	text, err := json.Marshal(shortened(doc))
	if err != nil {
		t.Fatal(err)
	}
	want := `{"one":77.58,"two":77.58,"list":[77.58],"rows":[{"x":77.58}],"named":{"a":77.58},"tiny":1e-21,"none":null,"words":"77.58000000000001"}`
	if string(text) != want {
		t.Errorf("it is %s\nwant  %s", text, want)
	}
}

func command() *cobra.Command {
	c := &cobra.Command{
		Use:     "dose",
		Example: "hod calc dose --cement 94lb --rate 5\nhod calc dose --water 4gal --rate 5",
	}
	return c
}

func TestAFlagThatMustBeThereIsAskedForWithAnExampleThatHasIt(t *testing.T) {
	_, err := Asked(New(command()), "water", "", unit.ParseVolume, "m3", unit.System.Volume)
	if err == nil || !strings.Contains(err.Error(), "needs --water, as in `hod calc dose --water 4gal --rate 5`") {
		t.Errorf("it says %v", err)
	}
	if q, err := AskedIfGiven(New(command()), "water", "", unit.ParseVolume, "m3", unit.System.Volume); q != nil ||
		err != nil {
		t.Errorf("one that may be left out is %v, %v", q, err)
	}
}

func TestAValueIsNotedAsItWasUnderstood(t *testing.T) {
	s := New(command())
	v, err := Asked(s, "cement", "94lb", unit.ParseMass, "kg", unit.System.Mass)
	if err != nil || v < 42.63 || v > 42.65 {
		t.Fatalf("94 lb are %v kg, %v", v, err)
	}
	if i := s.Inputs[0]; i.Name != "cement" || i.Said != "94lb" || i.Unit != "kg" || *i.Value != float64(v) {
		t.Errorf("it is noted as %+v", i)
	}
	_, err = Asked(s, "cement", "94 furlongs", unit.ParseMass, "kg", unit.System.Mass)
	var known *terminal.Error
	if !errors.As(err, &known) || known.Kind != terminal.Usage || !strings.HasPrefix(known.Msg, "--cement: ") {
		t.Errorf("what is no mass is refused with %v; want wrong usage that names the flag", err)
	}
}

// A verdict names the side, so that a limit that was gone beyond is not taken for a test that was passed.
func TestAVerdictNamesTheSide(t *testing.T) {
	s := New(command())
	s.AtMost("a", "5", true, "x")
	s.AtLeast("b", "5", true, "x")
	s.Between("c", "5 to 6", true, "x")
	s.Stage("d", "set", true, "x")
	s.AtMost("e", "5", false, "x")
	s.Stage("f", "set", false, "x")
	want := []Verdict{over, under, outside, reached, kept, notReached}
	for i, l := range s.Limits {
		if l.Verdict != want[i] || l.Kept != (i > 3) {
			t.Errorf("%s: %s, kept %v; want %s", l.Name, l.Verdict, l.Kept, want[i])
		}
	}
}

func TestFlagsThatSayTheSameAreRefusedTogether(t *testing.T) {
	s := New(command())
	if err := s.OneOf(FlagText{"a", ""}, FlagText{"b", "1"}, FlagText{"c", ""}); err != nil {
		t.Errorf("one alone: %v", err)
	}
	if err := s.OneOf(FlagText{"a", "2"}, FlagText{"b", ""}, FlagText{"c", "1"}); err == nil ||
		!strings.Contains(err.Error(), "--a and --c") {
		t.Errorf("two: %v", err)
	}
	if !NoneGiven([]FlagText{{"a", ""}}) || NoneGiven([]FlagText{{"a", "x"}}) {
		t.Error("none given is not seen")
	}
}

func TestDecimalsHaveTheDigitsThatWereAskedFor(t *testing.T) {
	for _, c := range []struct {
		v      float64
		digits int
		want   string
	}{
		{0, 4, "0"},
		{3.14159, 3, "3.14"},
		{1200, 2, "1200"},
		{0.00012345, 2, "0.00012"},
		{1e-7, 3, "1e-07"},
		{-2.50, 4, "-2.5"},
		{2e9, 3, "2e+09"},
	} {
		if got := Decimal(c.v, c.digits); got != c.want {
			t.Errorf("%v to %d digits is %s, want %s", c.v, c.digits, got, c.want)
		}
	}
}
