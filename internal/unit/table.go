package unit

import "strings"

// kind is a dimension as a field of a form knows it. The order is that in which a foreign unit is sought for a hint.
type kind uint8

const (
	mass kind = iota
	volume
	length
	area
	speed
	density
	pressure
	force
	temperature
	difference
	flow
	evaporation
	dose
	share
	duration
	kinds    // how many can be asked for
	doseMass // what a dose is counted on; inside a dose only
)

// belongs tells in which system a unit is at home, so that the other one can be shown beside it.
type belongs uint8

const (
	neither belongs = iota
	metric
	us
)

// entry is one way to write a unit: lower case, without spaces, full stops, ^, · and brackets.
type entry struct {
	name   string
	factor float64 // to SI
	system belongs
}

// The tables are plain data, laid out by the compiler: they cost nothing at start-up. Compound units (lb/ft3, km/h)
// are not listed but divided, see lookup.
var (
	massUnits = []entry{
		{"lb", float64(Pound), us},
		{"lbs", float64(Pound), us},
		{"#", float64(Pound), us},
		{"lbm", float64(Pound), us},
		{"pound", float64(Pound), us},
		{"pounds", float64(Pound), us},
		{"oz", float64(Ounce), us},
		{"ounce", float64(Ounce), us},
		{"ounces", float64(Ounce), us},
		{"kg", 1, metric},
		{"kgs", 1, metric},
		{"kilo", 1, metric},
		{"kilos", 1, metric},
		{"kilogram", 1, metric},
		{"kilograms", 1, metric},
		{"g", float64(Gram), metric},
		{"gram", float64(Gram), metric},
		{"grams", float64(Gram), metric},
		{"mg", 1e-6, metric},
		{"t", 1000, metric},
		{"tonne", 1000, metric},
		{"tonnes", 1000, metric},
	}
	volumeUnits = []entry{
		{"gal", float64(Gallon), us},
		{"gals", float64(Gallon), us},
		{"usgal", float64(Gallon), us},
		{"gallon", float64(Gallon), us},
		{"gallons", float64(Gallon), us},
		{"qt", float64(Quart), us},
		{"qts", float64(Quart), us},
		{"quart", float64(Quart), us},
		{"quarts", float64(Quart), us},
		{"pt", float64(Pint), us},
		{"pts", float64(Pint), us},
		{"pint", float64(Pint), us},
		{"pints", float64(Pint), us},
		{"cup", float64(Cup), us},
		{"cups", float64(Cup), us},
		{"floz", float64(FluidOunce), us},
		{"flozs", float64(FluidOunce), us},
		{"fluidoz", float64(FluidOunce), us},
		{"fluidounce", float64(FluidOunce), us},
		{"fluidounces", float64(FluidOunce), us},
		{"tbsp", float64(FluidOunce / 2), us},
		{"tsp", float64(FluidOunce / 6), us},
		{"l", float64(Litre), metric},
		{"lt", float64(Litre), metric},
		{"ltr", float64(Litre), metric},
		{"liter", float64(Litre), metric},
		{"liters", float64(Litre), metric},
		{"litre", float64(Litre), metric},
		{"litres", float64(Litre), metric},
		{"ml", float64(Millilitre), metric},
		{"cc", float64(Millilitre), metric},
		{"cm3", float64(Millilitre), metric},
		{"milliliter", float64(Millilitre), metric},
		{"milliliters", float64(Millilitre), metric},
		{"millilitre", float64(Millilitre), metric},
		{"millilitres", float64(Millilitre), metric},
		{"cl", 1e-5, metric},
		{"dl", 1e-4, metric},
		{"dm3", float64(Litre), metric},
		{"m3", 1, metric},
		{"cum", 1, metric},
		{"cubicmeter", 1, metric},
		{"cubicmeters", 1, metric},
		{"cubicmetre", 1, metric},
		{"cubicmetres", 1, metric},
		{"ft3", float64(CubicFoot), us},
		{"cuft", float64(CubicFoot), us},
		{"cf", float64(CubicFoot), us},
		{"cft", float64(CubicFoot), us},
		{"cubicfoot", float64(CubicFoot), us},
		{"cubicfeet", float64(CubicFoot), us},
		{"yd3", float64(CubicYard), us},
		{"cuyd", float64(CubicYard), us},
		{"cy", float64(CubicYard), us},
		{"cubicyard", float64(CubicYard), us},
		{"cubicyards", float64(CubicYard), us},
		{"in3", float64(CubicInch), us},
		{"cuin", float64(CubicInch), us},
		{"impgal", float64(ImperialGallon), neither},
		{"imperialgallon", float64(ImperialGallon), neither},
		{"imperialgallons", float64(ImperialGallon), neither},
	}
	lengthUnits = []entry{
		{"'", float64(Foot), us},
		{"ft", float64(Foot), us},
		{"f", float64(Foot), us},
		{"foot", float64(Foot), us},
		{"feet", float64(Foot), us},
		{`"`, float64(Inch), us},
		{"in", float64(Inch), us},
		{"inch", float64(Inch), us},
		{"inches", float64(Inch), us},
		{"ins", float64(Inch), us},
		{"yd", float64(Yard), us},
		{"yds", float64(Yard), us},
		{"yard", float64(Yard), us},
		{"yards", float64(Yard), us},
		{"mi", float64(5280 * Foot), us},
		{"mile", float64(5280 * Foot), us},
		{"miles", float64(5280 * Foot), us},
		{"mil", float64(Inch / 1000), us},
		{"mils", float64(Inch / 1000), us},
		{"mm", float64(Millimetre), metric},
		{"cm", 0.01, metric},
		{"m", 1, metric},
		{"km", 1000, metric},
		{"millimeter", float64(Millimetre), metric},
		{"millimeters", float64(Millimetre), metric},
		{"millimetre", float64(Millimetre), metric},
		{"millimetres", float64(Millimetre), metric},
		{"meter", 1, metric},
		{"meters", 1, metric},
		{"metre", 1, metric},
		{"metres", 1, metric},
	}
	areaUnits = []entry{
		{"ft2", float64(SquareFoot), us},
		{"sqft", float64(SquareFoot), us},
		{"sf", float64(SquareFoot), us},
		{"squarefoot", float64(SquareFoot), us},
		{"squarefeet", float64(SquareFoot), us},
		{"in2", float64(SquareInch), us},
		{"sqin", float64(SquareInch), us},
		{"squareinch", float64(SquareInch), us},
		{"squareinches", float64(SquareInch), us},
		{"yd2", float64(9 * SquareFoot), us},
		{"sqyd", float64(9 * SquareFoot), us},
		{"sy", float64(9 * SquareFoot), us},
		{"squareyard", float64(9 * SquareFoot), us},
		{"squareyards", float64(9 * SquareFoot), us},
		{"m2", 1, metric},
		{"sqm", 1, metric},
		{"squaremeter", 1, metric},
		{"squaremeters", 1, metric},
		{"squaremetre", 1, metric},
		{"squaremetres", 1, metric},
		{"cm2", 1e-4, metric},
		{"sqcm", 1e-4, metric},
		{"mm2", 1e-6, metric},
		{"sqmm", 1e-6, metric},
	}
	speedUnits = []entry{
		{"mph", float64(MilePerHour), us},
		{"fps", float64(Foot), us},
		{"fpm", float64(Foot / 60), us},
		{"kmh", float64(KilometrePerHour), metric},
		{"kph", float64(KilometrePerHour), metric},
		{"kmph", float64(KilometrePerHour), metric},
		{"mps", 1, metric},
		{"kn", float64(Knot), neither},
		{"kt", float64(Knot), neither},
		{"kts", float64(Knot), neither},
		{"knot", float64(Knot), neither},
		{"knots", float64(Knot), neither},
	}
	densityUnits = []entry{
		{"pcf", float64(PoundPerCubicFoot), us}, {"pcy", float64(PoundPerCubicFoot / 27), us},
	}
	pressureUnits = []entry{
		{"psi", float64(PSI), us},
		{"ksi", float64(1000 * PSI), us},
		{"psf", float64(PSI / 144), us},
		{"inhg", float64(InchOfMercury), us},
		{"pa", 1, metric},
		{"hpa", 100, metric},
		{"kpa", float64(Kilopascal), metric},
		{"mpa", float64(Megapascal), metric},
		{"bar", 1e5, metric},
		{"mbar", 100, metric},
	}
	// A testing machine's dial says lb and means force; a field that wants a force can mean nothing else.
	forceUnits = []entry{
		{"lbf", float64(PoundForce), us},
		{"lb", float64(PoundForce), us},
		{"lbs", float64(PoundForce), us},
		{"kip", float64(1000 * PoundForce), us},
		{"kips", float64(1000 * PoundForce), us},
		{"n", 1, metric},
		{"newton", 1, metric},
		{"newtons", 1, metric},
		{"kn", 1000, metric},
		{"kgf", 9.80665, metric},
	}
	degrees = []entry{
		{"f", fahrenheitDegree, us},
		{"degf", fahrenheitDegree, us},
		{"degreef", fahrenheitDegree, us},
		{"degreesf", fahrenheitDegree, us},
		{"fahrenheit", fahrenheitDegree, us},
		{"degreesfahrenheit", fahrenheitDegree, us},
		{"c", 1, metric},
		{"degc", 1, metric},
		{"degreec", 1, metric},
		{"degreesc", 1, metric},
		{"celsius", 1, metric},
		{"degreescelsius", 1, metric},
		{"k", 1, metric},
		{"kelvin", 1, metric},
		{"kelvins", 1, metric},
	}
	flowUnits  = []entry{{"gpm", float64(Gallon / 60), us}, {"lpm", float64(Litre / 60), metric}}
	shareUnits = []entry{{"%", 0.01, neither}, {"percent", 0.01, neither}, {"pct", 0.01, neither}}
	timeUnits  = []entry{
		{"s", 1, neither},
		{"sec", 1, neither},
		{"secs", 1, neither},
		{"second", 1, neither},
		{"seconds", 1, neither},
		{"m", 60, neither},
		{"min", 60, neither},
		{"mins", 60, neither},
		{"minute", 60, neither},
		{"minutes", 60, neither},
		{"h", hour, neither},
		{"hr", hour, neither},
		{"hrs", hour, neither},
		{"hour", hour, neither},
		{"hours", hour, neither},
		{"d", 24 * hour, neither},
		{"day", 24 * hour, neither},
		{"days", 24 * hour, neither},
		{"wk", 168 * hour, neither},
		{"week", 168 * hour, neither},
		{"weeks", 168 * hour, neither},
	}
)

