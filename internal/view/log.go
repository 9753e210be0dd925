package view

import "time"

// Log is the record as people read it.
type Log struct {
	Site    string    `json:"site"`
	AsOf    time.Time `json:"as_of"`
	Units   string    `json:"units"`
	Entries []Entry   `json:"entries"`
}

// Entry is one event in words.
type Entry struct {
	Name     string    `json:"name"` // n2/147
	Crew     string    `json:"crew,omitempty"`
	Person   string    `json:"person,omitempty"`
	At       time.Time `json:"at"`
	LoggedAt time.Time `json:"logged_at"`
	Kind     string    `json:"kind"`
	Text     string    `json:"text"`
	State    string    `json:"state"` // holds, amended, taken back, replaced, conflict, set aside
	Code     string    `json:"code,omitempty"`
	Reason   string    `json:"reason,omitempty"` // why it was set aside, or what it was corrected by
	Hash     string    `json:"hash"`
}
