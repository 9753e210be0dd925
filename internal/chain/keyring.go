package chain

import (
	"crypto/ed25519"
	"errors"
	"fmt"

	"hod/internal/event"
)

var (
	// ErrNotEnrolled is returned when no enrolment of a segment's device is known yet; the segment waits until one
	// arrives.
	ErrNotEnrolled = errors.New("no enrolment of this device is known")
	// ErrWrongSite is returned for a segment of another site.
	ErrWrongSite = errors.New("another site's")
)

// KeyRing holds the keys that a reader trusts: the site's root, whom the log itself enrols, down from the root, and the
// reader's own.
type KeyRing struct {
	site string
	keys map[event.Device]ed25519.PublicKey
	may  map[event.Device]bool // may enrol others

	own    event.Device
	ownKey ed25519.PublicKey
}

// NewKeyRing returns one that trusts nothing but the site's root.
func NewKeyRing(site string, root event.Device, key ed25519.PublicKey) *KeyRing {
	return &KeyRing{
		site: site, keys: map[event.Device]ed25519.PublicKey{root: key}, may: map[event.Device]bool{root: true},
	}
}

// TrustOwn has the ring know the reader's own hand until an enrolment says what its key is: after a restore, a device's
// own events may come before its enrolment does. It gives no right to enrol.
func (r *KeyRing) TrustOwn(d event.Device, key ed25519.PublicKey) { r.own, r.ownKey = d, key }

// Key returns the key of a device, nil if it is not enrolled.
func (r *KeyRing) Key(d event.Device) ed25519.PublicKey {
	if key := r.keys[d]; key != nil || d != r.own {
		return key
	}
	return r.ownKey
}

// Verify checks a segment's site and signature. The error is ErrWrongSite, ErrNotEnrolled or ErrBadSignature, in words.
func (r *KeyRing) Verify(s Segment) error {
	if s.Site != r.site {
		return fmt.Errorf("the segment is of site %q, this one is %q: %w", clip(s.Site), r.site, ErrWrongSite)
	}
	key := r.Key(s.Before.Device)
	if key == nil {
		return fmt.Errorf("segment of %q: %w", clip(string(s.Before.Device)), ErrNotEnrolled)
	}
	return s.Verify(key)
}

// Admit verifies a segment and learns whom its events enrol.
func (r *KeyRing) Admit(s Segment) error {
	if err := r.Verify(s); err != nil {
		return err
	}
	for _, e := range s.Events {
		r.Learn(e)
	}
	return nil
}

// Learn takes in an event that is already known to be its author's own. The first enrolment of a name holds: a name is
// never given to a second key.
func (r *KeyRing) Learn(e event.Event) {
	b, ok := e.Body.(event.DeviceEnrolled)
	if !ok || !r.may[e.Device] || r.keys[b.Device] != nil || event.CheckDevice(b.Device) != nil ||
		CheckKey(b.PublicKey) != nil {
		return
	}
	r.keys[b.Device] = ed25519.PublicKey(b.PublicKey)
	r.may[b.Device] = b.Role == event.SiteRole
}

// LearnAll takes in events in any order: one enrolment may give the right to make another that comes before it.
func (r *KeyRing) LearnAll(events []event.Event) {
	for known := -1; known < len(r.keys); {
		known = len(r.keys)
		for _, e := range events {
			r.Learn(e)
		}
	}
}

// clip keeps a stranger's text short in a message.
func clip(s string) string {
	for i := range s { // at the edge of a character
		if i >= 40 {
			return s[:i] + "…"
		}
	}
	return s
}
