// Package api answers a site's people and devices over gRPC: views of the log, what changes in it, and how a device
// joins.
//
// It promises that what it shows is computed by internal/view from the host's fold at one instant, and that only an
// enrolled device that signs the call is shown anything; Enrol alone is open, to whoever has an invitation. Health and
// reflection say nothing of the site. It computes and keeps nothing, and no caller costs memory beyond the one answer.
//
// To add a question: a method in proto/hod/v1/query.proto, then a file here beside board.go. Who may ask is in
// caller.go, which error is which code in error.go, the other side in client/remote.
package api

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"sync"
	"time"

	"github.com/rs/zerolog"
	"google.golang.org/grpc"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/keepalive"
	"google.golang.org/grpc/reflection"

	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
	"hod/server/host"
	"hod/server/limit"
)

// Limits of what one caller may cost.
const (
	maxRequest = 256 << 10 // bytes
	maxCalls   = 64        // at once, on one connection
	maxConns   = 256       // of one address
	handshake  = 10 * time.Second
	lingering  = 5 * time.Second // for calls that are being answered when the server stops

	joinsASecond = 10 // of one address
	joinsAtOnce  = 50
)

// Config of an API.
type Config struct {
	Host *host.Host
	TLS  *tls.Config // as the site's authority gives it
	Bus  string      // where devices reach the bus, host:port
	// Authority is the certificate of the site's authority, DER.
	Authority []byte
	Pages     string // where the pages are read, host:port; empty if nowhere
	// PagesKnown says that browsers know the certificate of the pages, so that nobody needs to compare its fingerprint.
	PagesKnown bool
	Place      *time.Location // where the site is, if its plan does not say
	Log        zerolog.Logger
	// Built is when this program was, as far as it is known: an earlier time of the server's clock is wrong.
	Built time.Time
	// Places are those for answers that are worked out, shared with the pages; nil: the calls have their own.
	Places *limit.Slots
	// Notice is what people should know of the server, in sentences; nil: nothing ever.
	Notice func() string
	// Ended is told of a device whose key was replaced, to end its connections; may be nil.
	Ended func(event.Device)
}

// API is the gRPC server.
type API struct {
	config  Config
	server  *grpc.Server
	health  *health.Server
	joining *limit.Rate
	places  *limit.Slots  // for answers that are being worked out
	zones   sync.Map      // *time.Location by name
	closing chan struct{} // closed when watchers must go
	stop    sync.Once
}

// New makes the server; Serve starts it.
func New(c Config) (*API, error) {
	if c.TLS == nil {
		return nil, errors.New("an API needs a certificate")
	}
	if c.Place == nil {
		c.Place = time.Local
	}
	a := &API{
		config: c, health: health.NewServer(), closing: make(chan struct{}),
		// A code has 80 bits: the limit is not against guessing but against wearing out the disk. It is by address, so
		// that a flood of codes from elsewhere keeps no crew from joining.
		joining: limit.NewRate(joinsASecond, joinsAtOnce),
		places:  cmp.Or(c.Places, limit.Answers()),
	}
	a.server = grpc.NewServer(
		grpc.Creds(credentials.NewTLS(c.TLS)),
		grpc.MaxRecvMsgSize(maxRequest),
		grpc.MaxConcurrentStreams(maxCalls),
		grpc.ConnectionTimeout(handshake),
		grpc.KeepaliveParams(keepalive.ServerParameters{Time: time.Minute, Timeout: 20 * time.Second}),
		grpc.KeepaliveEnforcementPolicy(keepalive.EnforcementPolicy{
			MinTime:             20 * time.Second,
			PermitWithoutStream: true,
		}),
		grpc.ChainUnaryInterceptor(a.unaryInterceptor),
		grpc.ChainStreamInterceptor(a.streamInterceptor),
	)
	hodv1.RegisterQueryServiceServer(a.server, queries{api: a})
	hodv1.RegisterEnrolServiceServer(a.server, enrolments{api: a})
	healthv1.RegisterHealthServer(a.server, a.health)
	reflection.Register(a.server)
	a.report(healthv1.HealthCheckResponse_NOT_SERVING)
	return a, nil
}

func (a *API) report(s healthv1.HealthCheckResponse_ServingStatus) {
	for _, service := range []string{
		"", hodv1.QueryService_ServiceDesc.ServiceName, hodv1.EnrolService_ServiceDesc.ServiceName,
	} {
		a.health.SetServingStatus(service, s)
	}
}

// Serve answers on l until Stop. It reports healthy once the host has read its stream to the end.
func (a *API) Serve(l net.Listener) error {
	go func() {
		select {
		case <-a.config.Host.Whole():
			a.report(healthv1.HealthCheckResponse_SERVING)
		case <-a.closing:
		}
	}()
	if err := a.server.Serve(limit.Listen(l, maxConns)); err != nil && !errors.Is(err, grpc.ErrServerStopped) {
		return fmt.Errorf("answer calls at %s: %w", l.Addr(), err)
	}
	return nil
}

// Stop lets the calls that are being answered end, sends watchers away, and takes no more.
func (a *API) Stop() {
	a.stop.Do(func() { close(a.closing) })
	a.health.Shutdown()
	done := make(chan struct{})
	go func() { a.server.GracefulStop(); close(done) }()
	select {
	case <-done:
	case <-time.After(lingering):
		a.server.Stop()
		<-done
	}
}

// until is a context that also ends when the server stops.
func (a *API) until(ctx context.Context) (context.Context, context.CancelFunc) {
	ctx, cancel := context.WithCancel(ctx)
	go func() {
		select {
		case <-a.closing:
			cancel()
		case <-ctx.Done():
		}
	}()
	return ctx, cancel
}
