package session

import (
	"context"
	"errors"

	"hod/client/journal"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/unit"
)

// Classify gives any error its kind: the rooms below have error types of their own.
func Classify(ctx context.Context, err error) *terminal.Error {
	var known *terminal.Error
	if errors.As(err, &known) {
		return known
	}
	var stopped *terminal.Error
	if ctx.Err() != nil && errors.As(context.Cause(ctx), &stopped) {
		return &terminal.Error{Kind: stopped.Kind, Msg: stopped.Msg, Err: err}
	}
	var kept *journal.Error
	var quantity *unit.Error
	var cannot event.CannotBe
	switch {
	case errors.As(err, &kept):
		return &terminal.Error{Kind: terminal.Disk, Msg: kept.Msg, Err: err}
	case errors.As(err, &quantity):
		return &terminal.Error{Kind: terminal.Usage, Msg: err.Error(), Err: err}
	case errors.As(err, &cannot):
		return &terminal.Error{Kind: terminal.Usage, Msg: terminal.RowReason(cannot), Err: err}
	case errors.Is(err, context.Canceled):
		return &terminal.Error{Kind: terminal.Interrupted, Msg: "interrupted", Err: err}
	}
	return &terminal.Error{Kind: terminal.Internal, Msg: err.Error(), Err: err}
}
