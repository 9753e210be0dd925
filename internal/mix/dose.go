package mix

import (
	"fmt"

	"hod/internal/unit"
)

// DoseRate is a liquid's volume for a mass of cementitious material, m³/kg.
type DoseRate float64

const (
	// MillilitrePer100Kilograms and FluidOuncePerHundredweight (100 lb) are the rates that sheets are written in.
	MillilitrePer100Kilograms  DoseRate = DoseRate(unit.Millilitre) / 100
	FluidOuncePerHundredweight DoseRate = DoseRate(unit.FluidOunce) / (100 * DoseRate(unit.Pound))
)

// MillilitresPer100Kilograms is the rate as SI sheets write it.
func (d DoseRate) MillilitresPer100Kilograms() float64 { return float64(d / MillilitrePer100Kilograms) }

// FluidOuncesPerHundredweight is the rate as US sheets write it: fl oz for 100 lb.
func (d DoseRate) FluidOuncesPerHundredweight() float64 {
	return float64(d / FluidOuncePerHundredweight)
}

// DoseOf is the rate at which a measured volume doses a mass of cementitious material.
func DoseOf(liquid unit.Volume, cementitious unit.Mass) (DoseRate, error) {
	if err := checkVolume("liquid admixture", liquid); err != nil {
		return 0, err
	}
	if err := checkMass("cementitious material", cementitious); err != nil {
		return 0, err
	}
	return DoseRate(float64(liquid) / float64(cementitious)), nil
}

// For is the volume to measure out for a mass of cementitious material.
func (d DoseRate) For(cementitious unit.Mass) (unit.Volume, error) {
	if err := checkMass("cementitious material", cementitious); err != nil {
		return 0, err
	}
	if !(d > 0 && d <= 1e-3) {
		return 0, fmt.Errorf("dose is %.4g mL/100 kg; it must be above 0 and at most 100 L/100 kg", d.MillilitresPer100Kilograms())
	}
	return unit.Volume(float64(d) * float64(cementitious)), nil
}

// MassShare is the dose as a mass, a share of the cementitious material, for a liquid of that density.
func (d DoseRate) MassShare(density unit.Density) (unit.Share, error) {
	if err := checkDensity("density of the admixture", density); err != nil {
		return 0, err
	}
	if _, err := d.For(1); err != nil {
		return 0, err
	}
	return unit.Share(float64(d) * float64(density)), nil
}

// Dose is one liquid admixture in a batch.
type Dose struct {
	Name   string
	Volume unit.Volume // of the liquid
	Rate   DoseRate
	Mass   unit.Share // liquid by mass, a share of cementitious
	Solids unit.Share // its solids by mass, a share of cementitious
}

// doseOf is for a checked constituent and cementitious mass.
func doseOf(c Constituent, cementitious unit.Mass) Dose {
	v := c.volume()
	return Dose{
		Name:   c.Name,
		Volume: v,
		Rate:   DoseRate(float64(v) / float64(cementitious)),
		Mass:   unit.Share(c.Mass / cementitious),
		Solids: unit.Share(c.Mass/cementitious) * c.Solids,
	}
}
