package session

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"strings"
	"time"

	"hod/client/journal"
	"hod/client/sync"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// Env is what a command that opens this device's record needs of the outside.
type Env struct {
	*terminal.Streams
	Args   []string // as they were typed, without the program's name
	Now    func() time.Time
	Uptime func() journal.Uptime // since the device was started, whatever its clock was set to; nil: not known
	Local  *time.Location        // the device's own time zone, where a site names none
	Random io.Reader             // makes the keys of devices

	ShelfAfter int // events that a command reads before they are packed and indexed; 0: as many as take time to read

	Dir     string   // the folder of the record, where --dir named one
	Who     string   // the person who writes, where --who named one
	Sure    bool     // --sure: a value that the trade does not know was so
	table   *asked   // what is shown is this table of it; nil: words or JSON
	copyAge *copyAge // how old the copy is of which a command shows something; nil: it shows nothing of one
}

// Session is this device's copy of a site's record, open: what it holds, what that says, and who asks when.
type Session struct {
	Env      *Env
	dir      string // where the journal lies
	Journal  *journal.Journal
	Device   journal.Device
	Contact  journal.Contact
	Fold     *fold.Site
	Plan     *fold.Plan
	Location *time.Location // the site's time zone
	Units    unit.System
	Now      time.Time // by the site's clock, as far as this device knows it
	Wrote    bool      // something was kept that is to be sent
	written  []event.Event
	// what was asked of a material while an amendment was read, to be kept with it; nil: nothing
	Learned *event.MaterialPlanned
	OnClose func() // is done once a view was shown, before the record is closed; nil: nothing
}

