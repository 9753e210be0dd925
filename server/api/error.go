package api

import (
	"context"
	"errors"
	"runtime/debug"
	"syscall"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/server/fault"
	"hod/server/limit"
)

// table is the one from kinds of errors to codes. Where says is set, the caller hears that and the log the rest: a
// message about this server's disk is not for strangers.
var table = map[fault.Kind]struct {
	code codes.Code
	says string
}{
	fault.Internal: {codes.Internal, "the server met a fault of its own; whoever runs it finds it in its log"},
	fault.Invalid:  {code: codes.InvalidArgument},
	fault.NotFound: {code: codes.NotFound},
	fault.Conflict: {code: codes.AlreadyExists},
	fault.Denied:   {code: codes.PermissionDenied},
	fault.Offline:  {code: codes.Aborted}, // not Unavailable: a caller takes that for a server that does not answer
	fault.Disk: {
		codes.FailedPrecondition,
		"the server's disk cannot be written now; nothing is wrong on this device: tell whoever runs the server",
	},
	fault.Busy: {code: codes.Aborted},
}

const serverFull = "the server's disk is full, so it can write nothing down; nothing is wrong on this device: whoever runs the server makes room there, then try again"

// toStatus gives an error its code. One that has a code keeps it.
func (a *API) toStatus(method string, err error) error {
	if err == nil {
		return nil
	}
	if s, ok := status.FromError(err); ok {
		return s.Err()
	}
	switch {
	case errors.Is(err, limit.ErrBusy), errors.Is(err, limit.ErrShare):
		return status.Error(codes.ResourceExhausted, err.Error())
	case errors.Is(err, context.Canceled):
		return status.Error(codes.Canceled, "the call was given up")
	case errors.Is(err, context.DeadlineExceeded):
		return status.Error(codes.DeadlineExceeded, "the call took longer than the caller waits")
	}
	var known *fault.Error
	kind, says := fault.Internal, ""
	if errors.As(err, &known) {
		kind, says = known.Kind, known.Msg
	}
	row, ok := table[kind]
	if !ok {
		row = table[fault.Internal]
	}
	if row.says != "" {
		a.config.Log.Error().Err(err).Str("method", method).Msg("a call failed")
		says = row.says
		if errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) {
			says = serverFull
		}
	}
	return status.Error(row.code, says)
}

func (a *API) unaryInterceptor(ctx context.Context, request any, info *grpc.UnaryServerInfo,
	handle grpc.UnaryHandler,
) (reply any, err error) {
	defer func() {
		if why := recover(); why != nil {
			err = a.panicked(info.FullMethod, why)
		}
		if err != nil {
			reply, err = nil, a.toStatus(info.FullMethod, err)
		}
	}()
	asks, err := a.admit(ctx, info.FullMethod)
	if err != nil {
		return nil, err
	}
	if asks != "" {
		leave, err := a.places.Enter(ctx, string(asks))
		if err != nil {
			return nil, err
		}
		defer leave()
	}
	return handle(ctx, request)
}

func (a *API) streamInterceptor(server any, stream grpc.ServerStream, info *grpc.StreamServerInfo,
	handle grpc.StreamHandler,
) (err error) {
	defer func() {
		if why := recover(); why != nil {
			err = a.panicked(info.FullMethod, why)
		}
		err = a.toStatus(info.FullMethod, err)
	}()
	if _, err := a.admit(stream.Context(), info.FullMethod); err != nil {
		return err
	}
	return handle(server, stream)
}

// panicked tells of a panic: this program is wrong. The one call fails; the bus and the archive, which share the
// process, go on.
func (a *API) panicked(method string, why any) error {
	a.config.Log.Error().Str("method", method).Interface("fault", why).Bytes("stack",
		debug.Stack()).Msg("a fault of the program")
	return status.Error(codes.Internal, table[fault.Internal].says)
}
