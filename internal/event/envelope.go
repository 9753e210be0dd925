package event

import "time"

// maxOffset lets a device start in 1970 after a flat battery and still be told the time.
const maxOffset = 100 * 365 * 24 * time.Hour

// ClockBasis says what the offset of a device's clock rests on when an event is written. A clock may be set between two
// contacts: then the offset of the contact before no longer holds.
type ClockBasis int32

// The bases. A newer version may write others, which are taken as BasisNotSaid.
const (
	BasisNotSaid ClockBasis = iota // measured at the last contact; whether the clock was set since was not looked at
	AtContact                      // measured at the last contact; whether the clock was set since cannot be told
	// carried on by the time since the device's start: it holds even if the clock was set
	Carried
)

// checkEnvelope says what around the body cannot be.
func (e Event) checkEnvelope() error {
	if e.HappenedAt.IsZero() {
		return cannot("event %q does not say when it happened", clip(e.Name.String()))
	}
	if e.Offset != nil && (*e.Offset > maxOffset || *e.Offset < -maxOffset) {
		return cannot("the clock of %q is said to be %s off; that cannot be", clip(string(e.Device)), sane(*e.Offset))
	}
	return first(
		checkName("device", e.Device),
		checkMaybeName("crew", e.Crew),
		checkTime("the event", e.HappenedAt),
		checkTime("its writing", e.LoggedAt),
		checkLine("name of the person", e.Person),
	)
}
