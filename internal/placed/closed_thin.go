package placed

import (
	"hod/internal/event"
)

// Closed reports whether the foreman closed it.
func (c CoatIs) Closed() bool {
	if c.Finish.Record == nil {
		return false
	}
	_, is := c.Finish.Record.Now.(event.CoatFinished)
	return is
}

// Gauged reports whether a thickness was read in it.
func (c CoatIs) Gauged() bool {
	for _, p := range c.Placed {
		if len(p.Gauges) > 0 {
			return true
		}
	}
	return false
}

// PlacedOver reports whether a coat that lies on it has mortar.
func (z ZoneIs) PlacedOver(c CoatIs) bool {
	for _, other := range z.Coats {
		a, b := c.Name(), other.Name()
		if a.Face == b.Face && b.Number > a.Number && len(other.Placed) > 0 {
			return true
		}
	}
	return false
}
