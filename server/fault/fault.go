// Package fault is the errors at the border of the server's rooms: of what kind they are, for code, and what is wrong
// and what would be right, for a person. server/api and server/hodd each have one table from kinds to their own codes.
package fault

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"hod/internal/bus"
	"hod/internal/event"
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

// Error is a failure at the border of a room.
type Error struct {
	Kind Kind
	Msg  string // for the person: what is wrong, then what would be right
	Err  error  // for the log; may be nil
}

func (e *Error) Error() string { return e.Msg }

func (e *Error) Unwrap() error { return e.Err }

// New returns an Error.
func New(kind Kind, err error, format string, args ...any) error {
	return &Error{Kind: kind, Msg: fmt.Sprintf(format, args...), Err: err}
}

// OfFile says in words why a file or folder could not be had.
func OfFile(path string, err error) error {
	var known *Error
	switch {
	case err == nil:
		return nil
	case errors.As(err, &known):
		return err
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		return New(Disk, err, "%s may not be read and written by this user; choose another data folder with --data",
			path)
	case errors.Is(err, syscall.ENOSPC), errors.Is(err, syscall.EDQUOT):
		return New(Disk, err,
			"the disk that holds %s is full; make room and start again: nothing that was acknowledged is lost", path)
	case errors.Is(err, syscall.ENOTDIR):
		return New(Disk, err, "%s is not a folder; choose another with --data", path)
	}
	return New(Disk, err, "%s cannot be used: %v", path, err)
}

// OfEvent gives what an event cannot be a kind.
func OfEvent(err error) error {
	var cannot event.CannotBe
	if errors.As(err, &cannot) {
		return New(Invalid, err, "%s", string(cannot))
	}
	return err
}

// Quote is a stranger's text for a log or a sentence: short, and without what a terminal obeys.
func Quote[S ~string](s S) string {
	if bus.CheckDevice(event.Device(s)) == nil {
		return string(s)
	}
	q := fmt.Sprintf("%+q", string(s))
	return q[:min(len(q), 60)]
}

// NotYet is returned for what has to wait until the server has read its log to the end.
func NotYet(site string) error {
	return New(Offline, nil, "the server of site %s has not read its log to the end yet; try again in a moment", site)
}
