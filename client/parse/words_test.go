package parse

import (
	"math"
	"strings"
	"testing"

	"hod/internal/event"
	"hod/internal/unit"
)

func near(got, want float64) bool { return math.Abs(got-want) <= 1e-4*math.Abs(want) }

// A bag of 94 lb is 42.64 kg, a US gallon 3.785 L (exactly 0.45359237 kg a pound, 3.785411784 L a gallon).
func TestAmountsAreReadInTheUnitsThatPeopleWrite(t *testing.T) {
	for _, c := range []struct {
		word     string
		kind     event.Kind
		kg, l    float64
		byVolume bool
	}{
		{"94lb", event.Cement, 94 * 0.45359237, 0, false},
		{"40 kg", event.Cement, 40, 0, false},
		{"4.2gal", event.Water, 0, 4.2 * 3.785411784, true},
		{"16l", event.Water, 0, 16, true},
		{"1ft3", event.Sand, 0, 28.316846592, true},
	} {
		a, err := Amount(c.word, c.kind)
		if err != nil || a.ByVolume != c.byVolume || !near(float64(a.Mass), c.kg) || !near(float64(a.Volume)*1e3, c.l) {
			t.Errorf("%s of %s: %+v, %v; want %.3f kg or %.3f L", c.word, c.kind, a, err, c.kg, c.l)
		}
		if a.Entered != c.word {
			t.Errorf("%s is kept as %q", c.word, a.Entered)
		}
	}
	for _, none := range []string{"none", "0"} {
		if a, err := Amount(none, event.Sand); err != nil || a.Entered != "none" || a.Mass != 0 {
			t.Errorf("%s: %+v, %v; want that it was left out", none, a, err)
		}
	}
}

func TestBagsAreCounted(t *testing.T) {
	for word, kg := range map[string]float64{
		"40x94lb": 40 * 94 * 0.45359237, "2x25kg": 50, "1.5X20kg": 30, "25kg": 25,
	} {
		if a, err := Stock(word); err != nil || !near(float64(a.Mass), kg) || a.Entered != word {
			t.Errorf("%s: %+v, %v; want %.2f kg", word, a, err, kg)
		}
	}
	if _, err := Stock("manyx25kg"); err == nil || !strings.Contains(err.Error(), "40x94lb") {
		t.Errorf("a count that is none: %v; want how bags are counted", err)
	}
}

func TestPartsOfABatch(t *testing.T) {
	for word, want := range map[string]float64{"1/2": 0.5, "40%": 0.4, "100%": 1} {
		p, err := Part(word)
		if err != nil || p.Share == nil || !near(float64(p.Share.SI), want) {
			t.Errorf("%s: %+v, %v; want the share %g", word, p, err, want)
		}
	}
	for _, all := range []string{"", "all", "rest", "the rest"} {
		if p, err := Part(all); err != nil || p.Share != nil || p.Volume != nil {
			t.Errorf("%q: %+v, %v; want what is left", all, p, err)
		}
	}
	if p, err := Part("40l"); err != nil || p.Volume == nil || !near(float64(p.Volume.SI), 0.04) {
		t.Errorf("40l: %+v, %v", p, err)
	}
	for word, want := range map[string]string{
		"40 quarks": "a share is written 1/2 or 40%", "1": "a volume is written 40l or 1.5ft3",
	} {
		if _, err := Part(word); err == nil || !strings.Contains(err.Error(), "how much of the batch") ||
			!strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v; want what is asked, and %s", word, err, want)
		}
	}
	if !IsPart("1/2") || IsPart("A3") || !IsBatch("7") || IsBatch("1/2") {
		t.Error("a part is taken for a batch or a zone")
	}
}

func TestAScaleIsOfTheMixesBatch(t *testing.T) {
	for word, want := range map[string]float64{"2": 2, "1/2": 0.5, "50%": 0.5, "1.5": 1.5} {
		if x, err := Scale(word); err != nil || !near(x, want) {
			t.Errorf("%s is %v, %v; want %g", word, x, err, want)
		}
	}
	for _, word := range []string{"0", "-1", "1000%%", "much"} {
		if x, err := Scale(word); err == nil {
			t.Errorf("%s is %v; want a refusal", word, x)
		}
	}
}

func TestAConstituentHasItsProperties(t *testing.T) {
	c, err := Constituent("sand=190lb,gravity=2.62,absorption=1%")
	if err != nil || c.Kind != event.Sand || c.Gravity != 2.62 || c.Absorption == nil ||
		!near(float64(c.Absorption.SI), 0.01) ||
		!near(float64(c.Amount.Mass), 190*0.45359237) {
		t.Errorf("%+v, %v", c, err)
	}
	if c, err := Constituent("fume=4kg,kind=pozzolan"); err != nil || c.Kind != event.Pozzolan || c.Name != "fume" {
		t.Errorf("%+v, %v", c, err)
	}
	for word, want := range map[string]string{
		"sand": "write sand=190lb", "fume=4kg": "of what kind is it", "sand=1kg,colour=red": "has kind, gravity", "sand=1kg,red": "says nothing",
	} {
		if _, err := Constituent(word); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v; want %q", word, err, want)
		}
	}
	if c, rest, err := ConstituentOrRest("sand=rest,gravity=2.62"); err != nil || !rest || c.Gravity != 2.62 {
		t.Errorf("a sand that takes the rest: %+v, %v, %v", c, rest, err)
	}
	if _, _, err := ConstituentOrRest("water=rest"); err == nil || !strings.Contains(err.Error(), "goes to a sand") {
		t.Errorf("water that takes the rest: %v", err)
	}
}

func TestStepsOfTheChargingOrder(t *testing.T) {
	s, err := Step("cement 1/2, wait 1min")
	if err != nil || s.Constituent != "cement" || s.Share == nil || s.Share.SI != 0.5 || s.Wait.Seconds() != 60 {
		t.Errorf("%+v, %v", s, err)
	}
	if s, err := Step("look flows by itself"); err != nil || s.LookFor != "flows by itself" {
		t.Errorf("%+v, %v", s, err)
	}
	if _, err := Step("cement, sand"); err == nil || !strings.Contains(err.Error(), "--step") {
		t.Errorf("two constituents: %v", err)
	}
}

func TestLoadsAreGivenOneAWordOrWithCommas(t *testing.T) {
	loads, err := Loads("53kN,54kN", "12000lbf")
	if err != nil || len(loads) != 3 || !near(float64(loads[0]), 53e3) || !near(float64(loads[2]), 12000*4.4482216) {
		t.Errorf("%v, %v", loads, err)
	}
	if got := List([]string{"a, b", "", "c,,d"}); strings.Join(got, "|") != "a|b|c|d" {
		t.Errorf("%q", got)
	}
	if q, err := OptionalFlag("air", "", unit.ParseShare); q != nil || err != nil {
		t.Errorf("a flag that was not given: %v, %v", q, err)
	}
	if _, err := OptionalFlag("air", "wet", unit.ParseShare); err == nil || !strings.HasPrefix(err.Error(), "--air: ") {
		t.Errorf("a flag with a value that is none: %v", err)
	}
}
