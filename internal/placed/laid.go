package placed

import (
	"hod/internal/trade/strip"
)

// Laid is where the placements of a coat lie, in the order of CoatIs.Placed.
type Laid struct {
	*strip.Laying
	Doubt  *strip.Doubt
	Starts []string // the side that each placement was begun from
	Areas  []strip.Placement
	Done   bool
}
