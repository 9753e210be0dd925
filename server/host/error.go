package host

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"
)

// Kind tells code what to do about an Error.
type Kind int

// Kinds of Error. The zero value is a failure that nobody classified.
const (
	Internal Kind = iota
	Invalid       // what was asked cannot be
	NotFound      // nothing has that name
	Conflict      // it is there already
	Denied        // not with this code, not with this key
	Offline       // the bus is not there, or not read to its end yet
	Disk          // the data folder cannot be read or written, or is damaged
	Busy          // another server uses the data folder
)

// Error is a failure at the border of the host.
type Error struct {
	Kind Kind
	Msg  string // for the person: what is wrong, then what would be right
	Err  error  // for the log; may be nil
}

func (e *Error) Error() string { return e.Msg }

func (e *Error) Unwrap() error { return e.Err }

func fail(kind Kind, err error, format string, args ...any) error {
	return &Error{Kind: kind, Msg: fmt.Sprintf(format, args...), Err: err}
}

// diskError says in words why a file or folder could not be had.
func diskError(path string, err error) error {
	var known *Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &known):
		return err
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return fail(Disk, err, "%s may not be read and written by this user; choose another data folder with --data", path)
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return fail(Disk, err, "the disk that holds %s is full; make room and start again: nothing that was acknowledged is lost", path)
	case errors.Is(err, syscall.ENOTDIR):
		return fail(Disk, err, "%s is not a folder; choose another with --data", path)
	}
	return fail(Disk, err, "%s cannot be used: %v", path, err)
}
