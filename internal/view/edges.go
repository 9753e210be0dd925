package view

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// NextCold is the open edge that turns cold next, with all zones to which it does so at that instant.
type NextCold struct {
	Zone        string     `json:"zone"`
	Face        string     `json:"face,omitempty"`
	Coat        int32      `json:"coat"`
	Others      []string   `json:"others,omitempty"` // across the edges; none where it is inside the coat
	TurnsAt     time.Time  `json:"turns_at"`         // the soonest that it may turn cold
	TurnsLatest *time.Time `json:"turns_latest,omitempty"`
}

// Presses says whether an open joint is one to look at now: one that is live or closing, or that turned cold today and
// that nobody treated. The board shows these, and the exit code of a check is theirs: one rule, so that they agree.
// What has been cold since before today is Old, and is treated before anybody places there.
func (j Joint) Presses() bool {
	return !j.Made && !j.Ended && (j.State != "cold" || !j.Old && len(j.Treated) == 0)
}

// Pressing are the open joints that press, and how many old ones there are.
func Pressing(open []Joint) (all []Joint, old int32) {
	for _, j := range open {
		if j.Presses() {
			all = append(all, j)
		}
		if j.Old {
			old++
		}
	}
	return all, old
}

// NextColdOf of open joints; nil if none is to turn cold any more.
func NextColdOf(open []Joint) *NextCold {
	var next *NextCold
	for _, j := range open {
		switch {
		case j.State == "cold" || j.Ended || j.TurnsAt == nil:
		case next == nil || j.TurnsAt.Before(next.TurnsAt):
			next = &NextCold{Zone: j.Zone, Face: j.Face, Coat: j.Coat, TurnsAt: *j.TurnsAt, TurnsLatest: j.TurnsLatest}
			if j.Other != "" {
				next.Others = append(next.Others, j.Other)
			}
		case j.Other != "" && j.Zone == next.Zone && j.Face == next.Face && j.Coat == next.Coat &&
			j.TurnsAt.Equal(next.TurnsAt):
			next.Others = append(next.Others, j.Other)
		}
	}
	return next
}

// isOld says whether an open joint turned cold before the day of an instant and nobody treated it since.
func (j Joint) isOld(now time.Time, in *time.Location) bool {
	turned := j.TurnsAt
	if j.TurnsLatest != nil {
		turned = j.TurnsLatest
	}
	return j.State == "cold" && (j.Ended || len(j.Treated) == 0) && turned != nil &&
		turned.Before(StartOfDay(now.In(in)))
}

// byUrgency orders open joints: what is closing, what turned cold today, what is live, and last what is cold and old or
// treated. Of those that are yet to turn cold the soonest comes first, of those that are the latest.
func byUrgency(open []Joint) {
	rank := func(j Joint) int {
		switch {
		case j.State == "closing":
			return 0
		case j.State == "cold" && j.Presses():
			return 1
		case j.State == "cold":
			return 3
		}
		return 2
	}
	slices.SortStableFunc(open, func(a, b Joint) int {
		soonest := Sooner(a.TurnsAt, b.TurnsAt)
		if a.State == "cold" && b.State == "cold" {
			soonest = -soonest
		}
		return cmp.Or(rank(a)-rank(b), soonest, cmp.Compare(a.Zone, b.Zone), cmp.Compare(a.Other, b.Other),
			cmp.Compare(a.Coat, b.Coat))
	})
}

// EdgesOf are the open joints of a crew's own material that are inside their warning time, or turned cold today and
// were not treated: what its people must hear of without asking. The most urgent comes first.
func EdgesOf(s *fold.Site, now time.Time, in *time.Location, crew event.Crew) []Joint {
	var all []Joint
	// What turned cold before today presses no more.
	for _, j := range openJoints(s, s.FrontsSince(StartOfDay(now.In(in))), now, in) {
		if j.State != "live" && j.Presses() &&
			slices.ContainsFunc(j.Earlier, func(name string) bool { return placedBy(s, name) == crew }) {
			all = append(all, j)
		}
	}
	return all
}

// placedBy is the crew whose batch an event placed; empty if the event is no placement.
func placedBy(s *fold.Site, name string) event.Crew {
	n, err := event.ParseName(name)
	if err != nil {
		return ""
	}
	if r, ok := s.Record(n); ok {
		if p, ok := r.Now.(event.Placement); ok {
			return p.Batch.Crew
		}
	}
	return ""
}
