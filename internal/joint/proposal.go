package joint

import (
	"time"
)

// TurnedCold is when the earlier side of a contact turned cold, if it did in the time that is looked at.
func (s *Joints) TurnedCold(k Contact) (time.Time, bool) { return s.Turns(k.coat, k.From, 1) }
