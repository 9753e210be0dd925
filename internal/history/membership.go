package history

import (
	"hod/internal/event"
)

// Membership is what the log says of a device that it enrols and whose enrolment counts.
type Membership struct {
	event.DeviceEnrolled
	Revoked bool
	LastSeq uint64 // of a revoked one: the last of its events that stands
	// ExcludedFrom is the first of its events that does not count; 0: all count.
	ExcludedFrom uint64
}

// MembershipOf returns what holds of a device by all that the site holds: an enrolment or a revocation that is
// excluded, or that its author had no right to, says nothing. False for one that is not enrolled, and for the root.
func (s *Log) MembershipOf(d event.Device) (Membership, bool) {
	s.settleDevices()
	e, ok := s.enrolment(d)
	if !ok {
		return Membership{}, false
	}
	m := Membership{DeviceEnrolled: e, ExcludedFrom: s.excluded.from[d]}
	if last, revoked := s.lastStanding(d); revoked {
		m.Revoked, m.LastSeq = true, last
	}
	return m, true
}

// MayStand reports whether an event of that name, of a kind that its author may write, is neither excluded nor written
// after its author was revoked, and whether its author has one of the roles.
func (s *Log) MayStand(n event.Name, roles ...event.Role) bool {
	s.settleDevices()
	if last, revoked := s.lastStanding(n.Device); revoked && n.Seq > last || s.isExcluded(n) {
		return false
	}
	is := s.role(n.Device)
	for _, role := range roles {
		if is == role {
			return true
		}
	}
	return false
}
