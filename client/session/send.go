package session

import (
	"context"
	"errors"
	"time"

	"hod/client/remote"
	"hod/client/sync"
	"hod/client/terminal"
	"hod/internal/bus"
)

// sendTime is how long a recording command tries to sync after it has said what it kept.
const sendTime = 700 * time.Millisecond

// Send tries for a moment to send what was just kept. Recording is done by then: a failure is no error, and says on the
// side what waits.
func (s *Session) Send(ctx context.Context) {
	if s.Env.Getenv("HOD_SYNC") == "off" {
		return
	}
	if s.isSilent() {
		s.tellWaiting(ctx, " (the server did not answer a moment ago)")
		return
	}
	ctx, cancel := context.WithTimeout(ctx, sendTime)
	defer cancel()
	road, err := remote.Open(ctx, s.Journal)
	// One that refuses does so at once, and is tried each time.
	if until, _ := ctx.Deadline(); err != nil && time.Until(until) < sendTime/4 {
		s.setSilent()
	}
	if err == nil {
		defer road.Close()
		road.SendOnly = s.tellRoom()
		var out sync.Outcome
		if out, err = road.Contact(ctx, s.Env.Clock()); err == nil {
			for _, f := range out.Forks {
				s.Env.Tellf("%s", f)
			}
			if out.Unconfirmed == 0 && out.Pushed > 0 {
				s.Env.Hintf("at the server: %s sent, %d fetched", terminal.Plural(out.Pushed, "event", "events"),
					out.Pulled)
			}
			return
		}
	}
	var refused *bus.Error
	if errors.As(err, &refused) && refused.Kind == bus.Full {
		s.Env.Hintf("not sent: %s", refused.Msg)
		return
	}
	s.tellWaiting(ctx, "")
}

// tellWaiting says on the side what is not at the server, and why where that is known.
func (s *Session) tellWaiting(ctx context.Context, why string) {
	if st, bad := s.Journal.Status(context.WithoutCancel(ctx)); bad == nil && st.Kept > st.AtServer {
		s.Env.Hintf("not sent: %s%s; `hod sync` tries again",
			terminal.Plural(int(st.Kept-st.AtServer), "event waits", "events wait"), why)
	}
}

// tellRoom says on the side that space runs out, and reports whether nothing of others is to be fetched.
func (s *Session) tellRoom() bool {
	room, err := s.Room()
	if err != nil {
		s.Env.Tellf("%v", err)
		return false
	}
	if room.Notice != "" {
		s.Env.Tellf("%s", room.Notice)
	}
	return room.Closed
}
