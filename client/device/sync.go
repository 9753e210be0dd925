package device

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/client/remote"
	"hod/client/session"
	"hod/client/sync"
	"hod/client/terminal"
	"hod/internal/bus"
	"hod/internal/report/plainly"
	"hod/internal/unit"
)

// syncing brings this device's record and the site's to the same.
type syncing struct{ follow bool }

// NewSync makes hod sync.
func NewSync(env *session.Env) *cobra.Command {
	var y syncing
	c := env.NewCommand("sync", "Send what waits, fetch what others wrote", "hod sync",
		"hod sync --follow   # stay in touch until Ctrl-C")
	c.Flags().BoolVar(&y.follow, "follow", false, "stay in touch and try again whenever the network comes back")
	c.RunE = func(c *cobra.Command, _ []string) error {
		s, err := session.OpenUnfolded(c.Context(), env)
		if err != nil {
			return err
		}
		defer s.Close()
		return y.run(c.Context(), s)
	}
	return c
}

// synced is the document hod.sync.v1.
type synced struct {
	Fetched     int      `json:"fetched"`
	Sent        int      `json:"sent"`
	Unconfirmed int      `json:"unconfirmed"`
	Waiting     int      `json:"waiting"`
	OffsetS     float64  `json:"clock_offset_s"` // the server's clock less this device's
	Forks       []string `json:"forks,omitempty"`
	Refused     []string `json:"refused,omitempty"`
	// ServerNotice is what people should know of the server, in sentences.
	ServerNotice string `json:"server_notice,omitempty"`
	// SpaceNotice is what to know of this device's own space, in sentences.
	SpaceNotice string `json:"space_notice,omitempty"`
}

// How long a contact may stand still, and how often a lost line is tried again.
const (
	contactTime = 2 * time.Minute
	tryAgain    = 5 * time.Second
	lookAgain   = time.Minute
)

func (y syncing) run(ctx context.Context, s *session.Session) error {
	if !y.follow {
		road, err := remote.Open(ctx, s.Journal)
		if err != nil {
			return offline(ctx, s, err)
		}
		defer road.Close()
		return y.contact(ctx, s, road)
	}
	for ctx.Err() == nil {
		if err := y.stay(ctx, s); err != nil && ctx.Err() == nil {
			s.Env.Tellf("%s; trying again", offline(ctx, s, err).Error())
			pause(ctx, tryAgain)
		}
	}
	return nil
}

// stay in touch over one line until it breaks.
func (y syncing) stay(ctx context.Context, s *session.Session) error {
	road, err := remote.Open(ctx, s.Journal)
	if err != nil {
		return err
	}
	defer road.Close()
	changed := make(chan struct{}, 1)
	stop, err := road.Changed(ctx, func() {
		select {
		case changed <- struct{}{}:
		default:
		}
	})
	if err != nil {
		return err
	}
	defer stop()
	for {
		if err := y.contact(ctx, s, road); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-road.Gone():
			return &bus.Error{Kind: bus.Unreachable, Msg: "the connection was lost"}
		case <-changed:
			pause(ctx, 200*time.Millisecond) // one contact for what comes together
		case <-time.After(lookAgain):
		}
	}
}

func pause(ctx context.Context, d time.Duration) {
	select {
	case <-ctx.Done():
	case <-time.After(d):
	}
}

func (y syncing) contact(ctx context.Context, s *session.Session, road *remote.Session) error {
	room, err := s.Room()
	if err != nil {
		return &terminal.Error{Kind: terminal.Usage, Msg: err.Error(), Err: err}
	}
	road.SendOnly = room.Closed
	out, err := s.Env.ContactWhile(ctx, road, contactTime)
	if err != nil {
		return offline(ctx, s, err)
	}
	if y.follow && out.Pulled+out.Pushed+len(out.Forks)+len(out.Refused) == 0 {
		return nil // nothing new is no news
	}
	doc := synced{
		out.Pulled, out.Pushed, out.Unconfirmed, out.Waiting, out.Offset.Seconds(), out.Forks, out.Refused,
		out.Notice, room.Notice,
	}
	return s.Env.Print("sync", doc, func(w io.Writer) {
		sayOutcome(w, out)
		if room.Notice != "" {
			fmt.Fprintln(w, room.Notice)
		}
	})
}

func sayOutcome(w io.Writer, out sync.Outcome) {
	fmt.Fprintf(w, "%d sent, %d fetched.", out.Pushed, out.Pulled)
	if out.Unconfirmed > 0 {
		fmt.Fprintf(w, " %d of those sent are not yet confirmed by the server; they are offered again.",
			out.Unconfirmed)
	}
	if out.Waiting > 0 {
		fmt.Fprintf(w, " %d pieces wait for what comes before them.", out.Waiting)
	}
	if !out.ServerClock.IsZero() {
		fmt.Fprintf(w,
			" The server's clock is wrong: it says %s. Times that this device makes are not corrected by it; whoever runs the server sets it.", out.ServerClock.UTC().Format("2006-01-02 15:04 MST"))
	}
	if set := out.Set.Abs(); set > 30*time.Second {
		fmt.Fprintf(w,
			" This device's clock was set by %s since the contact before; if nobody can tell which times it made before that, `hod flags` names them.", unit.Duration(set.Round(time.Second)))
	}
	if o := out.Offset.Abs(); o > 30*time.Second {
		fmt.Fprintf(w,
			" This device's clock is %s off the server's; times that it makes are corrected by that, typed ones are not.", unit.Duration(o.Round(time.Second)))
	}
	fmt.Fprintln(w)
	if out.Notice != "" {
		fmt.Fprintf(w, "At the server: %s\n", plainly.Clean(out.Notice))
	}
	for _, f := range out.Forks {
		fmt.Fprintln(w, f)
	}
	const shown = 3 // one device that goes wrong fills the stream with them
	for _, f := range out.Refused[:min(shown, len(out.Refused))] {
		fmt.Fprintln(w, f)
	}
	if more := len(out.Refused) - shown; more > 0 {
		fmt.Fprintf(w, "… and at least %d more such; --json has them.\n", more)
	}
}

// offline says that a contact failed, and what waits; nothing is lost by it.
func offline(ctx context.Context, s *session.Session, err error) error {
	if ctx.Err() != nil && !errors.Is(ctx.Err(), context.DeadlineExceeded) {
		return err
	}
	var e *bus.Error
	if !errors.As(err, &e) {
		return err
	}
	waits := ""
	if st, bad := s.Journal.Status(context.WithoutCancel(ctx)); bad == nil && st.Kept > st.AtServer {
		waits = fmt.Sprintf("; %s waiting here, safe on this disk", terminal.Plural(int(st.Kept-st.AtServer),
			"event is", "events are"))
	}
	return &terminal.Error{Kind: terminal.Offline, Msg: strings.TrimRight(e.Msg, ".") + waits, Err: err}
}
