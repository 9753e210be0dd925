package mix

import (
	"fmt"
	"strings"

	"hod/internal/unit"
)

// Kind is the part that a constituent plays, which decides where its mass is counted.
type Kind uint8

const (
	KindNotSaid Kind = iota // an error wherever a kind is needed
	Cement                  // Portland or blended cement, as bought by the bag
	Pozzolan                // any supplementary cementitious material: fly ash, metakaolin, silica fume, slag
	Sand                    // aggregate, kept at SSD; a coarser one is counted in the same way
	Water                   // water added, ice included
	Admixture               // liquid: its water counts, see Constituent.Solids
	Foam                    // preformed foam or its premix: the liquid's mass, its air is part of the air content
	Fibre
	Other // counted in mass and volume only: pigment, microspheres, dry polymer
)

var kindNames = [...]string{"not said", "cement", "pozzolan", "sand", "water", "admixture", "foam", "fibre", "other"}

func (k Kind) String() string {
	if int(k) < len(kindNames) {
		return kindNames[k]
	}
	return fmt.Sprintf("kind %d", uint8(k))
}

// Cementitious says whether the kind counts under the line of w/cm.
func (k Kind) Cementitious() bool { return k == Cement || k == Pozzolan }

// Constituent is one material of a mix and how much of it one batch takes.
type Constituent struct {
	Name string
	Kind Kind
	// Mass per batch: of a sand at SSD, of an admixture or foam the whole liquid. In a Charge, as weighed.
	Mass unit.Mass
	// Gravity is the specific gravity: of sand bulk and SSD, of foam that of its liquid without the air. Water's is 1
	// whatever stands here.
	Gravity float64
	// Absorption of a sand: water held inside the grains at SSD, as a share of the oven-dry mass (ASTM C128). 0 to 0.4.
	Absorption unit.Share
	// Solids of an admixture or foam: the share of its mass that is not water. 0 counts all of it as water.
	Solids unit.Share
}

// Check refuses a constituent whose figures cannot be.
func (c Constituent) Check() error {
	if strings.TrimSpace(c.Name) == "" {
		return fmt.Errorf("a constituent (%s) has no name; every constituent needs one", c.Kind)
	}
	if c.Kind == KindNotSaid || c.Kind > Other {
		return fmt.Errorf("%s has no kind; say one of %s", c.Name, strings.Join(kindNames[Cement:], ", "))
	}
	if err := checkMass(c.Name, c.Mass); err != nil {
		return err
	}
	return c.checkProperties()
}

func (c Constituent) checkProperties() error {
	if c.Kind != Water {
		if err := checkGravity(c.Name, c.Gravity); err != nil {
			return err
		}
	}
	if c.Kind == Sand {
		return checkAbsorption(c.Name, c.Absorption)
	}
	if c.Absorption != 0 {
		return fmt.Errorf("%s is %s and has an absorption of %s; only a sand has one", c.Name, c.Kind,
			unit.Metric.Share(c.Absorption))
	}
	if c.Kind == Admixture || c.Kind == Foam {
		return checkShare("solids share of "+c.Name, c.Solids)
	}
	if c.Solids != 0 {
		return fmt.Errorf("%s is %s and has a solids share of %s; only an admixture or a foam has one", c.Name, c.Kind,
			unit.Metric.Share(c.Solids))
	}
	return nil
}

// Density is that of the material without air: Gravity times unit.WaterDensity.
func (c Constituent) Density() unit.Density {
	if c.Kind == Water {
		return unit.WaterDensity
	}
	return unit.Density(c.Gravity) * unit.WaterDensity
}

// AbsoluteVolume is the volume of the material itself, V = mass / (gravity × density of water). Source: ACI 211.1.
func (c Constituent) AbsoluteVolume() (unit.Volume, error) {
	if err := c.Check(); err != nil {
		return 0, err
	}
	return c.volume(), nil
}

// volume is AbsoluteVolume for a constituent that has been checked.
func (c Constituent) volume() unit.Volume { return c.Density().Of(c.Mass) }

// water is what an admixture or foam brings; 0 of the other kinds.
func (c Constituent) water() unit.Mass {
	if c.Kind != Admixture && c.Kind != Foam {
		return 0
	}
	return c.Mass * unit.Mass(1-c.Solids)
}
