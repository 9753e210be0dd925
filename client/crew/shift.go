package crew

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/fold"
)

// NewShift makes hod shift.
func NewShift(env *session.Env) *cobra.Command {
	return env.NewGroup("shift", "Begin and end a crew's day", "hod shift start --people 4", newShiftStart(env),
		newShiftEnd(env))
}

func newShiftStart(env *session.Env) *cobra.Command {
	var body event.ShiftStarted
	var when session.MomentFlags
	c := env.NewCommand("start", "Begin the crew's day", "hod shift start --people 4",
		"hod shift start --people 3 --at 7:00")
	c.Flags().IntVar(&body.People, "people", 0, "how many are there")
	when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, _ []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			at, _, err := when.Read(s)
			if err != nil {
				return err
			}
			begun := begunAlready(s)
			if body.People > manyPeople {
				s.Env.Hintf("note: %d people are many for one crew; if that was a slip, `hod undo` and write it again",
					body.People)
			}
			text := "shift of crew " + crew(s) + " begun"
			if body.People > 0 {
				text += " by " + terminal.Plural(body.People, "person", "people")
			}
			k, err := s.Keep(c.Context(), session.Draft{Body: body, At: at})
			if err != nil {
				return err
			}
			k.Text = text + s.AtTime(at)
			if s.AddWarnings(&k); begun != "" {
				k.Warnings = []string{begun}
			}
			return s.Tell(k, k)
		})
	}
	return c
}

// begunAlready says that a shift of this crew is open; empty if none is.
func begunAlready(s *session.Session) string {
	open := s.Fold.OpenShift(s.Device.Crew, s.Now)
	switch {
	case open == nil:
		return ""
	case s.Now.Sub(open.When) >= fold.LongShift:
		return fmt.Sprintf(
			"the end of crew %s's shift of %s (%s) was never written; `hod shift end --at TIME --on DAY` says when it was", crew(s), s.FormatTime(open.When), open.Name)
	}
	return fmt.Sprintf(
		"crew %s's shift was begun already, %s (%s), and not ended since; `hod undo` takes this one back", crew(s),
		s.FormatTime(open.When), open.Name)
}

func newShiftEnd(env *session.Env) *cobra.Command {
	var when session.MomentFlags
	c := env.NewCommand("end [WORDS…]", "End the crew's day, with what is left for tomorrow", "hod shift end",
		`hod shift end "B3 still to cover"`)
	c.Args = cobra.ArbitraryArgs
	when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			at, _, err := when.Read(s)
			if err != nil {
				return err
			}
			body := event.ShiftEnded{Left: strings.Join(args, " ")}
			text := "shift of crew " + crew(s) + " ended"
			if body.Left != "" {
				text += "; for tomorrow: " + body.Left
			}
			return s.KeepAndTell(c.Context(), session.Draft{Body: body, At: at}, text+s.AtTime(at), unplaced(s))
		})
	}
	return c
}

// manyPeople is more than any one crew on a shell has. Common practice, no source.
const manyPeople = 60

func crew(s *session.Session) string {
	if s.Device.Crew == "" {
		return "(none)"
	}
	return string(s.Device.Crew)
}

// unplaced says which of the crew's batches of today are neither placed nor thrown away.
func unplaced(s *session.Session) string {
	var open []string
	for _, b := range s.Fold.Batches() {
		if b.ID.Crew == s.Device.Crew && b.ID.Day == s.Today() && b.Left > 0.01 {
			open = append(open, s.ShortBatch(b.ID)+" ("+s.Units.Share(b.Left)+")")
		}
	}
	if len(open) == 0 {
		return ""
	}
	return "not placed in the record: batch " + strings.Join(open, ", ")
}
