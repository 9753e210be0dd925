package broker

import (
	"crypto"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/hex"
	"encoding/pem"
	"errors"
	"fmt"
	"io/fs"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"sync"
	"time"

	"hod/internal/bus"
)

// How long certificates are good for. Phones with a clock that is months behind are let in: a certificate begins when
// its authority does, and that a year before it was made.
const (
	authorityYears = 10
	behind         = 365 * 24 * time.Hour
	certified      = 365 * 24 * time.Hour
	renewBefore    = 120 * 24 * time.Hour
)

const (
	keyFile  = "authority.key"
	certFile = "authority.crt"
)

// Authority is the site's certificate authority: what a device trusts, and nothing else, when it has once been shown its
// fingerprint. Its key leaves its folder only in a backup that a person makes.
type Authority struct {
	cert *x509.Certificate
	key  crypto.Signer
}

// OpenAuthority takes the authority in dir, and makes it there if there is none. now is the clock's. It refuses a key
// that others on the machine may read, and a certificate whose key is missing: every device would have to be enrolled
// again, which is not to happen by accident.
func OpenAuthority(dir string, now time.Time) (*Authority, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make the folder of the site's authority: %w", err)
	}
	flushNames(filepath.Dir(dir)) // a key in a folder whose own name is not flushed may be gone with it
	keyPath, certPath := filepath.Join(dir, keyFile), filepath.Join(dir, certFile)
	key, err := readKey(keyPath)
	if errors.Is(err, fs.ErrNotExist) {
		if _, err := os.Stat(certPath); err == nil {
			return nil, fmt.Errorf("%s is there but %s is not: put the key back from the backup, or move both away and enrol every device again", certPath, keyPath)
		}
		key, err = makeKey(keyPath)
	}
	if err != nil {
		return nil, err
	}
	cert, err := readCert(certPath)
	if errors.Is(err, fs.ErrNotExist) { // never made, or the machine stopped between key and certificate
		cert, err = certify(certPath, key, now)
	}
	if err != nil {
		return nil, err
	}
	public, ok := key.Public().(*ecdsa.PublicKey)
	if !ok || !public.Equal(cert.PublicKey) {
		return nil, fmt.Errorf("%s does not belong to %s: put both back from the same backup", keyPath, certPath)
	}
	return &Authority{cert, key}, nil
}

// PEM is the authority's certificate, which devices keep.
func (a *Authority) PEM() []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: a.cert.Raw})
}

// Fingerprint is the SHA-256 of the authority's certificate, in hexadecimal. A join code carries it.
func (a *Authority) Fingerprint() string {
	sum := sha256.Sum256(a.cert.Raw)
	return hex.EncodeToString(sum[:])
}

// TLS is what a server of the site shows: TLS 1.3 only, a certificate for bus.ServerName and for the hosts and addresses
// given, made anew in time while the server runs. clock is the server's.
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
	if err != nil {
		return nil, err
	}
	r.cert = fresh
	return fresh, nil
}

// issue a server's certificate with a key of its own.
func (a *Authority) issue(now time.Time, hosts []string) (*tls.Certificate, error) {
	if !now.Before(a.cert.NotAfter) {
		return nil, fmt.Errorf("the site's authority was good until %s: make another one and enrol every device again", a.cert.NotAfter.Format(time.DateOnly))
	}
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("make a server's key: %w", err)
	}
	number, err := serial()
	if err != nil {
		return nil, err
	}
	until := now.Add(certified)
	if until.After(a.cert.NotAfter) {
		until = a.cert.NotAfter
	}
	want := &x509.Certificate{
		SerialNumber: number,
		Subject:      pkix.Name{CommonName: bus.ServerName},
		NotBefore:    a.cert.NotBefore,
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
	raw, err := x509.CreateCertificate(rand.Reader, want, a.cert, key.Public(), a.key)
	if err != nil {
		return nil, fmt.Errorf("sign a server's certificate: %w", err)
	}
	leaf, err := x509.ParseCertificate(raw)
	if err != nil {
		return nil, fmt.Errorf("sign a server's certificate: %w", err)
	}
	return &tls.Certificate{Certificate: [][]byte{raw}, PrivateKey: key, Leaf: leaf}, nil
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

func readCert(path string) (*x509.Certificate, error) {
	raw, err := os.ReadFile(path)
	if err != nil {
		return nil, fmt.Errorf("the certificate of the site's authority: %w", err)
	}
	block, _ := pem.Decode(raw)
	if block == nil {
		return nil, fmt.Errorf("%s holds no certificate: put it back from the backup", path)
	}
	cert, err := x509.ParseCertificate(block.Bytes)
	if err != nil {
		return nil, fmt.Errorf("%s holds no certificate: put it back from the backup: %w", path, err)
	}
	return cert, nil
}

func certify(path string, key crypto.Signer, now time.Time) (*x509.Certificate, error) {
	number, err := serial()
	if err != nil {
		return nil, err
	}
	want := &x509.Certificate{
		SerialNumber:          number,
		Subject:               pkix.Name{CommonName: "hod site authority"},
		NotBefore:             now.Add(-behind),
		NotAfter:              now.AddDate(authorityYears, 0, 0),
		KeyUsage:              x509.KeyUsageCertSign,
		IsCA:                  true,
		BasicConstraintsValid: true,
		MaxPathLenZero:        true,
	}
	raw, err := x509.CreateCertificate(rand.Reader, want, want, key.Public(), key)
	if err != nil {
		return nil, fmt.Errorf("sign the certificate of the site's authority: %w", err)
	}
	if err := keep(path, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: raw}), 0o600); err != nil {
		return nil, err
	}
	return readCert(path)
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
