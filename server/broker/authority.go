package broker

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"runtime/debug"
	"slices"
	"sync"
	"time"

	"hod/internal/auth"
	"hod/internal/bus"
)

// How long certificates are good for. Phones with a clock that is months behind are let in: a certificate begins when
// its authority does, and that a year before this program was built.
const (
	authorityYears = 10
	authorityLeft  = 5 // years; an authority that is good for less is renewed
	behind         = 365 * 24 * time.Hour
	certified      = 365 * 24 * time.Hour
	renewBefore    = 120 * 24 * time.Hour

	mostFormer = 3 // certificates of an authority that are still shown beside its latest
)

// Built is when this program was built, as far as its builder noted it, and else a time before the first of its kind. A
// clock that says less is wrong, so nothing is dated by it.
var Built = sync.OnceValue(func() time.Time {
	if info, ok := debug.ReadBuildInfo(); ok {
		for _, s := range info.Settings {
			if t, err := time.Parse(time.RFC3339, s.Value); err == nil && s.Key == "vcs.time" &&
				t.After(auth.FirstBuilt) {
				return t
			}
		}
	}
	return auth.FirstBuilt
})

const (
	keyFile  = "authority.key"
	certFile = "authority.crt"
)

// Authority is the site's certificate authority: what a device trusts, and nothing else, when it has once been shown
// its fingerprint. Its key leaves its folder only in a backup that a person makes, and stays what it is for as long as
// the site lasts; its certificate is renewed in time. Safe for several goroutines.
type Authority struct {
	path string
	key  crypto.Signer

	mu sync.Mutex
	// certs holds the certificate in use, then former ones: codes and devices know those.
	certs []*x509.Certificate
}

// OpenAuthority takes the authority in dir, and makes it there if there is none. now is the clock's; what it makes
// begins when this program was built, whatever the clock says. It refuses a key that others on the machine may read,
// and a certificate whose key is missing: every device would have to be enrolled again, which is not to happen by
// accident.
func OpenAuthority(dir string, now time.Time) (*Authority, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make the folder of the site's authority: %w", err)
	}
	flushNames(filepath.Dir(dir)) // a key in a folder whose own name is not flushed may be gone with it
	keyPath, certPath := filepath.Join(dir, keyFile), filepath.Join(dir, certFile)
	key, err := readKey(keyPath)
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(certPath); err == nil {
			return nil,
				fmt.Errorf(
					"%s is there but %s is not: put the key back from the backup, or move both away and enrol every device again", certPath, keyPath)
		}
		key, err = makeKey(keyPath)
	}
	if err != nil {
		return nil, err
	}
	a := &Authority{path: certPath, key: key}
	a.certs, err = readCerts(certPath)
	if errors.Is(err, fs.ErrNotExist) { // never made, or the machine stopped between key and certificate
		err = a.certify(now)
	}
	if err != nil {
		return nil, err
	}
	for _, c := range a.certs {
		if public, ok := key.Public().(*ecdsa.PublicKey); !ok || !public.Equal(c.PublicKey) {
			return nil, fmt.Errorf("%s does not belong to %s: put both back from the same backup", keyPath, certPath)
		}
	}
	return a, nil
}

// Dates are those between which the authority's certificate is good.
func (a *Authority) Dates() (from, until time.Time) {
	a.mu.Lock()
	defer a.mu.Unlock()
	return a.certs[0].NotBefore, a.certs[0].NotAfter
}

// current renews the certificate where it must be, and returns all that are shown, the one in use first. It must be
// where it ends soon, and where it begins after this program was built, by a clock that was wrong then.
func (a *Authority) current(now time.Time) ([]*x509.Certificate, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	last := a.certs[0]
	if last.NotBefore.After(Built()) || latest(now, Built()).AddDate(authorityLeft, 0, 0).After(last.NotAfter) {
		if err := a.certify(now); err != nil {
			return nil, err
		}
	}
	return slices.Clone(a.certs), nil
}

