package unit

import (
	"errors"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// near allows for the last bits only.
func near(a, b float64) bool { return math.Abs(a-b) <= 1e-12*max(math.Abs(a), math.Abs(b)) }

type reading struct {
	text string
	want float64 // SI
}

func check[Q ~float64](t *testing.T, parse func(string) (Q, error), readings []reading) {
	t.Helper()
	for _, r := range readings {
		got, err := parse(r.text)
		if err != nil {
			t.Errorf("%s refused: %v", r.text, err)
		} else if !near(float64(got), r.want) {
			t.Errorf("%s: got %v, want %v", r.text, float64(got), r.want)
		}
	}
}

func TestReadAsPeopleWrite(t *testing.T) {
	const lb, gal, floz, in, ft = float64(Pound), float64(Gallon), float64(FluidOunce), float64(Inch), float64(Foot)
	check(t, ParseMass, []reading{
		{"94lb", 94 * lb},
		{"94 LB", 94 * lb},
		{"12.5 kg", 12.5},
		{"14#", 14 * lb},
		{"5lb 4oz", 5.25 * lb},
		{"5 lb + 4 oz", 5.25 * lb},
		{"1 1/2lbs.", 1.5 * lb},
		{".5lb", 0.5 * lb},
		{"0kg", 0},
		{"1e3g", 1},
		{"2t", 2000},
	})
	check(t, ParseVolume, []reading{
		{"2.5gal", 2.5 * gal},
		{"2.5 gal", 2.5 * gal},
		{"2 1/2 gal", 2.5 * gal},
		{"2-1/2gal", 2.5 * gal},
		{"1/2gal", gal / 2},
		{"½ gal", gal / 2},
		{"2½gal", 2.5 * gal},
		{"2 ½ gal", 2.5 * gal},
		{"1⁄2 gal", gal / 2},
		{"2gal+18floz", 2*gal + 18*floz},
		{"18floz+2gal", 2*gal + 18*floz},
		{"2gal 18 fl oz", 2*gal + 18*floz},
		{"18 fl oz", 18 * floz},
		{"18fl-oz", 18 * floz},
		{"18 fl. oz.", 18 * floz},
		{"9.5L", 0.0095},
		{"9.5\u00a0l", 0.0095},
		{"3ft3", 3 * ft * ft * ft},
		{"3 ft³", 3 * ft * ft * ft},
		{"3 ft^3", 3 * ft * ft * ft},
		{"3 cu. ft.", 3 * ft * ft * ft},
		{"3cf", 3 * ft * ft * ft},
		{"1cy", 27 * ft * ft * ft},
		{"1 qt", gal / 4},
		{"1impgal", 0.00454609},
		{"1 USgal", gal},
		{"2 Gallons", 2 * gal},
	})
	check(t, ParseLength, []reading{
		{`6'-8"`, 80 * in},
		{`6'8"`, 80 * in},
		{`6' 8 1/2"`, 80.5 * in},
		{`6'-8-1/2"`, 80.5 * in},
		{"6’ 8 ½”", 80.5 * in},
		{"6′–8″", 80 * in},
		{"6'8''", 80 * in},
		{"6ft8in", 80 * in},
		{"6ft-8in", 80 * in},
		{"6 ft 8 in", 80 * in},
		{"6f8", 80 * in},
		{"6ft 8", 80 * in},
		{"6f", 6 * ft},
		{"6ft3", 75 * in},
		{"80in", 80 * in},
		{"80in.", 80 * in},
		{"1 1/2in", 1.5 * in},
		{`1/2"`, in / 2},
		{"38mm", 0.038},
		{"2.4 m", 2.4},
		{"2m 5cm", 2.05},
		{"10 yd", 30 * ft},
	})
	check(t, ParseArea, []reading{
		{"72ft2", 72 * ft * ft},
		{"72 ft²", 72 * ft * ft},
		{"72 sq ft", 72 * ft * ft},
		{"72sf", 72 * ft * ft},
		{"6.7m2", 6.7},
		{"6.7 m²", 6.7},
		{"4in2", 4 * in * in},
	})
	check(t, ParseSpeed, []reading{
		{"12mph", 12 * 0.44704},
		{"36 km/h", 10},
		{"36kph", 10},
		{"36 kmh", 10},
		{"5 m/s", 5},
		{"10kn", 18520.0 / 3600},
		{"10 knots", 18520.0 / 3600},
	})
	check(t, ParseDensity, []reading{
		{"130lb/ft3", 130 * lb / (ft * ft * ft)},
		{"130 lb/ft³", 130 * lb / (ft * ft * ft)},
		{"130pcf", 130 * lb / (ft * ft * ft)},
		{"130 lb per cu ft", 130 * lb / (ft * ft * ft)},
		{"2080kg/m3", 2080},
		{"1.07 g/mL", 1070},
		{"1.07kg/L", 1070},
	})
	check(t, ParsePressure, []reading{
		{"4000psi", 4000 * float64(PSI)},
		{"27.6 MPa", 27.6e6},
		{"27.6mpa", 27.6e6},
		{"27.6N/mm2", 27.6e6},
		{"27.6 N/mm²", 27.6e6},
		{"101.325 kPa", 101325},
		{"1013.25hPa", 101325},
		{"30 inHg", 30 * 3386.389},
		{"30 in. Hg", 30 * 3386.389},
	})
	check(t, ParseForce, []reading{
		{"12000lbf", 12000 * float64(PoundForce)},
		{"12000 lb", 12000 * float64(PoundForce)},
		{"12kip", 12000 * float64(PoundForce)},
		{"53kN", 53e3},
		{"53000 N", 53e3},
	})
	check(t, ParseTemperature, []reading{
		{"77F", 25},
		{"77°F", 25},
		{"77 ° F", 25},
		{"77degF", 25},
		{"77 deg. F", 25},
		{"77℉", 25},
		{"25C", 25},
		{"25 °C", 25},
		{"25 degC", 25},
		{"-40F", -40},
		{"−40 °C", -40},
		{"- 40C", -40},
		{"+5C", 5},
		{"298.15K", 25},
		{"-459.67F", -273.15},
	})
	check(t, ParseTemperatureDifference, []reading{{"18F", 10}, {"10C", 10}, {"10 K", 10}, {"-9 °F", -5}, {"9 F°", 5}})
	check(t, ParseShare, []reading{
		{"4%", 0.04},
		{"4 %", 0.04},
		{"4 percent", 0.04},
		{"0.04", 0.04},
		{"1/2", 0.5},
		{"½", 0.5},
		{"3/4", 0.75},
		{"half", 0.5},
		{"Half", 0.5},
		{"a half", 0.5},
		{"a third", 1.0 / 3},
		{"all", 1},
		{"100%", 1},
		{"none", 0},
		{"0", 0},
		{"0%", 0},
		{"1 1/2%", 0.015},
	})
	check(t, ParseFlow, []reading{
		{"0.24l/s", 0.24e-3},
		{"0.24 L/s", 0.24e-3},
		{"3.75gal/min", 3.75 * gal / 60},
		{"1qt/4s", gal / 16},
		{"1 1/2 qt / 6s", gal / 16},
		{"1qt in 4s", gal / 16},
		{"1 qt per 4 s", gal / 16},
		{"3gpm", gal / 20},
		{"0.1ft3/s", 0.1 * ft * ft * ft},
		{"1gal 1qt/min", 1.25 * gal / 60},
		{"2 gal per 1/2 min", 4 * gal / 60},
	})
	check(t, ParseEvaporation, []reading{
		{"0.2lb/ft2/h", 0.2 * lb / (ft * ft)},
		{"0.2 lb/ft²/h", 0.2 * lb / (ft * ft)},
		{"0.2 lb/(ft²·h)", 0.2 * lb / (ft * ft)},
		{"0.2lb/sqft/hr", 0.2 * lb / (ft * ft)},
		{"1.0 kg/m²/h", 1},
		{"1kg/m2h", 1},
		{"1 kg/(m2*h)", 1},
		{"24 kg per m2 per day", 1},
	})
	check(t, ParseDose, []reading{
		{"16floz/cwt", 16 * floz / (100 * lb)},
		{"16 fl oz / 100 lb", 16 * floz / (100 * lb)},
		{"650mL/100kg", 6.5e-6},
		{"6.5 mL per kg", 6.5e-6},
	})
	for text, want := range map[string]time.Duration{
		"10s": 10 * time.Second, "4min": 4 * time.Minute, "4 m": 4 * time.Minute, "4min30": 270 * time.Second, "1h30": 90 * time.Minute,
		"1h 30": 90 * time.Minute, "1h30m": 90 * time.Minute, "1:30": 90 * time.Minute, "0:45": 45 * time.Minute, "1:30:15": 5415 * time.Second,
		"90 min": 90 * time.Minute, "1 1/2 h": 90 * time.Minute, "1.5 hours": 90 * time.Minute, "7d": 168 * time.Hour, "2 weeks": 336 * time.Hour,
		"0.1s": 100 * time.Millisecond, "0s": 0,
	} {
		if got, err := ParseDuration(text); err != nil || got != want {
			t.Errorf("%s: got %v, %v; want %v", text, got, err, want)
		}
	}
}

// asked parses s as the kind that a field wants; every entry of package unit is in it.
var asked = [kinds]func(string) (float64, error){
	mass: plainly(ParseMass), volume: plainly(ParseVolume), length: plainly(ParseLength), area: plainly(ParseArea),
	speed: plainly(ParseSpeed), density: plainly(ParseDensity), pressure: plainly(ParsePressure), force: plainly(
		ParseForce),
	temperature: plainly(ParseTemperature), difference: plainly(ParseTemperatureDifference), flow: plainly(ParseFlow),
	evaporation: plainly(ParseEvaporation), dose: plainly(ParseDose), share: plainly(ParseShare),
	duration: func(s string) (float64, error) {
		d, err := ParseDuration(s)
		return d.Seconds(), err
	},
}

func plainly[Q ~float64](parse func(string) (Q, error)) func(string) (float64, error) {
	return func(s string) (float64, error) {
		q, err := parse(s)
		return float64(q), err
	}
}

// The values that an error offers must themselves be read.
func TestOfferedValuesWork(t *testing.T) {
	for k := range kinds {
		for _, example := range strings.FieldsFunc(strings.ReplaceAll(k.examples(), " or ", ","),
			func(r rune) bool { return r == ',' }) {
			if _, err := asked[k](strings.TrimSpace(example)); err != nil {
				t.Errorf("%s offers %q: %v", k.noun(), example, err)
			}
		}
		for _, u := range k.common() {
			if _, err := asked[k]("0.5" + u); err != nil {
				t.Errorf("%s offers the unit %q: %v", k.noun(), u, err)
			}
		}
	}
}

func TestRefusalsSayWhatWouldWork(t *testing.T) {
	for _, c := range []struct {
		k    kind
		text string
		says string // a part of the message
	}{
		{volume, "2,5gal", `write "2.5gal" or "25gal"`},
		{mass, "1,200 lb", `write "1.200 lb" or "1200 lb"`},
		{volume, "2.5", "2.5gal, 2.5floz or 2.5L would do"},
		{volume, "0", "0gal, 0floz or 0L would do"},
		{temperature, "85", "85F or 85C would do"},
		{volume, "18oz", "did you mean 18floz?"},
		{volume, "18 ounces", "did you mean 18floz?"},
		{mass, "18floz", "did you mean 18oz?"},
		{volume, "20lb", `"lb" is a unit of mass, not of volume`},
		{mass, "2.5gal", `"gal" is a unit of volume, not of mass`},
		{volume, "3 yards", "did you mean 3yd3?"},
		{area, "72ft", "did you mean 72ft2?"},
		{length, "10m2", `"m2" is a unit of area`},
		{density, "130 lb", "did you mean 130lb/ft3?"},
		{pressure, "4000 lb", "did you mean 4000psi?"},
		{mass, "94lb/ft3", `"lb/ft3" is a unit of density`},
		{volume, "2glas", "did you mean 2gals?"},
		{volume, "2 gla", "did you mean 2gal?"},
		{mass, "2 tons", "write 2000lb or 1t"},
		{mass, "3 blorps", `"blorps" is not a unit of mass`},
		{volume, "", "nothing is written"},
		{volume, "   ", "nothing is written"},
		{volume, "NaN", "does not begin with a number"},
		{volume, "Inf gal", "does not begin with a number"},
		{volume, "1e999gal", "too large"},
		{volume, "1e300gal", "too large"},
		{volume, "1/0gal", "divides by zero"},
		{volume, "1 5/2gal", "is not a part of one"},
		{volume, "-2gal", "not below zero"},
		{volume, "2-3gal", "a range or a difference is not one value"},
		{volume, "3gal-1qt", "a minus or a range"},
		{volume, "1 200gal", "side by side"},
		{volume, "1qt 2gal", "not the smaller unit"},
		{volume, "2gal+", "the last number is missing"},
		{volume, "2gal+1/2", "1/2gal, 1/2floz or 1/2L would do"},
		{volume, "2gal 1/2", "has no unit"},
		{volume, "2²gal", "not a unit of volume"},
		{volume, "２gal", "at place 1"},
		{volume, "2\x1b[31mgal", `'\x1b' at place 2`},
		{volume, "2\u202egal", `'\u202e' at place 2`},
		{volume, "2\xffgal", "at place 2"},
		{length, "6'14", "has no unit"},
		{temperature, "80F+5F", "not added up"},
		{temperature, "-300C", "nothing is colder"},
		{temperature, "8°5F", "not a unit of temperature"},
		{share, "4", "did you mean 4%?"},
		{share, "1", "write 1%, 100% or all"},
		{share, "150%", "more than the whole"},
		{share, "-4%", "not below zero"},
		{flow, "1qt/0s", "divides by zero"},
		{flow, "1qt/", "nothing is written after the /"},
		{flow, "5gal", `"gal" is a unit of volume`},
		{dose, "16oz/cwt", "did you mean 16floz?"},
		{duration, "90", "90s, 90min or 90h would do"},
		{duration, "1:75", "more than 59"},
		{duration, "4:3", "hours:minutes"},
		{duration, "1h75", "has no unit"},
		{duration, "200000d", "hundred years"},
		{
			volume, strings.Repeat("1gal+", 13) + "1gal",
			"69 characters are too many to be one quantity, at most 64 are read",
		},
		{volume, strings.Repeat("1", 1<<20), "at most 64"},
	} {
		_, err := asked[c.k](c.text)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%s %.80q: got %v, want an *Error", c.k.noun(), c.text, err)
			continue
		}
		if !strings.Contains(e.Error(), c.says) {
			t.Errorf("%s %.80q: %v\n does not say %q", c.k.noun(), c.text, e, c.says)
		}
		if !strings.Contains(e.Error(), c.k.examples()) {
			t.Errorf("%s %.80q: %v\n shows no value that would work", c.k.noun(), c.text, e)
		}
		if len(e.Error()) > 900 {
			t.Errorf("%s %.80q: a message of %d bytes", c.k.noun(), c.text, len(e.Error()))
		}
	}
}

