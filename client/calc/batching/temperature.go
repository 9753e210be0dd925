package batching

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	mixes "hod/internal/trade/mix"
	sky "hod/internal/trade/weather"
	"hod/internal/unit"
)

// calcTemperature is that of a fresh mix from its ingredients.
type calcTemperature struct {
	parts          []string
	target         string
	outside, onWay string
}

type temperatureDoc struct {
	Mix      float64     `json:"mix_c"`
	Water    *float64    `json:"water_c_for_target,omitempty"`
	Ice      *float64    `json:"ice_kg_for_target,omitempty"` // of the mixing water, given as ice at 0 °C
	MixF     float64     `json:"mix_f"`
	Equation string      `json:"equation"` // "us" or "si": two printings with slightly different constants
	Changes  []changeDoc `json:"changes"`  // what each part must change by for the mix to change by 1 K
	Lost     *float64    `json:"lost_on_the_way_k,omitempty"`
	Placed   *float64    `json:"arrives_c,omitempty"`
	sheet.Sheet
}

type changeDoc struct {
	Name   string  `json:"name"`
	Change float64 `json:"change_k"`
}

// NewTemperature makes hod calc temperature.
func NewTemperature(env *terminal.Streams) *cobra.Command {
	var q calcTemperature
	c := env.NewCommand("temperature",
		"Temperature of a mix from its ingredients, and of the water that brings it to a target",
		`hod calc temperature --part sand=188lb@38F,solid --part damp=5lb@38F,sand-water --part cement=120lb@40F,solid --part water=41.8lb@140F,water --target 70F`,
		`hod calc temperature --part cement=564lb@60F,solid --part water=282lb@60F,water --outside 30F --on-way 1h`)
	c.Long = "A part is NAME=MASS@TEMPERATURE,KIND. The kinds are solid, water, ice, and sand-water: the free water of the sand,\n" +
		"which counts as water in the mix and stays at the sand's temperature when the mixing water is warmed."
	f := c.Flags()
	f.StringArrayVar(&q.parts, "part", nil, "one ingredient, as sand=188lb@38F,solid; once for each")
	f.StringVar(&q.target, "target", "", "temperature wanted of the mix: by warmer water, or by ice in place of water")
	f.StringVar(&q.outside, "outside", "", "air on the way in cold weather: gives what a revolving drum loses")
	f.StringVar(&q.onWay, "on-way", "", "how long the way takes, for --outside")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcTemperature) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	if len(q.parts) == 0 {
		return s.Missing("part")
	}
	var parts []mixes.Ingredient
	heat, doc := mixes.HeatSI, temperatureDoc{Equation: "si"}
	for _, text := range q.parts {
		p, err := part(s, text)
		if err != nil {
			return sheet.FlagErr("part", err)
		}
		parts = append(parts, p)
		if i := strings.LastIndex(text, "@"); strings.Contains(strings.ToUpper(text[i+1:]), "F,") {
			heat, doc.Equation = mixes.HeatUS, "us"
		}
	}
	e, err := heat.Temperature(parts)
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc.Mix, doc.MixF = float64(e.At), e.At.Fahrenheit()
	s.Figuref("the mix", "%s", sheet.Both(e.At, unit.System.Temperature))
	if doc.Equation == "us" {
		s.By("T = [0.22 Σ T W solids + Σ T W waters − 112 W ice] / [0.22 Σ W solids + Σ W waters + W ice], °F and lb",
			"ACI 305R, 306R (form read; the 112 from memory)")
	} else {
		s.By("T = [0.22 Σ T W solids + Σ T W waters − 79.6 W ice] / [0.22 Σ W solids + Σ W waters + W ice], °C and kg",
			"ACI 305R, 306R (form read; the 79.6 from memory)")
	}
	if slices.ContainsFunc(parts, func(p mixes.Ingredient) bool { return p.Form == mixes.Ice && p.At < 0 }) {
		s.By("ice colder than it melts takes 0.5 W more for each degree",
			"specific heat of ice (from memory); ACI takes ice as it melts")
	}
	for _, r := range e.Remarks {
		s.Warnf("%s", r)
	}
	hot, err := sky.HotWeather(e.At)
	if err != nil {
		return terminal.AsUsage(err)
	}
	s.AtMost("hot weather, at discharge", "at most 95 °F (35 °C)", hot.Broken(), hot.Source.String())
	cold, err := sky.PlacingTemperature(e.At, unit.Length(0.02))
	if err != nil {
		return terminal.AsUsage(err)
	}
	s.AtLeast("as placed, section under 12 in", "at least 55 °F (13 °C), where cold-weather care is due", cold.Broken(),
		cold.Source.String())
	if err := q.worth(s, heat, parts, &doc); err != nil {
		return err
	}
	if err := q.reach(s, heat, parts, &doc); err != nil {
		return err
	}
	if err := q.lose(s, e.At, &doc); err != nil {
		return err
	}
	s.Caution(mixes.Caution)
	doc.Sheet = *s
	return s.Print(env, "temperature", doc)
}

