package placed

import (
	"time"

	"hod/internal/event"
)

// Sheltered says whether a face lies under the shell's own outer coat.
func (z *Zone) Sheltered(face event.Face, at time.Time) bool {
	if face != event.Inner {
		return false
	}
	for _, id := range z.Order {
		if id.Face == event.Outer && len(BeganBefore(z.Coats[id].Placed, at)) > 0 {
			return true
		}
	}
	return false
}
