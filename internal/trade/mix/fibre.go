package mix

import (
	"fmt"

	"hod/internal/unit"
)

// FibreShare is one fibre in a batch.
type FibreShare struct {
	Name   string
	Mass   unit.Share // of the whole batch by mass
	Volume unit.Share // of the yield, air included: what a fibre's effect goes by
}

// LooseFibre is the mass of fibre that was measured as a loose volume, from its bulk density loose in the same
// container. The fibre's own density must not be used here: loose fibre is mostly air.
func LooseFibre(loose unit.Volume, bulk unit.Density) (unit.Mass, error) {
	if err := checkVolume("loose fibre", loose); err != nil {
		return 0, err
	}
	if err := within("bulk density of loose fibre", bulk, 1, 5000, unit.System.Density,
		"weigh a filled container of known volume: it must be from {low} to {high}"); err != nil {
		return 0, err
	}
	m := bulk.Mass(loose)
	return m, checkMass("loose fibre", m)
}

// FibreFor is the mass of fibre that makes a share of the yield by volume: share × yield × gravity × density of water.
func FibreFor(share unit.Share, yield unit.Volume, gravity float64) (unit.Mass, error) {
	if !(share > 0 && share <= 0.3) {
		return 0, fmt.Errorf("fibre share by volume is %s; it must be above 0 and at most 30%%, as 2%%",
			unit.Metric.Share(share))
	}
	if err := checkVolume("yield", yield); err != nil {
		return 0, err
	}
	if err := checkGravity("fibre", gravity); err != nil {
		return 0, err
	}
	return (unit.Density(gravity) * unit.WaterDensity).Mass(yield * unit.Volume(share)), nil
}
