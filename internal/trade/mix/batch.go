package mix

import (
	"fmt"

	"hod/internal/unit"
)

// Charge is one constituent as it went into the mixer.
type Charge struct {
	Constituent // Mass as weighed: of a sand, damp
	// Moisture is a sand's total moisture as a share of oven-dry mass, 0 to 0.4. Nil says that nobody knows it: the
	// sand is then taken at SSD, and the figures say so.
	Moisture *unit.Share
}

func (c Charge) check() error {
	if err := c.Constituent.Check(); err != nil {
		return err
	}
	if c.Moisture == nil {
		return nil
	}
	if c.Kind != Sand {
		return fmt.Errorf("%s is %s and has a moisture; only a sand has one", c.Name, c.Kind)
	}
	return checkMoisture(c.Name, *c.Moisture)
}

// sand divides a checked charge of sand.
func (c Charge) sand() SandState {
	moisture := c.Absorption
	if c.Moisture != nil {
		moisture = *c.Moisture
	}
	s, _ := sandState(c.Name, c.Mass, 1+moisture, c.Absorption, moisture) // its errors are those of check
	return s
}

// Batch is one mixer load as charged. One constituent may be charged in several portions.
type Batch struct {
	Charges []Charge
	Sprays  []Spray
}

// Check refuses a batch with a charge or spray that cannot be.
func (b Batch) Check() error {
	if len(b.Charges) == 0 {
		return fmt.Errorf("nothing was charged; a batch needs at least cement and water")
	}
	for _, c := range b.Charges {
		if err := c.check(); err != nil {
			return err
		}
	}
	for _, s := range b.Sprays {
		if _, err := s.Mass(); err != nil {
			return err
		}
	}
	return nil
}

// Amount is what a crew wrote of one charge.
type Amount struct {
	Name     string // as the mix has it
	Mass     unit.Mass
	Moisture *unit.Share // of a sand; nil if not known
}

// Charged is a batch of the mix from the amounts that a crew wrote: the mix lends each its kind and properties.
func (m Mix) Charged(amounts []Amount, sprays ...Spray) (Batch, error) {
	b := Batch{Sprays: sprays}
	for _, a := range amounts {
		c, ok := m.Constituent(a.Name)
		if !ok {
			return Batch{}, fmt.Errorf("%s is not a constituent of mix %s", a.Name, m.Name)
		}
		c.Mass = a.Mass
		b.Charges = append(b.Charges, Charge{Constituent: c, Moisture: a.Moisture})
	}
	if err := b.Check(); err != nil {
		return Batch{}, fmt.Errorf("batch of mix %s: %w", m.Name, err)
	}
	return b, nil
}

// AtMoisture is what to weigh for one batch of the mix with the sand as it lies: each sand's weight with its moisture,
// and the water to add lessened by what is free in the sand (or raised, when it is drier than SSD). A sand that the map
// does not name is taken at SSD. The batch weighs what the mix weighs. Source: ACI 211.1.
func (m Mix) AtMoisture(moisture map[string]unit.Share) (Batch, error) {
	if err := m.Check(); err != nil {
		return Batch{}, err
	}
	for name := range moisture {
		if c, ok := m.Constituent(name); !ok || c.Kind != Sand {
			return Batch{}, fmt.Errorf("mix %s has no sand named %s to have a moisture", m.Name, name)
		}
	}
	var b Batch
	var free, water unit.Mass
	for _, c := range m.Constituents {
		charge := Charge{Constituent: c}
		switch c.Kind {
		case Sand:
			if w, ok := moisture[c.Name]; ok {
				s, err := sandState(c.Name, c.Mass, 1+c.Absorption, c.Absorption, w)
				if err != nil {
					return Batch{}, fmt.Errorf("mix %s: %w", m.Name, err)
				}
				charge.Mass, charge.Moisture = s.Weighed, new(w)
				free += s.Free
			}
		case Water:
			water += c.Mass
		}
		b.Charges = append(b.Charges, charge)
	}
	if free == 0 {
		return b, nil
	}
	if water == 0 {
		return Batch{}, fmt.Errorf("mix %s adds no water of its own, so the %s free in its sand cannot be allowed for",
			m.Name, both(free, unit.System.Mass))
	}
	if water-free < leastMass {
		return Batch{}, fmt.Errorf("the sand alone brings %s of water and mix %s adds only %s; use drier sand",
			both(free, unit.System.Mass), m.Name, both(water, unit.System.Mass))
	}
	for i := range b.Charges {
		if b.Charges[i].Kind == Water {
			b.Charges[i].Mass *= (water - free) / water
		}
	}
	return b, b.Check()
}
