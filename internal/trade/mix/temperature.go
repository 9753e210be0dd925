package mix

import (
	"fmt"
	"time"

	"hod/internal/unit"
)

// Form is how an ingredient holds heat.
type Form uint8

const (
	FormNotSaid Form = iota
	Solid            // cement, pozzolan, aggregate without its free water
	MixingWater      // water that is added: what can be warmed or iced
	SandWater        // free water in the sand, at the sand's temperature
	Ice              // part of the mixing water, given as ice
)

func (f Form) String() string {
	switch f {
	case Solid:
		return "solid"
	case MixingWater:
		return "water"
	case SandWater:
		return "sand water"
	case Ice:
		return "ice"
	default:
		return "form not said"
	}
}

// Ingredient is one part of a mix with its temperature.
type Ingredient struct {
	Name string
	Form Form
	Mass unit.Mass
	At   unit.Celsius
}

// Heat is the equation's constants, relative to water.
type Heat struct {
	Solids float64 // specific heat of cement and aggregate, of water's
	Ice    float64 // specific heat of ice, of water's; ice at 0 °C does not use it
	Fusion float64 // heat to melt ice, in kelvins of as much water
}

var (
	// HeatSI has the constants that ACI 305R and 306R print for °C: 0.22 and 79.6. The last is from memory, as is ice's
	// specific heat, which those texts leave out by taking ice at 0 °C.
	HeatSI = Heat{Solids: 0.22, Ice: 0.5, Fusion: 79.6}
	// HeatUS has those printed for °F: 0.22 and 144 Btu/lb, which is the "112" of the equation (144 − 32) and 80 K. The
	// two systems of one text are not quite one equation; in an ordinary mix they part by a few hundredths of a kelvin.
	HeatUS = Heat{Solids: 0.22, Ice: 0.5, Fusion: 144 / 1.8}
)

// Hot water makes cement set in a flash where they meet: above this it goes on the sand first. ACI 306R (from memory).
const HotWater unit.Celsius = 60

// Estimate is a temperature with what is to be said of it.
type Estimate struct {
	At      unit.Celsius
	Remarks []string
}

// Temperature of the fresh mix:
//
//	T = [c (ΣT·W solids) + ΣT·W waters − L·W ice] / [c ΣW solids + ΣW waters + W ice]
//
// with c the specific heat of solids and L the heat of fusion. Source: ACI 305R, 306R. Range: ingredients from −40 to
// 100 °C, waters from 0, ice at or below 0; nothing frozen in the sand, and ice that all melts (else an error). The
// heat of mixing and of the cement's first reaction is not in it. Ice over half the mixing water is remarked on: there
// the equation is reported to go wrong.
func (h Heat) Temperature(parts []Ingredient) (Estimate, error) {
	s, err := h.sum(parts)
	if err != nil {
		return Estimate{}, err
	}
	t := unit.Celsius(s.heat / s.capacity)
	if s.ice > 0 && t < 0 {
		return Estimate{}, fmt.Errorf("%s of ice would not all melt; use less", both(s.ice, unit.System.Mass))
	}
	e := Estimate{At: t}
	if s.ice > s.water {
		e.Remarks = append(e.Remarks, "ice is over half the mixing water: the equation is not reliable there")
	}
	return e, nil
}

// WaterFor is the temperature that all the mixing water must have for the mix to reach the target; what temperature the
// parts give it is not used. It is an error when that would not be water, 0 to 100 °C.
func (h Heat) WaterFor(parts []Ingredient, target unit.Celsius) (Estimate, error) {
	if err := checkTarget(target); err != nil {
		return Estimate{}, err
	}
	s, err := h.sum(parts)
	if err != nil {
		return Estimate{}, err
	}
	if s.water == 0 {
		return Estimate{}, fmt.Errorf("no mixing water among the parts whose temperature could be chosen")
	}
	t := unit.Celsius((float64(target)*s.capacity - (s.heat - s.waterHeat)) / float64(s.water))
	switch {
	case t < 0:
		return Estimate{}, fmt.Errorf(
			"water would have to be at %s to bring the mix to %s; cool it with ice, or cool the sand",
			both(t, unit.System.Temperature), both(target, unit.System.Temperature))
	case t > 100:
		return Estimate{}, fmt.Errorf("water would have to be at %s to bring the mix to %s; warm the sand",
			both(t, unit.System.Temperature), both(target, unit.System.Temperature))
	}
	e := Estimate{At: t}
	if t > HotWater {
		e.Remarks = append(e.Remarks,
			fmt.Sprintf(
				"water above %.0f °C (140 °F) goes on the sand first: on cement it can cause flash set (ACI 306R, from memory)", float64(HotWater)))
	}
	return e, nil
}

// IceNeed is mixing water to be given as ice.
type IceNeed struct {
	Ice     unit.Mass
	Water   unit.Mass // mixing water left liquid
	Remarks []string
}

