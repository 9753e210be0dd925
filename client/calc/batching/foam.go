package batching

import (
	"context"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	mixes "hod/internal/trade/mix"
	"hod/internal/unit"
)

// calcFoam is the foam that brings a mortar to a lower unit weight, and the liquid that it is made of.
type calcFoam struct{ base, foam, target, agent, water, gravity string }

type foamDoc struct {
	Fraction *float64 `json:"foam_fraction,omitempty"`    // of the finished volume
	PerBase  *float64 `json:"foam_per_base_m3,omitempty"` // for each m³ of base mortar
	// Of the liquid, where its agent and water are said.
	Liquid      *float64 `json:"liquid_kg,omitempty"`
	Solids      *float64 `json:"liquid_solids_percent,omitempty"`
	Gravity     *float64 `json:"liquid_gravity,omitempty"`
	LiquidWater *float64 `json:"liquid_water_kg,omitempty"`
	BaseWater   *float64 `json:"foam_water_per_base_kg,omitempty"` // for each m³ of base mortar
	sheet.Sheet
}

// NewFoam makes hod calc foam.
func NewFoam(env *terminal.Streams) *cobra.Command {
	var q calcFoam
	c := env.NewCommand("foam", "How much foam brings a mortar to a target unit weight, and the water in it",
		`hod calc foam --base 138lb/ft3 --foam 3lb/ft3 --target 110lb/ft3`,
		`hod calc foam --agent 1floz --agent-gravity 1.02 --agent-water 40floz`)
	f := c.Flags()
	f.StringVar(&q.base, "base", "", "unit weight of the mortar before foam")
	f.StringVar(&q.foam, "foam", "", "density of the foam as it leaves the nozzle")
	f.StringVar(&q.target, "target", "", "unit weight wanted")
	f.StringVar(&q.agent, "agent", "", "foaming agent in the liquid: gives its solids and its water")
	f.StringVar(&q.gravity, "agent-gravity", "", "specific gravity of the agent")
	f.StringVar(&q.water, "agent-water", "", "water that the agent is put in")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcFoam) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	var doc foamDoc
	var liquid mixes.Constituent
	premixed := q.agent != "" || q.water != "" || q.gravity != ""
	if premixed {
		var err error
		if liquid, err = q.premix(s, &doc); err != nil {
			return err
		}
	}
	if !premixed || q.base != "" || q.foam != "" || q.target != "" {
		if err := q.lightened(s, liquid, &doc); err != nil {
			return err
		}
	}
	s.Warnf("some foam breaks in the mixer: weigh the result; and its water counts in w/cm")
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "foam", doc)
}

// premix is the liquid that becomes foam, as a mix has it among its constituents.
func (q calcFoam) premix(s *sheet.Sheet, doc *foamDoc) (mixes.Constituent, error) {
	var liquid mixes.Constituent
	agent, err := sheet.Asked(s, "agent", q.agent, unit.ParseVolume, "m3", unit.System.Liquid)
	if err != nil {
		return liquid, err
	}
	gravity, err := s.AskedNumber("agent-gravity", q.gravity)
	if err != nil {
		return liquid, err
	}
	water, err := sheet.Asked(s, "agent-water", q.water, unit.ParseVolume, "m3", unit.System.Liquid)
	if err != nil {
		return liquid, err
	}
	if liquid, err = mixes.FoamPremix("foam", agent, water, gravity); err != nil {
		return liquid, terminal.AsUsage(err)
	}
	mass, solids, wet := float64(liquid.Mass), float64(liquid.Solids)*100,
		float64(liquid.Mass)*(1-float64(liquid.Solids))
	doc.Liquid, doc.Solids, doc.Gravity, doc.LiquidWater = &mass, &solids, &liquid.Gravity, &wet
	s.Figuref("liquid", "%s, specific gravity %s, solids %s %%", sheet.Both(liquid.Mass, unit.System.Mass),
		sheet.Decimal(liquid.Gravity, 4), sheet.Decimal(solids, 3))
	s.Figuref("water in the liquid", "%s", sheet.Both(unit.Mass(wet), unit.System.Mass))
	s.By("mass = agent × gravity × 62.4 lb/ft³ + water × 62.4 lb/ft³; solids = agent / mass",
		"arithmetic; the agent is counted as no water at all")
	return liquid, nil
}

// lightened is the foam for a target, and its water where the liquid is known.
func (q calcFoam) lightened(s *sheet.Sheet, liquid mixes.Constituent, doc *foamDoc) error {
	base, err := sheet.Asked(s, "base", q.base, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	foam, err := sheet.Asked(s, "foam", q.foam, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	target, err := sheet.Asked(s, "target", q.target, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	need, err := mixes.FoamFor(base, foam, target)
	if err != nil {
		return terminal.AsUsage(err)
	}
	fraction := float64(need.Fraction)
	doc.Fraction, doc.PerBase = &fraction, &need.PerBase
	s.Figuref("foam", "%s of the finished volume", unit.Metric.Share(need.Fraction))
	s.Figuref("for each 100 L of base", "%s", sheet.Both(unit.Volume(need.PerBase*0.1), unit.System.Volume))
	s.By("target = base × (1 − fraction) + foam × fraction", "arithmetic of volumes and masses, no standard")
	if liquid.Mass > 0 {
		water := float64(foam.Mass(unit.Volume(need.PerBase))) * (1 - float64(liquid.Solids))
		doc.BaseWater = &water
		s.Figuref("water in that foam", "%s", sheet.Both(unit.Mass(water/10), unit.System.Mass))
	}
	return nil
}
