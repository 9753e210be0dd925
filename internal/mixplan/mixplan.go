// Package mixplan is a planned mix, as a foreman wrote it down, in the form that internal/trade/mix reckons with:
// masses for amounts by volume, the figures of one batch, the sand that takes the rest.
//
// It stands between event and the trade's computations, which do not know each other, so that the fold, a reader of
// plans and a calculation without a record all mean the same by the same mix.
package mixplan

import (
	"fmt"
	"slices"

	"hod/internal/event"
	"hod/internal/trade/mix"
	"hod/internal/unit"
)

// DefaultUnitWeightTolerance is how far a measured unit weight may be from the mix's, as a share of it, where the mix
// says nothing.
const DefaultUnitWeightTolerance = unit.Share(0.02)

// Figures of a planned mix: the mix as it is reckoned with, and what one batch of it is as designed.
func Figures(b event.MixPlanned) (mix.Mix, mix.Figures, error) {
	m, err := Mix(b)
	if err != nil {
		return m, mix.Figures{}, err
	}
	f, err := m.Figures()
	return m, f, err
}

// Mix is a planned mix in the form that internal/trade/mix reckons with. An error where an amount has no mass.
func Mix(b event.MixPlanned) (mix.Mix, error) {
	m := mix.Mix{Name: string(b.Mix), WaterLimit: b.WaterLimit}
	for _, c := range b.Constituents {
		k := mix.Constituent{Name: string(c.Name), Kind: kinds[c.Kind], Gravity: c.Gravity}
		if k.Gravity == 0 {
			k.Gravity = 1
		}
		var err error
		if k.Mass, err = Mass(c.Amount, c); err != nil {
			return m, err
		}
		if c.Absorption != nil {
			k.Absorption = c.Absorption.SI
		}
		if c.Solids != nil {
			k.Solids = c.Solids.SI
		}
		m.Constituents = append(m.Constituents, k)
	}
	if b.Air != nil {
		m.Air = b.Air.SI
	}
	if b.DesignYield != nil {
		m.DesignYield = b.DesignYield.SI
	}
	if b.UnitWeight != nil {
		m.TargetUnitWeight = b.UnitWeight.SI
		missing := DefaultUnitWeightTolerance
		if b.UnitWeightTolerance != nil {
			missing = b.UnitWeightTolerance.SI
		}
		m.UnitWeightTolerance = unit.Density(float64(missing) * float64(b.UnitWeight.SI))
	}
	return m, nil
}

// Rest is the mass of one constituent, a sand, that fills what the others and the air leave of the stated yield:
// absolute volumes, ACI 211.1. Its own amount is not looked at.
func Rest(b event.MixPlanned, at int) (unit.Mass, error) {
	if b.DesignYield == nil {
		return 0,
			fmt.Errorf("mix %s states no yield; a sand that takes the rest needs the volume that the batch is to fill",
				b.Mix)
	}
	b.Constituents = slices.Clone(b.Constituents)
	b.Constituents[at].Amount = event.Amount{Mass: 1}
	m, err := Mix(b)
	if err != nil {
		return 0, err
	}
	sand := m.Constituents[at]
	filled, err := mix.SandByVolume(m.DesignYield, slices.Delete(m.Constituents, at, at+1), m.Air, sand)
	return filled.Mass, err
}

// LooseCement is what a cubic foot of loose cement weighs, 94 lb: the convention by which a bag is one (MIX-14 of the
// published values).
const LooseCement = 94 * unit.PoundPerCubicFoot

// Mass of an amount of a constituent. A volume of a liquid weighs by its specific gravity, one of a solid by its loose
// bulk density: grains leave room between them.
func Mass(a event.Amount, of event.Constituent) (unit.Mass, error) {
	switch {
	case !a.ByVolume:
		return a.Mass, nil
	case of.Kind == event.Water || of.Kind == event.Admixture || of.Kind == event.Foam:
		gravity := of.Gravity
		if gravity == 0 {
			gravity = 1
		}
		return unit.WaterDensity.Mass(a.Volume) * unit.Mass(gravity), nil
	case of.Bulk != nil:
		return of.Bulk.SI.Mass(a.Volume), nil
	case of.Kind == event.Cement:
		return LooseCement.Mass(a.Volume), nil
	}
	return 0, fmt.Errorf("what a volume of %s weighs is not known: say its mass, or give it a bulk density in the mix",
		of.Name)
}

// kinds of constituents as the trade's computations name them.
var kinds = map[event.Kind]mix.Kind{
	event.Cement: mix.Cement, event.Pozzolan: mix.Pozzolan, event.Sand: mix.Sand, event.Water: mix.Water,
	event.Admixture: mix.Admixture, event.Foam: mix.Foam, event.Fibre: mix.Fibre, event.Other: mix.Other,
}