func TestAmountIsAMassOrAVolume(t *testing.T) {
	for text, want := range map[string]Amount{
		"94lb": {Mass: 94 * Pound}, "18oz": {Mass: 18 * Ounce}, "2gal": {Volume: 2 * Gallon, IsVolume: true},
		"18 floz": {Volume: 18 * FluidOunce, IsVolume: true}, "12.5 kg": {Mass: 12.5}, "0gal": {IsVolume: true},
	} {
		if got, err := ParseAmount(text); err != nil || got != want {
			t.Errorf("%s: got %+v, %v; want %+v", text, got, err, want)
		}
	}
	for text, says := range map[string]string{
		"2": "2lb or 2kg if weighed, 2gal, 2floz or 2L by volume", "2psi": "not of mass or volume", "2galss": "did you mean 2gals?",
		"2 bags": "not a unit of mass or volume", "1gal+2lb": `"lb" is a unit of mass, not of volume`, "2lb+1gal": `"gal" is a unit of volume, not of mass`,
		"": "nothing is written", "2,5gal": "comma", "2 tons": "ton",
	} {
		if _, err := ParseAmount(text); err == nil || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v\n does not say %q", text, err, says)
		}
	}
	if _, err := ParseLiquid("18oz"); err == nil ||
		!strings.Contains(err.Error(), "write 18floz, or 1.125lb if weighed") {
		t.Errorf("18oz of a liquid: %v", err)
	}
	if _, err := ParseLiquid("1lb 2oz"); err != nil {
		t.Errorf("a weighed liquid: %v", err)
	}
	a, _ := ParseAmount("10gal")
	m, err := a.At(WaterDensity)
	if want := 83.417; err != nil || math.Abs(float64(m/Pound)-want) > 0.001 { // UNIT-12, ten gallons
		t.Errorf("10 gal of water: %v lb, %v; want %v", float64(m/Pound), err, want)
	}
	for _, d := range []Density{0, -1, Density(math.NaN()), Density(math.Inf(1))} {
		if m, err := a.At(d); err == nil {
			t.Errorf("a volume at density %v has mass %v", d, m)
		}
	}
}

