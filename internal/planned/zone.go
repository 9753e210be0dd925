package planned

import (
	"hod/internal/event"
)

// Name of the coat that the plan is of.
func (c Coat) Name() event.Coat { return c.CoatPlanned.Coat }
