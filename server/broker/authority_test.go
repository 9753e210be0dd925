package broker

import (
	"crypto/ecdsa"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"hod/internal/auth"
	"hod/internal/bus"
)

var made = time.Date(2026, 7, 18, 9, 0, 0, 0, time.UTC)

// Fingerprint is the SHA-256 of the certificate in use, in hexadecimal.
func (a *Authority) Fingerprint() string {
	a.mu.Lock()
	defer a.mu.Unlock()
	sum := sha256.Sum256(a.certs[0].Raw)
	return hex.EncodeToString(sum[:])
}

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
	if _, until := a.Dates(); !until.Equal(made.AddDate(authorityYears, 0, 0)) {
		t.Errorf("good until %v", until)
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
			case c.want == "" && !before.certs[0].PublicKey.(*ecdsa.PublicKey).Equal(after.certs[0].PublicKey):
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
	if _, err := leaf.Verify(x509.VerifyOptions{
		Roots: pool, DNSName: "elsewhere.example",
		CurrentTime: now,
	}); err == nil {
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
}

// shown is what a server shows a device that connects with these settings, by a handshake in memory; the error is the
// device's. trusted is what the device has, clock its own.
func shown(t *testing.T, server *tls.Config, trusted []byte, clock time.Time) error {
	t.Helper()
	roots, err := auth.Certificates(trusted)
	if err != nil {
		t.Fatal(err)
	}
	here, there := net.Pipe()
	defer here.Close()
	done := make(chan struct{})
	go func() {
		defer close(done)
		defer there.Close()
		_ = tls.Server(there, server).Handshake() // the device's side says what was wrong
	}()
	err = tls.Client(here, bus.TLS(roots, func() time.Time { return clock })).Handshake()
	here.Close()
	<-done
	return err
}

func TestAClockThatIsWrongAtTheFirstStartMakesNoAuthorityThatKeepsPhonesOut(t *testing.T) {
	for _, wrong := range []time.Time{
		time.Unix(0, 0), made.AddDate(-3, 0, 0), made.AddDate(2, 0, 0), made.AddDate(11, 0, 0), time.Date(2200, 1, 1, 0,
			0, 0, 0, time.UTC),
	} {
		dir := t.TempDir()
		a, err := OpenAuthority(dir, wrong)
		if err != nil {
			t.Fatal(err)
		}
		from, until := a.Dates()
		if !from.Equal(Built().Add(-behind)) || until.Before(Built().AddDate(authorityYears, 0, 0)) {
			t.Errorf("made at %v it is good from %v to %v", wrong, from, until)
		}
		now := wrong
		settings, err := a.TLS(func() time.Time { return now })
		if err != nil {
			t.Fatal(err)
		}
		joined := a.PEM()
		// the server's clock goes to and fro
		for _, set := range []time.Time{wrong, made, time.Unix(0, 0), made.AddDate(11, 0, 0), made} {
			now = set
			if err := shown(t, settings, joined, made); err != nil {
				t.Errorf(
					"the authority was made at %v, the server's clock says %v: a phone with the right time is kept out: %v", wrong, set, err)
			}
		}
		again, err := OpenAuthority(dir, made)
		if err != nil {
			t.Fatal(err)
		}
		if settings, err = again.TLS(func() time.Time { return made }); err != nil {
			t.Fatal(err)
		}
		if err := shown(t, settings, joined, made); err != nil {
			t.Errorf("made at %v, and started again with the right time: %v", wrong, err)
		}
	}
}

// earlier is an authority as it was made before its dates were those of the program: by the clock, whatever it said.
func earlier(t *testing.T, clock time.Time) (dir string, cert []byte) {
	t.Helper()
	dir = t.TempDir()
	a, err := OpenAuthority(dir, clock)
	if err != nil {
		t.Fatal(err)
	}
	want := &x509.Certificate{
		SerialNumber: big.NewInt(7), Subject: pkix.Name{CommonName: "hod site authority"},
		NotBefore: clock.Add(-behind),
		NotAfter:  clock.AddDate(10, 0, 0), KeyUsage: x509.KeyUsageCertSign, IsCA: true, BasicConstraintsValid: true,
		MaxPathLenZero: true,
	}
	raw, err := x509.CreateCertificate(rand.Reader, want, want, a.key.Public(), a.key)
	if err != nil {
		t.Fatal(err)
	}
	cert = pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: raw})
	if err := os.WriteFile(filepath.Join(dir, certFile), cert, 0o600); err != nil {
		t.Fatal(err)
	}
	return dir, cert
}

func TestAnAuthorityThatAWrongClockMadeIsMadeAnewWithItsKeyAndLetsInWhoHasACode(t *testing.T) {
	for _, wrong := range []time.Time{time.Unix(0, 0), Built().AddDate(2, 1, 0)} {
		dir, cert := earlier(t, wrong)
		a, err := OpenAuthority(dir, made)
		if err != nil {
			t.Fatal(err)
		}
		settings, err := a.TLS(func() time.Time { return made })
		if err != nil {
			t.Fatal(err)
		}
		for what, trusted := range map[string][]byte{
			"the one that was made first": cert, "the one that was made anew": a.PEM(),
		} {
			if err := shown(t, settings, trusted, made); err != nil {
				t.Errorf("made at %v, a phone that knows %s: %v", wrong, what, err)
			}
		}
		if from, until := a.Dates(); from.After(made) || until.Before(made) {
			t.Errorf("it is good from %v to %v", from, until)
		}
	}
}

