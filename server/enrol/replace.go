package enrol

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"

	"hod/internal/auth"
	"hod/internal/chain"
	"hod/internal/event"
	"hod/server/fault"
)

// Replacement is a device's request to go on with another key.
type Replacement struct {
	Device   event.Device      // its name as it is
	Key      ed25519.PublicKey // the new one
	Proof    []byte            // Ed25519 by the new key over auth.NewKey
	OldProof []byte            // by the old one
}

// ReplaceKey enrols a device's new key and revokes the device that had the old one. The new key gets a name of its own,
// with the crew, role and label that the old one had: a name is never given to a second key, so whatever was signed
// stays checked by the key that signed it. It returns who the device is now and the last event that stands under the
// old name. Asked again after an answer that was lost, or after a crash between the two events, it finishes and answers
// the same.
func (r *Register) ReplaceKey(ctx context.Context, q Replacement) (Member, uint64, error) {
	said := auth.NewKey(r.is.Site, string(q.Device), q.Key)
	if chain.CheckKey(q.Key) != nil || !ed25519.Verify(q.Key, said, q.Proof) {
		return Member{}, 0, fault.New(fault.Denied, nil, "the device did not prove that it holds its new key")
	}
	select {
	case <-r.is.Log.Whole():
	case <-ctx.Done():
		return Member{}, 0, fault.NotYet(r.is.Site)
	}
	r.joining.Lock()
	defer r.joining.Unlock()
	old, ok := r.Member(q.Device)
	if !ok || !ed25519.Verify(old.Key, said, q.OldProof) {
		return Member{}, 0, fault.New(fault.Denied, nil,
			"the new key of %s is not signed by the key that it is enrolled with", fault.Quote(q.Device))
	}
	now, err := r.successor(old, q.Key)
	if err != nil {
		return Member{}, 0, err
	}
	if !old.Revoked {
		if err := r.revoke(old.Device, "its owner replaced its key; it goes on as "+string(now.Device)); err != nil {
			return Member{}, 0, err
		}
	}
	return now, r.revokedAt(old.Device), nil
}

// successor returns the device of the new key, after it has enrolled it where that was not done before.
func (r *Register) successor(old Member, key ed25519.PublicKey) (Member, error) {
	if m, ok := r.Rights(key); ok {
		if m.Revoked || m.Device == old.Device || m.Role != old.Role || m.Crew != old.Crew {
			return Member{}, fault.New(fault.Conflict, nil, "the new key is that of device %s; make another", m.Device)
		}
		return m, nil
	}
	if old.Revoked {
		return Member{}, fault.New(fault.Denied, nil,
			"device %s was revoked; its key cannot be replaced: join anew with a code, in another folder", old.Device)
	}
	all, err := r.invitations()
	if err != nil {
		return Member{}, err
	}
	r.mu.Lock()
	name := r.members.nameFor(old.Role, old.Crew, r.tag, promised(all, hex.EncodeToString(key)))
	r.mu.Unlock()
	if _, err := r.is.Log.Append(event.DeviceEnrolled{
		Device: name, PublicKey: key, Role: old.Role, Crew: old.Crew,
		Label: old.Label,
	}); err != nil {
		return Member{}, err
	}
	m, ok := r.Member(name)
	if !ok || !m.Key.Equal(key) {
		return Member{}, fault.New(fault.Conflict, nil, "the name %s went to another device meanwhile; try again", name)
	}
	r.is.Says.Info().Str("device", string(name)).Str("was", string(old.Device)).Msg("a device goes on with another key")
	return m, nil
}

// revokedAt returns the seq of the last event of a revoked device that still counts.
func (r *Register) revokedAt(d event.Device) uint64 {
	m, _ := r.Member(d)
	return m.LastSeq
}
