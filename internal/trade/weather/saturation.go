package weather

import (
	"errors"
	"fmt"
	"math"

	"hod/internal/unit"
)

// Saturation names one published formula for the vapour pressure of saturated air. The zero value, Magnus, is the one
// used where none is named.
type Saturation int

const (
	Magnus Saturation = iota // over water, WMO-No. 8; the default
	ASHRAE                   // Hyland and Wexler; over water, and over ice below the triple point
	FAO56                    // over water
	Uno                      // over water; the one that Uno puts into Menzel's equation
	IF97                     // over water, the steam tables' own: the reference
)

// saturationForms is ordered as the constants. Where a document states no range the range of the Magnus form is held
// to.
var saturationForms = [...]struct {
	word      string
	low, high unit.Celsius
	pascals   func(celsius float64) float64
	source    Source
}{
	Magnus: {"magnus", -45, 60, magnusForm(611.2, 17.62, 243.12), Source{
		Name: "Magnus", Text: "ew = 6.112 exp(17.62 t/(243.12 + t)) hPa, t in °C",
		Published: "WMO-No. 8, annex on formulae",
	}},
	ASHRAE: {"ashrae", -100, 200, hylandWexler, Source{
		Name:      "Hyland-Wexler",
		Text:      "ln pws = C8/T + C9 + C10 T + C11 T² + C12 T³ + C13 ln T, Pa, T in K; C1 to C7 over ice",
		Published: "ASHRAE Handbook Fundamentals 2017, chapter 1",
	}},
	FAO56: {"fao56", -45, 60, magnusForm(610.8, 17.27, 237.3), Source{
		Name: "FAO-56", Text: "e = 0.6108 exp(17.27 t/(t + 237.3)) kPa, t in °C",
		Published: "FAO Irrigation and Drainage Paper 56, equation 11", FromMemory: true,
	}},
	Uno: {"uno", -45, 60, magnusForm(610, 17.3, 237.3), Source{
		Name: "Uno's vapour pressure", Text: "es = 0.61 exp(17.3 T/(237.3 + T)) kPa, T in °C",
		Published: "Uno, ACI Materials Journal, 1998", FromMemory: true,
	}},
	IF97: {"if97", 0, 373.946, steamTables, Source{
		Name: "IAPWS-IF97", Text: "equation 30, saturation pressure of water",
		Published: "IAPWS-IF97 (2007), section 8.1", FromMemory: true,
	}},
}

func (s Saturation) known() bool { return s >= 0 && int(s) < len(saturationForms) }

// String is the formula's short word: magnus, ashrae, fao56, uno, if97.
func (s Saturation) String() string {
	if !s.known() {
		return fmt.Sprintf("Saturation(%d)", int(s))
	}
	return saturationForms[s].word
}

// Source says where the formula was published.
func (s Saturation) Source() Source {
	if !s.known() {
		return Source{}
	}
	return saturationForms[s].source
}

// Range is the span of temperatures that the formula takes.
func (s Saturation) Range() (low, high unit.Celsius) {
	if !s.known() {
		return 0, 0
	}
	return saturationForms[s].low, saturationForms[s].high
}

// Pressure is the vapour pressure of saturated air at t. It refuses a temperature outside the formula's Range.
func (s Saturation) Pressure(t unit.Celsius) (unit.Pressure, error) {
	if !s.known() {
		return 0, fmt.Errorf("no vapour pressure formula has the number %d; use magnus, ashrae, fao56, uno or if97",
			int(s))
	}
	f := saturationForms[s]
	if !(t >= f.low && t <= f.high) {
		return 0, fmt.Errorf("%.4g °C is outside the range of the %s vapour pressure formula; it takes %.4g to %.4g °C",
			float64(t), f.source.Name, float64(f.low), float64(f.high))
	}
	return unit.Pressure(f.pascals(float64(t))), nil
}

// Temperature is where saturated air has the vapour pressure p: Pressure turned round.
func (s Saturation) Temperature(p unit.Pressure) (unit.Celsius, error) {
	low, high := s.Range()
	bottom, err := s.Pressure(low)
	if err != nil {
		return 0, err
	}
	top, err := s.Pressure(high)
	if err != nil {
		return 0, err
	}
	if !(p >= bottom && p <= top) {
		return 0,
			fmt.Errorf("a vapour pressure of %.4g Pa is outside the range of the %s formula; it takes %.4g to %.4g Pa",
				float64(p), s, float64(bottom), float64(top))
	}
	// Bisection on purpose: the ice and water branches meet in a kink of a few parts in 10⁵, which trips faster
	// methods.
	a, b := float64(low), float64(high)
	for range 200 {
		m := a + (b-a)/2
		if m <= a || m >= b {
			break
		}
		if saturationForms[s].pascals(m) < float64(p) {
			a = m
		} else {
			b = m
		}
	}
	return unit.Celsius(b), nil
}

func magnusForm(pascals, factor, offset float64) func(float64) float64 {
	return func(t float64) float64 { return pascals * math.Exp(factor*t/(offset+t)) }
}

const triplePoint = 0.01 // °C: below it the ASHRAE tables are over ice

func hylandWexler(t float64) float64 {
	k := t + unit.Zero
	if t <= triplePoint {
		return math.Exp(-5.6745359e3/k + 6.3925247 + k*(-9.677843e-3+k*(6.2215701e-7+k*(2.0747825e-9-9.484024e-13*k))) +
			4.1635019*math.Log(k))
	}
	return math.Exp(-5.8002206e3/k + 1.3914993 + k*(-4.8640239e-2+k*(4.1764768e-5-1.4452093e-8*k)) +
		6.5459673*math.Log(k))
}