// A device joins in the first month, one each year after; the server is started anew now and then; one phone lies in a
// drawer for all the years.
func TestCertificatesAreRenewedInTimeForThirtyYearsAndNobodyJoinsAgain(t *testing.T) {
	dir, now := t.TempDir(), made
	clock := func() time.Time { return now }
	open := func() (*Authority, *tls.Config) {
		t.Helper()
		a, err := OpenAuthority(dir, now)
		if err != nil {
			t.Fatal(err)
		}
		settings, err := a.TLS(clock, "192.0.2.7")
		if err != nil {
			t.Fatal(err)
		}
		return a, settings
	}
	a, settings := open()
	var devices [][]byte
	seen := map[string]bool{}
	for month := range 30 * 12 {
		now = made.AddDate(0, month, 0)
		if month%120 == 50 {
			a, settings = open()
		}
		if month%12 == 0 {
			devices = append(devices, a.PEM())
		}
		seen[a.Fingerprint()] = true
		for _, i := range []int{0, month % len(devices), len(devices) - 1} {
			d := devices[i]
			for _, phone := range []time.Time{now, now.AddDate(0, 0, -20), now.AddDate(0, 3, 0)} {
				if err := shown(t, settings, d, phone); err != nil {
					t.Fatalf("in month %d the device of year %d, whose clock says %v, is kept out: %v", month, i, phone,
						err)
				}
			}
		}
	}
	if len(seen) < 4 {
		t.Errorf("in 30 years the authority had %d certificates of %d years", len(seen), authorityYears)
	}
	code := devices[len(devices)-1] // of a year ago at most; a code holds for 90 days
	if err := shown(t, settings, code, now); err != nil {
		t.Errorf("the last code's authority: %v", err)
	}
}

func TestAnotherKeyWithTheAuthoritysNameIsNotTrusted(t *testing.T) {
	a, err := OpenAuthority(t.TempDir(), made)
	if err != nil {
		t.Fatal(err)
	}
	other, err := OpenAuthority(t.TempDir(), made)
	if err != nil {
		t.Fatal(err)
	}
	settings, err := other.TLS(func() time.Time { return made })
	if err != nil {
		t.Fatal(err)
	}
	own := settings.GetCertificate
	settings.GetCertificate = func(hello *tls.ClientHelloInfo) (*tls.Certificate, error) {
		c, err := own(hello)
		if err == nil { // it shows the true authority too, which did not sign its own
			c.Certificate = append(c.Certificate, a.certs[0].Raw)
		}
		return c, err
	}
	if err := shown(t, settings, a.PEM(), made); !errors.As(err, new(x509.UnknownAuthorityError)) {
		t.Errorf("another site's server was let pass: %v", err)
	}
}

func TestADiskThatIsFullWhenACertificateIsDueEndsNoConnections(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "authority")
	a, err := OpenAuthority(dir, made)
	if err != nil {
		t.Fatal(err)
	}
	now := made.AddDate(authorityYears-authorityLeft, -3, 0)
	settings, err := a.TLS(func() time.Time { return now })
	if err != nil {
		t.Fatal(err)
	}
	if err := os.RemoveAll(dir); err != nil {
		t.Fatal(err)
	}
	now = now.AddDate(0, 10, 0)
	if err := shown(t, settings, a.PEM(), now); err != nil {
		t.Errorf("it could not be renewed, and is good for two months yet: %v", err)
	}
	if err := os.Mkdir(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	was := a.Fingerprint()
	if err := shown(t, settings, a.PEM(), now); err != nil || a.Fingerprint() == was {
		t.Errorf("the disk has room again: %v, renewed: %v", err, a.Fingerprint() != was)
	}
}

func TestACertificateThatIsNotGoodByThePhonesClockNamesItsDates(t *testing.T) {
	a, err := OpenAuthority(t.TempDir(), made)
	if err != nil {
		t.Fatal(err)
	}
	settings, err := a.TLS(func() time.Time { return made })
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		phone time.Time
		side  string
	}{
		{time.Unix(0, 0), "this device's clock is behind"},
		{made.AddDate(3, 0, 0), "this device's clock is ahead, or the server's was behind"},
	} {
		err := shown(t, settings, a.PEM(), c.phone)
		var dates *auth.OutOfDateError
		if !errors.As(err, &dates) {
			t.Fatalf("at %v: %v", c.phone, err)
		}
		for _, want := range []string{
			Built().Add(-behind).Format(time.DateOnly), "2027-07-18", c.phone.UTC().Format(time.DateOnly), c.side,
		} {
			if !strings.Contains(err.Error(), want) {
				t.Errorf("%q does not say %q", err, want)
			}
		}
	}
}
