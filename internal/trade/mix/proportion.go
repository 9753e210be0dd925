package mix

import (
	"fmt"

	"hod/internal/unit"
)

// Portion is a constituent with its share of a whole; the constituent's own mass is ignored.
type Portion struct {
	Constituent
	Share unit.Share
}

// Divide divides a mass among portions by mass share, as 120 lb of cementitious into 75, 20 and 5 %. The shares must
// make the whole.
func Divide(whole unit.Mass, portions []Portion) ([]Constituent, error) {
	if err := checkMass("the whole", whole); err != nil {
		return nil, err
	}
	var sum unit.Share
	var parts []Constituent
	for _, p := range portions {
		if err := checkShare("share of "+p.Name, p.Share); err != nil {
			return nil, err
		}
		sum += p.Share
		c := p.Constituent
		c.Mass = whole * unit.Mass(p.Share)
		if err := c.Check(); err != nil {
			return nil, err
		}
		parts = append(parts, c)
	}
	if step(sum) != 1 {
		return nil, fmt.Errorf("the shares make %.6g%%; they must make 100%%", 100*float64(sum))
	}
	return parts, nil
}

// CementitiousFor is the cementitious material that a mass of water asks for at a w/cm.
func CementitiousFor(water unit.Mass, wcm float64) (unit.Mass, error) {
	if err := checkMass("water", water); err != nil {
		return 0, err
	}
	if err := between("w/cm", wcm, 0.05, 5, "it must be a ratio by mass, as 0.40"); err != nil {
		return 0, err
	}
	return water / unit.Mass(wcm), nil
}

// SandByVolume gives sand the mass that fills what the other constituents and the air leave of a volume: the absolute
// volume method of ACI 211.1. The sand's own mass is ignored; its gravity and the result are SSD.
func SandByVolume(whole unit.Volume, others []Constituent, air unit.Share, sand Constituent) (Constituent, error) {
	if err := checkVolume("the mix", whole); err != nil {
		return Constituent{}, err
	}
	if err := checkAir(air); err != nil {
		return Constituent{}, err
	}
	left := whole * unit.Volume(1-air)
	for _, c := range others {
		v, err := c.AbsoluteVolume()
		if err != nil {
			return Constituent{}, err
		}
		left -= v
	}
	if sand.Kind != Sand {
		return Constituent{}, fmt.Errorf("%s is %s; what is left of the volume is given to a sand", sand.Name,
			sand.Kind)
	}
	if left < leastVolume {
		return Constituent{}, fmt.Errorf("nothing of %s is left for %s: the other constituents and the air fill %s",
			both(whole, unit.System.Volume), sand.Name, both(whole-left, unit.System.Volume))
	}
	sand.Mass = sand.Density().Mass(left)
	return sand, sand.Check()
}

// SandByWeight gives sand the mass that the other constituents leave of an estimated whole: the weight method of ACI
// 211.1. The sand's own mass is ignored.
func SandByWeight(whole unit.Mass, others []Constituent, sand Constituent) (Constituent, error) {
	if err := checkMass("the mix", whole); err != nil {
		return Constituent{}, err
	}
	left := whole
	for _, c := range others {
		if err := c.Check(); err != nil {
			return Constituent{}, err
		}
		left -= c.Mass
	}
	if sand.Kind != Sand {
		return Constituent{}, fmt.Errorf("%s is %s; what is left of the weight is given to a sand", sand.Name,
			sand.Kind)
	}
	if left < leastMass {
		return Constituent{}, fmt.Errorf("nothing of %s is left for %s: the other constituents weigh %s",
			both(whole, unit.System.Mass), sand.Name, both(whole-left, unit.System.Mass))
	}
	sand.Mass = left
	return sand, sand.Check()
}

// Trial is what a mix is proportioned from.
type Trial struct {
	Name              string
	Volume            unit.Volume // of the batch, air included; 0 where Weight is given
	Weight            unit.Mass   // of the batch as estimated, for the weight method; 0 where Volume is given
	Water             unit.Mass   // all mixing water, that of admixtures and foam included
	WaterCementitious float64
	Binder            []Portion     // cement and pozzolans, shares of cementitious by mass
	Others            []Constituent // fibres, admixtures, foam, further aggregates, with their masses
	Air               unit.Share
	Sand              Constituent // its mass is what is found
}

// Proportion makes a mix of a trial: binder from water and w/cm, sand by what is left of the volume or of the weight.
// Source: ACI 211.1.
func Proportion(t Trial) (Mix, error) {
	m, err := t.proportion()
	if err != nil {
		return Mix{}, fmt.Errorf("proportion %s: %w", t.Name, err)
	}
	return m, nil
}

func (t Trial) proportion() (Mix, error) {
	if t.Volume != 0 && t.Weight != 0 {
		return Mix{}, fmt.Errorf(
			"a volume and a weight of the batch are given; the sand is what is left of one of them")
	}
	cm, err := CementitiousFor(t.Water, t.WaterCementitious)
	if err != nil {
		return Mix{}, err
	}
	for _, p := range t.Binder {
		if !p.Kind.Cementitious() {
			return Mix{}, fmt.Errorf("%s is %s; the binder is cement and pozzolan", p.Name, p.Kind)
		}
	}
	parts, err := Divide(cm, t.Binder)
	if err != nil {
		return Mix{}, fmt.Errorf("binder: %w", err)
	}
	water := t.Water
	for _, c := range t.Others {
		if c.Kind.Cementitious() || c.Kind == Water {
			return Mix{}, fmt.Errorf("%s is %s; it follows from the water and w/cm", c.Name, c.Kind)
		}
		water -= c.water()
		parts = append(parts, c)
	}
	if water < leastMass {
		return Mix{}, fmt.Errorf("admixtures and foam bring more than the %s of mixing water",
			both(t.Water, unit.System.Mass))
	}
	parts = append(parts, Constituent{Name: "water", Kind: Water, Mass: water})
	var sand Constituent
	if t.Weight != 0 {
		sand, err = SandByWeight(t.Weight, parts, t.Sand)
	} else {
		sand, err = SandByVolume(t.Volume, parts, t.Air, t.Sand)
	}
	if err != nil {
		return Mix{}, err
	}
	m := Mix{Name: t.Name, Constituents: append(parts, sand), Air: t.Air}
	return m, m.Check()
}
