package host

import (
	"crypto/ed25519"
	"slices"
	"testing"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/server/enrol"
	"hod/server/fault"
)

func replacement(d event.Device, old, next ed25519.PrivateKey) enrol.Replacement {
	said := auth.NewKey("dune", string(d), publicKey(next))
	return enrol.Replacement{
		Device: d, Key: publicKey(next), Proof: ed25519.Sign(next, said),
		OldProof: ed25519.Sign(old, said),
	}
}

func TestADevicesKeyIsReplacedByItsOwnerAloneAndTheOldOneEnds(t *testing.T) {
	dir, s := t.TempDir(), newStream()
	r := start(t, dir, s)
	old, next, thief := newKey(t), newKey(t), newKey(t)
	if _, err := r.Enrol(t.Context(), applicant(t, r.Host, old, south)); err != nil {
		t.Fatal(err)
	}
	good := replacement("s1", old, next)
	changed := func(change func(*enrol.Replacement)) enrol.Replacement {
		q := good
		q.Proof, q.OldProof = slices.Clone(q.Proof), slices.Clone(q.OldProof)
		change(&q)
		return q
	}
	for name, q := range map[string]enrol.Replacement{
		"a key that another signs for":  replacement("s1", thief, next),
		"a new key that was not proved": changed(func(q *enrol.Replacement) { q.Proof[3] ^= 1 }),
		"another new key than signed":   changed(func(q *enrol.Replacement) { q.Key = publicKey(thief) }),
		"a device that is not enrolled": replacement("s9", old, next),
		"the server's own device":       replacement(r.folder.Root, old, next),
	} {
		if m, _, err := r.ReplaceKey(t.Context(), q); kindOf(err) != fault.Denied {
			t.Errorf("%s: %+v, %v", name, m, err)
		}
	}
	if m, ok := r.Member("s1"); !ok || m.Revoked || len(r.Members()) != 1 {
		t.Fatalf("a refusal changed who is in: %+v", r.Members())
	}
	m, _, err := r.ReplaceKey(t.Context(), good)
	if err != nil || m.Device != "s2" || m.Crew != "south" || m.Role != event.CrewRole {
		t.Fatalf("it goes on as %+v, %v", m, err)
	}
	if m, ok := r.Rights(publicKey(old)); !ok || !m.Revoked {
		t.Errorf("the old key still opens: %+v", m)
	}
	// The answer was lost; the server has been started anew since.
	r.stop()
	r = start(t, dir, s)
	if m, _, err := r.ReplaceKey(t.Context(), good); err != nil || m.Device != "s2" || len(r.Members()) != 2 {
		t.Errorf("asked again: %+v, %v; members %+v", m, err, r.Members())
	}
	if _, _, err := r.ReplaceKey(t.Context(), replacement("s1", old, thief)); kindOf(err) != fault.Denied {
		t.Errorf("the old key, which has ended, brings in another: %v", err)
	}
}

// The server died after it had enrolled the new key and before it revoked the old one.
func TestAReplacementThatStoppedHalfWayIsFinishedWhenItIsAskedForAgain(t *testing.T) {
	r := start(t, t.TempDir(), newStream())
	old, next := newKey(t), newKey(t)
	if _, err := r.Enrol(t.Context(), applicant(t, r.Host, old, south)); err != nil {
		t.Fatal(err)
	}
	if _, err := r.Append(event.DeviceEnrolled{
		Device: "s2", PublicKey: publicKey(next), Role: event.CrewRole,
		Crew: "south",
	}); err != nil {
		t.Fatal(err)
	}
	m, _, err := r.ReplaceKey(t.Context(), replacement("s1", old, next))
	if was, _ := r.Member("s1"); err != nil || m.Device != "s2" || !was.Revoked {
		t.Errorf("asked again: %+v, %v; the old one is revoked: %v", m, err, was.Revoked)
	}
}
