package planned

import (
	"hod/internal/event"
)

// SideTo is the side of a zone that its edge to another zone lies on; false where the plan does not say.
func (z *Zone) SideTo(other event.Zone) (string, bool) {
	for _, e := range z.Edges {
		if e.Parts == nil || e.Other(z.Zone) != other || z.Surface == nil {
			continue
		}
		part := e.Parts[0]
		if e.B == z.Zone {
			part = e.Parts[1]
		}
		return z.Surface.Sides()[part.Side], true
	}
	return "", false
}
