package event

import "time"

// maxOffset lets a device start in 1970 after a flat battery and still be told the time.
const maxOffset = 100 * 365 * 24 * time.Hour

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
