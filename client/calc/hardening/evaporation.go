package hardening

import (
	"cmp"
	"context"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"hod/client/calc/sheet"
	"hod/client/terminal"
	sky "hod/internal/trade/weather"
	"hod/internal/unit"
)

// calcEvaporation is the water that a fresh surface loses to the air.
type calcEvaporation struct {
	concrete, wind, height        string
	water, yield, thickness, long string
	air                           airSaid
}

// airSaid is the air as flags give it: its temperature, and one of three ways to its humidity.
type airSaid struct{ temperature, humidity, dewpoint, wetbulb, altitude, pressure string }

func (a *airSaid) flags(f *pflag.FlagSet) {
	f.StringVar(&a.temperature, "air", "", "temperature of the air")
	f.StringVar(&a.humidity, "humidity", "", "relative humidity, 50%; or")
	f.StringVar(&a.dewpoint, "dewpoint", "", "the dew point; or")
	f.StringVar(&a.wetbulb, "wet-bulb", "", "what a wetted thermometer shows beside --air")
	f.StringVar(&a.altitude, "altitude", "", "height above the sea, for --wet-bulb; 0m if not said")
	f.StringVar(&a.pressure, "pressure", "", "or the air pressure there, by a barometer not set to the sea: 89kPa")
}

type evaporationDoc struct {
	UnoSI        float64  `json:"uno_si_kg_m2_h"`
	UnoUS        float64  `json:"uno_us_lb_ft2_h"`
	Menzel       float64  `json:"menzel_kg_m2_h"`
	Low          float64  `json:"uno_si_low_kg_m2_h"` // 40 % either way
	High         float64  `json:"uno_si_high_kg_m2_h"`
	Condensation bool     `json:"condensation"`
	Humidity     float64  `json:"humidity_percent"`
	Wind         float64  `json:"wind_at_half_metre_m_s"`
	MenzelUS     float64  `json:"menzel_us_lb_ft2_h"`
	Wind2        *float64 `json:"wind_at_two_metres_m_s,omitempty"`
	Held         *float64 `json:"layer_water_kg_m2,omitempty"`
	Lost         *float64 `json:"lost_kg_m2,omitempty"`
	LostShare    *float64 `json:"lost_share,omitempty"` // of the layer's mixing water
	sheet.Sheet
}

// NewEvaporation makes hod calc evaporation.
func NewEvaporation(env *terminal.Streams) *cobra.Command {
	var q calcEvaporation
	c := env.NewCommand("evaporation", "How fast a fresh surface loses water to the air",
		`hod calc evaporation --concrete 87F --air 80F --humidity 50% --wind 12mph`,
		`hod calc evaporation --concrete 20C --air 5C --dewpoint 1C --wind "15 km/h" --wind-height 10m`,
		`hod calc evaporation --concrete 30C --air 30C --wet-bulb 20C --altitude 1200m --wind 3m/s`,
		`hod calc evaporation --concrete 87F --air 80F --humidity 50% --wind 12mph --water 46.8lb --yield 3ft3 --thickness 1/2in --for 1h`)
	c.Long = "--water, --yield, --thickness and --for go together: how much of a thin layer's mixing water a time of it takes."
	f := c.Flags()
	f.StringVar(&q.concrete, "concrete", "", "temperature of the fresh surface")
	q.air.flags(f)
	f.StringVar(&q.wind, "wind", "", "mean wind, not the gust: 12mph, 19km/h, 5.4m/s")
	f.StringVar(&q.height, "wind-height", "0.5m", "above the ground, where the wind was read")
	f.StringVar(&q.water, "water", "", "mixing water of one batch")
	f.StringVar(&q.yield, "yield", "", "what the batch fills")
	f.StringVar(&q.thickness, "thickness", "", "how thick it lies")
	f.StringVar(&q.long, "for", "", "how long it lies bare")
	c.RunE = func(c *cobra.Command, _ []string) error { return q.run(c.Context(), env, sheet.New(c)) }
	return c
}