// IceFor is how much of the mixing water to give as ice of 0 °C for the mix to come down to the target. The parts hold
// the mixing water as if none were ice. No ice when the mix is at the target or below. It is an error when all the
// mixing water as ice would not do.
func (h Heat) IceFor(parts []Ingredient, target unit.Celsius) (IceNeed, error) {
	if err := checkTarget(target); err != nil {
		return IceNeed{}, err
	}
	s, err := h.sum(parts)
	if err != nil {
		return IceNeed{}, err
	}
	if s.ice > 0 {
		return IceNeed{}, fmt.Errorf("the parts hold %s of ice already; give all the mixing water as water",
			both(s.ice, unit.System.Mass))
	}
	if s.water == 0 {
		return IceNeed{}, fmt.Errorf("no mixing water among the parts that ice could replace")
	}
	excess := s.heat - float64(target)*s.capacity
	ice := unit.Mass(excess / (s.waterHeat/float64(s.water) + h.Fusion))
	if ice < leastMass {
		return IceNeed{Water: s.water}, nil
	}
	if ice > s.water {
		return IceNeed{}, fmt.Errorf(
			"%s of ice would be needed for %s and there are only %s of mixing water; cool the sand too",
			both(ice, unit.System.Mass), both(target, unit.System.Temperature), both(s.water, unit.System.Mass))
	}
	n := IceNeed{Ice: ice, Water: s.water - ice}
	if n.Ice > n.Water {
		n.Remarks = append(n.Remarks, "ice is over half the mixing water: the equation is not reliable there")
	}
	return n, nil
}

// ChangeFor is how many kelvins one ingredient must change for the mix to change by one: it tells what is worth warming
// or cooling.
func (h Heat) ChangeFor(parts []Ingredient, name string) (float64, error) {
	s, err := h.sum(parts)
	if err != nil {
		return 0, err
	}
	var own float64
	for _, p := range parts {
		switch {
		case p.Name != name:
		case p.Form == Ice: // warmed as ice; only what has melted takes what water takes
			own += h.Ice * float64(p.Mass)
		default:
			own += h.capacity(p)
		}
	}
	if own == 0 {
		return 0, fmt.Errorf("no ingredient is named %s", name)
	}
	return s.capacity / own, nil
}

// heatSum is the two lines of the equation, in kelvins × kg of water and kg of water.
type heatSum struct {
	heat, capacity float64
	water, ice     unit.Mass
	waterHeat      float64
}

func (h Heat) capacity(p Ingredient) float64 {
	if p.Form == Solid {
		return h.Solids * float64(p.Mass)
	}
	return float64(p.Mass)
}

func (h Heat) sum(parts []Ingredient) (heatSum, error) {
	var s heatSum
	if !(h.Solids > 0 && h.Solids <= 1 && h.Ice > 0 && h.Ice <= 1 && h.Fusion > 0 && h.Fusion < 200) {
		return s, fmt.Errorf("heat constants %+v cannot be; HeatSI has usual ones", h)
	}
	if len(parts) == 0 {
		return s, fmt.Errorf("no ingredients; give each with its mass and temperature")
	}
	for _, p := range parts {
		if err := p.check(); err != nil {
			return s, err
		}
		c := h.capacity(p)
		heat := c * float64(p.At)
		switch p.Form {
		case MixingWater:
			s.water += p.Mass
			s.waterHeat += heat
		case Ice:
			s.ice += p.Mass
			heat = float64(p.Mass) * (h.Ice*float64(p.At) - h.Fusion)
		}
		s.capacity += c
		s.heat += heat
	}
	return s, nil
}

func (p Ingredient) check() error {
	if err := checkMass(p.Name, p.Mass); err != nil {
		return err
	}
	what := "temperature of " + p.Name
	switch p.Form {
	case Solid:
		return within(what, p.At, -40, 100, unit.System.Temperature, "it must be from {low} to {high}")
	case MixingWater:
		return within(what, p.At, 0, 100, unit.System.Temperature, "water is from {low} to {high}; give ice as ice")
	case SandWater:
		return within(what, p.At, 0, 100, unit.System.Temperature,
			"it must be from {low} to {high}: sand with frozen water in it must be thawed first, the equation does not know it")
	case Ice:
		return within(what, p.At, -40, 0, unit.System.Temperature, "ice is from {low} to {high}; give water as water")
	default:
		return fmt.Errorf("%s has no form; say solid, water, sand water or ice", p.Name)
	}
}

func checkTarget(t unit.Celsius) error {
	return within("target temperature", t, 0, 60, unit.System.Temperature,
		"a fresh mix is from {low} to {high}, and 10 to 32 °C (50 to 90 °F) on most sites")
}

// DeliveryLoss is what a mix loses on its way in a revolving drum in cold weather, 0.25 × (mix − air) for each hour.
// Source: ACI 306R (from memory). The air must be colder than the mix, and the loss no more than their difference.
func DeliveryLoss(mixed, air unit.Celsius, way time.Duration) (unit.Kelvins, error) {
	if err := within("temperature of the mix", mixed, 0, 60, unit.System.Temperature,
		"a fresh mix is from {low} to {high}"); err != nil {
		return 0, err
	}
	if err := within("air temperature", air, -40, 60, unit.System.Temperature,
		"it must be from {low} to {high}"); err != nil {
		return 0, err
	}
	if air > mixed {
		return 0, fmt.Errorf("the air (%s) is warmer than the mix (%s); this rule is for cold weather",
			unit.Metric.Temperature(air)+", "+unit.US.Temperature(air), unit.Metric.Temperature(mixed)+", "+
				unit.US.Temperature(mixed))
	}
	if way < 0 || way > 4*time.Hour {
		return 0,
			fmt.Errorf("the way takes %s; the rule holds for 0 to 4 h, where the mix would reach the air's temperature",
				unit.Duration(way))
	}
	return unit.Kelvins(0.25 * float64(mixed-air) * way.Hours()), nil
}
