package hardening

import (
	"context"

	"github.com/spf13/cobra"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	sky "hod/internal/trade/weather"
	"hod/internal/unit"
)

// calcVapour is how much water the air holds, and how it feels.
type calcVapour struct{ air airSaid }

type vapourDoc struct {
	Saturation float64            `json:"saturation_kpa"`
	Vapour     float64            `json:"vapour_kpa"`
	DewPoint   *float64           `json:"dewpoint_c"` // null for air too dry or cold for the formula
	HeatIndex  *float64           `json:"heat_index_f"`
	HeatLevel  string             `json:"heat_level,omitempty"`
	Humidity   float64            `json:"humidity_percent"`
	Forms      map[string]float64 `json:"saturation_by_formula_kpa"`
	sheet.Sheet
}

// NewVapour makes hod calc vapour.
func NewVapour(env *terminal.Streams) *cobra.Command {
	var q calcVapour
	c := env.NewCommand("vapour", "Vapour pressure, dew point and heat index of the air",
		`hod calc vapour --air 25C --humidity 80%`,
		`hod calc vapour --air 40C --wet-bulb 20C --altitude 500m`)
	q.air.flags(c.Flags())
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcVapour) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	air, err := air(s, q.air)
	if err != nil {
		return err
	}
	saturated, err := sky.Magnus.Pressure(air.Temperature)
	if err != nil {
		return terminal.AsUsage(err)
	}
	vapour, err := air.VapourPressure(sky.Magnus)
	if err != nil {
		return terminal.AsUsage(err)
	}
	doc := vapourDoc{
		Saturation: float64(saturated / unit.Kilopascal), Vapour: float64(vapour / unit.Kilopascal),
		Forms: map[string]float64{}, Humidity: float64(air.Humidity) * 100,
	}
	s.Figuref("saturation pressure", "%s kPa (%s psi)", sheet.Decimal(doc.Saturation, 6),
		sheet.Decimal(float64(saturated/unit.PSI), 5))
	s.Figuref("vapour pressure", "%s kPa (%s psi)", sheet.Decimal(doc.Vapour, 6),
		sheet.Decimal(float64(vapour/unit.PSI), 5))
	src := sky.Magnus.Source()
	s.By(src.Text, src.String())
	for f := sky.Magnus; f <= sky.IF97; f++ {
		if p, err := f.Pressure(air.Temperature); err == nil { // outside that formula's range it has nothing to say
			doc.Forms[f.String()] = float64(p / unit.Kilopascal)
		}
	}
	if dew, err := air.DewPoint(sky.Magnus); err != nil {
		s.Warnf("no dew point: %v", err)
	} else {
		v := float64(dew)
		doc.DewPoint = &v
		s.Figuref("dew point", "%s", sheet.Both(dew, unit.System.Temperature))
	}
	doc.heat(s, air)
	doc.Sheet = *s
	return s.Print(env, "vapour", doc)
}

// heat is how the air feels to people, with the stages at which it harms them.
func (doc *vapourDoc) heat(s *sheet.Sheet, air sky.Air) {
	heat, err := sky.HeatIndex(air)
	if err != nil {
		s.Warnf("no heat index: %v", err)
		return
	}
	v := heat.Fahrenheit()
	doc.HeatIndex, doc.HeatLevel = &v, string(heat.Level)
	text := unit.Both(unit.US, unit.Computed(heat.Index), unit.System.Temperature)
	if heat.Level != "" {
		text += ": " + string(heat.Level) + " for people"
	}
	if heat.Beyond {
		text += "; beyond the published table, far too hot"
	}
	s.Figuref("heat index", "%s", text)
	s.By(sky.HeatIndexSource.Text, sky.HeatIndexSource.String())
	for _, l := range []struct {
		level sky.HeatLevel
		f     float64
	}{{sky.HeatCaution, 80}, {sky.ExtremeCaution, 90}, {sky.Danger, 103}, {sky.ExtremeDanger, 125}} {
		s.Stage("heat: "+string(l.level),
			unit.Both(unit.US, unit.Computed(unit.Fahrenheit(l.f)), unit.System.Temperature),
			unit.Round(v, 0.01) >= l.f, sky.HeatIndexSource.String())
	}
}