// A number grows, the quantity grows; and a sum is the sum of its parts.
func TestLawsOfReading(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.SampledFrom([]kind{
			mass, volume, length, area, speed, density, pressure, force, temperature,
			difference, flow, evaporation, dose, duration,
		}).Draw(t, "kind")
		unit := rapid.SampledFrom(k.common()).Draw(t, "unit")
		value := rapid.IntRange(0, 400_000)
		a, b := value.Draw(t, "a"), value.Draw(t, "b")
		x, y := parsed(t, k, decimal(a)+unit), parsed(t, k, decimal(b)+unit)
		if a < b && !(x < y) || a > b && !(x > y) || a == b && x != y {
			t.Fatalf("%s%s is %v but %s%s is %v", decimal(a), unit, x, decimal(b), unit, y)
		}
		if spaced := parsed(t, k, " "+decimal(a)+"  "+strings.ToUpper(unit)+" "); spaced != x {
			t.Fatalf("spaces or case changed %s%s from %v to %v", decimal(a), unit, x, spaced)
		}
		switch k {
		case temperature, difference, flow, dose: // not added up, or not in this form
			return
		}
		other := rapid.SampledFrom(k.common()).Draw(t, "other unit")
		z := parsed(t, k, decimal(b)+other)
		sum := parsed(t, k, decimal(a)+unit+"+"+decimal(b)+other)
		if d := math.Abs(sum - (x + z)); d > 1e-9 && d > 1e-12*sum { // a duration is held in whole nanoseconds
			t.Fatalf("%s%s+%s%s is %v, its parts %v and %v", decimal(a), unit, decimal(b), other, sum, x, z)
		}
	})
}

