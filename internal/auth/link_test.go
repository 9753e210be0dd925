package auth_test

import (
	"crypto/ed25519"
	"strings"
	"testing"
	"time"

	"hod/internal/auth"
)

func TestALinkHoldsForItsSiteAndItsMakerOnly(t *testing.T) {
	public, key, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	other, _, err := ed25519.GenerateKey(nil)
	if err != nil {
		t.Fatal(err)
	}
	until := time.Date(2026, 7, 19, 6, 0, 0, 0, time.UTC)
	token := auth.NewLink("dune", "f1", until, key)
	link, err := auth.ReadLink(token)
	if err != nil || link.Device != "f1" || !link.Until.Equal(until) {
		t.Fatalf("read back %+v, %v", link, err)
	}
	if !link.Holds("dune", public) {
		t.Error("a link does not hold for the site and the key that it was made with")
	}
	if link.Holds("reef", public) || link.Holds("dune", other) || link.Holds("dune", nil) {
		t.Error("a link holds for another site, another key or none")
	}
	// Whatever single character is changed, the link opens nothing.
	for i := range token {
		for _, c := range "A.z0_" {
			changed := token[:i] + string(c) + token[i+1:]
			if changed == token {
				continue
			}
			if l, err := auth.ReadLink(changed); err == nil && l.Holds("dune", public) {
				t.Fatalf("changed at %d to %q it still holds", i, c)
			}
		}
	}
}

func FuzzReadLink(f *testing.F) {
	_, key, _ := ed25519.GenerateKey(nil)
	f.Add(auth.NewLink("dune", "f1", time.Unix(1_800_000_000, 0), key))
	f.Add("..")
	f.Add("ZjE.zik0zj." + strings.Repeat("A", 86))
	f.Add("ZjE.-1." + strings.Repeat("A", 86))
	f.Fuzz(func(t *testing.T, token string) {
		l, err := auth.ReadLink(token)
		if err == nil && (l.Until.IsZero() || l.Holds("dune", make([]byte, ed25519.PublicKeySize)) && len(token) < 90) {
			t.Errorf("%q is read as %+v", token, l)
		}
	})
}
