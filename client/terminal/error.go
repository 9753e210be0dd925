package terminal

import (
	"errors"
	"fmt"
	"strings"
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

// exitCodes is the one table of exit codes; scripts rely on it. Add to it, never change it.
var exitCodes = [...]struct {
	code int
	says string
}{
	Internal: {1, "unexpected failure"},
	Usage:    {2, "wrong usage or a value that cannot be read; nothing was written"},
	Refused:  {3, "refused by a rule of the job, and no reason was given with --because"},
	NotFound: {4, "not found, or the short name fits several"},
	Disk: {
		5,
		"the journal cannot be read or written, is locked too long, the disk is full, or a check found a fault",
	},
	Offline:     {6, "the server is needed and cannot be reached"},
	Closing:     {10, "hod joints --check: something is close to cold"},
	Cold:        {11, "hod joints --check: something is cold"},
	Interrupted: {130, "interrupted"},
	Terminated:  {143, "terminated"},
}

// Code is what the program exits with.
func (k Kind) Code() int {
	if k < 0 || int(k) >= len(exitCodes) {
		return exitCodes[Internal].code
	}
	return exitCodes[k].code
}

// Error is what a command ends with when it could not do what it was asked.
type Error struct {
	Kind Kind
	Msg  string // for the person: what is wrong, then what would be right; empty: the exit code alone is the answer
	Err  error  // what lies behind it; not shown
}

func (e *Error) Error() string { return e.Msg }

func (e *Error) Unwrap() error { return e.Err }

// Usagef is the error for words that cannot be read, or a flag that is missing.
func Usagef(format string, args ...any) error {
	return &Error{Kind: Usage, Msg: fmt.Sprintf(format, args...)}
}

// Incomplete is the error of an answer in which something is missing: it was shown, and says itself what. Nil where
// nothing is.
func Incomplete(missing ...[]string) error {
	for _, m := range missing {
		if len(m) > 0 {
			return &Error{Kind: Refused}
		}
	}
	return nil
}

// Refusedf is the error for what a rule of the job refuses.
func Refusedf(format string, args ...any) error {
	return &Error{Kind: Refused, Msg: fmt.Sprintf(format, args...)}
}

// NotFoundf is the error for a name that nothing has, or several do.
func NotFoundf(format string, args ...any) error {
	return &Error{Kind: NotFound, Msg: fmt.Sprintf(format, args...)}
}

// AsUsage is what a room of the trade says of values that it cannot take.
func AsUsage(err error) error {
	var known *Error
	if err == nil || errors.As(err, &known) {
		return err
	}
	return &Error{Kind: Usage, Msg: strings.ReplaceAll(err.Error(), "\n", "; "), Err: err}
}
