package hardening

import (
	"context"
	"math"
	"time"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	"hod/internal/trade/setting"
	"hod/internal/unit"
)

// calcLayer is the temperature of a thin layer that goes over to the air's.
type calcLayer struct {
	thickness, density, water, wind, inner, start, air, airs, at string
	initial, reference, ea                                       string
}

type layerDoc struct {
	TimeConstant float64  `json:"time_constant_min"`
	OuterFilm    float64  `json:"outer_film_w_m2_k"`
	InnerFilm    float64  `json:"inner_film_w_m2_k"`
	SpecificHeat float64  `json:"specific_heat_j_kg_k"`
	At           *float64 `json:"at_min,omitempty"`
	Temperature  *float64 `json:"temperature_c,omitempty"`
	Consumed     *float64 `json:"consumed,omitempty"` // 1 is initial set
	State        string   `json:"state,omitempty"`
	Set          *float64 `json:"set_min,omitempty"` // when initial set comes
	sheet.Sheet
}

// NewLayer makes hod calc layer.
func NewLayer(env *terminal.Streams) *cobra.Command {
	var q calcLayer
	c := env.NewCommand("layer", "How fast a thin layer takes on the air's temperature, and what that does to its set",
		`hod calc layer --thickness 12mm --density 2100kg/m3 --wind 2m/s --start 30C --air 15C --at 40min`,
		`hod calc layer --thickness 1/2in --density 131lb/ft3 --start 86F --air-readings air.csv --at 2h --initial 300min --reference 23C`)
	c.Long = "Time runs from water contact. --air-readings has the columns hours,temp_c (or temp_f), straight between two rows."
	f := c.Flags()
	f.StringVar(&q.thickness, "thickness", "", "thickness of the layer")
	f.StringVar(&q.density, "density", "", "unit weight of the mortar")
	f.StringVar(&q.water, "water", "12%", "water's share of the mortar's mass")
	f.StringVar(&q.wind, "wind", "2m/s", "wind along the outer face")
	f.StringVar(&q.inner, "inner", "still",
		"the other face: still (in still air) or none (loses nothing, as against foam)")
	f.StringVar(&q.start, "start", "", "temperature of the mortar as mixed")
	f.StringVar(&q.air, "air", "", "temperature of the air; or")
	f.StringVar(&q.airs, "air-readings", "", "CSV file of the air with the columns hours,temp_c")
	f.StringVar(&q.at, "at", "", "how warm is it after this time?")
	f.StringVar(&q.initial, "initial", "", "initial set of the mix, 300min: also how much of it is used up")
	f.StringVar(&q.reference, "reference", "", "the temperature at which it was measured")
	f.StringVar(&q.ea, "ea", "40kJ/mol", "the mix's activation energy")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcLayer) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	layer, err := q.layer(s)
	if err != nil {
		return err
	}
	tau, err := layer.TimeConstant()
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc := layerDoc{
		TimeConstant: tau.Minutes(), OuterFilm: float64(layer.Outer), InnerFilm: float64(layer.Inner),
		SpecificHeat: float64(layer.SpecificHeat),
	}
	s.Figuref("specific heat", "%s J/(kg·K) (%s Btu/(lb·°F))", sheet.Decimal(doc.SpecificHeat, 5),
		sheet.Decimal(doc.SpecificHeat/btuPerPound, 4))
	s.Figuref("film, outer and inner", "%s and %s W/(m²·K) (%s and %s Btu/(h·ft²·°F))", sheet.Decimal(doc.OuterFilm, 4),
		sheet.Decimal(doc.InnerFilm, 4),
		sheet.Decimal(doc.OuterFilm/btuFilm, 4), sheet.Decimal(doc.InnerFilm/btuFilm, 4))
	s.Figuref("time constant", "%s min (%s): its difference from the air falls to 37 %%",
		sheet.Decimal(doc.TimeConstant, 5), unit.Duration(tau))
	s.By("τ = ρ c d / (outer + inner film)",
		"one temperature through the thickness (Biot number under 0.1); sun, evaporation and the cement's own heat left out")
	s.By("c = 4186.8 (0.22 solids + water) J/(kg·K)", "ACI 305R, the 0.22 of its mix temperature formula")
	s.By("film in wind 5.7 + 3.8 v, v in m/s; in still air 8.3 W/(m²·K)",
		"McAdams, Heat Transmission; ASHRAE Fundamentals (both from memory)")
	if q.start == "" && q.at == "" && q.initial == "" {
		doc.Sheet = *s
		return s.Print(env, "layer", doc)
	}
	if err := q.follow(env, s, tau, &doc); err != nil {
		return err
	}
	doc.Sheet = *s
	return s.Print(env, "layer", doc)
}

// The US units of specific heat and film, J/(kg·K) and W/(m²·K): 1 Btu (IT) is 1055.05585262 J.
const (
	btuPerPound = 4186.8
	btuFilm     = 5.678263341113488
)

