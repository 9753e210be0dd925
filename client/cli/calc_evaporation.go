package cli

import (
	"context"

	"github.com/spf13/cobra"

	"hod/internal/unit"
	sky "hod/internal/weather" // by another name: weather is a command of this package
)

// calcEvaporation is the water that a fresh surface loses to the air.
type calcEvaporation struct{ concrete, air, humidity, dewpoint, wind, height string }

type evaporationDoc struct {
	UnoSI        float64 `json:"uno_si_kg_m2_h"`
	UnoUS        float64 `json:"uno_us_lb_ft2_h"`
	Menzel       float64 `json:"menzel_kg_m2_h"`
	Low          float64 `json:"uno_si_low_kg_m2_h"` // 40 % either way
	High         float64 `json:"uno_si_high_kg_m2_h"`
	Condensation bool    `json:"condensation"`
	Humidity     float64 `json:"humidity_percent"`
	Wind         float64 `json:"wind_at_half_metre_m_s"`
	calcSheet
}

func newCalcEvaporation(env *Env) *cobra.Command {
	var q calcEvaporation
	c := env.command("evaporation", "How fast a fresh surface loses water to the air",
		`hod calc evaporation --concrete 87F --air 80F --humidity 50% --wind 12mph`,
		`hod calc evaporation --concrete 20C --air 5C --dewpoint 1C --wind "15 km/h" --wind-height 10m`)
	f := c.Flags()
	f.StringVar(&q.concrete, "concrete", "", "temperature of the fresh surface")
	f.StringVar(&q.air, "air", "", "temperature of the air")
	f.StringVar(&q.humidity, "humidity", "", "relative humidity, 50%; or")
	f.StringVar(&q.dewpoint, "dewpoint", "", "the dew point")
	f.StringVar(&q.wind, "wind", "", "mean wind, not the gust: 12mph, 19km/h, 5.4m/s")
	f.StringVar(&q.height, "wind-height", "0.5m", "above the ground, where the wind was read")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, newCalcSheet(c)) }
	return c
}

func (q calcEvaporation) run(_ context.Context, env *Env, s *calcSheet) error {
	concrete, err := asked(s, "concrete", q.concrete, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	air, err := s.air(q.air, q.humidity, q.dewpoint)
	if err != nil {
		return err
	}
	read, err := asked(s, "wind", q.wind, unit.ParseSpeed, "m/s", unit.System.Speed)
	if err != nil {
		return err
	}
	height, err := asked(s, "wind-height", q.height, unit.ParseLength, "m", unit.System.Length)
	if err != nil {
		return err
	}
	wind := read
	if height != sky.WorkHeight {
		if wind, err = sky.AtWorkHeight(read, height); err != nil {
			return impossible(err)
		}
		s.by(sky.WindSource.Text, sky.WindSource.String())
		s.figure("wind at 0.5 m", "%s", bothUnits(wind, unit.System.Speed))
	}
	o := sky.Observation{Air: air, Wind: wind, Surface: concrete}
	si, err := sky.UnoSI(o)
	if err != nil {
		return impossible(err)
	}
	us, err := sky.UnoUS(o)
	if err != nil {
		return impossible(err)
	}
	menzel, err := sky.MenzelSI(o, sky.Uno)
	if err != nil {
		return impossible(err)
	}
	low, high := si.Between()
	s.figure("Uno, metric form", "%s", bothUnits(si.Rate, unit.System.Evaporation))
	s.figure("Uno, US form", "%s", unit.Both(unit.US, unit.Computed(us.Rate), unit.System.Evaporation))
	s.figure("Menzel", "%s", bothUnits(menzel.Rate, unit.System.Evaporation))
	s.figure("likely between", "%s and %s", unit.Metric.Evaporation(low), bothUnits(high, unit.System.Evaporation))
	for _, e := range []sky.Estimate{si, us, menzel} {
		src := e.Form.Source()
		s.by(src.Text, src.String())
	}
	for _, h := range []sky.Threshold{sky.Ordinary, sky.LowBleed, sky.Strictest} {
		is := unit.Metric.Evaporation(h.SI) + " by the metric form, " + decimal(h.US, 3) + " lb/ft²/h by the US form"
		s.against(h.Name, is, h.Reached(si) || h.Reached(us), h.Source.String())
	}
	if si.Condensation || us.Condensation {
		s.warn("dew settles on the surface: it gains water, and the evaporation is 0")
	}
	s.warn("%s", sky.Caution)
	return s.print(env, "evaporation", evaporationDoc{
		UnoSI: float64(si.Rate), UnoUS: us.Pounds(), Menzel: float64(menzel.Rate), Low: float64(low), High: float64(high),
		Condensation: si.Condensation || us.Condensation, Humidity: float64(air.Humidity) * 100, Wind: float64(wind), calcSheet: *s,
	})
}

// air reads the air by its temperature and either its humidity or its dew point.
func (s *calcSheet) air(temperature, humidity, dewpoint string) (sky.Air, error) {
	t, err := asked(s, "air", temperature, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return sky.Air{}, err
	}
	if err := s.together("humidity", humidity, "dewpoint", dewpoint); err != nil {
		return sky.Air{}, err
	}
	if dewpoint != "" {
		dew, err := asked(s, "dewpoint", dewpoint, unit.ParseTemperature, "C", unit.System.Temperature)
		if err != nil {
			return sky.Air{}, err
		}
		air, err := sky.FromDewPoint(t, dew, sky.Magnus)
		if err != nil {
			return sky.Air{}, impossible(err)
		}
		s.figure("relative humidity", "%s", unit.Metric.Share(air.Humidity))
		return air, nil
	}
	if humidity == "" {
		return sky.Air{}, s.missing("humidity", "dewpoint")
	}
	h, err := asked(s, "humidity", humidity, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return sky.Air{}, err
	}
	if h <= 0 {
		return sky.Air{}, usage("--humidity: %q: air of no humidity at all is not met with; give above 0%% and at most 100%%", safe(humidity))
	}
	return sky.Air{Temperature: t, Humidity: h}, nil
}
