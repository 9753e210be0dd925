package mix

import (
	"fmt"

	"hod/internal/unit"
)

// FoamNeed is the foam that brings a base mortar to a lower unit weight.
type FoamNeed struct {
	Fraction unit.Share // of the finished volume
	PerBase  float64    // volume of foam for one volume of base mortar
}

// FoamFor is the foam needed, with volumes adding: target = base × (1 − fraction) + foam × fraction. The densities are
// those of the mortar before foam, of the foam as it leaves the nozzle, and wanted; foam < target <= base. Source:
// arithmetic of volumes and masses; some foam breaks in the mixer, so weigh the result.
func FoamFor(base, foam, target unit.Density) (FoamNeed, error) {
	for _, d := range []struct {
		what string
		d    unit.Density
	}{{"unit weight of the base mortar", base}, {"unit weight of the foam", foam}, {"target unit weight", target}} {
		if err := checkDensity(d.what, d.d); err != nil {
			return FoamNeed{}, err
		}
	}
	if foam >= base {
		return FoamNeed{}, fmt.Errorf(
			"foam of %s is not lighter than the base mortar of %s; foam is about 50 kg/m³ (3 lb/ft³)",
			both(foam, unit.System.Density), both(base, unit.System.Density))
	}
	if target > base || target <= foam {
		return FoamNeed{}, fmt.Errorf(
			"target of %s cannot be reached; foam brings a mortar of %s to anything between that and %s",
			both(target, unit.System.Density), both(base, unit.System.Density), both(foam, unit.System.Density))
	}
	f := (base - target) / (base - foam)
	// Nearly all foam is no mortar, and the ratio to base would grow without bound.
	if f > 0.95 {
		return FoamNeed{}, fmt.Errorf("target of %s would be %.1f%% foam; at most 95%% is a mortar",
			both(target, unit.System.Density), 100*float64(f))
	}
	return FoamNeed{Fraction: unit.Share(f), PerBase: float64(f / (1 - f))}, nil
}

// FoamPremix is the liquid that becomes foam, agent and water by volume; the agent is counted as no water at all.
func FoamPremix(name string, agent, water unit.Volume, agentGravity float64) (Constituent, error) {
	if err := checkVolume("foam agent", agent); err != nil {
		return Constituent{}, err
	}
	if err := checkVolume("foam water", water); err != nil {
		return Constituent{}, err
	}
	if err := checkGravity("foam agent", agentGravity); err != nil {
		return Constituent{}, err
	}
	solid, wet := (unit.Density(agentGravity) * unit.WaterDensity).Mass(agent), unit.WaterDensity.Mass(water)
	c := Constituent{Name: name, Kind: Foam, Mass: solid + wet, Solids: unit.Share(solid / (solid + wet))}
	c.Gravity = float64(c.Mass) / float64(unit.WaterDensity.Mass(agent+water))
	return c, c.Check()
}
