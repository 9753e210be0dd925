package view

import (
	"fmt"
	"time"

	"hod/internal/fold"
	"hod/internal/unit"
	"hod/internal/weather"
)

// Conditions is the weather as last read, and what it does to a fresh surface.
type Conditions struct {
	Site              string    `json:"site"`
	AsOf              time.Time `json:"as_of"`
	Units             string    `json:"units"`
	ReadAt            time.Time `json:"read_at"`
	Station           string    `json:"station"`
	AirC              float64   `json:"air_c"`
	Humidity          float64   `json:"humidity"` // 1 is saturated
	DewPointC         float64   `json:"dew_point_c"`
	WindMPS           float64   `json:"wind_mps"` // brought to 0.5 m
	WindReadMPS       float64   `json:"wind_read_mps"`
	WindHeightM       float64   `json:"wind_height_m"`
	SurfaceC          float64   `json:"surface_c"` // of the fresh mortar
	SurfaceSource     string    `json:"surface_source"`
	EvaporationKgM2H  float64   `json:"evaporation_kg_m2_h"`    // Uno, SI form
	EvaporationLbFt2H float64   `json:"evaporation_lb_ft2_h"`   // Uno, US form
	MenzelKgM2H       float64   `json:"menzel_kg_m2_h"`         // second opinion
	LimitKgM2H        float64   `json:"limit_kg_m2_h"`          // the site's
	LimitLbFt2H       float64   `json:"limit_lb_ft2_h"`         // the site's
	OverLimit         bool      `json:"over_limit"`             // judged in the site's system
	HeatIndexF        float64   `json:"heat_index_f,omitempty"` // 0 where it does not apply
	FreshUncovered    []string  `json:"fresh_uncovered,omitempty"`
	Judgements        []string  `json:"judgements,omitempty"` // cold and hot rules that apply, in words
	Missing           []string  `json:"missing,omitempty"`    // what was not read
	Caution           string    `json:"caution,omitempty"`
	Hours             []Hour    `json:"hours,omitempty"` // to come, as last forecast
	ForecastSource    string    `json:"forecast_source,omitempty"`
}

// Hour is an hour to come.
type Hour struct {
	At               time.Time `json:"at"`
	AirC             float64   `json:"air_c"`
	EvaporationKgM2H float64   `json:"evaporation_kg_m2_h"`
	RainMM           float64   `json:"rain_mm"`
	Workable         bool      `json:"workable"`
	Why              string    `json:"why,omitempty"` // it is not
}

// staleWeather is the age from which a reading says little of now.
const staleWeather = 2 * time.Hour

// WeatherOf the site at an instant; false if nobody has read any.
func WeatherOf(s *fold.Site, now time.Time, in *time.Location) (Conditions, bool) {
	return conditions(s, now, in)
}