// A fraction in any of its forms is the whole number plus the quotient.
func TestFractionsInAnyForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bottom := rapid.IntRange(2, 64).Draw(t, "bottom")
		top, whole := rapid.IntRange(1, bottom-1).Draw(t, "top"), rapid.IntRange(0, 99).Draw(t, "whole")
		join := rapid.SampledFrom([]string{" ", "-", "  "}).Draw(t, "join")
		text := itoa(whole) + join + itoa(top) + "/" + itoa(bottom) + "in"
		want := (float64(whole) + float64(top)/float64(bottom)) * float64(Inch)
		if got := parsed(t, length, text); !near(got, want) {
			t.Fatalf("%s is %v, want %v", text, got, want)
		}
	})
}

func TestEachFractionOfAPhone(t *testing.T) {
	for text, want := range map[string]float64{
		"¼": 1.0 / 4, "½": 1.0 / 2, "¾": 3.0 / 4, "⅓": 1.0 / 3, "⅔": 2.0 / 3, "⅕": 1.0 / 5, "⅖": 2.0 / 5, "⅗": 3.0 / 5, "⅘": 4.0 / 5,
		"⅙": 1.0 / 6, "⅚": 5.0 / 6, "⅛": 1.0 / 8, "⅜": 3.0 / 8, "⅝": 5.0 / 8, "⅞": 7.0 / 8, "⅒": 1.0 / 10,
	} {
		check(t, ParseMass, []reading{
			{text + "kg", want},
			{"3" + text + " kg", 3 + want},
			{"3 " + text + "kg", 3 + want},
		})
	}
}

