// Package admin takes the orders of a server's operator: gRPC on a socket in the data folder. The root key lies in that
// folder, and whoever may write there may do what it may, so nobody is asked who they are.
//
// An order is carried out once, or refused in words; its answer says which. Nothing is reachable over a network.
//
// Serve is the server's side, Dial that of `hodd revoke` and `hodd verify`.
package admin

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"net"
	"os"
	"path/filepath"
	"strings"

	"github.com/rs/zerolog"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
	"hod/server/fault"
	"hod/server/host"
	"hod/server/store"
)

// Names in the data folder.
const (
	socketFile  = "admin.sock"
	addressFile = "admin.path" // where the socket is, if it can't be in the data folder
)

// maxOrder is the size of an order.
const maxOrder = 64 << 10

// Orders are carried out by whoever runs the host.
type Orders struct {
	Revoke      func(ctx context.Context, d event.Device, why string) error
	Exclude     func(ctx context.Context, d event.Device, from uint64, why string) (events uint64, err error)
	Space       func(context.Context, SpaceOrder) (Space, error)
	CheckStream func(context.Context) (host.StreamChecked, error)
}

// Server listens for orders.
type Server struct {
	grpc    *grpc.Server
	listen  net.Listener
	cleanUp func()
}

// Listen makes the socket of a data folder, which must be this process's own: what is left of an earlier server is
// removed.
func Listen(dir string, do Orders, log zerolog.Logger) (*Server, error) {
	l, cleanUp, err := listen(dir)
	if err != nil {
		return nil, fault.New(fault.Disk, err,
			"the server cannot listen for orders (hodd revoke, hodd verify) in %s: %v", dir, err)
	}
	s := &Server{grpc: grpc.NewServer(grpc.MaxRecvMsgSize(maxOrder)), listen: l, cleanUp: cleanUp}
	hodv1.RegisterAdminServiceServer(s.grpc, service{do: do, log: log})
	return s, nil
}

// Serve carries out orders until Stop.
func (s *Server) Serve() error {
	if err := s.grpc.Serve(s.listen); err != nil && !errors.Is(err, grpc.ErrServerStopped) {
		return fmt.Errorf("take orders at %s: %w", s.listen.Addr(), err)
	}
	return nil
}

// Stop takes no more orders, and ends those under way.
func (s *Server) Stop() {
	s.grpc.Stop()
	_ = s.listen.Close() // where Serve was never called
	s.cleanUp()
}

// listen in the data folder, or in one with a shorter path where the system refuses that: a socket's path has some
// hundred bytes at most, and not every disk holds sockets.
func listen(dir string) (net.Listener, func(), error) {
	path := filepath.Join(dir, socketFile)
	told := filepath.Join(dir, addressFile)
	for _, old := range []string{path, told} {
		if err := os.Remove(old); err != nil && !errors.Is(err, fs.ErrNotExist) {
			return nil, nil, err
		}
	}
	l, err := listenAt(path)
	if err == nil {
		return l, func() {}, nil // it is removed as it is closed
	}
	short, tempErr := os.MkdirTemp("", "hodd-") // only this user may look into it
	if tempErr != nil {
		return nil, nil, errors.Join(err, tempErr)
	}
	cleanUp := func() {
		_ = os.Remove(told) // the next start removes what is left
		_ = os.RemoveAll(short)
	}
	l, shortErr := listenAt(filepath.Join(short, socketFile))
	if shortErr == nil {
		shortErr = store.ReplaceFile(told, []byte(filepath.Join(short, socketFile)+"\n"))
		if shortErr != nil {
			shortErr = errors.Join(shortErr, l.Close())
		}
	}
	if shortErr != nil {
		cleanUp()
		return nil, nil, errors.Join(err, shortErr)
	}
	return l, cleanUp, nil
}

func listenAt(path string) (net.Listener, error) {
	l, err := net.Listen("unix", path)
	if err != nil {
		return nil, err
	}
	if err := os.Chmod(path, 0o600); err != nil {
		return nil, errors.Join(err, l.Close())
	}
	return l, nil
}

// socketOf a data folder.
func socketOf(dir string) string {
	if text, err := os.ReadFile(filepath.Join(dir, addressFile)); err == nil {
		return strings.TrimSpace(string(text))
	}
	return filepath.Join(dir, socketFile)
}

type service struct {
	hodv1.UnimplementedAdminServiceServer
	do  Orders
	log zerolog.Logger
}

func (s service) Revoke(ctx context.Context, r *hodv1.RevokeRequest) (*hodv1.RevokeResponse, error) {
	if r.GetDevice() == "" {
		return nil, status.Error(codes.InvalidArgument, "the order does not say which device to revoke")
	}
	if err := s.do.Revoke(ctx, event.Device(r.GetDevice()), r.GetWhy()); err != nil {
		return nil, s.toStatus("revoke "+fault.Quote(r.GetDevice()), err)
	}
	return &hodv1.RevokeResponse{}, nil
}

func (s service) Exclude(ctx context.Context, r *hodv1.ExcludeRequest) (*hodv1.ExcludeResponse, error) {
	if r.GetDevice() == "" {
		return nil, status.Error(codes.InvalidArgument, "the order does not say which device")
	}
	n, err := s.do.Exclude(ctx, event.Device(r.GetDevice()), r.GetFromSeq(), r.GetWhy())
	if err != nil {
		return nil, s.toStatus("exclude what "+fault.Quote(r.GetDevice())+" wrote", err)
	}
	return &hodv1.ExcludeResponse{Events: n}, nil
}

func (s service) Space(ctx context.Context, r *hodv1.SpaceRequest) (*hodv1.SpaceResponse, error) {
	order := SpaceOrder{Stream: r.GetStreamQuota(), Archive: r.GetArchiveQuota(), Compact: r.GetCompact()}
	is, err := s.do.Space(ctx, order)
	if err != nil {
		return nil, s.toStatus("say or change how much space there is", err)
	}
	return is.proto(), nil
}

func (s service) CheckStream(ctx context.Context, _ *hodv1.CheckStreamRequest) (*hodv1.CheckStreamResponse, error) {
	found, err := s.do.CheckStream(ctx)
	if err != nil {
		return nil, s.toStatus("check the stream", err)
	}
	return &hodv1.CheckStreamResponse{
		Messages: int64(found.Messages), Events: int64(found.Events), Faults: found.Faults, Notes: found.Notes,
	}, nil
}

// byKind is the one table from kinds of errors to codes and back.
var byKind = map[fault.Kind]codes.Code{
	fault.Invalid: codes.InvalidArgument, fault.NotFound: codes.NotFound, fault.Conflict: codes.AlreadyExists,
	fault.Denied: codes.PermissionDenied, fault.Offline: codes.FailedPrecondition, fault.Disk: codes.DataLoss,
	fault.Busy: codes.Aborted,
}

// toStatus tells whoever ordered what they can do about it, and the log what they cannot.
func (s service) toStatus(order string, err error) error {
	var known *fault.Error
	if errors.As(err, &known) && byKind[known.Kind] != codes.OK {
		return status.Error(byKind[known.Kind], known.Msg)
	}
	s.log.Error().Err(err).Str("order", order).Msg("an order could not be carried out")
	return status.Error(codes.Internal, "the server met a fault of its own; it is in its log")
}
