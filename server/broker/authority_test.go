package broker

import (
	"crypto/ecdsa"
	"crypto/x509"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/internal/bus"
)

var made = time.Date(2026, 7, 18, 9, 0, 0, 0, time.UTC)

func TestAuthorityIsMadeOnce(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	a, err := OpenAuthority(dir, made)
	if err != nil {
		t.Fatal(err)
	}
	b, err := OpenAuthority(dir, made.AddDate(1, 0, 0))
	if err != nil {
		t.Fatal(err)
	}
	if a.Fingerprint() != b.Fingerprint() || string(a.PEM()) != string(b.PEM()) || len(a.Fingerprint()) != 64 {
		t.Errorf("opened again it is %s, was %s", b.Fingerprint(), a.Fingerprint())
	}
	other, err := OpenAuthority(t.TempDir(), made)
	if err != nil {
		t.Fatal(err)
	}
	if other.Fingerprint() == a.Fingerprint() {
		t.Error("two sites have one authority")
	}
	info, err := os.Stat(filepath.Join(dir, keyFile))
	if err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("the key's mode is %v, %v", info.Mode(), err)
	}
	if !a.cert.NotAfter.Equal(made.AddDate(authorityYears, 0, 0)) {
		t.Errorf("good until %v", a.cert.NotAfter)
	}
}

func TestAuthorityAfterAnAccident(t *testing.T) {
	for _, c := range []struct {
		name   string
		damage func(t *testing.T, dir string)
		want   string // in the error; empty if it opens with the same key
	}{
		{"stopped between key and certificate", func(t *testing.T, dir string) { remove(t, dir, certFile) }, ""},
		{"the key is lost", func(t *testing.T, dir string) { remove(t, dir, keyFile) }, "put the key back"},
		{"the key is open to all", func(t *testing.T, dir string) { chmod(t, dir, keyFile, 0o644) }, "chmod 600"},
		{"the key is another's", func(t *testing.T, dir string) {
			other := t.TempDir()
			if _, err := OpenAuthority(other, made); err != nil {
				t.Fatal(err)
			}
			if err := os.Rename(filepath.Join(other, keyFile), filepath.Join(dir, keyFile)); err != nil {
				t.Fatal(err)
			}
		}, "does not belong"},
		{"half a key", func(t *testing.T, dir string) { truncate(t, dir, keyFile) }, "holds no key"},
		{"half a certificate", func(t *testing.T, dir string) { truncate(t, dir, certFile) }, "holds no certificate"},
	} {
		t.Run(c.name, func(t *testing.T) {
			dir := t.TempDir()
			before, err := OpenAuthority(dir, made)
			if err != nil {
				t.Fatal(err)
			}
			c.damage(t, dir)
			after, err := OpenAuthority(dir, made)
			switch {
			case c.want == "" && err != nil:
				t.Fatal(err)
			case c.want == "" && !before.cert.PublicKey.(*ecdsa.PublicKey).Equal(after.cert.PublicKey):
				t.Error("it has another key")
			case c.want != "" && (err == nil || !strings.Contains(err.Error(), c.want)):
				t.Errorf("got %v, want %q in it", err, c.want)
			}
		})
	}
}

func remove(t *testing.T, dir, name string) {
	t.Helper()
	if err := os.Remove(filepath.Join(dir, name)); err != nil {
		t.Fatal(err)
	}
}

func chmod(t *testing.T, dir, name string, mode os.FileMode) {
	t.Helper()
	if err := os.Chmod(filepath.Join(dir, name), mode); err != nil {
		t.Fatal(err)
	}
}

func truncate(t *testing.T, dir, name string) {
	t.Helper()
	if err := os.Truncate(filepath.Join(dir, name), 40); err != nil {
		t.Fatal(err)
	}
}

func TestServersCertificate(t *testing.T) {
	a, err := OpenAuthority(t.TempDir(), made)
	if err != nil {
		t.Fatal(err)
	}
	now := made
	settings, err := a.TLS(func() time.Time { return now }, "192.0.2.7", "shell.example")
	if err != nil {
		t.Fatal(err)
	}
	pool := x509.NewCertPool()
	pool.AppendCertsFromPEM(a.PEM())
	show := func() *x509.Certificate {
		t.Helper()
		c, err := settings.GetCertificate(nil)
		if err != nil {
			t.Fatal(err)
		}
		return c.Leaf
	}
	leaf := show()
	for _, name := range []string{bus.ServerName, "192.0.2.7", "shell.example"} {
		// A phone may be 11 months behind.
		for _, clock := range []time.Time{now, now.AddDate(0, -11, 0), now.AddDate(0, 11, 0)} {
			if _, err := leaf.Verify(x509.VerifyOptions{Roots: pool, DNSName: name, CurrentTime: clock}); err != nil {
				t.Errorf("for %s at %s: %v", name, clock.Format(time.DateOnly), err)
			}
		}
	}
	if _, err := leaf.Verify(x509.VerifyOptions{Roots: pool, DNSName: "elsewhere.example", CurrentTime: now}); err == nil {
		t.Error("good for any name")
	}
	if leaf.IsCA {
		t.Error("a server's certificate can sign others")
	}
	if again := show(); !again.Equal(leaf) {
		t.Error("made anew without need")
	}
	now = made.AddDate(0, 10, 0)
	if again := show(); again.Equal(leaf) || !again.NotAfter.After(leaf.NotAfter) {
		t.Error("not made anew before it runs out")
	}
	now = made.AddDate(authorityYears, 0, 1)
	if _, err := settings.GetCertificate(nil); err == nil {
		t.Error("an authority that has run out still signs")
	}
}