func latest(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// PEM is the authority's certificate, which devices keep.
func (a *Authority) PEM() []byte {
	a.mu.Lock()
	defer a.mu.Unlock()
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.certs[0].Raw})
}

// DER is the authority's certificate as phones install it.
func (a *Authority) DER() []byte {
	a.mu.Lock()
	defer a.mu.Unlock()
	return slices.Clone(a.certs[0].Raw)
}

// TLS is what a server of the site shows: TLS 1.3 only, a certificate for bus.ServerName and for the hosts and
// addresses given, and those of the authority behind it, made anew in time while the server runs. clock is the
// server's. Only a running server calls it: it may renew the authority, and two who did so at once would not know of
// each other.
func (a *Authority) TLS(clock func() time.Time, hosts ...string) (*tls.Config, error) {
	r := &renewed{authority: a, hosts: hosts, clock: clock}
	if _, err := r.certificate(nil); err != nil {
		return nil, err
	}
	return &tls.Config{MinVersion: tls.VersionTLS13, GetCertificate: r.certificate}, nil
}

// renewed is a server's certificate, kept until it is nearly out of date.
type renewed struct {
	authority *Authority
	hosts     []string
	clock     func() time.Time

	mu   sync.Mutex
	cert *tls.Certificate
}

func (r *renewed) certificate(*tls.ClientHelloInfo) (*tls.Certificate, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	now := r.clock()
	if r.cert != nil && now.Before(r.cert.Leaf.NotAfter.Add(-renewBefore)) {
		return r.cert, nil
	}
	fresh, err := r.authority.issue(now, r.hosts)
	if err != nil && r.cert != nil && now.Before(r.cert.Leaf.NotAfter) {
		return r.cert, nil // a disk that is full ends no connections; the next handshake tries again
	} else if err != nil {
		return nil, err
	}
	r.cert = fresh
	return fresh, nil
}

// issue a server's certificate with a key of its own. By a clock that must be wrong it is good for as long as the
// authority.
func (a *Authority) issue(now time.Time, hosts []string) (*tls.Certificate, error) {
	all, err := a.current(now)
	if err != nil {
		return nil, err
	}
	authority := all[0]
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make a server's key: %w", err)
	}
	number, err := serial()
	if err != nil {
		return nil, err
	}
	until := authority.NotAfter
	if end := now.Add(certified); !now.Before(Built()) && end.Before(until) {
		until = end
	}
	want := &x509.Certificate{
		SerialNumber: number,
		Subject:      pkix.Name{CommonName: bus.ServerName},
		NotBefore:    authority.NotBefore,
		NotAfter:     until,
		KeyUsage:     x509.KeyUsageDigitalSignature,
		ExtKeyUsage:  []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
		DNSNames:     []string{bus.ServerName},
	}
	for _, h := range hosts {
		if ip := net.ParseIP(h); ip != nil {
			want.IPAddresses = append(want.IPAddresses, ip)
		} else if h != "" && !slices.Contains(want.DNSNames, h) {
			want.DNSNames = append(want.DNSNames, h)
		}
	}
	raw, err := x509.CreateCertificate(rand.Reader, want, authority, key.Public(), a.key)
	if err != nil {
		return nil, fmt.Errorf("sign a server's certificate: %w", err)
	}
	leaf, err := x509.ParseCertificate(raw)
	if err != nil {
		return nil, fmt.Errorf("sign a server's certificate: %w", err)
	}
	shown := &tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key, Leaf: leaf}
	for _, c := range all {
		shown.Certificate = append(shown.Certificate, c.Raw)
	}
	return shown, nil
}

