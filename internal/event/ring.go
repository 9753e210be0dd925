package event

import (
	"crypto/ed25519"
	"errors"
	"fmt"
)

// ErrStranger is that no enrolment of a segment's device is known yet; the segment waits until one arrives.
var ErrStranger = errors.New("no enrolment of this device is known")

// Ring is the keys that a reader trusts: the site's root, and whom the record itself enrols, down from the root.
type Ring struct {
	Site string
	keys map[Device]ed25519.PublicKey
	may  map[Device]bool // may enrol others
}

// NewRing trusts nothing but the site's root.
func NewRing(site string, root Device, key ed25519.PublicKey) *Ring {
	return &Ring{Site: site, keys: map[Device]ed25519.PublicKey{root: key}, may: map[Device]bool{root: true}}
}

// Key of a device, nil if it is a stranger.
func (r *Ring) Key(d Device) ed25519.PublicKey { return r.keys[d] }

// Admit checks a segment's site and signature and learns whom its events enrol. It returns ErrStranger or ErrForged in
// its chain of errors where that is the reason.
func (r *Ring) Admit(s Segment) error {
	if s.Site != r.Site {
		return fmt.Errorf("the segment is of site %q, this one is %q", clip(s.Site), r.Site)
	}
	key := r.keys[s.Before.Device]
	if key == nil {
		return fmt.Errorf("segment of %q: %w", clip(string(s.Before.Device)), ErrStranger)
	}
	if err := s.Verify(key); err != nil {
		return err
	}
	for _, e := range s.Events {
		r.Learn(e)
	}
	return nil
}

// Learn takes in an event that is already known to be its author's own. The first enrolment of a name holds: a name is
// never given to a second key.
func (r *Ring) Learn(e Event) {
	b, ok := e.Body.(DeviceEnrolled)
	if !ok || !r.may[e.Device] || len(b.PublicKey) != ed25519.PublicKeySize || r.keys[b.Device] != nil ||
		checkName("device", b.Device) != nil {
		return
	}
	r.keys[b.Device] = ed25519.PublicKey(b.PublicKey)
	r.may[b.Device] = b.Role == SiteRole
}
