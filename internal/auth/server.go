package auth

import (
	"bytes"
	"crypto/x509"
	"encoding/pem"
	"errors"
	"fmt"
	"time"
)

// FirstBuilt is before any program of these sources was built: a clock that says less is wrong. A build that is stamped
// with its commit knows a later time of its own; one from a second working tree or a copy has this alone, which a test
// of server/broker keeps less than a year old.
var FirstBuilt = time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)

// ErrNoCertificate is returned for PEM that holds no certificate.
var ErrNoCertificate = errors.New("there is no certificate in it")

// Certificates returns the certificates that PEM holds, in its order. The error is ErrNoCertificate where there is
// none.
func Certificates(text []byte) ([]*x509.Certificate, error) {
	var all []*x509.Certificate
	for block, rest := pem.Decode(text); block != nil; block, rest = pem.Decode(rest) {
		if block.Type != "CERTIFICATE" {
			continue
		}
		c, err := x509.ParseCertificate(block.Bytes)
		if err != nil {
			return nil, fmt.Errorf("read a certificate: %w", err)
		}
		all = append(all, c)
	}
	if len(all) == 0 {
		return nil, ErrNoCertificate
	}
	return all, nil
}

// OutOfDateError says that a server's certificate, or that of its authority, is not good by this device's clock.
type OutOfDateError struct {
	From, Until time.Time // for which it is good
	Clock       time.Time // this device's
	Err         error     // of crypto/x509
}

func (e *OutOfDateError) Error() string {
	const day = "2006-01-02"
	side := "this device's clock is ahead, or the server's was behind when it made it: set the one that is wrong, and start the server anew if it was the server's"
	if e.Clock.Before(e.From) {
		side = "this device's clock is behind: set it right"
	}
	return fmt.Sprintf("the server's certificate is good from %s to %s, and this device's clock says %s; %s",
		e.From.UTC().Format(day), e.Until.UTC().Format(day), e.Clock.UTC().Format("2006-01-02 15:04 MST"), side)
}

func (e *OutOfDateError) Unwrap() error { return e.Err }

// VerifyServer checks what a server showed, its own certificate first, against the authorities that a device trusts,
// for a name and an instant of the device's clock. An authority is its key: a later certificate of the same key, which
// that key signed itself, is trusted as the one that the device was shown when it joined. So an authority is renewed
// without anybody joining again, however long a device was away. The error holds that of crypto/x509; where dates are
// the reason it is an *OutOfDateError.
func VerifyServer(trusted, shown []*x509.Certificate, name string, now time.Time) error {
	if len(shown) == 0 {
		return x509.UnknownAuthorityError{}
	}
	roots, between := x509.NewCertPool(), x509.NewCertPool()
	for _, c := range trusted {
		roots.AddCert(c)
	}
	for _, c := range shown[1:] {
		if renews(c, trusted) {
			roots.AddCert(c)
		} else {
			between.AddCert(c)
		}
	}
	_, err := shown[0].Verify(x509.VerifyOptions{Roots: roots, Intermediates: between, DNSName: name, CurrentTime: now})
	var invalid x509.CertificateInvalidError
	if errors.As(err, &invalid) && invalid.Reason == x509.Expired {
		return &OutOfDateError{From: invalid.Cert.NotBefore, Until: invalid.Cert.NotAfter, Clock: now, Err: err}
	}
	return err
}

// renews reports whether a certificate is a later one, or an earlier one, of a trusted authority.
func renews(c *x509.Certificate, trusted []*x509.Certificate) bool {
	for _, t := range trusted {
		if c.IsCA && bytes.Equal(c.RawSubjectPublicKeyInfo, t.RawSubjectPublicKeyInfo) &&
			c.CheckSignatureFrom(t) == nil {
			return true
		}
	}
	return false
}