func conditions(s *fold.Site, now time.Time, in *time.Location) (Conditions, bool) {
	p := s.Plan()
	v := Conditions{
		Site: siteName(s), AsOf: now, Units: p.System.String(), LimitKgM2H: float64(p.Evaporation), LimitLbFt2H: p.EvaporationUS, Caution: weather.Caution,
	}
	read, _ := s.Weather()
	var last *fold.Sky
	for i := range read {
		if read[i].At.After(now) {
			break
		}
		if read[i].Air != nil {
			last = &read[i]
		}
	}
	v.Hours, v.ForecastSource = hours(s, now, in)
	if last == nil {
		return v, len(v.Hours) > 0
	}
	v.ReadAt, v.Station, v.AirC = last.At.UTC(), last.Station, float64(*last.Air)
	if now.Sub(last.At) > staleWeather {
		v.Missing = append(v.Missing, fmt.Sprintf("a reading since %s: this one is %s old", last.At.In(in).Format("15:04"), unit.Duration(now.Sub(last.At).Round(time.Minute))))
	}
	if last.Wind != nil && last.Weather.Wind != nil {
		v.WindMPS, v.WindReadMPS, v.WindHeightM = float64(*last.Wind), float64(*last.Weather.Wind), float64(last.WindHeight)
	} else {
		v.Missing = append(v.Missing, "wind")
	}
	if air, err := last.Moist(); err != nil {
		v.Missing = append(v.Missing, "humidity")
	} else {
		v.Humidity = float64(air.Humidity)
		if dew, err := air.DewPoint(weather.Magnus); err == nil {
			v.DewPointC = float64(dew)
		}
		if heat, err := weather.HeatIndex(air); err == nil && heat.Level != weather.Comfortable {
			v.HeatIndexF = heat.Fahrenheit()
			v.Judgements = append(v.Judgements, fmt.Sprintf("heat index %s: %s for people", p.System.Temperature(heat.Index), heat.Level))
		}
	}
	surface, source, open := s.FreshSurface(now)
	v.FreshUncovered = open
	if source == "" {
		surface, source = *last.Air, "taken at the air's temperature: nothing fresh lies uncovered"
	}
	if last.SurfaceTemperature != nil {
		surface, source = *last.SurfaceTemperature, "read"
	}
	v.SurfaceC, v.SurfaceSource = float64(surface), source
	if rate, err := p.DryingAt(*last, surface); err == nil {
		v.EvaporationKgM2H, v.EvaporationLbFt2H, v.MenzelKgM2H, v.OverLimit = float64(rate.SI.Rate), rate.US.Pounds(), float64(rate.Menzel.Rate), rate.Over
	}
	if j, err := weather.ColdWeather(*last.Air); err == nil && verdict(j, p.System).Broken {
		v.Judgements = append(v.Judgements, j.Rule+": "+j.Says)
	}
	if hourly, ok := s.AirHours(last.At, 72); ok {
		if j, err := weather.ColdSpell(hourly); err == nil && j.Broken() {
			v.Judgements = append(v.Judgements, j.Rule+": "+j.Says)
		}
	}
	return v, true
}

// hours to come, as last forecast, to the end of tomorrow.
func hours(s *fold.Site, now time.Time, in *time.Location) ([]Hour, string) {
	_, told := s.Weather()
	until := startOfDay(now.In(in)).AddDate(0, 0, 2)
	var all []Hour
	source := ""
	for _, k := range told {
		if k.At.Before(now.Add(-time.Hour)) || !k.At.Before(until) || k.Air == nil {
			continue
		}
		h := Hour{At: k.At.UTC(), AirC: float64(*k.Air), Workable: true}
		if k.RainMillimetres != nil {
			h.RainMM = *k.RainMillimetres
		}
		if rate, err := s.Plan().DryingAt(k, *k.Air); err == nil {
			h.EvaporationKgM2H = float64(rate.SI.Rate)
		}
		h.Workable, h.Why = workable(s.Plan(), k)
		all, source = append(all, h), k.Station
	}
	return all, source
}

// workable says whether an hour's weather lets a crew place, and if not, why. Rain from 1 mm an hour is a choice of this
// program, and so is how far over the site's evaporation limit an hour must be; the cold is the published limit.
func workable(p *fold.Plan, k fold.Sky) (bool, string) {
	const rain = 1.0 // mm in the hour
	if k.RainMillimetres != nil && *k.RainMillimetres >= rain {
		return false, fmt.Sprintf("rain %.1f mm", *k.RainMillimetres)
	}
	if k.Air == nil {
		return true, ""
	}
	if j, err := weather.ColdWeather(*k.Air); err == nil && verdict(j, p.System).Broken {
		return false, "cold: " + p.System.Temperature(*k.Air)
	}
	if rate, err := p.DryingAt(k, *k.Air); err == nil && rate.Unfit {
		return false, "drying: " + p.System.Evaporation(rate.SI.Rate)
	}
	return true, ""
}

func startOfDay(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, t.Location())
}