const (
	fahrenheitDegree = 5.0 / 9
	hour             = 3600.0
	hundredweight    = 100 * Pound // the admixture trade's cwt; never the 112 lb one
)

func (k kind) units() []entry {
	switch k {
	case mass, doseMass:
		return massUnits
	case volume:
		return volumeUnits
	case length:
		return lengthUnits
	case area:
		return areaUnits
	case speed:
		return speedUnits
	case density:
		return densityUnits
	case pressure:
		return pressureUnits
	case force:
		return forceUnits
	case temperature, difference:
		return degrees
	case flow:
		return flowUnits
	case share:
		return shareUnits
	case duration:
		return timeUnits
	}
	return nil
}

func (k kind) plain(name string) (entry, bool) {
	for _, e := range k.units() {
		if e.name == name {
			return e, true
		}
	}
	return entry{}, false
}

// lookup finds a unit of k, listed or compound. The name is as normal leaves it.
func (k kind) lookup(name string) (entry, bool) {
	if e, ok := k.plain(name); ok {
		return e, ok
	}
	if k == doseMass && name == "cwt" {
		return entry{name, float64(hundredweight), us}, true
	}
	over, under, ok := strings.Cut(name, "/")
	if !ok {
		return entry{}, false
	}
	var n, d kind
	switch k {
	case density:
		n, d = mass, volume
	case speed:
		n, d = length, duration
	case pressure:
		n, d = force, area
	case flow:
		n, d = volume, duration
	case dose:
		n, d = volume, doseMass
	case evaporation:
		return rate(name, over, under)
	default:
		return entry{}, false
	}
	a, ok := n.plain(over)
	if !ok {
		return entry{}, false
	}
	b, ok := d.lookup(under)
	if !ok {
		return entry{}, false
	}
	return entry{name, a.factor / b.factor, a.system}, true
}