func (q calcEvaporation) run(_ context.Context, env *terminal.Streams, s *sheet.Sheet) error {
	concrete, err := sheet.Asked(s, "concrete", q.concrete, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return err
	}
	air, err := air(s, q.air)
	if err != nil {
		return err
	}
	var doc evaporationDoc
	wind, err := q.atWork(s, &doc)
	if err != nil {
		return err
	}
	si, us, menzel, menzelUS, err := estimates(sky.Observation{Air: air, Wind: wind, Surface: concrete})
	if err != nil {
		return terminal.AsUsage(err)
	}
	low, high := si.Between()
	s.Figuref("Uno, metric form", "%s", sheet.Both(si.Rate, unit.System.Evaporation))
	s.Figuref("Uno, US form", "%s", unit.Both(unit.US, unit.Computed(us.Rate), unit.System.Evaporation))
	s.Figuref("Menzel", "%s", sheet.Both(menzel.Rate, unit.System.Evaporation))
	s.Figuref("Menzel, US form", "%s", unit.Both(unit.US, unit.Computed(menzelUS.Rate), unit.System.Evaporation))
	s.Figuref("likely between", "%s and %s", sheet.Both(low, unit.System.Evaporation),
		sheet.Both(high, unit.System.Evaporation))
	for _, e := range []sky.Estimate{si, us, menzel, menzelUS} {
		src := e.Form.Source()
		s.By(src.Text, src.String())
	}
	for _, h := range []sky.Threshold{sky.Ordinary, sky.LowBleed, sky.Strictest} {
		is := unit.Metric.Evaporation(h.SI) + " by the metric form, " + sheet.Decimal(h.US, 3) +
			" lb/ft²/h by the US form"
		s.Stage(h.Name, is, h.Reached(si) || h.Reached(us), h.Source.String())
	}
	if si.Condensation || us.Condensation {
		s.Warnf("dew settles on the surface: it gains water, and the evaporation is 0")
	}
	s.Warnf("%s", sky.Caution)
	if q.water+q.yield+q.thickness+q.long != "" {
		if err := q.lost(s, si.Rate, &doc); err != nil {
			return err
		}
	}
	doc.UnoSI, doc.UnoUS, doc.Menzel, doc.MenzelUS = float64(si.Rate), us.Pounds(), float64(menzel.Rate),
		menzelUS.Pounds()
	doc.Low, doc.High, doc.Condensation = float64(low), float64(high), si.Condensation || us.Condensation
	doc.Humidity, doc.Wind, doc.Sheet = float64(air.Humidity)*100, float64(wind), *s
	return s.Print(env, "evaporation", doc)
}

// atWork is the wind at 0.5 m over the surface, where the formulas have it, from one read at another height.
func (q calcEvaporation) atWork(s *sheet.Sheet, doc *evaporationDoc) (unit.Speed, error) {
	read, err := sheet.Asked(s, "wind", q.wind, unit.ParseSpeed, "m/s", unit.System.Speed)
	if err != nil {
		return 0, err
	}
	height, err := sheet.Asked(s, "wind-height", q.height, unit.ParseLength, "m", unit.System.Length)
	if err != nil {
		return 0, err
	}
	wind := read
	if height != sky.WorkHeight {
		if wind, err = sky.AtWorkHeight(read, height); err != nil {
			return 0, terminal.AsUsage(err)
		}
		s.By(sky.WindSource.Text, sky.WindSource.String())
		s.Figuref("wind at 0.5 m", "%s", sheet.Both(wind, unit.System.Speed))
	}
	// it has no answer low over the ground
	if at2, err := sky.AtTwoMetres(read, height); err == nil && height != sky.WorkHeight {
		v := float64(at2)
		doc.Wind2 = &v
		s.Figuref("wind at 2 m", "%s, over short grass; it stands in no formula here",
			sheet.Both(at2, unit.System.Speed))
		s.By("v(2 m) = v(z) 4.87/ln(67.8 z − 5.42)", "FAO Irrigation and Drainage Paper 56, equation 47 (from memory)")
	}
	return wind, nil
}

// estimates are those of all four formulas.
func estimates(o sky.Observation) (si, us, menzel, menzelUS sky.Estimate, err error) {
	if si, err = sky.UnoSI(o); err != nil {
		return
	}
	if us, err = sky.UnoUS(o); err != nil {
		return
	}
	if menzel, err = sky.MenzelSI(o, sky.Uno); err != nil {
		return
	}
	menzelUS, err = sky.MenzelUS(o, sky.Uno)
	return
}

// lost is how much of a thin layer's mixing water goes in a time at a rate.
func (q calcEvaporation) lost(s *sheet.Sheet, rate unit.Evaporation, doc *evaporationDoc) error {
	var l sky.Layer
	var err error
	if l.Water, err = sheet.Asked(s, "water", q.water, unit.ParseMass, "kg", unit.System.Mass); err != nil {
		return err
	}
	if l.Yield, err = sheet.Asked(s, "yield", q.yield, unit.ParseVolume, "m3", unit.System.Volume); err != nil {
		return err
	}
	if l.Thickness, err = sheet.Asked(s, "thickness", q.thickness, unit.ParseLength, "m",
		unit.System.Thickness); err != nil {
		return err
	}
	long, err := s.Length("for", q.long, time.Minute, "min")
	if err != nil {
		return err
	}
	held, err := l.WaterPerArea()
	if err != nil {
		return terminal.AsUsage(err)
	}
	loss, err := sky.Lost(l, []sky.Span{{Time: long, Rate: rate}})
	if err != nil {
		return terminal.AsUsage(err)
	}
	water, gone, share := float64(held), float64(loss.Mass), float64(loss.Share)
	doc.Held, doc.Lost, doc.LostShare = &water, &gone, &share
	show := func(m unit.AreaMass) string { return sheet.Both(m, unit.System.AreaMass) }
	s.Figuref("water in the layer", "%s", show(held))
	s.Figuref("lost in "+unit.Duration(long), "%s, %s of it", show(loss.Mass), unit.Metric.Share(loss.Share))
	if loss.Dry {
		s.Warnf("the air could take more than there is: the layer dries out before")
	}
	s.By("water × thickness / yield; lost = rate × time",
		"arithmetic, by Uno's metric form; no bleeding, and a surface that stays wet")
	return nil
}