func readKey(path string) (crypto.Signer, error) {
	info, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("the key of the site's authority: %w", err)
	}
	if runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		return nil, fmt.Errorf("%s may be read by others on this machine: make it the server's alone (chmod 600)", path)
	}
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("the key of the site's authority: %w", err)
	}
	block, _ := pem.Decode(raw)
	if block == nil {
		return nil, fmt.Errorf("%s holds no key: put it back from the backup", path)
	}
	key, err := x509.ParsePKCS8PrivateKey(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%s holds no key: put it back from the backup: %w", path, err)
	}
	signer, ok := key.(*ecdsa.PrivateKey)
	if !ok {
		return nil, fmt.Errorf("%s holds another kind of key: put it back from the backup", path)
	}
	return signer, nil
}

func makeKey(path string) (crypto.Signer, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make the key of the site's authority: %w", err)
	}
	raw, err := x509.MarshalPKCS8PrivateKey(key)
	if err != nil {
		return nil, fmt.Errorf("encode the key of the site's authority: %w", err)
	}
	return key, keep(path, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: raw}), 0o600)
}

func readCerts(path string) ([]*x509.Certificate, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("the certificate of the site's authority: %w", err)
	}
	all, err := auth.Certificates(raw)
	if err != nil {
		return nil, fmt.Errorf("%s holds no certificate: put it back from the backup: %w", path, err)
	}
	return all, nil
}

// certify makes a certificate, keeps it before the former ones, and flushes them. It begins no later than the one
// before: phones whose clock is behind go on.
func (a *Authority) certify(now time.Time) error {
	number, err := serial()
	if err != nil {
		return err
	}
	from, until := Built().Add(-behind), latest(now, Built()).AddDate(authorityYears, 0, 0)
	if len(a.certs) > 0 && a.certs[0].NotBefore.Before(from) {
		from = a.certs[0].NotBefore
	}
	want := &x509.Certificate{
		SerialNumber:          number,
		Subject:               pkix.Name{CommonName: "hod site authority"},
		NotBefore:             from,
		NotAfter:              until,
		KeyUsage:              x509.KeyUsageCertSign,
		IsCA:                  true,
		BasicConstraintsValid: true,
		MaxPathLenZero:        true,
	}
	raw, err := x509.CreateCertificate(rand.Reader, want, want, a.key.Public(), a.key)
	if err != nil {
		return fmt.Errorf("sign the certificate of the site's authority: %w", err)
	}
	made, err := x509.ParseCertificate(raw)
	if err != nil {
		return fmt.Errorf("sign the certificate of the site's authority: %w", err)
	}
	all := append([]*x509.Certificate{made}, a.certs...)
	all = all[:min(len(all), 1+mostFormer)]
	var text []byte
	for _, c := range all {
		text = append(text, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Raw})...)
	}
	if err := keep(a.path, text, 0o600); err != nil {
		return err
	}
	a.certs = all
	return nil
}

// keep writes a file whole or not at all, and flushes it, so that a machine that stops leaves no half a key.
func keep(path string, data []byte, mode fs.FileMode) error {
	temp := path + ".new"
	f, err := os.OpenFile(temp, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, mode)
	if err != nil {
		return fmt.Errorf("keep %s: %w", path, err)
	}
	_, err = f.Write(data)
	err = errors.Join(err, f.Sync(), f.Close())
	if err == nil {
		err = os.Rename(temp, path)
	}
	if err != nil {
		return fmt.Errorf("keep %s: %w", path, err)
	}
	flushNames(filepath.Dir(path))
	return nil
}

// flushNames makes the names in a folder durable, where the system can.
func flushNames(dir string) {
	if folder, err := os.Open(dir); err == nil {
		_ = folder.Sync() // not every system can flush a folder; the files themselves are flushed
		_ = folder.Close()
	}
}

func serial() (*big.Int, error) {
	n, err := rand.Int(rand.Reader, new(big.Int).Lsh(big.NewInt(1), 127))
	if err != nil {
		return nil, fmt.Errorf("draw a certificate's number: %w", err)
	}
	return n.Add(n, big.NewInt(1)), nil
}
