package view

import "time"

// Stock is what is on hand.
type Stock struct {
	Site      string          `json:"site"`
	AsOf      time.Time       `json:"as_of"`
	Units     string          `json:"units"`
	Materials []MaterialStock `json:"materials"`
}

// MaterialStock is one material's ledger.
type MaterialStock struct {
	Material      string     `json:"material"`
	OnHandKg      float64    `json:"on_hand_kg"`
	ReceivedKg    float64    `json:"received_kg"`
	UsedKg        float64    `json:"used_kg"`
	UsedTodayKg   float64    `json:"used_today_kg"`
	SpoiledKg     float64    `json:"spoiled_kg"`
	CountedAt     *time.Time `json:"counted_at,omitempty"`
	DiscrepancyKg float64    `json:"discrepancy_kg"` // last count less the ledger
	Note          string     `json:"note,omitempty"`
}
