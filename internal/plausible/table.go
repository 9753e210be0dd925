package plausible

// practice is the source of a range that nobody published.
const practice = "common practice, no source"

// Range is what a quantity is between, both ends included, in SI.
type Range struct {
	Name         string // of the quantity
	Lo, Hi       float64
	Below, Above string // what a value beyond is
	Source       string
	of           dimension
}

// The table. Each range is wide: it is to catch a number in another unit, or a figure too many, and no day of work.
var (
	Air = Range{
		"air temperature", -40, 57, "colder than any air that mortar is placed in", "hotter than any air",
		"highest air temperature recorded, 56.7 °C (World Meteorological Organization, from memory); the low end is " +
			practice, temperature,
	}
	DewPoint = Range{
		"dew point", -40, 35, "drier than any air that mortar is placed in", "moister than any air",
		"highest dew point recorded, 35 °C (from memory); the low end is " + practice, temperature,
	}
	Humidity = Range{
		"relative humidity", 0.02, 1, "drier than any air", "moister than saturated air", practice, share,
	}
	Wind = Range{
		"mean wind", 0, 32.7, "", "a hurricane",
		"Beaufort scale of the World Meteorological Organization: force 12 from 32.7 m/s", speed,
	}
	Rain = Range{
		"rain in an hour", 0, 0.1, "", "more than a cloudburst", practice, depth,
	}
	Sun = Range{
		"sun", 0, 1500, "", "more than the sun gives", "1361 W/m² above the air, and what clouds add beside the sun; " +
			practice, sunlight,
	}
	Surface = Range{
		"surface temperature", -20, 70, "colder than any fresh surface", "hotter than any fresh surface", practice,
		temperature,
	}
	Mortar = Range{
		"temperature of the mortar", 0, 50, "ice", "hotter than any mortar that can be placed",
		"fresh mortar freezes below 0 °C; ACI 305.1 takes 35 °C at most unless otherwise agreed (from memory); the high end is " + practice, temperature,
	}
	Coat = Range{
		"temperature of a coat", -35, 80, "colder than any coat", "hotter than any coat in the sun", practice,
		temperature,
	}
	UnitWeight = Range{
		"unit weight", 300, 3500, "lighter than any foamed mortar", "heavier than any mortar", practice, density,
	}
	SandMoisture = Range{
		"moisture of the sand", 0, 0.2, "", "more water than sand holds", practice, share,
	}
	Flow = Range{
		"flow", 0, 1.55, "", "wider than the flow table",
		"ASTM C230: a table of 255 mm and a cone of 102 mm, so 150 % is its edge (from memory)", share,
	}
	Meter = Range{
		"air by the meter", 0, 0.35, "", "more air than a meter reads in mortar", practice, share,
	}
	Wand = Range{
		"delivery of the wand", 1e-5, 2e-3, "slower than a drip", "faster than a tap", practice, perSecond,
	}
	Specimen = Range{
		"size of the specimens", 0.02, 0.31, "smaller than any specimen", "larger than any specimen",
		"cubes of 50 mm (ASTM C109) to cylinders and cubes of 300 mm (EN 12390-1), from memory", length,
	}
	Thickness = Range{
		"thickness of a coat", 0.001, 0.15, "thinner than a wash of slurry",
		"thicker than any coat that is put on by hand", practice, length,
	}
	Edge = Range{
		"length of an edge", 0.02, 300, "shorter than a hand is wide", "longer than any edge of a zone", practice,
		length,
	}
	SetReference = Range{
		"reference temperature of the set", 2, 45, "colder than any set is measured at",
		"hotter than any set is measured at",
		"ASTM C403 measures at 20 °C to 25 °C unless otherwise asked (from memory); the ends are " + practice,
		temperature,
	}
	Strength = Range{
		"strength", 0.2e6, 200e6, "weaker than mortar that can be taken from its mould", "stronger than any mortar",
		practice, pressure,
	}
)

// Ratio is what a quantity is of what was designed: between Lo and Hi of it whatever the unit, and between NearLo and
// NearHi where the same number in another unit would be between FitLo and FitHi.
type Ratio struct {
	Name           string
	Lo, Hi         float64 // 0 is a value of its own: left out, bare
	NearLo, NearHi float64
	FitLo, FitHi   float64
	Low, High      string // what a value beyond is; %s is what was designed
	Source         string
	of             dimension
}

// Quantities that are judged against the plan.
var (
	Charge = Ratio{
		"amount", 0.2, 3, 0.55, 1.8, 0.8, 1.25, "a small part of the %s of the mix", "far more than the %s of the mix",
		practice + "; a pound is 0.454 kg, a quart 0.946 L", massOrVolume,
	}
	Gauge = Ratio{
		"thickness", 0.1, 4, 0.2, 2.5, 0.2, 2.5, "next to nothing of a coat of %s", "no thickness of a coat of %s",
		practice, length,
	}
	Depth = Ratio{
		"depth of the probe", 0, 5, 0, 3, 0, 3, "", "deeper than a coat of %s", practice, length,
	}
)

// Air that a batch can hold by its own unit weight. Below nothing, since gravities and moistures are only known so
// well; at most what no mortar holds that is not foamed, or somewhat more than a foamed one was designed for.
const (
	LeastAir  = -0.05
	MostAir   = 0.35
	BeyondAir = 0.15
	AirSource = "ASTM C138; how much air is too much is " + practice
)

// HoldsAir reports whether a mix designed for a share of air can hold the share that follows from a unit weight.
func HoldsAir(air, designed float64) bool {
	return air >= LeastAir && air <= max(MostAir, designed+BeyondAir)
}
