package unit

// The quantities of the site, each in its SI unit. A value of one kind does not pass for another without a conversion
// that can be seen.
type (
	Mass        float64 // kg
	Volume      float64 // m³
	Length      float64 // m
	Area        float64 // m²
	Speed       float64 // m/s
	Density     float64 // kg/m³
	AreaMass    float64 // kg/m²
	Pressure    float64 // Pa
	Force       float64 // N
	Celsius     float64 // °C on the scale: a temperature
	Kelvins     float64 // K: a difference of two temperatures
	Share       float64 // 1 is the whole: moisture, air, humidity, a part of a batch
	Flow        float64 // m³/s
	Evaporation float64 // kg/(m²·h)
	Dose        float64 // m³ of admixture per kg of cementitious material
)

// Exact factors to SI. Source: NIST SP 811 appendix B; the international yard and pound (1959).
const (
	Pound      Mass   = 0.45359237
	Ounce      Mass   = Pound / 16
	Gram       Mass   = 1e-3
	Inch       Length = 0.0254
	Foot       Length = 12 * Inch
	Yard       Length = 3 * Foot
	Millimetre Length = 1e-3

	SquareInch Area   = Area(Inch * Inch)
	SquareFoot Area   = Area(Foot * Foot)
	CubicInch  Volume = Volume(Inch * Inch * Inch)
	CubicFoot  Volume = Volume(Foot * Foot * Foot)
	CubicYard  Volume = 27 * CubicFoot
	Litre      Volume = 1e-3
	Millilitre Volume = 1e-6
	// Gallon is the US liquid gallon of 231 in³; no other gallon goes by this name here.
	Gallon     Volume = 231 * Volume(Inch*Inch*Inch)
	Quart      Volume = Gallon / 4
	Pint       Volume = Gallon / 8
	Cup        Volume = Gallon / 16
	FluidOunce Volume = Gallon / 128
	// ImperialGallon is never meant by a bare "gal".
	ImperialGallon Volume = 4.54609e-3

	PoundForce       Force    = 0.45359237 * 9.80665
	PSI              Pressure = Pressure(PoundForce) / Pressure(Inch*Inch)
	Megapascal       Pressure = 1e6
	Kilopascal       Pressure = 1e3
	InchOfMercury    Pressure = 3386.389
	MilePerHour      Speed    = Speed(5280*Foot) / 3600
	KilometrePerHour Speed    = 1.0 / 3.6
	Knot             Speed    = 1852.0 / 3600

	PoundPerCubicFoot      Density     = Density(Pound) / Density(CubicFoot)
	PoundPerSquareFoot     AreaMass    = AreaMass(Pound) / AreaMass(SquareFoot)
	PoundPerGallon         Density     = Density(Pound) / Density(Gallon)
	PoundPerSquareFootHour Evaporation = Evaporation(Pound) / Evaporation(SquareFoot)
	// FluidOuncePerHundredweight is the admixture trade's fl oz/cwt, on 100 lb.
	FluidOuncePerHundredweight Dose = Dose(FluidOunce) / Dose(100*Pound)
)

// WaterDensity is the one density by which hod turns a volume of mixing water into a mass, 62.4 lb/ft³: the convention
// of mix design (UNIT-12; 8.34 lb/gal).
const WaterDensity = 62.4 * PoundPerCubicFoot

// Zero is the offset between the Celsius and the kelvin scales.
const Zero = 273.15

// Fahrenheit gives the temperature that a Fahrenheit thermometer shows as f.
func Fahrenheit(f float64) Celsius { return Celsius((f - 32) * 5 / 9) }

// Fahrenheit is what a Fahrenheit thermometer shows at c.
func (c Celsius) Fahrenheit() float64 { return float64(c)*9/5 + 32 }

// Kelvin is the absolute temperature, K.
func (c Celsius) Kelvin() float64 { return float64(c) + Zero }

// Of is the volume that mass m fills at density d.
func (d Density) Of(m Mass) Volume { return Volume(float64(m) / float64(d)) }

// Mass is that of volume v at density d.
func (d Density) Mass(v Volume) Mass { return Mass(float64(d) * float64(v)) }
