package mix

import (
	"fmt"

	"hod/internal/unit"
)

// Basis is what a pozzolan's share is a share of. A rule of "at least 12.5 %" can pass on one and fail on the other.
type Basis uint8

const (
	BasisNotSaid   Basis = iota
	OfCementitious       // pozzolan / (cement + pozzolan)
	OfCement             // pozzolan / cement
)

func (b Basis) String() string {
	switch b {
	case OfCementitious:
		return "of cementitious"
	case OfCement:
		return "of cement"
	default:
		return "basis not said"
	}
}

// Mix is a proportioned mortar: what one batch of it takes.
type Mix struct {
	Name string
	// Constituents in the order of charging. A water's mass is what is added when the sand is at SSD; the water of
	// admixtures and foam comes on top of it.
	Constituents []Constituent
	Air          unit.Share  // design air content, foam's air included; 0 to 0.9
	DesignYield  unit.Volume // of one batch, if stated; 0 leaves it to Air
	WaterLimit   float64     // highest w/cm allowed; 0 is no limit

	PozzolanLeast unit.Share // 0 is no rule
	PozzolanBasis Basis      // that PozzolanLeast is judged on

	TargetUnitWeight    unit.Density // 0 is no target
	UnitWeightTolerance unit.Density // either side of the target
}

// Check refuses a mix that cannot be: no cement, no water, a name twice, a figure out of its range, a stated yield that
// is smaller than the constituents themselves.
func (m Mix) Check() error {
	if err := m.check(); err != nil {
		return fmt.Errorf("mix %s: %w", m.Name, err)
	}
	return nil
}

func (m Mix) check() error {
	seen := map[string]bool{}
	var cement, water bool
	var solid unit.Volume
	for _, c := range m.Constituents {
		if err := c.Check(); err != nil {
			return err
		}
		if seen[c.Name] {
			return fmt.Errorf("%s stands twice; give each constituent one line", c.Name)
		}
		seen[c.Name] = true
		cement = cement || c.Kind == Cement
		water = water || c.Kind == Water || c.water() > 0
		solid += c.volume()
	}
	if !cement {
		return fmt.Errorf("no cement among its constituents; w/cm needs some")
	}
	if !water {
		return fmt.Errorf("no water among its constituents; say what is added with the sand at SSD")
	}
	if err := checkAir(m.Air); err != nil {
		return err
	}
	if m.DesignYield != 0 {
		if err := checkVolume("design yield", m.DesignYield); err != nil {
			return err
		}
		if _, err := airOf(m.DesignYield, solid); err != nil {
			return fmt.Errorf("design yield: %w", err)
		}
	}
	if m.WaterLimit != 0 {
		if err := checkLimit(m.WaterLimit); err != nil {
			return err
		}
	}
	if err := checkShare("least pozzolan", m.PozzolanLeast); err != nil {
		return err
	}
	if m.PozzolanBasis > OfCement {
		return fmt.Errorf("pozzolan basis %d is not known; say of cementitious or of cement", m.PozzolanBasis)
	}
	if m.TargetUnitWeight != 0 {
		if err := checkDensity("target unit weight", m.TargetUnitWeight); err != nil {
			return err
		}
	}
	return within("unit weight tolerance", m.UnitWeightTolerance, 0, mostDense, unit.System.Density,
		"it must be 0 or more")
}

// Constituent finds a constituent by its name.
func (m Mix) Constituent(name string) (Constituent, bool) {
	for _, c := range m.Constituents {
		if c.Name == name {
			return c, true
		}
	}
	return Constituent{}, false
}

// Cement is the mass of cement in one batch, pozzolan not counted.
func (m Mix) Cement() unit.Mass {
	var sum unit.Mass
	for _, c := range m.Constituents {
		if c.Kind == Cement {
			sum += c.Mass
		}
	}
	return sum
}

// Yield is the volume that one batch is designed to fill: DesignYield if stated, else the absolute volumes with the
// design air.
func (m Mix) Yield() (unit.Volume, error) {
	f, err := m.Figures()
	return f.Yield, err
}

// Figures of the mix as designed, sand at SSD. A stated DesignYield decides the volume and with it the air; a remark
// says when that air is more than 2 % of the volume away from the design air that was stated too.
func (m Mix) Figures() (Figures, error) {
	if err := m.Check(); err != nil {
		return Figures{}, err
	}
	b := m.ssd()
	if m.DesignYield == 0 {
		return b.Figures(m.Air)
	}
	f, err := b.FiguresAtYield(m.DesignYield)
	if err != nil {
		return f, fmt.Errorf("mix %s: %w", m.Name, err)
	}
	if off := f.Air - m.Air; m.Air > 0 && (off > 0.02 || off < -0.02) {
		f.Remarks = append(f.Remarks, fmt.Sprintf("the stated yield means %.1f %% air, the mix states %.1f %%",
			100*f.Air, 100*m.Air))
	}
	return f, nil
}

// ssd is the mix as a batch with every sand at SSD.
func (m Mix) ssd() Batch {
	var b Batch
	for _, c := range m.Constituents {
		charge := Charge{Constituent: c}
		if c.Kind == Sand {
			charge.Moisture = new(c.Absorption)
		}
		b.Charges = append(b.Charges, charge)
	}
	return b
}

func checkLimit(wcm float64) error {
	return between("w/cm limit", wcm, 0.05, 5, "it must be a ratio by mass, as 0.40")
}
