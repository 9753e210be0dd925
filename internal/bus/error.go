package bus

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"

	"github.com/nats-io/nats.go"

	"hod/internal/auth"
)

// Kind tells code what stands between this device and its site.
type Kind int

// Kinds of Error. The zero value is a failure that nobody classified.
const (
	Internal    Kind = iota
	Invalid          // a name, key or certificate that cannot be
	Unreachable      // no network, no server there, or no answer in time; whether a publish arrived is not known
	Refused          // the server knows no such device, or knows it no more
	WrongSite        // what answers there is not this site's server
	Clock            // this device's clock lies outside the time for which the server's certificate is good
	Forbidden        // this device may not do that
	TooLarge         // larger than the bus carries
	Full             // the site's disk, or its limit, is full
	Gone             // the connection was closed
)

// Error is a failure of the connection, not of the log: what was to be sent is still where it was.
type Error struct {
	Kind Kind
	Msg  string // for the person: what is wrong, then what would be right
	Err  error  // for the log; may be nil
}

func (e *Error) Error() string { return e.Msg }

func (e *Error) Unwrap() error { return e.Err }

func fail(kind Kind, err error, format string, args ...any) *Error {
	return &Error{Kind: kind, Msg: fmt.Sprintf(format, args...), Err: err}
}

// dialError says in words why the server at address could not be had.
func dialError(a Access, err error, heard *opening) error {
	var (
		foreign x509.UnknownAuthorityError
		name    x509.HostnameError
		invalid x509.CertificateInvalidError
		dates   *auth.OutOfDateError
		speech  tls.RecordHeaderError
	)
	switch {
	case errors.Is(err, nats.ErrAuthorization), errors.Is(err, nats.ErrAuthRevoked),
		errors.Is(err, nats.ErrAuthExpired):
		return fail(Refused, err,
			"the site %s does not let device %s in: it is not enrolled there, was revoked, or sent too much at once and has to wait a minute. Ask the foreman; a new code lets in again a device that a restored server forgot", a.Site, a.Device)
	case errors.As(err, &dates):
		return fail(Clock, err, "no connection to %s: %v", a.Address, dates)
	case errors.As(err, &foreign), errors.As(err, &name), errors.As(err, &invalid):
		return fail(WrongSite, err,
			"the server at %s is not that of site %s: its certificate is not signed by the site's authority; ask the foreman for the address", a.Address, a.Site)
	case errors.Is(err, nats.ErrMaxAccountConnectionsExceeded):
		return fail(Unreachable, err,
			"device %s has as many connections to the site %s as one device may; end a hod that runs there, or wait half a minute for one that was cut", a.Device, a.Site)
	case errors.Is(err, nats.ErrMaxConnectionsExceeded), heard.full():
		return fail(Unreachable, err,
			"the server at %s is full: it has as many connections as it takes; try again in a minute, and tell the foreman if it stays so", a.Address)
	case errors.Is(err, nats.ErrSecureConnWanted), errors.As(err, &speech), errors.Is(err, nats.ErrNkeysNotSupported):
		return fail(WrongSite, err,
			"what listens at %s is not a site's server: it offers no encryption or no sign-in; ask the foreman for the address", a.Address)
	case errors.Is(err, errNonce):
		return fail(WrongSite, err,
			"the server at %s asked this device to sign what no site's server asks for; nothing was signed", a.Address)
	case errors.Is(err, context.Canceled):
		return err
	}
	return fail(Unreachable, err, "no site's server answers at %s", a.Address)
}
