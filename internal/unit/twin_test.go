package unit

import (
	"math"
	"math/big"
	"strings"
	"testing"
)

// exact holds every listed unit once more, as products and quotients of the defining decimals: NIST SP 811 appendix B,
// the international yard and pound (1959), and the gallon of 231 in³; all from memory.
var exact = map[kind]map[string]string{
	mass: {
		"lb lbs # lbm pound pounds":            "0.45359237",
		"oz ounce ounces":                      "0.45359237/16",
		"kg kgs kilo kilos kilogram kilograms": "1",
		"g gram grams":                         "1/1000",
		"mg":                                   "1/1000000",
		"t tonne tonnes":                       "1000",
	},
	volume: {
		"gal gals usgal gallon gallons":             "231*0.0254*0.0254*0.0254",
		"qt qts quart quarts":                       "231*0.0254*0.0254*0.0254/4",
		"pt pts pint pints":                         "231*0.0254*0.0254*0.0254/8",
		"cup cups":                                  "231*0.0254*0.0254*0.0254/16",
		"floz flozs fluidoz fluidounce fluidounces": "231*0.0254*0.0254*0.0254/128",
		"tbsp":                                   "231*0.0254*0.0254*0.0254/256",
		"tsp":                                    "231*0.0254*0.0254*0.0254/768",
		"l lt ltr liter liters litre litres dm3": "1/1000",
		"ml cc cm3 milliliter milliliters millilitre millilitres": "1/1000000",
		"cl": "1/100000",
		"dl": "1/10000",
		"m3 cum cubicmeter cubicmeters cubicmetre cubicmetres": "1",
		"ft3 cuft cf cft cubicfoot cubicfeet":                  "0.3048*0.3048*0.3048",
		"yd3 cuyd cy cubicyard cubicyards":                     "0.9144*0.9144*0.9144",
		"in3 cuin":                                             "0.0254*0.0254*0.0254",
		"impgal imperialgallon imperialgallons":                "4.54609/1000",
	},
	length: {
		"' ft f foot feet":     "0.3048",
		`" in inch inches ins`: "0.0254",
		"yd yds yard yards":    "0.9144",
		"mi mile miles":        "1609.344",
		"mil mils":             "0.0000254",
		"mm millimeter millimeters millimetre millimetres": "1/1000",
		"cm":                          "1/100",
		"m meter meters metre metres": "1",
		"km":                          "1000",
	},
	area: {
		"ft2 sqft sf squarefoot squarefeet":                        "0.3048*0.3048",
		"in2 sqin squareinch squareinches":                         "0.0254*0.0254",
		"yd2 sqyd sy squareyard squareyards":                       "0.9144*0.9144",
		"m2 sqm squaremeter squaremeters squaremetre squaremetres": "1",
		"cm2 sqcm": "1/10000",
		"mm2 sqmm": "1/1000000",
	},
	speed: {
		"mph":                  "1609.344/3600",
		"fps":                  "0.3048",
		"fpm":                  "0.3048/60",
		"kmh kph kmph":         "1000/3600",
		"mps":                  "1",
		"kn kt kts knot knots": "1852/3600",
	},
	density: {"pcf": "0.45359237/0.3048/0.3048/0.3048", "pcy": "0.45359237/0.9144/0.9144/0.9144"},
	pressure: {
		"psi": "0.45359237*9.80665/0.0254/0.0254", "ksi": "453.59237*9.80665/0.0254/0.0254",
		"psf": "0.45359237*9.80665/0.3048/0.3048", "inhg": "3386.389",
		"pa": "1", "hpa mbar": "100", "kpa": "1000", "mpa": "1000000", "bar": "100000",
	},
	force: {
		"lbf lb lbs": "0.45359237*9.80665", "kip kips": "453.59237*9.80665",
		"n newton newtons": "1", "kn": "1000", "kgf": "9.80665",
	},
	temperature: {
		"f degf degreef degreesf fahrenheit degreesfahrenheit":            "5/9",
		"c degc degreec degreesc celsius degreescelsius k kelvin kelvins": "1",
	},
	flow:  {"gpm": "231*0.0254*0.0254*0.0254/60", "lpm": "1/60000"},
	share: {"% percent pct": "1/100"},
	duration: {
		"s sec secs second seconds": "1", "m min mins minute minutes": "60", "h hr hrs hour hours": "3600",
		"d day days": "86400", "wk week weeks": "604800",
	},
}

