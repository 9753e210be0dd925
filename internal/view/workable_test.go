package view

import (
	"testing"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/planned"
	"hod/internal/unit"
)

func TestAnHourThatIsNotWorkableSaysByWhichLimit(t *testing.T) {
	ptr := func(x float64) *float64 { return &x }
	sky := func(w event.Weather) fold.Sky { return fold.Sky{Weather: w} }
	air := func(c float64) *unit.Celsius { v := unit.Celsius(c); return &v }
	dry, speed := unit.Share(0.15), unit.Speed(12)
	for _, c := range []struct {
		units unit.System
		sky   fold.Sky
		why   string
	}{
		{unit.Metric, sky(event.Weather{RainMillimetres: ptr(2.5)}), "rain 2.5 mm, from 1 mm in the hour on"},
		{unit.US, sky(event.Weather{RainMillimetres: ptr(25.4)}), "rain 1 in, from 0.0394 in in the hour on"},
		{unit.Metric, sky(event.Weather{Air: air(3)}), "cold: 3 °C, under 4 °C"},
		{unit.US, sky(event.Weather{Air: air(3)}), "cold: 37.4 °F, under 40 °F"},
		// Uno: 5 (53^2.5 - 0.15 53^2.5) (43.2 + 4) 1e-6, of degrees Celsius + 18 and km/h
		{
			unit.Metric,
			fold.Sky{Weather: event.Weather{Air: air(35), Humidity: &dry}, Wind: &speed},
			"drying: 4.1 kg/m²/h, over 1 kg/m²/h, twice the site's limit",
		},
		{unit.Metric, sky(event.Weather{Air: air(20)}), ""},
	} {
		p := &fold.Plan{
			Rules: planned.Rules{
				System:        c.units,
				Evaporation:   fold.DefaultEvaporation,
				EvaporationUS: fold.DefaultEvaporationUS,
			},
		}
		if ok, why := Workable(p, c.sky); why != c.why || ok != (c.why == "") {
			t.Errorf("%s: %v, %q; want %q", c.units, ok, why, c.why)
		}
	}
}
