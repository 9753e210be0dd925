package history

import (
	"cmp"
	"fmt"
	"slices"

	"hod/internal/event"
)

// device is what the record says of one: whose it is and what it may do.
type device struct {
	Enrolled []*Record
	Revoked  []*Record
}

// Device is an enrolled device.
type Device struct {
	Name    event.Device
	Crew    event.Crew
	Role    event.Role
	Label   string
	Revoked bool
	Last    uint64 // seq of its last event known
	Events  int
}

// Devices are those enrolled, by name.
func (s *Log) Devices() []Device {
	s.settleDevices()
	var all []Device
	for name := range s.Members {
		e, ok := s.enrolment(name)
		if !ok {
			continue
		}
		d := Device{Name: name, Crew: e.Crew, Role: e.Role, Label: e.Label, Events: len(s.by.Member[name])}
		_, d.Revoked = s.lastStanding(name)
		for _, r := range s.by.Member[name] {
			d.Last = max(d.Last, r.Seq)
		}
		events, last := s.Packed.Of(name)
		d.Events, d.Last = d.Events+events, max(d.Last, last)
		events, last = s.DeferredOf(name)
		d.Events, d.Last = d.Events+events, max(d.Last, last)
		all = append(all, d)
	}
	slices.SortFunc(all, func(a, b Device) int {
		return event.CompareNames(event.Name{Device: a.Name}, event.Name{Device: b.Name})
	})
	return all
}

// enrolment that holds: the first by name of the enroller, since a name is never given twice.
func (s *Log) enrolment(d event.Device) (event.DeviceEnrolled, bool) {
	if s.Members[d] == nil || len(s.Members[d].Enrolled) == 0 {
		return event.DeviceEnrolled{}, false
	}
	first := slices.MinFunc(s.Members[d].Enrolled, func(a, b *Record) int { return event.CompareNames(a.Name, b.Name) })
	return first.Now.(event.DeviceEnrolled), true
}

func (s *Log) lastStanding(d event.Device) (uint64, bool) {
	if s.Members[d] == nil || len(s.Members[d].Revoked) == 0 {
		return 0, false
	}
	last := ^uint64(0)
	for _, r := range s.Members[d].Revoked {
		last = min(last, r.Now.(event.DeviceRevoked).LastSeq)
	}
	return last, true
}

// role of a device: what it may do.
func (s *Log) role(d event.Device) event.Role {
	if d == s.root {
		return event.SiteRole
	}
	e, _ := s.enrolment(d)
	return e.Role
}

// CrewOf is the crew that a device belongs to.
func (s *Log) CrewOf(d event.Device) event.Crew {
	s.settleDevices()
	return s.crewOf(d)
}

func (s *Log) crewOf(d event.Device) event.Crew {
	e, _ := s.enrolment(d)
	return e.Crew
}

// standing says why a record cannot stand for reasons that lie in itself and its author; nil if it can.
func (s *Log) standing(r *Record) *Aside {
	if r.Aside != nil && r.Aside.Code == Forked {
		return r.Aside
	}
	if again := s.repeats(r); again != nil {
		return again
	}
	role := s.role(r.Device)
	if role == event.NoRole {
		return &Aside{NotEnrolled, fmt.Sprintf("device %s is not enrolled as far as this record goes", r.Device)}
	}
	if last, revoked := s.lastStanding(r.Device); revoked && r.Seq > last {
		return &Aside{Revoked, fmt.Sprintf("device %s was revoked after its event %d", r.Device, last)}
	}
	if r.Body == nil {
		return &Aside{UnknownBody, "written by a newer version; kept and passed on"}
	}
	if err := r.Check(); err != nil {
		return &Aside{CannotBe, err.Error()}
	}
	return s.right(r.Device, role, r.Body)
}

// right says why a device may not write this; nil if it may. What it may not write it may not amend anything into. Who
// may write a kind of event is said in its file in event.
func (s *Log) right(author event.Device, role event.Role, body event.Body) *Aside {
	no := func(format string, args ...any) *Aside { return &Aside{NoRight, fmt.Sprintf(format, args...)} }
	if role == event.SiteRole {
		return nil
	}
	by, instead := event.WritersOf(body)
	if by == event.Server {
		return no("only the site's server enrols and revokes devices; ask at the server")
	}
	switch role {
	case event.Foreman:
		return nil
	case event.Inspector:
		return no("an inspector reads and verifies, and writes nothing")
	case event.Probe:
		if by == event.Probes {
			return nil
		}
		return no("a probe writes readings only")
	}
	if by == event.Foremen {
		return no("%s", cmp.Or(instead, "a foreman plans and settles; ask the foreman"))
	}
	if owner, owned := event.OwnerOf(body); owned && owner != s.crewOf(author) {
		return no("device %s writes batches of crew %s, not of %s", author, s.crewOf(author), owner)
	}
	return nil
}

// CorrectsAll reports whether a device may correct what any crew wrote: the foreman's, and the server's own.
func (s *Log) CorrectsAll(d event.Device) bool {
	role := s.role(d)
	return role == event.SiteRole || role == event.Foreman
}

// rightToCorrect says why an author may not correct target; nil if it may.
func (s *Log) rightToCorrect(fix, target *Record) *Aside {
	if fix.Device == target.Device {
		return nil
	}
	switch s.role(fix.Device) {
	case event.SiteRole, event.Foreman:
		return nil
	}
	if own := s.crewOf(fix.Device); own != "" && own == s.crewOf(target.Device) {
		return nil
	}
	return &Aside{NoRight, fmt.Sprintf("%s is another crew's; they or the foreman correct it", target.Name)}
}