func (q calcLayer) layer(s *sheet.Sheet) (l setting.Layer, err error) {
	if l.Thickness, err = sheet.Asked(s, "thickness", q.thickness, unit.ParseLength, "m",
		unit.System.Thickness); err != nil {
		return l, err
	}
	if l.Density, err = sheet.Asked(s, "density", q.density, unit.ParseDensity, "kg/m3",
		unit.System.Density); err != nil {
		return l, err
	}
	water, err := sheet.Asked(s, "water", q.water, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return l, err
	}
	if l.SpecificHeat, err = setting.FreshHeat(water); err != nil {
		return l, sheet.FlagErr("water", err)
	}
	wind, err := sheet.Asked(s, "wind", q.wind, unit.ParseSpeed, "m/s", unit.System.Speed)
	if err != nil {
		return l, err
	}
	if l.Outer, err = setting.WindFilm(wind); err != nil {
		return l, sheet.FlagErr("wind", err)
	}
	switch q.inner {
	case "still":
		l.Inner = setting.StillAir
	case "none":
	default:
		return l,
			terminal.Usagef("--inner: %q is neither still (a face in still air) nor none (a face that loses nothing)",
				terminal.Safe(q.inner))
	}
	s.Noted("inner", q.inner)
	return l, nil
}

// follow is the layer's temperature after a time, and the share of initial set that it has used up by then.
func (q calcLayer) follow(env *terminal.Streams, s *sheet.Sheet, tau time.Duration, doc *layerDoc) error {
	start, err := sheet.Asked(s, "start", q.start, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	if err := setting.CheckTemperature(start); err != nil {
		return sheet.FlagErr("start", err)
	}
	mixed := time.Unix(0, 0).UTC()
	air, err := q.airOf(env, s, mixed)
	if err != nil {
		return err
	}
	if q.at == "" && q.initial == "" {
		return s.Missing("at", "initial")
	}
	layer := setting.Relax(start, mixed, air, tau)
	s.By("dT/dt = (air − T)/τ", "Newton's law of cooling, solved exactly between points 5 min apart")
	var at time.Duration
	if q.at != "" {
		if at, err = s.Length("at", q.at, time.Minute, "min"); err != nil {
			return err
		}
		if at > setting.RelaxHorizon {
			return terminal.Usagef("--at: %s is beyond the %s that are followed", terminal.Safe(q.at),
				unit.Duration(setting.RelaxHorizon))
		}
		minutes, celsius := at.Minutes(), layer(mixed.Add(at))
		c := float64(celsius)
		doc.At, doc.Temperature = &minutes, &c
		s.Figuref("temperature", "%s after %s", sheet.Both(celsius, unit.System.Temperature), unit.Duration(at))
	}
	if q.initial == "" {
		return nil
	}
	set, err := calcSet{initial: q.initial, reference: q.reference, ea: q.ea}.set(s)
	if err != nil {
		return err
	}
	s.By("used up = Σ exp(−Ea/R (1/T − 1/Tref)) Δt / initial, T in K with 273.15", "ASTM C1074 (from memory)")
	if q.at != "" {
		share, err := setting.Consumed(set, mixed, mixed.Add(at), layer)
		if err != nil {
			return terminal.AsUsage(err)
		}
		state := setting.Suggested.State(share)
		doc.Consumed, doc.State = &share, state.String()
		s.Figuref("used up of initial set", "%s %%: %s", sheet.Decimal(share*100, 4), state)
		ladder(s, share)
	}
	if turns, ok := setting.Turns(set, mixed, layer, 1, setting.RelaxHorizon); ok {
		minutes := turns.Sub(mixed).Minutes()
		doc.Set = &minutes
		s.Figuref("initial set comes", "after %s min (%s)", sheet.Decimal(minutes, 5), unit.Duration(turns.Sub(mixed)))
	} else {
		s.Warnf("it does not come to initial set within %s", unit.Duration(setting.RelaxHorizon))
	}
	return nil
}

func (q calcLayer) airOf(env *terminal.Streams, s *sheet.Sheet, mixed time.Time) (setting.Temperature, error) {
	if err := s.Exclusive("air", q.air, "air-readings", q.airs); err != nil {
		return nil, err
	}
	if q.airs == "" {
		if q.air == "" {
			return nil, s.Missing("air", "air-readings")
		}
		air, err := sheet.Asked(s, "air", q.air, unit.ParseTemperature, "C", unit.System.Temperature)
		if err != nil {
			return nil, err
		}
		return setting.Constant(air), sheet.FlagErr("air", setting.CheckTemperature(air))
	}
	rows, found, err := sheet.ReadColumns(env, "air-readings", q.airs, []string{"hours"}, []string{"temp_c", "temp_f"})
	if err != nil {
		return nil, err
	}
	samples := make([]setting.Sample, len(rows))
	for i, r := range rows {
		if !(r[0] >= -1000 && r[0] <= 1000) {
			return nil, terminal.Usagef("--air-readings: hour %s cannot be; hours run from −1000 to 1000",
				sheet.Decimal(r[0], 6))
		}
		t, err := heat("air-readings", found[1], i+1, r[1])
		if err != nil {
			return nil, err
		}
		samples[i] = setting.Sample{At: mixed.Add(time.Duration(math.Round(r[0] * float64(time.Hour)))), Temp: t}
	}
	s.Noted("air-readings", q.airs+": "+terminal.Plural(len(rows), "row", "rows")+
		"; the first and last are held beyond their ends")
	air, err := setting.Through(samples)
	return air, sheet.FlagErr("air-readings", err)
}