// rate reads mass/area/time and mass/(area·time); its SI unit here is the hour's, kg/(m²·h).
func rate(name, over, under string) (entry, bool) {
	m, ok := mass.plain(over)
	if !ok {
		return entry{}, false
	}
	ground, time, ok := strings.Cut(under, "/")
	if !ok {
		for _, e := range timeUnits {
			if g, found := strings.CutSuffix(under, e.name); found {
				if _, known := area.plain(g); known {
					ground, time, ok = g, e.name, true
				}
			}
		}
	}
	a, known := area.plain(ground)
	t, timed := duration.plain(time)
	if !ok || !known || !timed {
		return entry{}, false
	}
	return entry{name, m.factor / a.factor / (t.factor / hour), m.system}, true
}

func (k kind) noun() string {
	return [...]string{
		"mass", "volume", "length", "area", "speed", "density", "pressure", "force", "temperature",
		"temperature difference", "rate of flow", "evaporation rate", "dose", "share", "length of time", "", "mass",
	}[k]
}

// examples are written without quotes and brackets, which a shell would take for itself.
func (k kind) examples() string {
	return [...]string{
		"94lb, 12.5kg or 18oz", "2.5gal, 18floz or 9.5L", "6ft8in, 38mm or 2.4m", "72ft2 or 6.7m2",
		"12mph, 19km/h or 5m/s", "130lb/ft3 or 2080kg/m3", "4000psi or 27.6MPa", "12000lbf or 53kN", "85F or 29C",
		"10F or 5.5K", "0.24L/s, 3.75gal/min or 1qt/4s", "0.2lb/ft2/h or 1.0kg/m2/h", "16floz/cwt or 650mL/100kg",
		"4%, 0.04, 1/2 or all", "10s, 4min, 1h30 or 1:30", "", "100lb or 100kg",
	}[k]
}

func (k kind) article() string {
	if n := k.noun(); strings.IndexByte("aeiou", n[0]) >= 0 {
		return "an " + n
	}
	return "a " + k.noun()
}

func (k kind) want() string { return k.article() + " is written like " + k.examples() }

// common are the units to offer for a number that has none.
func (k kind) common() []string {
	switch k {
	case mass, doseMass:
		return []string{"lb", "kg"}
	case volume:
		return []string{"gal", "floz", "L"}
	case length:
		return []string{"in", "mm", "ft"}
	case area:
		return []string{"ft2", "m2"}
	case speed:
		return []string{"mph", "km/h", "m/s"}
	case density:
		return []string{"lb/ft3", "kg/m3"}
	case pressure:
		return []string{"psi", "MPa"}
	case force:
		return []string{"lbf", "kN"}
	case temperature, difference:
		return []string{"F", "C"}
	case flow:
		return []string{"gal/min", "L/s"}
	case evaporation:
		return []string{"lb/ft2/h", "kg/m2/h"}
	case dose:
		return []string{"floz/cwt", "mL/100kg"}
	case share:
		return []string{"%"}
	}
	return []string{"s", "min", "h"}
}
