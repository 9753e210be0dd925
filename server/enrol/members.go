package enrol

import (
	"crypto/ed25519"
	"slices"

	"hod/internal/chain"
	"hod/internal/event"
)

// Member is a device that the record lets in.
type Member struct {
	Device  event.Device
	Key     ed25519.PublicKey
	Role    event.Role
	Crew    event.Crew // none for some
	Label   string
	Revoked bool
	LastSeq uint64 // of a revoked one: the last of its events that stands
	// ExcludedFrom is the first of its events that does not count; 0: all count.
	ExcludedFrom uint64
}

// members are the devices that the record enrols, by what the root and those it empowers wrote. The first enrolment of
// a name holds, as in chain.KeyRing.
type members struct {
	root   event.Device
	byName map[event.Device]*Member
	byKey  map[string]*Member
	crews  map[event.Crew]bool // that devices are of, and that foremen planned
}

func newMembers(root event.Device) *members {
	return &members{root, map[event.Device]*Member{}, map[string]*Member{}, map[event.Crew]bool{}}
}

func (m *members) learn(e event.Event) {
	author := m.byName[e.Device]
	if b, ok := e.Body.(event.CrewPlanned); ok && author != nil && author.Role == event.Foreman {
		m.crews[b.Crew] = true
	}
	if e.Device != m.root && (author == nil || author.Role != event.SiteRole) {
		return
	}
	switch b := e.Body.(type) {
	case event.DeviceEnrolled:
		if e.Check() != nil || m.byName[b.Device] != nil || b.Device == m.root || chain.CheckKey(b.PublicKey) != nil {
			return
		}
		one := &Member{Device: b.Device, Key: b.PublicKey, Role: b.Role, Crew: b.Crew, Label: b.Label}
		m.byName[b.Device] = one
		if b.Crew != "" {
			m.crews[b.Crew] = true
		}
		if m.byKey[string(b.PublicKey)] == nil {
			m.byKey[string(b.PublicKey)] = one
		}
	case event.DeviceExcluded:
		if one := m.byName[b.Device]; one != nil && e.Device == m.root && e.Check() == nil {
			one.ExcludedFrom = b.FromSeq
		}
	case event.DeviceRevoked:
		if one := m.byName[b.Device]; one != nil {
			one.Revoked, one.LastSeq = true, b.LastSeq
		}
	default: // nothing else says who may write
	}
}

// Rights says which device a key is, as the record has it now; false if it is nobody's. A revoked device has none:
// whoever asks must look at Revoked.
func (r *Register) Rights(key ed25519.PublicKey) (Member, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return copyOf(r.members.byKey[string(key)])
}

// Member is the device of that name.
func (r *Register) Member(d event.Device) (Member, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return copyOf(r.members.byName[d])
}

// Members are all devices ever enrolled, by name.
func (r *Register) Members() []Member {
	r.mu.Lock()
	defer r.mu.Unlock()
	all := make([]Member, 0, len(r.members.byName))
	for _, m := range r.members.byName {
		all = append(all, *m)
	}
	slices.SortFunc(all, func(a, b Member) int {
		return event.CompareNames(event.Name{Device: a.Device}, event.Name{Device: b.Device})
	})
	return all
}

func copyOf(m *Member) (Member, bool) {
	if m == nil {
		return Member{}, false
	}
	return *m, true
}
