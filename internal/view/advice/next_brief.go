package advice

import (
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// What makes the adviser worth a line where nobody asked: an edge that turns soon, and little to spare. Choices of this
// program.
const (
	briefLooks = 2 * time.Hour
	briefSlack = 30 // minutes
)

// NextBriefOf is the advice to a crew where it is worth a line unasked: an edge is to be met with less than half an
// hour to spare. False where no edge turns soon, either choice is as good, or there is no advice.
func NextBriefOf(s *fold.Site, now time.Time, in *time.Location, crew event.Crew) (Next, bool) {
	if !TurnsSoon(s, now) {
		return Next{}, false
	}
	v := NextOf(s, now, in, crew)
	return v, v.WorthALine()
}

// TurnsSoon reports whether an edge that waits turns cold so soon that advice may be worth a line unasked.
func TurnsSoon(s *fold.Site, now time.Time) bool {
	soon := false
	for _, f := range s.Fronts() {
		at := s.At(f, now).Turns
		soon = soon || len(f.Treated) == 0 && at.After(now) && at.Before(now.Add(briefLooks))
	}
	return soon
}

// WorthALine reports whether advice is worth a line unasked: the batch meets an edge, and little is to spare.
func (v Next) WorthALine() bool {
	return v.Place != nil && !v.Either && v.Turns != nil && v.SlackMin != nil && *v.SlackMin < briefSlack
}
