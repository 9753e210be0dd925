package view

import "time"

// Zone is one zone in full.
type Zone struct {
	Site   string       `json:"site"`
	AsOf   time.Time    `json:"as_of"`
	Units  string       `json:"units"`
	Zone   string       `json:"zone"`
	Shape  string       `json:"shape,omitempty"`
	AreaM2 float64      `json:"area_m2"`
	Edges  []ZoneEdge   `json:"edges"`
	Coats  []ZoneCoat   `json:"coats"`
	Joints []Joint      `json:"joints"`
	Tended []TendedLine `json:"tended"`
}

// ZoneEdge is an edge that it shares.
type ZoneEdge struct {
	With    string  `json:"with"`
	LengthM float64 `json:"length_m"`
}

// ZoneCoat is one of its coats with what was placed.
type ZoneCoat struct {
	Progress   CoatLine        `json:"progress"`
	Placements []PlacementLine `json:"placements"`
	Strength   *Strength       `json:"strength,omitempty"`
}

// PlacementLine is one placement that stands.
type PlacementLine struct {
	Name     string    `json:"name"`
	Batch    string    `json:"batch"`
	From     time.Time `json:"from"`
	To       time.Time `json:"to"`
	VolumeM3 float64   `json:"volume_m3"`
	Basis    string    `json:"basis"`   // weighed, estimated, stated
	AgeMin   float64   `json:"age_min"` // from water contact to the end of placing
	Along    []string  `json:"along,omitempty"`
	GaugeM   []float64 `json:"gauge_m,omitempty"`
}

// TendedLine is one covering, uncovering or wetting.
type TendedLine struct {
	At   time.Time `json:"at"`
	Face string    `json:"face,omitempty"`
	What string    `json:"what"`
	With string    `json:"with,omitempty"`
}
