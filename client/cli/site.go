package cli

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
	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/unit"
)

// deviceEnv is what a command that opens this device's record needs of the outside.
type deviceEnv struct {
	*streams
	Args   []string // as they were typed, without the program's name
	Now    func() time.Time
	Uptime func() journal.Uptime // since the device was started, whatever its clock was set to; nil: not known
	Local  *time.Location        // the device's own time zone, where a site names none
	Random io.Reader             // makes the keys of devices

	dir  string   // the folder of the record, where --dir named one
	who  string   // the person who writes, where --who named one
	sure bool     // --sure: a value that the trade does not know was so
	own  *ownCopy // how old the copy is of which a command shows something; nil: it shows nothing of one
}

// site is this device's copy of a site's record, open: what it holds, what that says, and who asks when.
type site struct {
	env     *deviceEnv
	journal *journal.Journal
	device  journal.Device
	contact journal.Contact
	fold    *fold.Site
	plan    *fold.Plan
	in      *time.Location // the site's time zone
	units   unit.System
	now     time.Time // by the site's clock, as far as this device knows it
	wrote   bool      // something was kept that is to be sent
	written []event.Event
	learned *event.MaterialPlanned // what was asked of a material while an amendment was read, to be kept with it; nil: nothing
	after   func()                 // is done once a view was shown, before the record is closed; nil: nothing
}

// open opens this device's record and folds it. Close it after.
func (env *deviceEnv) open(ctx context.Context) (*site, error) {
	dir, err := env.folder()
	if err != nil {
		return nil, err
	}
	j, err := journal.Open(dir)
	if err != nil {
		return nil, err
	}
	s := &site{env: env, journal: j, device: j.Device(), now: env.Now()}
	if err := s.read(ctx); err != nil {
		s.close()
		return nil, err
	}
	return s, nil
}

func (s *site) read(ctx context.Context) error {
	var err error
	if s.contact, err = s.journal.Contact(ctx); err != nil {
		return err
	}
	if s.contact.At.IsZero() {
		s.contact.Offset = 0
	}
	s.now = s.clockNow().UTC() // documents have instants in UTC, as the server gives them
	s.env.own = ownCopyOf(s.contact, s.now)
	events, err := s.journal.Events(ctx)
	if err != nil {
		return err
	}
	if s.fold, err = folded(ctx, fold.New(s.device.Site, s.device.Root), events); err != nil {
		return err
	}
	s.look()
	return nil
}

// folded adds events to a site and brings it up to date, which takes seconds where there are a million. Whoever stops the
// command does not wait for that: folding touches nothing outside the site, which is then of no more use.
func folded(ctx context.Context, into *fold.Site, events []event.Event) (*fold.Site, error) {
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

// look takes from the fold what everything is shown by.
func (s *site) look() {
	s.plan = s.fold.Plan()
	s.units, s.in = s.plan.System, s.env.Local
	if s.plan.TimeZone == "" {
		return
	}
	if in, err := time.LoadLocation(s.plan.TimeZone); err == nil {
		s.in = in
	} else {
		s.env.hint("the site's time zone, %s, is not known on this device; times are shown in its own", s.plan.TimeZone)
	}
}

func (s *site) close() {
	if s.after != nil {
		s.after()
	}
	_ = s.journal.Close() // what was kept is on the disk already
}

// offset is the site's clock less this device's now, as far as this device knows: its last contact measured it, and where
// it can it sees whether its clock was set since.
func (s *site) offset() time.Duration {
	offset, _ := s.contact.OffsetAt(s.env.Now(), s.env.uptime())
	return offset
}

// when reads a typed time by the site's clock; on is the day of a bare clock time, empty for today.
func (s *site) when(text, on string) (time.Time, error) { return s.reader().when(text, on) }

// reader reads days and times by the site's clock and order, and asks or tells where there are two ways.
func (s *site) reader() reader {
	return reader{now: s.now, in: s.in, units: s.units, which: s.whichHour, took: func(text string, day time.Time, order string) {
		why := "as sites in " + s.units.String() + " units write it"
		if (order == monthDay) != (s.units == unit.US) {
			why = "no other way is a date"
		}
		if strings.Contains(text, ".") {
			why = "with points the day comes first"
		}
		s.env.hint("note: %s is read as %s, %s: %s", text, day.Format("Mon 2 Jan 2006"), order, why)
	}}
}

// whichHour asks which of two instants is meant at which the site's clocks showed the same.
func (s *site) whichHour(first, second time.Time) (time.Time, error) {
	if !s.env.asks() {
		return time.Time{}, cameTwice(first, second)
	}
	fmt.Fprintf(s.env.Stderr, "%s came twice on %s, when the clocks were put back. The first time (UTC%s) or the second (UTC%s)? [1/2] ",
		first.Format("15:04"), first.Format("2 January"), first.Format("-07:00"), second.Format("-07:00"))
	switch strings.TrimSpace(s.env.line()) {
	case "1":
		return first, nil
	case "2":
		return second, nil
	}
	return time.Time{}, cameTwice(first, second)
}

// today is the site's date.
func (s *site) today() string { return s.now.In(s.in).Format(time.DateOnly) }

// foreman says whether this device may plan and settle.
func (s *site) foreman() bool {
	return s.device.Role == event.Foreman || s.device.Role == event.SiteRole
}

// folder is where this device's record lies.
func (env *deviceEnv) folder() (string, error) {
	if env.dir != "" {
		return env.dir, nil
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
	return "", &Error{Kind: Disk, Msg: "there is no folder for this device's record: neither HOD_DIR nor a home folder is set; name one with --dir"}
}

// who is the person who writes, if that is said.
func (env *deviceEnv) person() string {
	if env.who != "" {
		return env.who
	}
	return env.Getenv("HOD_WHO")
}

// clock is what this device tells the time by.
func (env *deviceEnv) clock() sync.Clock { return sync.Clock{Now: env.Now, Uptime: env.Uptime} }

// uptime of this device now; zero where it has none.
func (env *deviceEnv) uptime() journal.Uptime {
	if env.Uptime == nil {
		return journal.Uptime{}
	}
	return env.Uptime()
}