func steamTables(t float64) float64 {
	k := t + unit.Zero
	theta := k - 0.23855557567849/(k-0.65017534844798e3)
	a := theta*theta + 0.11670521452767e4*theta - 0.72421316703206e6
	b := -0.17073846940092e2*theta*theta + 0.12020824702470e5*theta - 0.32325550322333e7
	c := 0.14915108613530e2*theta*theta - 0.48232657361591e4*theta + 0.40511340542057e6
	return 1e6 * math.Pow(2*c/(-b+math.Sqrt(b*b-4*a*c)), 4)
}

// Air is what a thermometer and a hygrometer say of the air.
type Air struct {
	Temperature unit.Celsius
	Humidity    unit.Share // relative; above 0, at most 1
}

var errHumidity = errors.New("relative humidity must be above 0 and at most 100 %")

func (a Air) check() error {
	if math.IsNaN(float64(a.Temperature)) || math.IsInf(float64(a.Temperature), 0) {
		return errors.New("air temperature is not a number; give it in °C or °F")
	}
	if !(a.Humidity > 0 && a.Humidity <= 1) {
		return fmt.Errorf("%w, not %.4g %%", errHumidity, 100*float64(a.Humidity))
	}
	return nil
}

// VapourPressure is the share of saturation that the air holds, by formula s.
func (a Air) VapourPressure(s Saturation) (unit.Pressure, error) {
	if err := a.check(); err != nil {
		return 0, err
	}
	full, err := s.Pressure(a.Temperature)
	return unit.Pressure(a.Humidity) * full, err
}

// DewPoint is the temperature to which the air must cool to be saturated: exactly its own at 100 %. It refuses air so
// dry or so cold that the answer leaves the formula's range.
func (a Air) DewPoint(s Saturation) (unit.Celsius, error) {
	p, err := a.VapourPressure(s)
	if err != nil {
		return 0, err
	}
	if a.Humidity == 1 {
		return a.Temperature, nil
	}
	t, err := s.Temperature(p)
	if err != nil {
		return 0, fmt.Errorf("dew point of air at %.4g °C and %.4g %%: %w", float64(a.Temperature),
			100*float64(a.Humidity), err)
	}
	return min(t, a.Temperature), nil
}

// FromDewPoint is the air of that temperature whose dew point is dew. A dew point above the air is refused: one of the
// two was misread.
func FromDewPoint(air, dew unit.Celsius, s Saturation) (Air, error) {
	if dew > air {
		return Air{}, fmt.Errorf(
			"the dew point, %.4g °C, is above the air, %.4g °C; it can be at most the air's temperature", float64(dew),
			float64(air))
	}
	full, err := s.Pressure(air)
	if err != nil {
		return Air{}, fmt.Errorf("air: %w", err)
	}
	held, err := s.Pressure(dew)
	if err != nil {
		return Air{}, fmt.Errorf("dew point: %w", err)
	}
	return Air{Temperature: air, Humidity: unit.Share(held / full)}, nil
}

// FromWetBulb is the air that a dry and a wetted thermometer show at an air pressure (StandardPressure where no
// barometer is at hand). Source: ASHRAE Handbook Fundamentals 2017, chapter 1, equations 33 and 35, from memory; with
// the ASHRAE vapour pressure. The wet bulb must be free of ice.
func FromWetBulb(dry, wet unit.Celsius, pressure unit.Pressure) (Air, error) {
	if wet > dry {
		return Air{}, fmt.Errorf("the wet bulb, %.4g °C, is above the dry bulb, %.4g °C; it can be at most the same",
			float64(wet), float64(dry))
	}
	if !(wet >= triplePoint && dry <= 60) {
		return Air{}, fmt.Errorf(
			"a wet bulb of %.4g °C and a dry bulb of %.4g °C cannot be used; give a wet bulb above freezing and a dry bulb up to 60 °C", float64(wet), float64(dry))
	}
	if !(pressure >= 50e3 && pressure <= 110e3) {
		return Air{}, fmt.Errorf("an air pressure of %.4g kPa is not one of a building site; give 50 to 110 kPa",
			float64(pressure)/1e3)
	}
	t, w, p := float64(dry), float64(wet), float64(pressure)
	const ratio = 0.621945 // molar mass of water over that of dry air
	held := hylandWexler(w)
	saturated := ratio * held / (p - held)
	mixed := ((2501-2.326*w)*saturated - 1.006*(t-w)) / (2501 + 1.86*t - 4.186*w)
	if !(mixed > 0) {
		return Air{}, fmt.Errorf("a wet bulb of %.4g °C beside %.4g °C would need air drier than none; read both again",
			w, t)
	}
	humidity := p * mixed / (ratio + mixed) / hylandWexler(t)
	return Air{Temperature: dry, Humidity: unit.Share(min(humidity, 1))}, nil
}

// StandardPressure is the air pressure at a height above the sea in the standard atmosphere, −500 to 5000 m. Source:
// ASHRAE Handbook Fundamentals 2017, chapter 1, equation 3: 101325 (1 − 2.25577e-5 z)^5.2559 Pa.
func StandardPressure(height unit.Length) (unit.Pressure, error) {
	if !(height >= -500 && height <= 5000) {
		return 0, fmt.Errorf("a height of %.4g m above the sea cannot be used; give −500 to 5000 m", float64(height))
	}
	return unit.Pressure(101325 * math.Pow(1-2.25577e-5*float64(height), 5.2559)), nil
}
