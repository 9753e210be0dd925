package calc

import (
	"github.com/spf13/cobra"

	"hod/client/calc/batching"
	"hod/client/calc/hardening"
	"hod/client/calc/sheet"
	"hod/client/terminal"
)

// New asks the trade's rooms directly: no site, no journal. Each command prints what it understood, the figures in
// both systems, the formula with its source and the limits to compare with.
func New(env *terminal.Streams) *cobra.Command {
	c := env.NewGroup("calc", "Work out amounts, areas and rates without writing anything down",
		`hod calc evaporation --concrete 87F --air 80F --humidity 50% --wind 12mph`,
		hardening.NewEvaporation(env), hardening.NewVapour(env), hardening.NewCold(env), hardening.NewHot(env),
		hardening.NewMaturity(env), hardening.NewStrength(env), hardening.NewBreaks(env), hardening.NewMoist(env),
		hardening.NewSet(env), hardening.NewEnergy(env), hardening.NewLayer(env), hardening.NewIntervals(env),
		batching.NewMix(env), batching.NewProportion(env), batching.NewYield(env), batching.NewMoisture(env),
		batching.NewFoam(env), batching.NewFibre(env),
		batching.NewDose(env), batching.NewSpray(env), batching.NewTemperature(env),
		newCalcShell(env), newCalcBatches(env), newCalcChart(env), batching.NewOrder(env))
	sheet.RefuseAsTyped(c)
	return c
}
