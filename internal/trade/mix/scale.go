package mix

import (
	"fmt"
	"slices"

	"hod/internal/unit"
)

// How much of its drum's nominal volume a mixer takes. Common practice, no source.
const (
	DrumShare      unit.Share = 0.8       // most, for a mortar that flows
	DrumShareStiff unit.Share = 1.0 / 3.0 // a paddle mixer with a stiff mix
)

// Scaled is the mix for a batch so many times as large. Proportions stay as they are.
func (m Mix) Scaled(factor float64) (Mix, error) {
	if err := m.Check(); err != nil {
		return Mix{}, err
	}
	if err := between("batch size factor", factor, 1e-6, 1e6,
		"it must be above 0, as 0.5 for half a batch"); err != nil {
		return Mix{}, fmt.Errorf("mix %s: %w", m.Name, err)
	}
	m.Constituents = slices.Clone(m.Constituents)
	for i := range m.Constituents {
		m.Constituents[i].Mass *= unit.Mass(factor)
	}
	m.DesignYield *= unit.Volume(factor)
	return m, m.Check()
}

// ForBags is the mix for a batch with so many bags of cement, a bag holding the mass given (94 lb in the US: 42.6 kg).
// A part of a bag is allowed.
func (m Mix) ForBags(bags float64, bag unit.Mass) (Mix, error) {
	if err := m.Check(); err != nil {
		return Mix{}, err
	}
	if err := checkMass("a bag", bag); err != nil {
		return Mix{}, err
	}
	if err := between("number of bags", bags, 1e-3, 1e4, "it must be above 0"); err != nil {
		return Mix{}, err
	}
	return m.Scaled(bags * float64(bag) / float64(m.Cement()))
}

// ForVolume is the mix for a batch that fills v by the mix's own yield.
func (m Mix) ForVolume(v unit.Volume) (Mix, error) {
	if err := checkVolume("batch", v); err != nil {
		return Mix{}, err
	}
	y, err := m.Yield()
	if err != nil {
		return Mix{}, err
	}
	return m.Scaled(float64(v / y))
}

// ForMixer is the mix for a batch that fills a share of a drum's nominal volume; DrumShare and DrumShareStiff say what
// is usual.
func (m Mix) ForMixer(drum unit.Volume, share unit.Share) (Mix, error) {
	if err := checkVolume("mixer drum", drum); err != nil {
		return Mix{}, err
	}
	if err := between("share of the mixer drum", share, 1e-3, 1,
		"it must be above 0 and at most 1, as 0.33 for a third"); err != nil {
		return Mix{}, err
	}
	return m.ForVolume(drum * unit.Volume(share))
}
