package history

import (
	"time"
)

const (
	// clockSlack is by how much two times may stand the wrong way round that people typed, or that clocks made of which
	// a contact has measured how far they are off, or that one device made.
	clockSlack = 10 * time.Minute
	// unmeasuredSlack is the same where a clock made one of the times that no contact has measured yet.
	unmeasuredSlack = 2 * time.Hour
)

// Slack is by how much the times of two records may stand the wrong way round.
func Slack(a, b *Record) time.Duration {
	sure := func(r *Record) bool { return r.clock.Typed || r.clock.Offset != nil }
	if sure(a) && sure(b) || a.clock.Device == b.clock.Device {
		return clockSlack
	}
	return unmeasuredSlack
}
