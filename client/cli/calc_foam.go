package cli

import (
	"context"

	"github.com/spf13/cobra"

	"hod/internal/fold"
	mixes "hod/internal/mix"
	"hod/internal/unit"
)

// calcFoam is the foam that brings a mortar to a lower unit weight.
type calcFoam struct{ base, foam, target string }

type foamDoc struct {
	Fraction float64 `json:"foam_fraction"`    // of the finished volume
	PerBase  float64 `json:"foam_per_base_m3"` // for each m³ of base mortar
	calcSheet
}

func newCalcFoam(env *Env) *cobra.Command {
	var q calcFoam
	c := env.command("foam", "How much foam brings a mortar to a target unit weight", `hod calc foam --base 138lb/ft3 --foam 3lb/ft3 --target 110lb/ft3`)
	f := c.Flags()
	f.StringVar(&q.base, "base", "", "unit weight of the mortar before foam")
	f.StringVar(&q.foam, "foam", "", "density of the foam as it leaves the nozzle")
	f.StringVar(&q.target, "target", "", "unit weight wanted")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcFoam) run(_ context.Context, env *Env, s *calcSheet) error {
	base, err := asked(s, "base", q.base, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	foam, err := asked(s, "foam", q.foam, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	target, err := asked(s, "target", q.target, unit.ParseDensity, "kg/m3", unit.System.Density)
	if err != nil {
		return err
	}
	need, err := mixes.FoamFor(base, foam, target)
	if err != nil {
		return impossible(err)
	}
	s.figure("foam", "%s of the finished volume", unit.Metric.Share(need.Fraction))
	s.figure("for each 100 L of base", "%s", bothUnits(unit.Volume(need.PerBase*0.1), unit.System.Volume))
	s.by("target = base × (1 − fraction) + foam × fraction", "arithmetic of volumes and masses, no standard")
	s.warn("some foam breaks in the mixer: weigh the result; and its water counts in w/cm")
	s.caution(fold.Caution)
	return s.print(env, "foam", foamDoc{Fraction: float64(need.Fraction), PerBase: need.PerBase, calcSheet: *s})
}
