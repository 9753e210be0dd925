package batching

import (
	"context"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcDose is a liquid admixture on its cementitious material: the volume, the rate, the solids.
type calcDose struct{ liquid, dose, cementitious, gravity, solids string }

type doseAskedDoc struct {
	ML     float64  `json:"ml_per_100_kg"`
	FlOz   float64  `json:"fl_oz_per_cwt"`
	Volume float64  `json:"liquid_m3"`
	Mass   *float64 `json:"liquid_kg,omitempty"`
	OfMass *float64 `json:"liquid_percent,omitempty"` // by mass, of the cementitious
	Solids *float64 `json:"solids_percent,omitempty"` // by mass, of the cementitious
	Water  *float64 `json:"water_kg,omitempty"`       // what the liquid brings to w/cm
	sheet.Sheet
}

// millilitresPer100kg is a dose as SI sheets write it.
func millilitresPer100kg(d unit.Dose) float64 { return float64(d) * 100 / float64(unit.Millilitre) }

// NewDose makes hod calc dose.
func NewDose(env *terminal.Streams) *cobra.Command {
	var q calcDose
	c := env.NewCommand("dose", "Dose of a liquid admixture: volume, rate, share of solids",
		`hod calc dose --dose 650mL/100kg --cementitious 106.5lb --gravity 1.07 --solids 40%`,
		`hod calc dose --liquid 16floz --cementitious 106.5lb`)
	f := c.Flags()
	f.StringVar(&q.dose, "dose", "", "rate on the cementitious material: 650mL/100kg, 10floz/cwt")
	f.StringVar(&q.liquid, "liquid", "", "liquid that was measured out, in place of --dose: 16floz")
	f.StringVar(&q.cementitious, "cementitious", "", "cement and pozzolan in the batch")
	f.StringVar(&q.gravity, "gravity", "", "specific gravity of the liquid: gives the dose by mass")
	f.StringVar(&q.solids, "solids", "", "share of the liquid that is not water: gives solids and water")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcDose) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if err := s.Exclusive("dose", q.dose, "liquid", q.liquid); err != nil {
		return err
	}
	var dose unit.Dose
	var liquid unit.Volume
	var err error
	switch {
	case q.dose != "":
		dose, err = sheet.Asked(s, "dose", q.dose, unit.ParseDose, "m3/kg", unit.System.Dose)
	case q.liquid != "":
		liquid, err = sheet.Asked(s, "liquid", q.liquid, unit.ParseVolume, "m3", unit.System.Liquid)
	default:
		return s.Missing("dose", "liquid")
	}
	if err != nil {
		return err
	}
	cementitious, err := sheet.Asked(s, "cementitious", q.cementitious, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return err
	}
	if q.dose != "" {
		liquid, err = mixes.DoseVolume(dose, cementitious)
	} else {
		dose, err = mixes.DoseOf(liquid, cementitious)
	}
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc := doseAskedDoc{
		ML: millilitresPer100kg(dose), FlOz: float64(dose / unit.FluidOuncePerHundredweight),
		Volume: float64(liquid),
	}
	s.Figuref("dose", "%s mL/100 kg (%s fl oz/cwt)", sheet.Decimal(doc.ML, 4), sheet.Decimal(doc.FlOz, 4))
	s.Figuref("measure out", "%s", sheet.Both(liquid, unit.System.Liquid))
	s.By("dose = volume of liquid / (cement + pozzolan)", "the admixture trade's rate; a cwt here is 100 lb")
	if q.solids != "" && q.gravity == "" {
		return terminal.Usagef("--solids are of the liquid's mass, which needs its --gravity")
	}
	if q.gravity != "" {
		if err := q.byMass(s, dose, cementitious, &doc); err != nil {
			return err
		}
	}
	if q.solids == "" {
		s.Warnf("its water counts in w/cm: give --gravity and --solids to have it")
	}
	s.Warnf(
		"a superplasticizer needs minutes of mixing before it acts: water added sooner is water too much (common practice, no source)")
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "dose", doc)
}

func (q calcDose) byMass(s *sheet.Sheet, dose unit.Dose, cementitious unit.Mass, doc *doseAskedDoc) error {
	gravity, err := s.AskedNumber("gravity", q.gravity)
	if err != nil {
		return err
	}
	share, err := mixes.DoseByMass(dose, unit.Density(gravity)*unit.WaterDensity)
	if err != nil {
		return sheet.FlagErr("gravity", err)
	}
	mass, ofMass := float64(share)*float64(cementitious), float64(share)*100
	doc.Mass, doc.OfMass = &mass, &ofMass
	s.Figuref("liquid by mass", "%s, %s %% of the cementitious", sheet.Both(unit.Mass(mass), unit.System.Mass),
		sheet.Decimal(ofMass, 4))
	s.By("share = dose × gravity × 62.4 lb/ft³", "arithmetic")
	solids, err := sheet.AskedIfGiven(s, "solids", q.solids, unit.ParseShare, "", unit.System.Share)
	if err != nil || solids == nil {
		return err
	}
	solid, water := ofMass*float64(*solids), mass*(1-float64(*solids))
	doc.Solids, doc.Water = &solid, &water
	s.Figuref("solids", "%s %% of the cementitious", sheet.Decimal(solid, 4))
	s.Figuref("water that it brings", "%s", sheet.Both(unit.Mass(water), unit.System.Mass))
	return nil
}
