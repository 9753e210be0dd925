package weather

import (
	"fmt"
	"math"

	"hod/internal/unit"
)

// Observation is all that an evaporation formula needs: the air, the mean wind at WorkHeight (see AtWorkHeight) and the
// temperature of the fresh surface.
type Observation struct {
	Air     Air
	Wind    unit.Speed
	Surface unit.Celsius
}

// Form names one published evaporation equation in one system of units.
type Form int

const (
	FormUnoSI Form = iota
	FormUnoUS
	FormMenzelSI
	FormMenzelUS
)

var formSources = [...]Source{
	FormUnoSI: {
		Name: "Uno, SI", Text: "E = 5 ((Tc + 18)^2.5 − r (Ta + 18)^2.5)(V + 4) 1e-6, kg/m²/h, °C, km/h",
		Published: "Uno, ACI Materials Journal, 1998, as quoted",
	},
	FormUnoUS: {
		Name: "Uno, US", Text: "E = (Tc^2.5 − r Ta^2.5)(1 + 0.4 V) 1e-6, lb/ft²/h, °F, mph",
		Published: "Uno, ACI Materials Journal, 1998", FromMemory: true,
	},
	FormMenzelSI: {
		Name: "Menzel, SI", Text: "E = 0.315 (e0 − ea)(0.253 + 0.060 V), kg/m²/h, kPa, km/h",
		Published: "Menzel, 1954", FromMemory: true,
	},
	FormMenzelUS: {
		Name: "Menzel, US", Text: "E = 0.44 (e0 − ea)(0.253 + 0.096 V), lb/ft²/h, psi, mph",
		Published: "Menzel, 1954", FromMemory: true,
	},
}

func (f Form) known() bool { return f >= 0 && int(f) < len(formSources) }

// Source says where the form was published.
func (f Form) Source() Source {
	if !f.known() {
		return Source{}
	}
	return formSources[f]
}

// String is the form's name.
func (f Form) String() string { return f.Source().Name }

// US says that the form was published in lb/ft²/h, which is then the unit in which a limit is compared.
func (f Form) US() bool { return f == FormUnoUS || f == FormMenzelUS }

// Estimate is one form's answer. It is a guide: see Caution.
type Estimate struct {
	Form         Form
	Saturation   Saturation       // the vapour pressure formula that was used; of Menzel's forms only
	Rate         unit.Evaporation // never below 0
	Raw          unit.Evaporation // what the equation gave: below 0 where dew settles on the surface
	Condensation bool             // the surface gains water; Rate is then 0
}

// Pounds is the rate in lb/ft²/h.
func (e Estimate) Pounds() float64 { return float64(e.Rate / unit.PoundPerSquareFootHour) }

// Between is the span in which the real rate is likely to lie: the estimate less and more the Spread.
func (e Estimate) Between() (low, high unit.Evaporation) {
	return e.Rate * (1 - Spread), e.Rate * (1 + Spread)
}

func (f Form) estimate(raw unit.Evaporation) Estimate {
	return Estimate{Form: f, Rate: max(raw, 0), Raw: raw, Condensation: raw < 0}
}

// Uno's powers have no value below 0 °F, and no fresh surface is above 60 °C.
const (
	unoLow  unit.Celsius = -160.0 / 9 // 0 °F
	unoHigh unit.Celsius = 60
)

func (o Observation) check() error {
	if err := o.Air.check(); err != nil {
		return err
	}
	if err := checkWind(o.Wind); err != nil {
		return err
	}
	if !(o.Surface >= unoLow && o.Surface <= unoHigh) {
		return fmt.Errorf("a surface at %.4g °C cannot be used; give −17.7 to 60 °C (0 to 140 °F)", float64(o.Surface))
	}
	if !(o.Air.Temperature >= unoLow && o.Air.Temperature <= unoHigh) {
		return fmt.Errorf("air at %.4g °C cannot be used; give −17.7 to 60 °C (0 to 140 °F)",
			float64(o.Air.Temperature))
	}
	return nil
}

// UnoSI is Uno's metric form, which is not the US form converted: the two differ by some 4 % (rounded coefficients).
// Temperatures −17.7 to 60 °C, humidity above 0 and at most 100 %, wind 0 to 60 m/s.
func UnoSI(o Observation) (Estimate, error) {
	if err := o.check(); err != nil {
		return Estimate{}, fmt.Errorf("evaporation by Uno: %w", err)
	}
	kmh := float64(o.Wind / unit.KilometrePerHour)
	surface, air := math.Pow(float64(o.Surface)+18, 2.5), math.Pow(float64(o.Air.Temperature)+18, 2.5)
	return FormUnoSI.estimate(unit.Evaporation(5e-6 * (surface - float64(o.Air.Humidity)*air) * (kmh + 4))), nil
}

// UnoUS is Uno's form in °F, mph and lb/ft²/h. Ranges as UnoSI.
func UnoUS(o Observation) (Estimate, error) {
	if err := o.check(); err != nil {
		return Estimate{}, fmt.Errorf("evaporation by Uno: %w", err)
	}
	mph := float64(o.Wind / unit.MilePerHour)
	// max: 0 °F arrives as a hair below nought after its way through °C, and a power of that has no value
	surface, air := math.Pow(max(o.Surface.Fahrenheit(), 0), 2.5), math.Pow(max(o.Air.Temperature.Fahrenheit(), 0), 2.5)
	pounds := 1e-6 * (surface - float64(o.Air.Humidity)*air) * (1 + 0.4*mph)
	return FormUnoUS.estimate(unit.Evaporation(pounds) * unit.PoundPerSquareFootHour), nil
}

// MenzelSI is Menzel's form in kPa and km/h, the second opinion beside Uno where warm mix meets cold air. Temperatures
// must also lie in the range of es.
func MenzelSI(o Observation, es Saturation) (Estimate, error) {
	deficit, err := o.deficit(es)
	if err != nil {
		return Estimate{}, err
	}
	e := FormMenzelSI.estimate(unit.Evaporation(menzelSI(float64(deficit/unit.Kilopascal),
		float64(o.Wind/unit.KilometrePerHour))))
	e.Saturation = es
	return e, nil
}

// MenzelUS is Menzel's form in psi (not inches of mercury) and mph. Temperatures must also lie in the range of es.
func MenzelUS(o Observation, es Saturation) (Estimate, error) {
	deficit, err := o.deficit(es)
	if err != nil {
		return Estimate{}, err
	}
	pounds := menzelUS(float64(deficit/unit.PSI), float64(o.Wind/unit.MilePerHour))
	e := FormMenzelUS.estimate(unit.Evaporation(pounds) * unit.PoundPerSquareFootHour)
	e.Saturation = es
	return e, nil
}

func menzelSI(kilopascals, kmh float64) float64 { return 0.315 * kilopascals * (0.253 + 0.060*kmh) }

func menzelUS(psi, mph float64) float64 { return 0.44 * psi * (0.253 + 0.096*mph) }

// deficit is the vapour pressure at the surface less that of the air.
func (o Observation) deficit(es Saturation) (unit.Pressure, error) {
	if err := o.check(); err != nil {
		return 0, fmt.Errorf("evaporation by Menzel: %w", err)
	}
	surface, err := es.Pressure(o.Surface)
	if err != nil {
		return 0, fmt.Errorf("evaporation by Menzel, surface: %w", err)
	}
	air, err := o.Air.VapourPressure(es)
	if err != nil {
		return 0, fmt.Errorf("evaporation by Menzel, air: %w", err)
	}
	return surface - air, nil
}
