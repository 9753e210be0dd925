package journal

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"

	"hod/internal/event"
)

// Kind tells code what went wrong with the record on the disk.
type Kind int

// Kinds of Error. The zero value is a failure that nobody classified.
const (
	Internal Kind = iota
	Full          // the disk is full
	ReadOnly      // the folder or the disk may not be written
	Locked        // another program held the journal too long
	Damaged       // what lies on the disk is not what was written, or the disk fails
	Missing       // there is no journal here
	Newer         // a newer hod made it
	Exists        // there is one here already
)

// Error is a failure of the record on the disk. Unless its Msg says otherwise, nothing of what was asked is kept.
type Error struct {
	Kind Kind
	Msg  string // for the person: what is wrong, then what to do
	Err  error  // for the log
}

func (e *Error) Error() string { return e.Msg }

func (e *Error) Unwrap() error { return e.Err }

// Fork is that two histories of one device's record contradict each other.
type Fork struct {
	Device event.Device
	Seq    uint64 // the first event known to differ
}

func (f *Fork) Error() string {
	return fmt.Sprintf(
		"the record of %q forks at or before event %d: its journal was restored from a backup, or copied", f.Device,
		f.Seq)
}

const onPaper = "nothing was recorded: write it on paper"

// SQLite's primary result codes that a person can do something about.
const (
	sqliteBusy     = 5
	sqliteLocked   = 6
	sqliteReadOnly = 8
	sqliteIOErr    = 10
	sqliteCorrupt  = 11
	sqliteFull     = 13
	sqliteCantOpen = 14
	sqliteNotADB   = 26

	sqliteIOErrShmSize = sqliteIOErr | 19<<8 // no room for the file that processes share
)

// fail says in a person's words what SQLite reports; any other error is passed on as it is.
func (j *Journal) fail(err error) error {
	var known *Error
	var reported *sqlite.Error
	switch {
	case err == nil, errors.As(err, &known), errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	case !errors.As(err, &reported):
		return err
	}
	e := &Error{Err: err}
	switch code := reported.Code(); {
	case code&0xff == sqliteFull, code == sqliteIOErrShmSize:
		e.Kind = Full
		e.Msg = fmt.Sprintf("the disk that holds %s is full; %s, and free some space", j.dir, onPaper)
	case code&0xff == sqliteReadOnly, code&0xff == sqliteCantOpen:
		e.Kind = ReadOnly
		e.Msg = fmt.Sprintf(
			"the journal in %s cannot be written; %s, and see who owns the folder and whether its disk is read-only",
			j.dir, onPaper)
	case code&0xff == sqliteBusy, code&0xff == sqliteLocked:
		e.Kind = Locked
		e.Msg = fmt.Sprintf(
			"another program held the journal in %s for more than %d seconds; %s, or close the other program and try again", j.dir, busyMillis/1000, onPaper)
	case code&0xff == sqliteCorrupt, code&0xff == sqliteNotADB:
		e.Kind = Damaged
		e.Msg = fmt.Sprintf(
			"the journal in %s is damaged; %s, copy the whole folder to a safe place, then see `hod verify`", j.dir,
			onPaper)
	case code&0xff == sqliteIOErr:
		e.Kind = Damaged
		e.Msg = fmt.Sprintf(
			"the disk that holds %s fails, and it is not certain that anything was recorded: write it on paper, copy the whole folder to a safe place, then see `hod log`", j.dir)
	default:
		e.Msg = fmt.Sprintf("the journal in %s failed (%v); %s", j.dir, err, onPaper)
	}
	return e
}

// scan reads a row. What is not of the kind that was put into its column is damage: the tables are strict.
func (j *Journal) scan(row interface{ Scan(...any) error }, into ...any) error {
	err := row.Scan(into...)
	var reported *sqlite.Error
	switch {
	case err == nil, errors.Is(err, sql.ErrNoRows), errors.As(err, &reported),
		errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return err
	}
	return j.damaged("a row cannot be read: %v", err)
}

// damaged is what a reader of the tables reports when a row is not what was written.
func (j *Journal) damaged(format string, args ...any) error {
	what := fmt.Sprintf(format, args...)
	return &Error{
		Kind: Damaged,
		Msg: fmt.Sprintf(
			"the journal in %s is damaged (%s): copy the whole folder to a safe place, then see `hod verify`", j.dir,
			what),
	}
}

// fileError says in a person's words what the system reports of a file in dir.
func fileError(dir string, err error) error {
	e := &Error{Err: err}
	switch {
	case errors.Is(err, fs.ErrPermission), errors.Is(err, syscall.EROFS):
		e.Kind = ReadOnly
		e.Msg = fmt.Sprintf("%s cannot be written; %s, and see who owns the folder and whether its disk is read-only",
			dir, onPaper)
	case errors.Is(err, syscall.ENOSPC):
		e.Kind = Full
		e.Msg = fmt.Sprintf("the disk that holds %s is full; %s, and free some space", dir, onPaper)
	default:
		e.Msg = fmt.Sprintf("%s cannot be used (%v); %s", dir, err, onPaper)
	}
	return e
}
