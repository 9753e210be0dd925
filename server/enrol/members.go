package enrol

import (
	"bytes"
	"crypto/ed25519"
	"slices"

	"hod/internal/chain"
	"hod/internal/event"
	"hod/internal/fold"
)

// Member is a device that is enrolled in the log.
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

// members are the devices that the log enrols. Who is one is for the fold to say, which also honours what was
// excluded and by whom: it is asked on a site that holds nothing but what says who takes part, so that who signs in
// never waits for the fold of the whole log.
type members struct {
	root event.Device
	site *fold.Site // enrolments, revocations and exclusions, of those who may ever write such

	// given is the key that each name was first given to, whether or not that counts now: a name is never given twice,
	// and chain.KeyRing verifies what goes by a name with that key for good.
	given map[event.Device]ed25519.PublicKey
	names map[string][]event.Device // that a key was given, first to last
	sites map[event.Device]bool     // devices that were ever given the role of the site
	crews map[plannedBy]uint64      // the first event of a device that plans a crew
}

type plannedBy struct {
	crew event.Crew
	by   event.Device
}

func newMembers(root event.Device) *members {
	return &members{
		root: root, site: fold.New("", root), given: map[event.Device]ed25519.PublicKey{},
		names: map[string][]event.Device{}, sites: map[event.Device]bool{}, crews: map[plannedBy]uint64{},
	}
}

func (m *members) learn(e event.Event) {
	if b, ok := e.Body.(event.CrewPlanned); ok && (e.Device == m.root || m.given[e.Device] != nil) && e.Check() == nil {
		at := plannedBy{b.Crew, e.Device}
		if first := m.crews[at]; first == 0 || e.Seq < first {
			m.crews[at] = e.Seq
		}
		return
	}
	if _, ok := event.MemberOf(e.Body); !ok || e.Device != m.root && !m.sites[e.Device] {
		return
	}
	if b, ok := e.Body.(event.DeviceEnrolled); ok {
		key := ed25519.PublicKey(b.PublicKey)
		if e.Check() != nil || chain.CheckKey(key) != nil || b.Device == m.root {
			return
		}
		if m.given[b.Device] == nil {
			m.given[b.Device] = key
			m.names[string(key)] = append(m.names[string(key)], b.Device)
		}
		if b.Role == event.SiteRole {
			m.sites[b.Device] = true
		}
	}
	m.site.Add(e)
}

// of returns the device that is enrolled under a name now; nil if there is none.
func (m *members) of(d event.Device) *Member {
	key := m.given[d]
	if key == nil {
		return nil
	}
	is, ok := m.site.MembershipOf(d)
	if !ok || !bytes.Equal(is.PublicKey, key) { // what it signs would be verified with another key
		return nil
	}
	return &Member{
		Device: d, Key: key, Role: is.Role, Crew: is.Crew, Label: is.Label,
		Revoked: is.Revoked, LastSeq: is.LastSeq, ExcludedFrom: is.ExcludedFrom,
	}
}

// crewsKnown returns the crews that enrolled devices belong to and those that foremen planned.
func (m *members) crewsKnown() []event.Crew {
	known := map[event.Crew]bool{}
	for d := range m.given {
		if is := m.of(d); is != nil && is.Crew != "" {
			known[is.Crew] = true
		}
	}
	for at, seq := range m.crews {
		name := event.Name{Device: at.by, Seq: seq}
		if !known[at.crew] && m.site.MayStand(name, event.Foreman, event.SiteRole) {
			known[at.crew] = true
		}
	}
	all := make([]event.Crew, 0, len(known))
	for crew := range known {
		all = append(all, crew)
	}
	slices.Sort(all)
	return all
}

// Rights returns the device that holds a key, by the log as it is now; false if no device does. A revoked device is
// returned, too, and may do nothing: the caller must check Revoked.
func (r *Register) Rights(key ed25519.PublicKey) (Member, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	for _, d := range r.members.names[string(key)] {
		if m := r.members.of(d); m != nil {
			return *m, true
		}
	}
	return Member{}, false
}

// Member returns the device that is enrolled under a name; false if there is none.
func (r *Register) Member(d event.Device) (Member, bool) {
	r.mu.Lock()
	defer r.mu.Unlock()
	if m := r.members.of(d); m != nil {
		return *m, true
	}
	return Member{}, false
}

// Members returns all enrolled devices, revoked ones included, sorted by name.
func (r *Register) Members() []Member {
	r.mu.Lock()
	defer r.mu.Unlock()
	all := make([]Member, 0, len(r.members.given))
	for d := range r.members.given {
		if m := r.members.of(d); m != nil {
			all = append(all, *m)
		}
	}
	slices.SortFunc(all, func(a, b Member) int {
		return event.CompareNames(event.Name{Device: a.Device}, event.Name{Device: b.Device})
	})
	return all
}
