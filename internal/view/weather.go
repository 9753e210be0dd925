package view

import "time"

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
