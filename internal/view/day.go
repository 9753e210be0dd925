package view

import "time"

// Day is the end-of-day summary.
type Day struct {
	Site        string      `json:"site"`
	Place       string      `json:"place,omitempty"`
	Date        string      `json:"date"`
	AsOf        time.Time   `json:"as_of"`
	Units       string      `json:"units"`
	Provisional string      `json:"provisional,omitempty"` // why it may still change
	Crews       []CrewDay   `json:"crews"`
	Zones       []CoatDay   `json:"zones"`
	Tests       []Test      `json:"tests"`
	Weather     WeatherDay  `json:"weather"`
	Flags       []Flag      `json:"flags"` // of the day, open and answered
	Joints      []Joint     `json:"joints"`
	Stock       Stock       `json:"stock"`
	Left        []CoatLine  `json:"left"`
	BatchesLeft BatchesLeft `json:"batches_left"`
	Tomorrow    Tomorrow    `json:"tomorrow"`
	Changes     []Entry     `json:"changes"` // amended, taken back or settled that day
	SetAside    []Entry     `json:"set_aside"`
	Notes       []Entry     `json:"notes"`
	Strength    []Strength  `json:"strength"`
	Record      []DeviceEnd `json:"record"` // how far the record reached
	Cautions    []string    `json:"cautions"`
}

// CrewDay is one crew's day.
type CrewDay struct {
	Crew        string     `json:"crew"`
	Name        string     `json:"name,omitempty"`
	People      int32      `json:"people"`
	From        *time.Time `json:"from,omitempty"`
	To          *time.Time `json:"to,omitempty"`
	Batches     int32      `json:"batches"`
	MixedM3     float64    `json:"mixed_m3"`
	PlacedM3    float64    `json:"placed_m3"`
	DiscardedM3 float64    `json:"discarded_m3"`
	UnplacedM3  float64    `json:"unplaced_m3"` // mixed, and neither placed nor discarded in the record
	WCMMean     float64    `json:"w_cm_mean"`
	WCMMax      float64    `json:"w_cm_max"`
}

// CoatDay is one coat's day.
type CoatDay struct {
	Zone       string  `json:"zone"`
	Face       string  `json:"face,omitempty"`
	Coat       int32   `json:"coat"`
	Batches    float64 `json:"batches"`
	PlacedM3   float64 `json:"placed_m3"`
	ThicknessM float64 `json:"thickness_m"` // that the day added on the mean
	LeftM3     float64 `json:"left_m3"`
}

// Test is a fresh test.
type Test struct {
	Batch         string    `json:"batch"`
	At            time.Time `json:"at"`
	UnitWeight    float64   `json:"unit_weight_kg_m3"`
	YieldM3       float64   `json:"yield_m3"`
	RelativeYield float64   `json:"relative_yield"`
	Air           float64   `json:"air"` // gravimetric
	TemperatureC  *float64  `json:"temperature_c,omitempty"`
	Flow          *float64  `json:"flow,omitempty"`
	WCM           float64   `json:"w_cm"`
	Judgement     string    `json:"judgement"` // within, or how it misses
}

// WeatherDay is the day's weather as read.
type WeatherDay struct {
	Readings       int32      `json:"readings"`
	AirLowC        float64    `json:"air_low_c"`
	AirHighC       float64    `json:"air_high_c"`
	WindHighMPS    float64    `json:"wind_high_mps"` // brought to 0.5 m
	HumidityLow    float64    `json:"humidity_low"`
	RainMM         float64    `json:"rain_mm"`
	EvaporationMax float64    `json:"evaporation_max_kg_m2_h"`
	EvaporationAt  *time.Time `json:"evaporation_max_at,omitempty"`
}

// Strength is what the temperatures of a coat say of its age. Never a verdict on stripping or loading.
type Strength struct {
	Zone           string  `json:"zone"`
	Face           string  `json:"face,omitempty"`
	Coat           int32   `json:"coat"`
	Readings       int32   `json:"readings"`
	MaturityCH     float64 `json:"maturity_c_h"`
	EquivalentAgeH float64 `json:"equivalent_age_h"`
	LowestC        float64 `json:"lowest_c"`
	StrengthPa     float64 `json:"strength_pa,omitempty"` // by the mix's own breaks; 0 where they carry no curve
	LowPa          float64 `json:"low_pa,omitempty"`      // of its 95 % band
	HighPa         float64 `json:"high_pa,omitempty"`
	Note           string  `json:"note,omitempty"`
	Caution        string  `json:"caution"`
	MoistH         float64 `json:"moist_h"`       // wet or covered at 10 °C or above, as far as temperatures are known
	MoistAskedH    float64 `json:"moist_asked_h"` // for ordinary cement
}

// DeviceEnd is the last event of a device that a figure rests on.
type DeviceEnd struct {
	Device string    `json:"device"`
	Crew   string    `json:"crew"`
	Seq    int32     `json:"seq"`
	LastAt time.Time `json:"last_at"`
}
