package crew

import (
	"context"
	"fmt"
	"strconv"
	"time"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
)

// begin is a batch that is being mixed.
type begin struct {
	mix, ready string
	number     int
	when       session.MomentFlags
}

// NewBegin makes hod begin.
func NewBegin(env *session.Env) *cobra.Command {
	var b begin
	c := env.NewCommand("begin [MIX]", "Write down that a batch is in the mixer", "hod begin face",
		"hod begin --ready 10:42")
	c.Long = "What is in the mixer counts for `hod next` until `hod batch` says what went in, or for an hour. The number is the next of the crew's day."
	c.Args = terminal.RangeArgs(0, 1, "the mix")
	f := c.Flags()
	f.StringVar(&b.ready, "ready", "", "when it is expected to be ready: 10:42")
	f.IntVar(&b.number, "number", 0, "number of the batch (default: the next)")
	b.when.Register(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) > 0 {
			b.mix = args[0]
		}
		return session.Run(c.Context(), env, func(s *session.Session) error { return b.run(c.Context(), s) })
	}
	return c
}

func (b begin) run(ctx context.Context, s *session.Session) error {
	if s.Device.Crew == "" {
		return terminal.Usagef("this device belongs to no crew, and a batch is a crew's; write it on a crew's device")
	}
	at, _, err := b.when.Read(s)
	if err != nil {
		return err
	}
	body := event.BatchBegun{Batch: event.Batch{Crew: s.Device.Crew, Day: s.Today(), Number: b.number}}
	if b.ready != "" {
		if body.Ready, err = s.TimeReader().Any(b.ready, ""); err != nil {
			return err
		}
		if err := ReadyAfterBegin(s, "--ready", body.Ready, at); err != nil {
			return err
		}
	}
	text := "batch"
	if b.mix != "" {
		m, err := s.FindMix(b.mix)
		if err != nil {
			return err
		}
		body.Mix = m.MixPlanned.Mix
	}
	if b.number == 0 {
		body.Batch.Number = nextNumber(s, body.Batch.Crew, body.Batch.Day)
	}
	text += " " + strconv.Itoa(body.Batch.Number)
	if body.Mix != "" {
		text += " of " + string(body.Mix)
	}
	text += " is in the mixer"
	if !body.Ready.IsZero() {
		text += ", ready at " + s.FormatTime(body.Ready)
	}
	text += b.inPlaceOf(s, body.Batch, at)
	return s.KeepAndTell(ctx, session.Draft{Body: body, At: at, Typed: b.ready != ""}, text+s.AtTime(at),
		fmt.Sprintf("`hod next` reckons with it; `hod batch %s` when it is mixed", orMix(body.Mix)))
}

// inPlaceOf says what is in the mixer under that number already: the last that was begun holds.
func (b begin) inPlaceOf(s *session.Session, batch event.Batch, at time.Time) string {
	for _, was := range s.Fold.Begun(s.Now) {
		if was.Batch == batch && (at.IsZero() || !at.Before(was.Record.When)) {
			return fmt.Sprintf(", in place of batch %d as it was begun before (%s)", batch.Number, was.Record.Name)
		}
	}
	return ""
}

// ReadyAfterBegin refuses that a batch is ready before it was begun, which is now where begun is zero. Times are
// written to the minute.
func ReadyAfterBegin(s *session.Session, named string, ready, begun time.Time) error {
	if begun.IsZero() {
		begun = s.Now
	}
	if ready.IsZero() || !ready.Before(begun.Truncate(time.Minute)) {
		return nil
	}
	return terminal.Usagef("%s %s is before the batch was begun (%s)", named, s.FormatTime(ready), s.FormatTime(begun))
}

func orMix(m event.Mix) string {
	if m == "" {
		return "MIX"
	}
	return string(m)
}
