package cli

import (
	"context"

	"github.com/spf13/cobra"

	"hod/internal/fold"
	mixes "hod/internal/mix"
	"hod/internal/unit"
)

// calcMoisture is what to weigh of damp sand.
type calcMoisture struct{ ssd, absorption, moisture string }

type moistureDoc struct {
	OvenDry float64 `json:"oven_dry_kg"`
	Weigh   float64 `json:"weigh_kg"`
	Free    float64 `json:"free_water_kg"` // below 0: the sand takes water up
	calcSheet
}

func newCalcMoisture(env *Env) *cobra.Command {
	var q calcMoisture
	c := env.command("moisture", "What to weigh of damp sand, and the water that it brings", `hod calc moisture --ssd 188lb --absorption 1% --moisture 5%`)
	f := c.Flags()
	f.StringVar(&q.ssd, "ssd", "", "the sand wanted, saturated and surface dry")
	f.StringVar(&q.absorption, "absorption", "", "of the dry mass")
	f.StringVar(&q.moisture, "moisture", "", "total moisture, of the dry mass")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcMoisture) run(_ context.Context, env *Env, s *calcSheet) error {
	ssd, err := asked(s, "ssd", q.ssd, unit.ParseMass, "kg", unit.System.Mass)
	if err != nil {
		return err
	}
	absorption, err := asked(s, "absorption", q.absorption, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return err
	}
	moisture, err := asked(s, "moisture", q.moisture, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return err
	}
	sand, err := mixes.SandFromSSD(ssd, absorption, moisture)
	if err != nil {
		return impossible(err)
	}
	s.figure("oven dry", "%s", bothUnits(sand.OvenDry, unit.System.Mass))
	s.figure("weigh", "%s", bothUnits(sand.Weighed, unit.System.Mass))
	if sand.Free >= 0 {
		s.figure("free water", "%s: add so much less", bothUnits(sand.Free, unit.System.Mass))
	} else {
		s.figure("free water", "none; the sand takes up %s: add so much more", bothUnits(-sand.Free, unit.System.Mass))
	}
	s.by("dry = SSD / (1 + absorption); weigh = dry × (1 + moisture); free = weigh − SSD", "ACI 211.1; moisture by ASTM C566 (from memory), absorption by ASTM C128")
	s.caution(fold.Caution)
	return s.print(env, "moisture", moistureDoc{OvenDry: float64(sand.OvenDry), Weigh: float64(sand.Weighed), Free: float64(sand.Free), calcSheet: *s})
}