func TestFeetAndInchesInAnyForm(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		feet, inches := rapid.IntRange(0, 200).Draw(t, "feet"), rapid.IntRange(0, 11).Draw(t, "inches")
		text := itoa(feet) + rapid.SampledFrom([]string{"'", "ft", "f", " ft ", "’", "′", "'-", "ft-", " feet "}).Draw(
			t, "foot") +
			itoa(inches) + rapid.SampledFrom([]string{`"`, "in", "", " in", "”", "″", "''", " inches"}).Draw(t, "inch")
		if got, want := parsed(t, length, text), float64(feet*12+inches)*float64(Inch); !near(got, want) {
			t.Fatalf("%s is %v, want %v", text, got, want)
		}
	})
}

func parsed(t *rapid.T, k kind, text string) float64 {
	t.Helper()
	x, err := asked[k](text)
	if err != nil {
		t.Fatalf("%s refused: %v", text, err)
	}
	return x
}

// decimal is n thousandths, trimmed like a person's.
func decimal(n int) string { return fixed(float64(n)/1000, 3) }

func itoa(n int) string { return fixed(float64(n), 0) }

func BenchmarkParse(b *testing.B) {
	for _, text := range []string{"2.5gal", "2 1/2 gal", "2gal+18floz"} {
		b.Run(text, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := ParseVolume(text); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
	b.Run("6'-8\"", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			if _, err := ParseLength(`6'-8"`); err != nil {
				b.Fatal(err)
			}
		}
	})
}

