package main

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"math/big"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"
)

// pair writes a certificate of that name and its key.
func pair(t *testing.T, dir, name string, changed time.Time) (cert, key string) {
	t.Helper()
	secret, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	is := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: name}, NotBefore: changed,
		NotAfter: changed.AddDate(1, 0, 0),
	}
	der, err := x509.CreateCertificate(rand.Reader, is, is, &secret.PublicKey, secret)
	if err != nil {
		t.Fatal(err)
	}
	hidden, err := x509.MarshalPKCS8PrivateKey(secret)
	if err != nil {
		t.Fatal(err)
	}
	cert, key = filepath.Join(dir, "pages.pem"), filepath.Join(dir, "pages.key")
	for path, block := range map[string]*pem.Block{cert: {Type: "CERTIFICATE", Bytes: der}, key: {
		Type:  "PRIVATE KEY",
		Bytes: hidden,
	}} {
		if err := os.WriteFile(path, pem.EncodeToMemory(block), 0o600); err != nil {
			t.Fatal(err)
		}
		if err := os.Chtimes(path, changed, changed); err != nil {
			t.Fatal(err)
		}
	}
	return cert, key
}

func TestARenewedCertificateOfThePagesIsReadAnewAndABrokenOneIsNotTaken(t *testing.T) {
	dir, now := t.TempDir(), time.Date(2026, 7, 18, 12, 0, 0, 0, time.UTC)
	cert, key := pair(t, dir, "first", now.Add(-time.Hour))
	c, err := openCertificate(cert, key, func() time.Time { return now }, zerolog.Nop())
	if err != nil {
		t.Fatal(err)
	}
	shows := func(want string) {
		t.Helper()
		now = now.Add(lookEvery)
		held, err := c.certificate(nil)
		if err != nil || held.Leaf.Subject.CommonName != want {
			t.Errorf("it shows %v, want %s; %v", held.Leaf.Subject, want, err)
		}
	}
	shows("first")
	pair(t, dir, "second", now)
	shows("second")
	if err := os.WriteFile(cert, []byte("half of it"), 0o600); err != nil {
		t.Fatal(err)
	}
	shows("second")
	pair(t, dir, "third", now.Add(time.Minute))
	shows("third")
	if _, err := openCertificate(filepath.Join(dir, "none.pem"), key, func() time.Time { return now },
		zerolog.Nop()); err == nil || !strings.Contains(err.Error(), "--pages-cert") {
		t.Errorf("a server starts without the certificate that it is told of: %v", err)
	}
}

func TestHowThePagesAreReachedFromOutside(t *testing.T) {
	for _, c := range []struct {
		flags   pagesFlags
		outside string // or what is wrong
	}{
		{pagesFlags{}, "192.0.2.7:7422"},
		{pagesFlags{address: "pages.example"}, "pages.example:7422"},
		{pagesFlags{address: "pages.example:443"}, "pages.example:443"},
		{pagesFlags{address: "pages.example", plain: "127.0.0.1:7423"}, "pages.example"},
		{pagesFlags{address: "pages.example", cert: "a", key: "b"}, "pages.example:7422"},
		{pagesFlags{cert: "a"}, "go together"},
		{pagesFlags{plain: "127.0.0.1:7423"}, "needs --pages-address"},
		{pagesFlags{address: "pages.example", plain: "0.0.0.0:7423"}, "not of this machine alone"},
		{pagesFlags{address: "pages.example", plain: "7423"}, "not of this machine alone"},
		{pagesFlags{address: "pages.example/x"}, "not the name of a machine"},
		{pagesFlags{address: "pages.example", plain: "127.0.0.1:7423", cert: "a", key: "b"}, "has no use"},
	} {
		got := c.flags.outside("192.0.2.7", "7422")
		if err := c.flags.check(); err != nil {
			got = err.Error()
		}
		if !strings.Contains(got, c.outside) {
			t.Errorf("%+v: %q, want %q", c.flags, got, c.outside)
		}
	}
}
