package device

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/fold"
	"hod/internal/unit"
)

// NewStatus makes hod status.
func NewStatus(env *session.Env) *cobra.Command {
	c := env.NewCommand("status", "Where this device's events are, what waits and since when, and how its clock stands",
		"hod status")
	c.RunE = func(c *cobra.Command, _ []string) error {
		return session.RunReadOnly(c.Context(), env, func(s *session.Session) error {
			return reportStatus(c.Context(), s)
		})
	}
	return c
}

// state is the document hod.status.v1. An event is in one of three places: kept here, at the server, backed up.
type state struct {
	Site         string          `json:"site"`
	Device       string          `json:"device"`
	Crew         string          `json:"crew,omitempty"`
	Role         string          `json:"role"`
	Kept         uint64          `json:"kept_here"`
	AtServer     uint64          `json:"at_the_server"`
	BackedUp     uint64          `json:"backed_up"`
	Waiting      uint64          `json:"waiting"`
	WaitingSince *terminal.Stamp `json:"waiting_since,omitempty"`
	Contact      *terminal.Stamp `json:"last_contact,omitempty"`
	OffsetS      float64         `json:"clock_offset_s"` // the server's clock less this device's
	Record       int             `json:"events_held"`    // of all devices
	SetAside     int             `json:"set_aside"`      // of this device's own
	Forked       bool            `json:"forked"`
	Server       string          `json:"server"`
	Dir          string          `json:"dir"`
	Bytes        int64           `json:"record_bytes"`           // that the record fills on this disk
	SpaceNotice  string          `json:"space_notice,omitempty"` // what to know of that, in sentences
}

func reportStatus(ctx context.Context, s *session.Session) error {
	st, err := s.Journal.Status(ctx)
	if err != nil {
		return err
	}
	dir, err := s.Env.Folder()
	if err != nil {
		return err
	}
	doc := state{
		Site: s.Device.Site, Device: string(s.Device.Name), Crew: string(s.Device.Crew), Role: s.Device.Role.String(),
		Kept: st.Kept, AtServer: st.AtServer, BackedUp: st.BackedUp, Waiting: st.Kept - st.AtServer,
		OffsetS: s.ClockOffset().Seconds(),
		Record:  s.Fold.Len(), Forked: st.Forked, Server: s.Device.Server, Dir: dir,
	}
	if !st.Oldest.IsZero() {
		doc.WaitingSince = (*terminal.Stamp)(&st.Oldest)
	}
	if !st.Contact.IsZero() {
		doc.Contact = (*terminal.Stamp)(&st.Contact)
	}
	if is, err := s.Journal.Space(); err == nil {
		doc.Bytes = is.Used
	}
	room, err := s.Room()
	if err != nil {
		return &terminal.Error{Kind: terminal.Usage, Msg: err.Error(), Err: err}
	}
	doc.SpaceNotice = room.Notice
	doc.SetAside = s.Fold.AsideOf(s.Device.Name)
	return s.Env.Print("status", doc, func(w io.Writer) { sayStatus(s, w, doc) })
}

func sayStatus(s *session.Session, w io.Writer, doc state) {
	now := s.Env.Now()
	fmt.Fprintf(w, "Device %s (%s) of site %s; %s held, in %s\n", doc.Device, doc.Role, doc.Site,
		terminal.Plural(doc.Record, "event", "events"), doc.Dir)
	fmt.Fprintf(w, "Of its own events: %d kept here, %d of them at the server, %d of them backed up\n", doc.Kept,
		doc.AtServer, doc.BackedUp)
	if doc.Waiting > 0 && doc.WaitingSince != nil {
		fmt.Fprintf(w, "Waiting: %s, the oldest for %s; `hod sync` sends\n", terminal.Plural(int(doc.Waiting), "event",
			"events"), since(now, time.Time(*doc.WaitingSince)))
	} else {
		fmt.Fprintln(w, "Nothing waits.")
	}
	if doc.Contact == nil {
		fmt.Fprintf(w, "No contact with the server at %s yet.\n", doc.Server)
	} else {
		fmt.Fprintf(w, "Last contact with the server at %s: %s ago\n", doc.Server, since(now, time.Time(*doc.Contact)))
		fmt.Fprintf(w, "Clock: %s\n", clockWord(s.ClockOffset()))
		if set := (s.ClockOffset() - s.Contact.Offset).Abs().Round(time.Second); set > fold.OffsetLimit {
			fmt.Fprintf(w,
				"It was set by %s since that contact; the times that it makes are corrected by what it is now.\n",
				unit.Duration(set))
		}
	}
	if doc.SpaceNotice != "" {
		fmt.Fprintln(w, doc.SpaceNotice)
	}
	if doc.SetAside > 0 {
		fmt.Fprintf(w,
			"%s set aside: kept, and counted in nothing until what each lacks is there; `hod log --set-aside` says why\n", terminal.Plural(doc.SetAside, "event of this device is", "events of this device are"))
	}
	if doc.Forked {
		fmt.Fprintln(w,
			"The server holds another history of this device: it was copied or restored. The next sync mends it.")
	}
}

func since(now, then time.Time) string {
	d := now.Sub(then).Round(time.Second)
	if d < time.Second {
		return "less than a second"
	}
	if d >= time.Minute {
		d = d.Round(time.Minute)
	}
	return unit.Duration(d)
}

func clockWord(offset time.Duration) string {
	switch d := offset.Round(100 * time.Millisecond); {
	case d > 30*time.Second:
		return fmt.Sprintf("%s slow against the server's; set it", unit.Duration(d.Round(time.Second)))
	case d < -30*time.Second:
		return fmt.Sprintf("%s fast against the server's; set it", unit.Duration(-d.Round(time.Second)))
	default:
		return fmt.Sprintf("within %s of the server's", unit.Duration(max(d.Abs(), time.Second)))
	}
}
