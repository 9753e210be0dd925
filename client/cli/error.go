package cli

import (
	"context"
	"errors"
	"fmt"

	"hod/client/journal"
	"hod/internal/event"
	"hod/internal/unit"
)

// Kind of a failure; it decides the exit code.
type Kind int

// The kinds. The zero value is a failure that nobody classified, which is a fault of the program.
const (
	Internal    Kind = iota
	Usage            // words that cannot be read, a flag that is missing; nothing was written
	Refused          // a rule of the job says no, and no reason was given
	NotFound         // nothing has that name, or several do
	Disk             // the journal cannot be read or written
	Offline          // the server is needed and cannot be reached
	Closing          // an answer, not a failure: something is close to cold
	Cold             // an answer, not a failure: something is cold
	Interrupted      // by the person at the keyboard
	Terminated       // by the system
)

// exits is the one table of exit codes; scripts rely on it. Add to it, never change it.
var exits = [...]struct {
	code int
	says string
}{
	Internal:    {1, "unexpected failure"},
	Usage:       {2, "wrong usage or a value that cannot be read; nothing was written"},
	Refused:     {3, "refused by a rule of the job, and no reason was given with --because"},
	NotFound:    {4, "not found, or the short name fits several"},
	Disk:        {5, "the journal cannot be read or written, is locked too long, the disk is full, or a check found a fault"},
	Offline:     {6, "the server is needed and cannot be reached"},
	Closing:     {10, "hod joints --check: something is close to cold"},
	Cold:        {11, "hod joints --check: something is cold"},
	Interrupted: {130, "interrupted"},
	Terminated:  {143, "terminated"},
}

// Code is what the program exits with.
func (k Kind) Code() int {
	if k < 0 || int(k) >= len(exits) {
		return exits[Internal].code
	}
	return exits[k].code
}

// Error is what a command ends with when it could not do what it was asked.
type Error struct {
	Kind Kind
	Msg  string // for the person: what is wrong, then what would be right; empty: the exit code alone is the answer
	Err  error  // what lies behind it; not shown
}

func (e *Error) Error() string { return e.Msg }

func (e *Error) Unwrap() error { return e.Err }

// usage, refused and notFound make the commonest errors.
func usage(format string, args ...any) error {
	return &Error{Kind: Usage, Msg: fmt.Sprintf(format, args...)}
}

func refused(format string, args ...any) error {
	return &Error{Kind: Refused, Msg: fmt.Sprintf(format, args...)}
}

func notFound(format string, args ...any) error {
	return &Error{Kind: NotFound, Msg: fmt.Sprintf(format, args...)}
}

// classify gives any error its kind: the rooms below have error types of their own.
func classify(ctx context.Context, err error) *Error {
	var known *Error
	if errors.As(err, &known) {
		return known
	}
	var stopped *Error
	if ctx.Err() != nil && errors.As(context.Cause(ctx), &stopped) {
		return &Error{Kind: stopped.Kind, Msg: stopped.Msg, Err: err}
	}
	var kept *journal.Error
	var quantity *unit.Error
	var cannot event.CannotBe
	switch {
	case errors.As(err, &kept):
		return &Error{Kind: Disk, Msg: kept.Msg, Err: err}
	case errors.As(err, &quantity):
		return &Error{Kind: Usage, Msg: err.Error(), Err: err}
	case errors.As(err, &cannot):
		return &Error{Kind: Usage, Msg: rowWhy(cannot), Err: err}
	case errors.Is(err, context.Canceled):
		return &Error{Kind: Interrupted, Msg: "interrupted", Err: err}
	}
	return &Error{Kind: Internal, Msg: err.Error(), Err: err}
}