// air reads the air by its temperature and its humidity, its dew point or its wet bulb.
func air(s *sheet.Sheet, said airSaid) (sky.Air, error) {
	t, err := sheet.Asked(s, "air", said.temperature, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return sky.Air{}, err
	}
	for _, pair := range [][4]string{
		{"humidity", said.humidity, "dewpoint", said.dewpoint},
		{"humidity", said.humidity, "wet-bulb", said.wetbulb},
		{"dewpoint", said.dewpoint, "wet-bulb", said.wetbulb},
		{"altitude", said.altitude, "pressure", said.pressure},
	} {
		if err := s.Exclusive(pair[0], pair[1], pair[2], pair[3]); err != nil {
			return sky.Air{}, err
		}
	}
	if said.wetbulb == "" && said.altitude+said.pressure != "" {
		return sky.Air{},
			terminal.Usagef("--altitude and --pressure count for --wet-bulb alone; give that too, or leave them out")
	}
	switch {
	case said.wetbulb != "":
		return wetBulb(s, t, said)
	case said.dewpoint != "":
		dew, err := sheet.Asked(s, "dewpoint", said.dewpoint, unit.ParseTemperature, "C", unit.System.Temperature)
		if err != nil {
			return sky.Air{}, err
		}
		air, err := sky.FromDewPoint(t, dew, sky.Magnus)
		if err != nil {
			return sky.Air{}, terminal.AsUsage(err)
		}
		s.Figuref("relative humidity", "%s", unit.Metric.Share(air.Humidity))
		return air, nil
	case said.humidity == "":
		return sky.Air{}, s.Missing("humidity", "dewpoint")
	}
	h, err := sheet.Asked(s, "humidity", said.humidity, unit.ParseShare, "", unit.System.Share)
	if err != nil {
		return sky.Air{}, err
	}
	if h <= 0 {
		return sky.Air{},
			terminal.Usagef(
				"--humidity: %q: air of no humidity at all is not met with; give above 0%% and at most 100%%",
				terminal.Safe(said.humidity))
	}
	return sky.Air{Temperature: t, Humidity: h}, nil
}

// wetBulb is the air by a dry and a wetted thermometer, at the air pressure there.
func wetBulb(s *sheet.Sheet, dry unit.Celsius, said airSaid) (sky.Air, error) {
	wet, err := sheet.Asked(s, "wet-bulb", said.wetbulb, unit.ParseTemperature, "C", unit.System.Temperature)
	if err != nil {
		return sky.Air{}, err
	}
	pressure := unit.Pressure(0)
	if said.pressure != "" {
		if pressure, err = sheet.Asked(s, "pressure", said.pressure, unit.ParsePressure, "Pa",
			airPressure); err != nil {
			return sky.Air{}, err
		}
	} else {
		height, err := sheet.Asked(s, "altitude", cmp.Or(said.altitude, "0m"), unit.ParseLength, "m",
			unit.System.Length)
		if err != nil {
			return sky.Air{}, err
		}
		if pressure, err = sky.StandardPressure(height); err != nil {
			return sky.Air{}, sheet.FlagErr("altitude", err)
		}
		s.Figuref("standard air pressure", "%s", sheet.Both(pressure, airPressure))
		s.By("p = 101325 (1 − 2.25577e-5 z)^5.2559 Pa, z in m",
			"standard atmosphere; ASHRAE Handbook Fundamentals 2017, chapter 1, equation 3")
	}
	air, err := sky.FromWetBulb(dry, wet, pressure)
	if err != nil {
		return sky.Air{}, terminal.AsUsage(err)
	}
	s.Figuref("relative humidity", "%s", unit.Metric.Share(air.Humidity))
	s.By("humidity by dry and wet bulb, with Hyland and Wexler's vapour pressure",
		"ASHRAE Handbook Fundamentals 2017, chapter 1, equations 33 and 35 (from memory)")
	return air, nil
}

// airPressure shows what a barometer does: hPa or inches of mercury.
func airPressure(in unit.System, p unit.Pressure) string {
	if in == unit.US {
		return sheet.Decimal(float64(p/unit.InchOfMercury), 4) + " inHg"
	}
	return sheet.Decimal(float64(p)/100, 5) + " hPa"
}
