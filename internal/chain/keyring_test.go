package chain_test

import (
	"crypto/ed25519"
	"errors"
	"testing"

	"hod/internal/chain"
	"hod/internal/event"
)

// enrol is the root's or another's word that key writes as device.
func enrol(t testing.TB, by event.Device, seq uint64, device event.Device, key ed25519.PrivateKey,
	role event.Role,
) event.Event {
	return write(t, by, seq, event.DeviceEnrolled{Device: device, PublicKey: public(key), Role: role, Crew: "north"})
}

func TestRing(t *testing.T) {
	root, n2, n3, probes := seed(1), seed(2), seed(3), seed(4)
	fresh := func() *chain.KeyRing { return chain.NewKeyRing("vault", "root", public(root)) }

	t.Run("trusts the root, and whom it enrols from then on", func(t *testing.T) {
		r := fresh()
		s := sign(t, n2, start("vault", "n2"), note(t, "n2", 1))
		if err := r.Admit(s); !errors.Is(err, chain.ErrNotEnrolled) {
			t.Fatalf("before enrolment: %v, want a stranger", err)
		}
		if err := r.Admit(sign(t, root, start("vault", "root"),
			enrol(t, "root", 1, "n2", n2, event.CrewRole))); err != nil {
			t.Fatal(err)
		}
		if err := r.Admit(s); err != nil {
			t.Errorf("after enrolment: %v", err)
		}
		if !public(n2).Equal(r.Key("n2")) || r.Key("n3") != nil {
			t.Error("it holds other keys than were enrolled")
		}
	})

	t.Run("finds a segment by another key forged", func(t *testing.T) {
		r := fresh()
		r.Learn(enrol(t, "root", 1, "n2", n2, event.CrewRole))
		if err := r.Admit(sign(t, n3, start("vault", "n2"), note(t, "n2", 1))); !errors.Is(err, chain.ErrBadSignature) {
			t.Errorf("%v, want forged", err)
		}
	})

	t.Run("learns nothing from a forged segment", func(t *testing.T) {
		r := fresh()
		if err := r.Admit(sign(t, n2, start("vault", "root"),
			enrol(t, "root", 1, "n2", n2, event.SiteRole))); !errors.Is(err, chain.ErrBadSignature) {
			t.Errorf("%v, want forged", err)
		}
		if r.Key("n2") != nil {
			t.Error("a device enrolled itself")
		}
	})

	t.Run("lets only the site's own devices enrol", func(t *testing.T) {
		r := fresh()
		for seq, role := range []event.Role{event.CrewRole, event.Foreman, event.Inspector, event.Probe} {
			by := event.Device("d" + role.String())
			r.Learn(enrol(t, "root", uint64(seq)+1, by, n2, role))
			r.Learn(enrol(t, by, 1, "n3", n3, event.CrewRole))
			if r.Key("n3") != nil {
				t.Errorf("a %s enrolled another", role)
			}
		}
		r.Learn(enrol(t, "root", 9, "probes", probes, event.SiteRole))
		r.Learn(enrol(t, "probes", 1, "n3", n3, event.CrewRole))
		if !public(n3).Equal(r.Key("n3")) {
			t.Error("the site's own device could not enrol")
		}
	})

	t.Run("never gives a name to a second key", func(t *testing.T) {
		r := fresh()
		r.Learn(enrol(t, "root", 1, "n2", n2, event.CrewRole))
		r.Learn(enrol(t, "root", 2, "n2", n3, event.SiteRole))
		r.Learn(enrol(t, "root", 3, "root", n3, event.SiteRole))
		if !public(n2).Equal(r.Key("n2")) || !public(root).Equal(r.Key("root")) {
			t.Error("a name changed its key")
		}
		r.Learn(enrol(t, "n2", 1, "n4", n3, event.CrewRole))
		if r.Key("n4") != nil {
			t.Error("the second enrolment raised the first one's rights")
		}
	})

	t.Run("refuses another site's segment, even by its own root", func(t *testing.T) {
		s, err := chain.Sign(root, "dome", start("dome", "root"), []event.Event{note(t, "root", 1)})
		if err != nil {
			t.Fatal(err)
		}
		if err := fresh().Admit(s); err == nil || errors.Is(err, chain.ErrBadSignature) ||
			errors.Is(err, chain.ErrNotEnrolled) {
			t.Errorf("%v, want that the site is another", err)
		}
	})

	t.Run("passes over enrolments without a key or a name", func(t *testing.T) {
		r := fresh()
		e := enrol(t, "root", 1, "n2", n2, event.CrewRole)
		for _, b := range []event.DeviceEnrolled{
			{Device: "n2", PublicKey: []byte("short"), Role: event.CrewRole, Crew: "north"},
			{Device: "n\x002", PublicKey: public(n2), Role: event.CrewRole, Crew: "north"},
			{PublicKey: public(n2), Role: event.CrewRole, Crew: "north"},
		} {
			e.Body = b
			r.Learn(e)
			if r.Key(b.Device) != nil {
				t.Errorf("%q was enrolled", b.Device)
			}
		}
	})

	t.Run("learns an enrolment in the middle of a run", func(t *testing.T) {
		r := fresh()
		if err := r.Admit(sign(t, root, start("vault", "root"), note(t, "root", 1),
			enrol(t, "root", 2, "n2", n2, event.CrewRole), note(t, "root", 3))); err != nil {
			t.Fatal(err)
		}
		if r.Key("n2") == nil {
			t.Error("it was not learned")
		}
	})
}
