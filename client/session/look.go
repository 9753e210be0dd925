package session

import (
	"context"
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
	"hod/client/terminal"
	"hod/internal/auth"
	"hod/internal/report"
	"hod/internal/wire"
	hodv1 "hod/proto/hod/v1"
)

// ViewFlags is what every command that shows a view can be told.
type ViewFlags struct {
	TableFlags
	Server bool
	At     string
	// reads words that need the site's clock or names, before anything is asked; nil: there are none
	Read func(*Session) error
}

// Register gives a command the flags --server and --at, and those of a table.
func (l *ViewFlags) Register(c *cobra.Command) {
	l.TableFlags.Register(c)
	c.Flags().BoolVar(&l.Server, "server", false, "ask the site's server and not this device's own copy")
	c.Flags().StringVar(&l.At, "at", "", "as it stood then by what is known now: 13:40, -20m, \"yesterday 16:10\"")
}

// query asks a server for one view.
type query func(context.Context, hodv1.QueryServiceClient, *timestamppb.Timestamp) (proto.Message, error)

// View gives one view, from this device's own copy or from the server, by the same words and with the same figures.
func View[V any](ctx context.Context, env *Env, l ViewFlags, own func(*Session) (V, error), at query) (V, *Session,
	error,
) {
	var v V
	s, err := Open(ctx, env)
	if err != nil {
		return v, nil, readOnlyError(err)
	}
	if err := l.ShowTable(s); err != nil {
		s.Close()
		return v, nil, err
	}
	if l.At != "" {
		if s.Now, err = s.ParseTime(l.At, ""); err != nil {
			s.Close()
			return v, nil, terminal.InFlag("at", err)
		}
		if s.Now = s.Now.UTC(); !l.Server {
			s.Fold = s.Fold.Until(s.Now)
			s.Refresh()
		}
	}
	if l.Read != nil {
		if err := l.Read(s); err != nil {
			s.Close()
			return v, nil, err
		}
	}
	if l.Server {
		env.copyAge = nil
		err = fromServer(ctx, s, l, at, &v)
	} else {
		v, err = stoppable(ctx, func() (V, error) {
			s.Fold.LoadAll() // a view is of the whole: zone by zone it would be fetched in pieces, and worked out twice
			return own(s)
		})
		if err == nil {
			err = s.Fold.Lost()
		}
	}
	if err != nil {
		s.Close()
		return v, nil, err
	}
	// What is open then is not what is open now, and who asks the server is told by the server.
	if l.At == "" && !l.Server {
		s.OnClose = func() { s.warnEdges(ctx); s.warnTaken(ctx) }
	}
	return v, s, nil
}

// stoppable has a view worked out, which takes seconds on a large site. Whoever stops the command does not wait for
// that: it touches nothing but the fold, which is then of no more use.
func stoppable[V any](ctx context.Context, work func() (V, error)) (V, error) {
	type answer struct {
		v   V
		err error
	}
	done := make(chan answer, 1)
	go func() {
		v, err := work()
		done <- answer{v, err}
	}()
	select {
	case <-ctx.Done():
		var none V
		return none, context.Cause(ctx)
	case a := <-done:
		return a.v, a.err
	}
}

// ServerTimeout is how long a foreman waits for the server before hearing that it cannot be reached.
const ServerTimeout = 5 * time.Second

func fromServer(ctx context.Context, s *Session, l ViewFlags, at query, v any) error {
	conn, err := remote.Dial(s.Device, s.ClockNow)
	if err != nil {
		return err
	}
	defer conn.Close()
	ctx, cancel := context.WithTimeout(ctx, ServerTimeout)
	defer cancel()
	var when *timestamppb.Timestamp
	if l.At != "" {
		when = timestamppb.New(s.Now)
	}
	reply, err := at(ctx, hodv1.NewQueryServiceClient(conn), when)
	if err != nil {
		if status.Code(err) == codes.Unavailable {
			return s.Unanswered(ctx, err)
		}
		return ServerError(err, s.Device.Server)
	}
	return wire.From(reply, v)
}

// readOnlyError puts a folder that may not be written in the words of who only wants to read: reading needs the
// folder's locks.
func readOnlyError(err error) error {
	var kept *journal.Error
	if !errors.As(err, &kept) || kept.Kind != journal.ReadOnly {
		return err
	}
	why, _, _ := strings.Cut(kept.Msg, ";")
	return &terminal.Error{
		Kind: terminal.Disk,
		Msg: why +
			", and reading too needs to: it keeps a lock there. See who owns the folder and whether its disk is read-only, or copy the whole folder to where it can be written and name the copy with --dir", Err: err,
	}
}

// Unanswered says why no call came through: the server's certificate may not do, which the call itself does not say.
func (s *Session) Unanswered(ctx context.Context, err error) error {
	doubt := remote.CheckServer(ctx, s.Device)
	var dates *auth.OutOfDateError
	switch {
	case doubt == nil:
		return ServerError(err, s.Device.Server)
	case errors.As(doubt, &dates):
		return &terminal.Error{Kind: terminal.Offline, Msg: fmt.Sprintf("no connection to %s: %v", s.Device.Server,
			dates), Err: doubt}
	}
	return &terminal.Error{
		Kind: terminal.Offline,
		Msg: fmt.Sprintf(
			"the server at %s is not that of site %s: its certificate is not signed by the site's authority. Ask the foreman where the site's own server is, or leave out --server",
			s.Device.Server, s.Device.Site), Err: doubt,
	}
}

// ClockNow is the site's clock at this instant, as far as this device knows it.
func (s *Session) ClockNow() time.Time { return s.Env.Now().Add(s.ClockOffset()) }

// Page is how this device shows a report.
func (s *Session) Page() report.Page {
	p := report.Page{
		Width: s.Env.Width, Colour: s.Env.Colour(), In: s.Location, Now: s.Now,
		Crew: string(s.Device.Crew),
	}
	if own := s.Env.copyAge; own != nil {
		p.Copy = &report.Copy{Met: own.Met, Age: own.age}
		if own.AsOf != nil {
			p.Copy.AsOf = time.Time(*own.AsOf)
		}
	}
	return p
}

// ServerError says in words what became of a call.
func ServerError(err error, server string) error {
	st := status.Convert(err)
	switch st.Code() {
	case codes.Unavailable, codes.DeadlineExceeded:
		return &terminal.Error{
			Kind: terminal.Offline,
			Msg: fmt.Sprintf(
				"the server at %s does not answer: check the network and that hodd runs, or leave out --server to ask this device's own copy", server), Err: err,
		}
	case codes.Unauthenticated, codes.PermissionDenied:
		return &terminal.Error{Kind: terminal.Refused, Msg: st.Message(), Err: err}
	case codes.FailedPrecondition, codes.ResourceExhausted, codes.Aborted:
		return &terminal.Error{Kind: terminal.Offline, Msg: st.Message(), Err: err}
	case codes.NotFound:
		return &terminal.Error{Kind: terminal.NotFound, Msg: st.Message(), Err: err}
	case codes.InvalidArgument:
		return &terminal.Error{Kind: terminal.Usage, Msg: st.Message(), Err: err}
	}
	return &terminal.Error{Kind: terminal.Internal, Msg: "the server answered: " + st.Message(), Err: err}
}
