package view

import "time"

// Forecast is what is left to do and whether it can be done: a distribution, not a number.
type Forecast struct {
	Site        string         `json:"site"`
	AsOf        time.Time      `json:"as_of"`
	Units       string         `json:"units"`
	VolumeM3    float64        `json:"volume_m3"`
	Batches     BatchesLeft    `json:"batches"`
	Mixes       []MixForecast  `json:"mixes"`
	Materials   []MaterialNeed `json:"materials"`
	Pace        float64        `json:"pace_batches_per_hour"` // all crews together; 0: not known yet
	PaceNote    string         `json:"pace_note,omitempty"`
	WorkHours50 float64        `json:"work_hours_p50"`
	WorkHours90 float64        `json:"work_hours_p90"`
	Finish50    *time.Time     `json:"finish_p50,omitempty"`
	Finish90    *time.Time     `json:"finish_p90,omitempty"`
	Tomorrow    Tomorrow       `json:"tomorrow"`
}

// MixForecast is the batches that one mix still takes.
type MixForecast struct {
	Mix          string  `json:"mix"`
	VolumeM3     float64 `json:"volume_m3"`
	YieldMeanM3  float64 `json:"yield_mean_m3"`
	YieldSDM3    float64 `json:"yield_sd_m3"`
	Tested       int32   `json:"tested"` // batches weighed, from which yield is learned
	P50          int32   `json:"p50"`
	P90          int32   `json:"p90"`
	Distribution []Count `json:"distribution"`
}

// Count is the chance that at most so many batches do.
type Count struct {
	Batches    int32   `json:"batches"`
	Cumulative float64 `json:"cumulative"`
}

// MaterialNeed is one material against what is left to mix.
type MaterialNeed struct {
	Material     string  `json:"material"`
	PerBatchKg   float64 `json:"per_batch_kg"`
	OnHandKg     float64 `json:"on_hand_kg"`
	Need50Kg     float64 `json:"need_p50_kg"`
	Need90Kg     float64 `json:"need_p90_kg"`
	ShortKg      float64 `json:"short_kg"`      // of the 90 % figure
	LastsBatches int32   `json:"lasts_batches"` // whole batches that the stock makes
	RunsOut      string  `json:"runs_out,omitempty"`
	Counted      bool    `json:"counted"` // false where no stock of it was ever written
}

// Tomorrow is what the next working day takes at the present pace.
type Tomorrow struct {
	Date      string         `json:"date"`
	Hours     float64        `json:"hours"` // workable by the forecast weather
	Batches   int32          `json:"batches"`
	Suffices  bool           `json:"suffices"`
	Materials []MaterialNeed `json:"materials"`
	Note      string         `json:"note,omitempty"`
}
