package view

import (
	"cmp"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
)

// Exclusion is that what a device wrote does not count, from one of its events on: no figure here rests on it.
type Exclusion struct {
	Device  string    `json:"device"`
	FromSeq int32     `json:"from_seq"`           // the first of its events that does not count
	LastSeq *int32    `json:"last_seq,omitempty"` // the last that was taken in before it was revoked; nil: not revoked
	Events  *int32    `json:"events,omitempty"`   // how many do not count; nil: not known
	Why     string    `json:"why,omitempty"`
	Since   time.Time `json:"since"`
	Event   string    `json:"event"` // that says so
}

// ExclusionsOf the site, by the devices' names. How many events do not count follows from the revocation, which names
// the last that was taken in: a reader that knows the exclusion does not read them, so it cannot count them.
func ExclusionsOf(s *fold.Site) []Exclusion {
	var all []Exclusion
	for d, x := range s.Exclusions() {
		v := Exclusion{Device: string(d), FromSeq: int32(x.From), Since: x.By.At().UTC(), Event: x.By.Name.String()}
		if b, ok := x.By.Body.(event.DeviceExcluded); ok {
			v.Why = b.Why
		}
		if m, ok := s.MembershipOf(d); ok && m.Revoked {
			v.LastSeq = new(int32(m.LastSeq))
			v.Events = new(int32(0))
			if m.LastSeq >= x.From {
				v.Events = new(int32(m.LastSeq - x.From + 1))
			}
		}
		all = append(all, v)
	}
	slices.SortFunc(all, func(a, b Exclusion) int { return cmp.Compare(a.Device, b.Device) })
	return all
}
