package view

import "time"

// Board is what a foreman looks at: what is about to go wrong, and how far the shell is.
type Board struct {
	Site        string      `json:"site"`
	AsOf        time.Time   `json:"as_of"`
	Units       string      `json:"units"` // metric or us
	Zones       []CoatLine  `json:"zones"`
	LiveEdges   []Joint     `json:"live_edges"` // soonest first
	Flags       []Flag      `json:"flags"`      // open, gravest first
	BatchesLeft BatchesLeft `json:"batches_left"`
	Weather     *Conditions `json:"weather,omitempty"`
	Crews       []CrewLine  `json:"crews"`
}

// CoatLine is the progress of one coat of a zone.
type CoatLine struct {
	Zone           string     `json:"zone"`
	Face           string     `json:"face,omitempty"`
	Coat           int32      `json:"coat"`
	Mix            string     `json:"mix"`
	State          string     `json:"state"` // waiting, under way, done
	AreaM2         float64    `json:"area_m2"`
	DesignM        float64    `json:"design_m"`
	MeanThicknessM float64    `json:"mean_thickness_m"`
	NeededM3       float64    `json:"needed_m3"`
	PlacedM3       float64    `json:"placed_m3"`
	LeftM3         float64    `json:"left_m3"`
	Batches        float64    `json:"batches"` // whole batches and parts of them
	LastPlacedAt   *time.Time `json:"last_placed_at,omitempty"`
}

// BatchesLeft is how many batches the plan still takes: as likely as not at most P50, nine times in ten at most P90.
type BatchesLeft struct {
	P50 int32 `json:"p50"`
	P90 int32 `json:"p90"`
}

// CrewLine says what a crew did today and when it was last heard.
type CrewLine struct {
	Crew        string     `json:"crew"`
	Batches     int32      `json:"batches"`
	MixedM3     float64    `json:"mixed_m3"`
	PlacedM3    float64    `json:"placed_m3"`
	LastEventAt *time.Time `json:"last_event_at,omitempty"`
}
