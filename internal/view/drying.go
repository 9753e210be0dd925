package view

import (
	"time"

	"hod/internal/fold"
	"hod/internal/trade/weather"
)

// Drying is how fast a fresh bare surface dried over a day, as read, and how fast it will, as forecast; against the
// site's limit. The formula may be off by Spread either way, which low and high show.
type Drying struct {
	From        time.Time     `json:"from"`
	To          time.Time     `json:"to"`
	Points      []DryingPoint `json:"points"`
	LimitKgM2H  float64       `json:"limit_kg_m2_h"`
	LimitLbFt2H float64       `json:"limit_lb_ft2_h"`
	// of the readings up to now that are over the limit without a break, the first
	OverSince *time.Time `json:"over_since,omitempty"`
	Spread    float64    `json:"spread"` // as a share of the rate
	Caution   string     `json:"caution"`
}

// DryingPoint is the rate at an instant.
type DryingPoint struct {
	At           time.Time `json:"at"`
	Forecast     bool      `json:"forecast,omitempty"`
	RateKgM2H    float64   `json:"rate_kg_m2_h"`
	RateLbFt2H   float64   `json:"rate_lb_ft2_h"`
	LowKgM2H     float64   `json:"low_kg_m2_h"`
	HighKgM2H    float64   `json:"high_kg_m2_h"`
	Over         bool      `json:"over"` // the limit, judged in the site's system
	AirC         *float64  `json:"air_c,omitempty"`
	Humidity     *float64  `json:"humidity,omitempty"`
	WindMPS      *float64  `json:"wind_mps,omitempty"` // brought to 0.5 m
	RainMM       *float64  `json:"rain_mm,omitempty"`
	Unworkable   string    `json:"unworkable,omitempty"` // why nobody places in that hour, of a forecast one
	SurfaceC     float64   `json:"surface_c"`
	SurfaceBasis string    `json:"surface_basis"`
}

// mostPoints of a day are shown: a station that writes each minute is thinned.
const mostPoints = 96

// DryingOf the day of an instant, in the site's place: from the first reading of that day to its end, as forecast from
// now on.
func DryingOf(s *fold.Site, now time.Time, in *time.Location) Drying {
	p := s.Plan()
	from := StartOfDay(now.In(in))
	v := Drying{
		From: from.UTC(), To: from.AddDate(0, 0, 1).UTC(), LimitKgM2H: float64(p.Evaporation),
		LimitLbFt2H: p.EvaporationUS, Spread: weather.Spread, Caution: weather.Caution,
	}
	read := ReadUntil(s, now)
	var today []fold.Sky
	for _, k := range read {
		if !k.At.Before(from) && k.Full() {
			today = append(today, k)
		}
	}
	every := 1 + len(today)/mostPoints
	for i, k := range today {
		if i%every != 0 && i != len(today)-1 {
			continue
		}
		surface, basis, _ := s.FreshSurface(k.At)
		if basis == "" {
			surface, basis = *k.Air, "the air's: nothing fresh lay uncovered"
		}
		if k.SurfaceTemperature != nil {
			surface, basis = *k.SurfaceTemperature, "read"
		}
		if rate, err := p.DryingAt(k, surface); err == nil {
			v.add(k, rate, float64(surface), basis, false, "")
		}
	}
	_, told := s.Weather()
	for _, k := range told {
		if !k.At.After(now) || !k.At.Before(v.To) || !k.Full() {
			continue
		}
		if rate, err := p.DryingAt(k, *k.Air); err == nil {
			_, why := Workable(p, k)
			v.add(k, rate, float64(*k.Air), "the air's", true, why)
		}
	}
	return v
}

func (v *Drying) add(k fold.Sky, rate fold.DryingRate, surface float64, basis string, told bool, why string) {
	d := DryingPoint{
		At: k.At.UTC(), Forecast: told, RateKgM2H: float64(rate.SI.Rate), RateLbFt2H: float64(rate.US.Pounds()),
		Over: rate.Over, AirC: Maybe(k.Air),
		WindMPS: Maybe(k.Wind), RainMM: k.RainMillimetres, SurfaceC: surface, SurfaceBasis: basis, Unworkable: why,
	}
	d.LowKgM2H, d.HighKgM2H = d.RateKgM2H*(1-v.Spread), d.RateKgM2H*(1+v.Spread)
	if air, err := k.Moist(); err == nil {
		d.Humidity = Number(air.Humidity)
	}
	switch {
	case told:
	case !d.Over:
		v.OverSince = nil
	case v.OverSince == nil:
		v.OverSince = Instant(d.At)
	}
	v.Points = append(v.Points, d)
}