func rational(t *testing.T, s string) *big.Rat {
	t.Helper()
	x := big.NewRat(1, 1)
	divide := false
	for s != "" {
		n := strings.IndexAny(s, "*/")
		if n < 0 {
			n = len(s)
		}
		y, ok := new(big.Rat).SetString(s[:n])
		if !ok {
			t.Fatalf("%q is not a number", s[:n])
		}
		if divide {
			y.Inv(y)
		}
		x.Mul(x, y)
		if n == len(s) {
			break
		}
		divide = s[n] == '/'
		s = s[n+1:]
	}
	return x
}

// ulps is how many steps of a float64 lie between got and the exact value.
func ulps(got float64, want *big.Rat) float64 {
	w, _ := want.Float64()
	return math.Abs(got-w) / (math.Nextafter(math.Abs(w), math.Inf(1)) - math.Abs(w))
}

func TestFactorsAreExact(t *testing.T) {
	for k := range kinds {
		twin := map[string]string{}
		for names, value := range exact[k] {
			for name := range strings.FieldsSeq(names) {
				twin[name] = value
			}
		}
		if k == difference {
			continue // reads the temperatures' table
		}
		seen := map[string]bool{}
		for _, e := range k.units() {
			if seen[e.name] {
				t.Errorf("%s: %q stands in the table twice", k.noun(), e.name)
			}
			seen[e.name] = true
			value, ok := twin[e.name]
			if !ok {
				t.Errorf("%s: %q has no exact twin", k.noun(), e.name)
				continue
			}
			// A typed constant is rounded at each step, so a cubed foot or a psi may be some last bits off.
			if off := ulps(e.factor, rational(t, value)); off > 4 {
				t.Errorf("%s: %q is %v, %v float steps from %s", k.noun(), e.name, e.factor, off, value)
			}
		}
		for name := range twin {
			if !seen[name] {
				t.Errorf("%s: %q is not in the table", k.noun(), name)
			}
		}
	}
}

// Compound units divide the listed ones; these are checked whole.
func TestCompoundFactorsAreExact(t *testing.T) {
	for _, c := range []struct {
		k           kind
		name, value string
	}{
		{density, "lb/ft3", "0.45359237/0.3048/0.3048/0.3048"},
		{density, "lb/gal", "0.45359237/231/0.0254/0.0254/0.0254"},
		{density, "g/ml", "1000"},
		{speed, "km/h", "1000/3600"},
		{speed, "mi/hr", "1609.344/3600"},
		{pressure, "n/mm2", "1000000"},
		{pressure, "lb/in2", "0.45359237*9.80665/0.0254/0.0254"},
		{flow, "gal/min", "231*0.0254*0.0254*0.0254/60"},
		{evaporation, "lb/ft2/h", "0.45359237/0.3048/0.3048"},
		{evaporation, "lb/ft2h", "0.45359237/0.3048/0.3048"},
		{evaporation, "kg/m2/day", "1/24"},
		{dose, "floz/cwt", "231*0.0254*0.0254*0.0254/128/45.359237"},
	} {
		e, ok := c.k.lookup(c.name)
		if !ok {
			t.Errorf("%s: %s is not known", c.k.noun(), c.name)
		} else if off := ulps(e.factor, rational(t, c.value)); off > 6 {
			t.Errorf("%s: %s is %v, %v float steps from %s", c.k.noun(), c.name, e.factor, off, c.value)
		}
	}
	// What is written in full and what the constants say must be the same float, or two devices would differ.
	for name, pair := range map[string][2]float64{
		"lb/ft3":   {unitOf(density, "lb/ft3"), float64(PoundPerCubicFoot)},
		"lb/gal":   {unitOf(density, "lb/gal"), float64(PoundPerGallon)},
		"lb/ft2/h": {unitOf(evaporation, "lb/ft2/h"), float64(PoundPerSquareFootHour)},
		"floz/cwt": {unitOf(dose, "floz/cwt"), float64(FluidOuncePerHundredweight)},
		"lb/in2":   {unitOf(pressure, "lb/in2"), float64(PSI)},
		"km/h":     {unitOf(speed, "km/h"), float64(KilometrePerHour)},
	} {
		if pair[0] != pair[1] {
			t.Errorf("%s: read as %v, the constant is %v", name, pair[0], pair[1])
		}
	}
}

func unitOf(k kind, name string) float64 {
	e, _ := k.lookup(name)
	return e.factor
}