// Open opens this device's record and folds it. Close it after.
func Open(ctx context.Context, env *Env) (*Session, error) {
	dir, err := env.Folder()
	if err != nil {
		return nil, err
	}
	j, err := journal.Open(dir)
	if err != nil {
		return nil, err
	}
	s := &Session{Env: env, dir: dir, Journal: j, Device: j.Device(), Now: env.Now()}
	if err := s.Reload(ctx); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// OpenUnfolded opens this device's record for who asks nothing of what it says: Fold and Plan are nil. Close it after.
func OpenUnfolded(ctx context.Context, env *Env) (*Session, error) {
	dir, err := env.Folder()
	if err != nil {
		return nil, err
	}
	j, err := journal.Open(dir)
	if err != nil {
		return nil, err
	}
	s := &Session{Env: env, dir: dir, Journal: j, Device: j.Device(), Now: env.Now()}
	if s.Contact, err = j.Contact(ctx); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// Reload reads the journal anew, as after an event was tried on the fold and not kept.
func (s *Session) Reload(ctx context.Context) error {
	var err error
	if s.Contact, err = s.Journal.Contact(ctx); err != nil {
		return err
	}
	if s.Contact.At.IsZero() {
		s.Contact.Offset = 0
	}
	s.Now = s.ClockNow().UTC() // documents have instants in UTC, as the server gives them
	s.Env.copyAge = copyAgeOf(s.Contact, s.Now)
	if err := s.load(ctx); err != nil {
		return err
	}
	s.Refresh()
	return nil
}

// foldAll adds events to a site and brings it up to date, which takes seconds where there are a million. Whoever stops
// the command does not wait for that: folding touches nothing outside the site, which is then of no more use.
func foldAll(ctx context.Context, into *fold.Site, events []event.Event) (*fold.Site, error) {
	done := make(chan struct{})
	go func() {
		for _, e := range events {
			if ctx.Err() != nil {
				return
			}
			into.Add(e)
		}
		into.Plan()
		close(done)
	}()
	select {
	case <-ctx.Done():
		return nil, context.Cause(ctx)
	case <-done:
		return into, nil
	}
}

// Refresh takes from the fold what everything is shown by.
func (s *Session) Refresh() {
	s.Plan = s.Fold.Plan()
	s.Units, s.Location = s.Plan.System, s.Env.Local
	if s.Plan.TimeZone == "" {
		return
	}
	if in, err := time.LoadLocation(s.Plan.TimeZone); err == nil {
		s.Location = in
	} else {
		s.Env.Hintf("the site's time zone, %s, is not known on this device; times are shown in its own",
			s.Plan.TimeZone)
	}
}

// Close does what is left to do once a view was shown, and closes the journal.
func (s *Session) Close() {
	if s.OnClose != nil {
		s.OnClose()
	}
	_ = s.Journal.Close() // what was kept is on the disk already
}

// ClockOffset is the site's clock less this device's now, as far as this device knows: its last contact measured it,
// and where it can it sees whether its clock was set since.
func (s *Session) ClockOffset() time.Duration {
	offset, _ := s.Contact.OffsetAt(s.Env.Now(), s.Env.uptime())
	return offset
}

// ParseTime reads a typed time by the site's clock; on is the day of a bare clock time, empty for today.
func (s *Session) ParseTime(text, on string) (time.Time, error) { return s.TimeReader().Past(text, on) }

// TimeReader reads days and times by the site's clock and order, and asks or tells where there are two ways.
func (s *Session) TimeReader() terminal.TimeReader {
	return terminal.TimeReader{
		Now: s.Now, Location: s.Location, Units: s.Units, Which: s.whichHour,
		Took: func(text string, day time.Time, order string) {
			why := "as sites in " + s.Units.String() + " units write it"
			if (order == terminal.MonthDay) != (s.Units == unit.US) {
				why = "no other way is a date"
			}
			if strings.Contains(text, ".") {
				why = "with points the day comes first"
			}
			s.Env.Hintf("note: %s is read as %s, %s: %s", text, day.Format("Mon 2 Jan 2006"), order, why)
		},
	}
}

// whichHour asks which of two instants is meant at which the site's clocks showed the same.
func (s *Session) whichHour(first, second time.Time) (time.Time, error) {
	if !s.Env.CanAsk() {
		return time.Time{}, terminal.TwiceError(first, second)
	}
	fmt.Fprintf(s.Env.Stderr,
		"%s came twice on %s, when the clocks were put back. The first time (UTC%s) or the second (UTC%s)? [1/2] ",
		first.Format("15:04"), first.Format("2 January"), first.Format("-07:00"), second.Format("-07:00"))
	switch strings.TrimSpace(s.Env.ReadLine()) {
	case "1":
		return first, nil
	case "2":
		return second, nil
	}
	return time.Time{}, terminal.TwiceError(first, second)
}

// Today is the site's date.
func (s *Session) Today() string { return s.Now.In(s.Location).Format(time.DateOnly) }

// IsForeman says whether this device may plan and settle.
func (s *Session) IsForeman() bool {
	return s.Device.Role == event.Foreman || s.Device.Role == event.SiteRole
}

// Folder is where this device's record lies.
func (env *Env) Folder() (string, error) {
	if env.Dir != "" {
		return env.Dir, nil
	}
	if dir := env.Getenv("HOD_DIR"); dir != "" {
		return dir, nil
	}
	home := env.Getenv("HOME")
	switch runtime.GOOS {
	case "windows":
		if dir := env.Getenv("LocalAppData"); dir != "" {
			return filepath.Join(dir, "hod"), nil
		}
	case "darwin":
		if home != "" {
			return filepath.Join(home, "Library", "Application Support", "hod"), nil
		}
	default:
		if dir := env.Getenv("XDG_STATE_HOME"); filepath.IsAbs(dir) { // a relative one is to be ignored
			return filepath.Join(dir, "hod"), nil
		}
		if home != "" {
			return filepath.Join(home, ".local", "state", "hod"), nil
		}
	}
	return "", &terminal.Error{
		Kind: terminal.Disk,
		Msg:  "there is no folder for this device's record: neither HOD_DIR nor a home folder is set; name one with --dir",
	}
}

// who is the person who writes, if that is said.
func (env *Env) person() string {
	if env.Who != "" {
		return env.Who
	}
	return env.Getenv("HOD_WHO")
}

// Clock is what this device tells the time by.
func (env *Env) Clock() sync.Clock { return sync.Clock{Now: env.Now, Uptime: env.Uptime} }

// uptime of this device now; zero where it has none.
func (env *Env) uptime() journal.Uptime {
	if env.Uptime == nil {
		return journal.Uptime{}
	}
	return env.Uptime()
}

// ToSiteClock is an instant of this device's clock by the site's.
func (s *Session) ToSiteClock(t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return t.Add(s.ClockOffset())
}
