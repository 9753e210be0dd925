package view

import "time"

// Flags is what the record shows that a person should see.
type Flags struct {
	Site  string    `json:"site"`
	AsOf  time.Time `json:"as_of"`
	Units string    `json:"units"`
	Flags []Flag    `json:"flags"`
}

// Flag is one such thing with its evidence; open until answered.
type Flag struct {
	ID       string    `json:"id"`   // short, to be typed
	Code     string    `json:"code"` // cold-joint, drying, water-limit, set-aside, …
	Grave    bool      `json:"grave"`
	Subject  string    `json:"subject"` // the zone, batch, device or material that it is about
	Text     string    `json:"text"`
	Since    time.Time `json:"since"`
	Open     bool      `json:"open"`
	Answer   string    `json:"answer,omitempty"`
	Answerer string    `json:"answerer,omitempty"`
	Evidence []Fact    `json:"evidence,omitempty"`
	Formula  string    `json:"formula,omitempty"`
	Limit    string    `json:"limit,omitempty"`
	Source   string    `json:"source,omitempty"`
	Events   []string  `json:"events,omitempty"` // the events that it rests on
	Caution  string    `json:"caution,omitempty"`
}

// Fact is one figure of a flag's evidence, in words.
type Fact struct {
	Name  string `json:"name"`
	Value string `json:"value"`
}