// reach is the water temperature, or the ice, that brings the mix to the target. One of the two at least must do.
func (q calcTemperature) reach(s *sheet.Sheet, heat mixes.Heat, parts []mixes.Ingredient, doc *temperatureDoc) error {
	target, err := sheet.AskedIfGiven(s, "target", q.target, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil || target == nil {
		return err
	}
	water, noWater := heat.WaterFor(parts, *target)
	if noWater == nil {
		v := float64(water.At)
		doc.Water = &v
		s.Figuref("water for the target", "%s", sheet.Both(water.At, unit.System.Temperature))
		for _, r := range water.Remarks {
			s.Warnf("%s", r)
		}
	}
	if unit.Celsius(doc.Mix) <= *target {
		return sheet.FlagErr("target", noWater)
	}
	ice, noIce := heat.IceFor(parts, *target)
	if noIce == nil {
		v := float64(ice.Ice)
		doc.Ice = &v
		s.Figuref("or ice for the target", "%s of the mixing water as ice, %s left as water",
			sheet.Both(ice.Ice, unit.System.Mass), sheet.Both(ice.Water, unit.System.Mass))
		for _, r := range ice.Remarks {
			s.Warnf("%s", r)
		}
	}
	switch {
	case noWater != nil && noIce != nil && noWater.Error() == noIce.Error(): // of the target itself
		return sheet.FlagErr("target", noWater)
	case noWater != nil && noIce != nil:
		return sheet.FlagErr("target", errors.Join(noWater, noIce))
	case noWater != nil:
		s.Warnf("water alone does not reach it: %v", noWater)
	case noIce != nil:
		s.Warnf("ice alone does not reach it: %v", noIce)
	}
	return nil
}

// worth says which of the parts it pays to warm or cool.
func (q calcTemperature) worth(s *sheet.Sheet, heat mixes.Heat, parts []mixes.Ingredient, doc *temperatureDoc) error {
	var all []string
	for _, p := range parts {
		if slices.ContainsFunc(doc.Changes, func(c changeDoc) bool { return c.Name == p.Name }) {
			continue
		}
		change, err := heat.ChangeFor(parts, p.Name)
		if err != nil {
			return terminal.AsUsage(err)
		}
		doc.Changes = append(doc.Changes, changeDoc{p.Name, change})
		all = append(all, sheet.Decimal(change, 3)+" of "+terminal.Safe(p.Name))
	}
	s.Figuref("1 degree of the mix takes", "%s", strings.Join(all, " or "))
	return nil
}

// lose is what the mix loses on its way.
func (q calcTemperature) lose(s *sheet.Sheet, mixed unit.Celsius, doc *temperatureDoc) error {
	if q.outside == "" && q.onWay == "" {
		return nil
	}
	air, err := sheet.Asked(s, "outside", q.outside, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	way, err := s.Length("on-way", q.onWay, time.Second, "s")
	if err != nil {
		return err
	}
	lost, err := mixes.DeliveryLoss(mixed, air, way)
	if err != nil {
		return terminal.AsUsage(err)
	}
	k, at := float64(lost), float64(mixed)-float64(lost)
	doc.Lost, doc.Placed = &k, &at
	s.Figuref("lost on the way", "%s", sheet.Both(lost, unit.System.Difference))
	s.Figuref("arrives at", "%s", sheet.Both(unit.Celsius(at), unit.System.Temperature))
	s.By("loss = 0.25 × (mix − air) for each hour in a revolving drum", "ACI 306R (from memory)")
	return nil
}

// part reads sand=188lb@38F,solid.
func part(s *sheet.Sheet, text string) (mixes.Ingredient, error) {
	bad := terminal.Usagef("%q is not a part; it looks like sand=188lb@38F,solid", terminal.Safe(text))
	name, rest, ok := strings.Cut(text, "=")
	mass, rest, ok2 := strings.Cut(rest, "@")
	at, kind, ok3 := strings.Cut(rest, ",")
	if name = strings.TrimSpace(name); !ok || !ok2 || !ok3 || name == "" {
		return mixes.Ingredient{}, bad
	}
	p := mixes.Ingredient{Name: name}
	switch strings.ToLower(strings.TrimSpace(kind)) {
	case "solid":
		p.Form = mixes.Solid
	case "water":
		p.Form = mixes.MixingWater
	case "sand-water", "sand water":
		p.Form = mixes.SandWater
	case "ice":
		p.Form = mixes.Ice
	default:
		return p, terminal.Usagef("%s: %q is not a kind of part%s", terminal.Safe(name), terminal.Safe(kind),
			terminal.Suggest(kind, []string{"solid", "water", "ice", "sand-water"}))
	}
	var err error
	if p.Mass, err = unit.ParseMass(mass); err != nil {
		return p, fmt.Errorf("%s: %w", terminal.Safe(name), err)
	}
	if p.Mass <= 0 {
		return p, terminal.Usagef("%s: a mass of %s cannot be; give one above 0", terminal.Safe(name),
			terminal.Safe(mass))
	}
	if p.At, err = unit.ParseTemperature(at); err != nil {
		return p, fmt.Errorf("%s: %w", terminal.Safe(name), err)
	}
	s.Understood("part "+terminal.Safe(name), text, float64(p.Mass), "kg", fmt.Sprintf("%s at %s, %s",
		unit.Both(unit.Metric, unit.As[unit.Mass]{SI: p.Mass, Entered: mass}, unit.System.Mass),
		unit.Both(unit.Metric, unit.As[unit.Celsius]{SI: p.At, Entered: at}, unit.System.Temperature), p.Form))
	return p, nil
}
