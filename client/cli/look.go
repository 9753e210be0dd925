package cli

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/journal"
	"hod/client/remote"
	"hod/internal/bus"
	"hod/internal/report"
	"hod/internal/wire"
	hodv1 "hod/proto/hod/v1"
)

// looking is what every command that shows a view can be told.
type looking struct {
	server bool
	at     string
	read   func(*site) error // reads words that need the site's clock or names, before anything is asked; nil: there are none
}

func (l *looking) flags(c *cobra.Command) {
	c.Flags().BoolVar(&l.server, "server", false, "ask the site's server and not this device's own copy")
	c.Flags().StringVar(&l.at, "at", "", "as it stood then by what is known now: 13:40, -20m, \"yesterday 16:10\"")
}

// query asks a server for one view.
type query func(context.Context, hodv1.QueryServiceClient, *timestamppb.Timestamp) (proto.Message, error)

// look gives one view, from this device's own copy or from the server, by the same words and with the same figures.
func look[V any](ctx context.Context, env *deviceEnv, l looking, own func(*site) (V, error), at query) (V, *site, error) {
	var v V
	s, err := env.open(ctx)
	if err != nil {
		return v, nil, unread(err)
	}
	if l.at != "" {
		if s.now, err = s.when(l.at, ""); err != nil {
			s.close()
			return v, nil, flagged("at", err)
		}
		s.now = s.now.UTC()
		s.fold = s.fold.Until(s.now)
		s.look()
	}
	if l.read != nil {
		if err := l.read(s); err != nil {
			s.close()
			return v, nil, err
		}
	}
	if l.server {
		env.own = nil
		err = fromServer(ctx, s, l, at, &v)
	} else {
		v, err = own(s)
	}
	if err != nil {
		s.close()
		return v, nil, err
	}
	if l.at == "" { // what is open then is not what is open now
		s.after = func() { s.warnEdges(ctx) }
	}
	return v, s, nil
}

// serverTime is how long a foreman waits for the server before hearing that it cannot be reached.
const serverTime = 5 * time.Second

func fromServer(ctx context.Context, s *site, l looking, at query, v any) error {
	conn, err := remote.Dial(s.device, s.clockNow)
	if err != nil {
		return err
	}
	defer conn.Close()
	ctx, cancel := context.WithTimeout(ctx, serverTime)
	defer cancel()
	var when *timestamppb.Timestamp
	if l.at != "" {
		when = timestamppb.New(s.now)
	}
	reply, err := at(ctx, hodv1.NewQueryServiceClient(conn), when)
	if err != nil {
		if status.Code(err) == codes.Unavailable && anotherServer(ctx, s.device) {
			return &Error{Kind: Offline, Msg: fmt.Sprintf("the server at %s is not that of site %s: its certificate is not signed by the site's authority. Ask the foreman where the site's own server is, or leave out --server",
				s.device.Server, s.device.Site), Err: err}
		}
		return answered(err, s.device.Server)
	}
	return wire.From(reply, v)
}

// unread puts a folder that may not be written in the words of who only wants to read: reading needs the folder's locks.
func unread(err error) error {
	var kept *journal.Error
	if !errors.As(err, &kept) || kept.Kind != journal.ReadOnly {
		return err
	}
	why, _, _ := strings.Cut(kept.Msg, ";")
	return &Error{Kind: Disk, Msg: why + ", and reading too needs to: it keeps a lock there. See who owns the folder and whether its disk is read-only, or copy the whole folder to where it can be written and name the copy with --dir", Err: err}
}

// anotherServer says whether who answers at the server's address shows a certificate that this site's authority did not sign.
func anotherServer(ctx context.Context, d journal.Device) bool {
	roots := x509.NewCertPool()
	roots.AppendCertsFromPEM(d.CA)
	dialer := tls.Dialer{Config: &tls.Config{MinVersion: tls.VersionTLS13, RootCAs: roots, ServerName: bus.ServerName}}
	conn, err := dialer.DialContext(ctx, "tcp", d.Server)
	if err == nil {
		_ = conn.Close()
	}
	var refused *tls.CertificateVerificationError
	return errors.As(err, &refused)
}

// clockNow is the site's clock at this instant, as far as this device knows it.
func (s *site) clockNow() time.Time { return s.env.Now().Add(s.offset()) }

// page is how this device shows a report.
func (s *site) page() report.Page {
	p := report.Page{Width: s.env.Width, Colour: s.env.Colour(), In: s.in, Now: s.now}
	if own := s.env.own; own != nil {
		p.Copy = &report.Copy{Met: own.Met, Age: own.age}
		if own.AsOf != nil {
			p.Copy.AsOf = time.Time(*own.AsOf)
		}
	}
	return p
}

// answered says in words what became of a call.
func answered(err error, server string) error {
	st := status.Convert(err)
	switch st.Code() {
	case codes.Unavailable, codes.DeadlineExceeded:
		return &Error{Kind: Offline, Msg: fmt.Sprintf("the server at %s does not answer: check the network and that hodd runs, or leave out --server to ask this device's own copy", server), Err: err}
	case codes.Unauthenticated, codes.PermissionDenied:
		return &Error{Kind: Refused, Msg: st.Message(), Err: err}
	case codes.NotFound:
		return &Error{Kind: NotFound, Msg: st.Message(), Err: err}
	case codes.InvalidArgument:
		return &Error{Kind: Usage, Msg: st.Message(), Err: err}
	}
	return &Error{Kind: Internal, Msg: "the server answered: " + st.Message(), Err: err}
}
