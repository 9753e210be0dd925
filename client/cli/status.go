package cli

import (
	"context"
	"fmt"
	"io"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/fold"
	"hod/internal/unit"
)

func newStatus(env *deviceEnv) *cobra.Command {
	c := env.command("status", "Where this device's events are, what waits and since when, and how its clock stands", "hod status")
	c.RunE = func(c *cobra.Command, _ []string) error {
		return env.reads(c.Context(), func(s *site) error { return s.status(c.Context()) })
	}
	return c
}

// state is the document hod.status.v1. An event is in one of three places: kept here, at the server, backed up.
type state struct {
	Site         string  `json:"site"`
	Device       string  `json:"device"`
	Crew         string  `json:"crew,omitempty"`
	Role         string  `json:"role"`
	Kept         uint64  `json:"kept_here"`
	AtServer     uint64  `json:"at_the_server"`
	BackedUp     uint64  `json:"backed_up"`
	Waiting      uint64  `json:"waiting"`
	WaitingSince *Stamp  `json:"waiting_since,omitempty"`
	Contact      *Stamp  `json:"last_contact,omitempty"`
	OffsetS      float64 `json:"clock_offset_s"` // the server's clock less this device's
	Record       int     `json:"events_held"`    // of all devices
	SetAside     int     `json:"set_aside"`      // of this device's own
	Forked       bool    `json:"forked"`
	Server       string  `json:"server"`
	Dir          string  `json:"dir"`
}

func (s *site) status(ctx context.Context) error {
	st, err := s.journal.Status(ctx)
	if err != nil {
		return err
	}
	dir, err := s.env.folder()
	if err != nil {
		return err
	}
	doc := state{
		Site: s.device.Site, Device: string(s.device.Name), Crew: string(s.device.Crew), Role: s.device.Role.String(),
		Kept: st.Kept, AtServer: st.AtServer, BackedUp: st.BackedUp, Waiting: st.Kept - st.AtServer, OffsetS: s.offset().Seconds(),
		Record: s.fold.Len(), Forked: st.Forked, Server: s.device.Server, Dir: dir,
	}
	if !st.Oldest.IsZero() {
		doc.WaitingSince = (*Stamp)(&st.Oldest)
	}
	if !st.Contact.IsZero() {
		doc.Contact = (*Stamp)(&st.Contact)
	}
	for _, r := range s.fold.Records() {
		if r.Device == s.device.Name && r.Aside != nil {
			doc.SetAside++
		}
	}
	return s.env.print("status", doc, func(w io.Writer) { s.sayStatus(w, doc) })
}

func (s *site) sayStatus(w io.Writer, doc state) {
	now := s.env.Now()
	fmt.Fprintf(w, "Device %s (%s) of site %s; %s held, in %s\n", doc.Device, doc.Role, doc.Site, count(doc.Record, "event", "events"), doc.Dir)
	fmt.Fprintf(w, "Of its own events: %d kept here, %d of them at the server, %d of them backed up\n", doc.Kept, doc.AtServer, doc.BackedUp)
	if doc.Waiting > 0 && doc.WaitingSince != nil {
		fmt.Fprintf(w, "Waiting: %s, the oldest for %s; `hod sync` sends\n", count(int(doc.Waiting), "event", "events"), since(now, time.Time(*doc.WaitingSince)))
	} else {
		fmt.Fprintln(w, "Nothing waits.")
	}
	if doc.Contact == nil {
		fmt.Fprintf(w, "No contact with the server at %s yet.\n", doc.Server)
	} else {
		fmt.Fprintf(w, "Last contact with the server at %s: %s ago\n", doc.Server, since(now, time.Time(*doc.Contact)))
		fmt.Fprintf(w, "Clock: %s\n", clockWord(s.offset()))
		if set := (s.offset() - s.contact.Offset).Abs().Round(time.Second); set > fold.OffsetLimit {
			fmt.Fprintf(w, "It was set by %s since that contact; the times that it makes are corrected by what it is now.\n", unit.Duration(set))
		}
	}
	if doc.SetAside > 0 {
		fmt.Fprintf(w, "%s set aside: kept, and counted in nothing until what each lacks is there; `hod log --set-aside` says why\n", count(doc.SetAside, "event of this device is", "events of this device are"))
	}
	if doc.Forked {
		fmt.Fprintln(w, "The server holds another history of this device: it was copied or restored. The next sync mends it.")
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