func TestAnAreaIsNoLengthInFeetAndInches(t *testing.T) {
	for _, s := range []string{"5/8 ft2", "5/8ft2", "72 ft2", "2.5ft2", "1 1/2ft3", "12 FT2"} {
		if got, err := ParseLength(s); err == nil {
			t.Errorf("%q is read as %v m; it is an area or a volume", s, got)
		}
	}
	for s, want := range map[string]float64{"6ft2": 74, "6 ft 2": 74, "6ft 2": 74, "6ft2in": 74} {
		if got, err := ParseLength(s); err != nil || math.Abs(float64(got)/float64(Inch)-want) > 1e-9 {
			t.Errorf("%q is %v in, %v; want %v", s, float64(got)/float64(Inch), err, want)
		}
	}
}

func TestBelowZeroIsSaidBeforeTheUnit(t *testing.T) {
	for _, parse := range []func(string) error{
		func(s string) error { _, err := ParseAmount(s); return err },
		func(s string) error { _, err := ParseLiquid(s); return err },
	} {
		for _, s := range []string{"-2gal", "-2lb", "−2 gal"} {
			if err := parse(s); err == nil || !strings.Contains(err.Error(), "not below zero") {
				t.Errorf("%q: %v; want that it is not below zero", s, err)
			}
		}
	}
	for _, s := range []string{"85F", "94F", "85 C"} {
		if _, err := ParseAmount(s); err == nil || strings.Contains(err.Error(), "unit of length") ||
			!strings.Contains(err.Error(), "temperature") {
			t.Errorf("%q: %v; want that it is a temperature", s, err)
		}
	}
}
