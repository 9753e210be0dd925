package mix

import (
	"fmt"

	"hod/internal/unit"
)

// DoseOf is the rate at which a measured volume doses a mass of cementitious material.
func DoseOf(liquid unit.Volume, cementitious unit.Mass) (unit.Dose, error) {
	if err := within("volume of liquid admixture", liquid, leastVolume, mostVolume, unit.System.Liquid,
		"it must be above 0 and at most {high}"); err != nil {
		return 0, err
	}
	if err := checkMass("cementitious material", cementitious); err != nil {
		return 0, err
	}
	d := unit.Dose(float64(liquid) / float64(cementitious))
	return d, checkDose(d)
}

// DoseVolume is the volume to measure out for a mass of cementitious material at a dose.
func DoseVolume(d unit.Dose, cementitious unit.Mass) (unit.Volume, error) {
	if err := checkMass("cementitious material", cementitious); err != nil {
		return 0, err
	}
	return unit.Volume(float64(d) * float64(cementitious)), checkDose(d)
}

// DoseByMass is the dose as a mass, a share of the cementitious material, for a liquid of that density.
func DoseByMass(d unit.Dose, density unit.Density) (unit.Share, error) {
	if err := checkDensity("density of the admixture", density); err != nil {
		return 0, err
	}
	return unit.Share(float64(d) * float64(density)), checkDose(d)
}

func checkDose(d unit.Dose) error {
	if d > 0 && d <= 1e-3 {
		return nil
	}
	return fmt.Errorf("dose is %s; it must be above 0 and at most %s", both(d, unit.System.Dose),
		both(1e-3, unit.System.Dose))
}

// Dose is one liquid admixture in a batch.
type Dose struct {
	Name   string
	Volume unit.Volume // of the liquid
	Rate   unit.Dose
	Mass   unit.Share // liquid by mass, a share of cementitious
	Solids unit.Share // its solids by mass, a share of cementitious
}

// doseOf is for a checked constituent and cementitious mass.
func doseOf(c Constituent, cementitious unit.Mass) Dose {
	v := c.volume()
	return Dose{
		Name:   c.Name,
		Volume: v,
		Rate:   unit.Dose(float64(v) / float64(cementitious)),
		Mass:   unit.Share(c.Mass / cementitious),
		Solids: unit.Share(c.Mass/cementitious) * c.Solids,
	}
}
