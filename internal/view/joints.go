package view

import "time"

// Joints is every place where later material meets, or is to meet, earlier.
type Joints struct {
	Site   string    `json:"site"`
	AsOf   time.Time `json:"as_of"`
	Units  string    `json:"units"`
	Joints []Joint   `json:"joints"` // open ones soonest first, then those that are made, worst first
}

// Joint is a contact inside a coat, along an edge, or of coat on coat.
type Joint struct {
	ID    string `json:"id"`
	Kind  string `json:"kind"` // inside, edge, below
	Zone  string `json:"zone"` // of the earlier side
	Face  string `json:"face,omitempty"`
	Coat  int32  `json:"coat"`
	Other string `json:"other,omitempty"` // the zone across the edge
	State string `json:"state"`           // live, closing, cold
	Made  bool   `json:"made"`            // later material has met it; State is then what it was at that moment
	// Consumed is the share of initial set used up, from the best to the worst that the record allows; they differ where
	// it does not say which placement lies along the edge.
	ConsumedLow    float64    `json:"consumed_low"`
	ConsumedHigh   float64    `json:"consumed_high"`
	MadeAt         *time.Time `json:"made_at,omitempty"`
	ClosesAt       *time.Time `json:"closes_at,omitempty"`    // the soonest that it may close
	TurnsAt        *time.Time `json:"turns_at,omitempty"`     // the soonest that it may turn cold
	TurnsLatest    *time.Time `json:"turns_latest,omitempty"` // the latest, where the record allows a range
	SetMinutes     float64    `json:"set_minutes"`            // initial set as the mix states it
	SetReferenceC  float64    `json:"set_reference_c"`        // at this temperature
	MaterialC      float64    `json:"material_c"`             // the earlier material now, or when met
	MaterialSource string     `json:"material_source"`        // where that temperature is from
	Length         float64    `json:"length_m,omitempty"`     // of the edge
	Earlier        []string   `json:"earlier,omitempty"`      // events of the earlier side
	Later          []string   `json:"later,omitempty"`        // events of the later side
	Treated        []string   `json:"treated,omitempty"`      // what was done about it, oldest first
	Note           string     `json:"note,omitempty"`         // what the answer rests on
}
