package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
)

func newShift(env *deviceEnv) *cobra.Command {
	return env.group("shift", "Begin and end a crew's day", "hod shift start --people 4", newShiftStart(env), newShiftEnd(env))
}

func newShiftStart(env *deviceEnv) *cobra.Command {
	var body event.ShiftStarted
	var when moment
	c := env.command("start", "Begin the crew's day", "hod shift start --people 4", "hod shift start --people 3 --at 7:00")
	c.Flags().IntVar(&body.People, "people", 0, "how many are there")
	when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, _ []string) error {
		return env.with(c.Context(), func(s *site) error {
			at, _, err := when.read(s)
			if err != nil {
				return err
			}
			begun := s.begunAlready()
			if body.People > manyPeople {
				s.env.hint("note: %d people are many for one crew; if that was a slip, `hod undo` and write it again", body.People)
			}
			text := "shift of crew " + s.crew() + " begun"
			if body.People > 0 {
				text += " by " + count(body.People, "person", "people")
			}
			k, err := s.keep(c.Context(), draft{body: body, at: at})
			if err != nil {
				return err
			}
			k.Text = text + s.said(at)
			if s.warned(&k); begun != "" {
				k.Warnings = []string{begun}
			}
			return s.tellKept(k, k)
		})
	}
	return c
}

// begunAlready says that a shift of this crew is open; empty if none is.
func (s *site) begunAlready() string {
	open := s.fold.OpenShift(s.device.Crew, s.now)
	switch {
	case open == nil:
		return ""
	case s.now.Sub(open.When) >= fold.LongShift:
		return fmt.Sprintf("the end of crew %s's shift of %s (%s) was never written; `hod shift end --at TIME --on DAY` says when it was", s.crew(), s.clock(open.When), open.Name)
	}
	return fmt.Sprintf("crew %s's shift was begun already, %s (%s), and not ended since; `hod undo` takes this one back", s.crew(), s.clock(open.When), open.Name)
}

func newShiftEnd(env *deviceEnv) *cobra.Command {
	var when moment
	c := env.command("end [WORDS…]", "End the crew's day, with what is left for tomorrow", "hod shift end", `hod shift end "B3 still to cover"`)
	c.Args = cobra.ArbitraryArgs
	when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return env.with(c.Context(), func(s *site) error {
			at, _, err := when.read(s)
			if err != nil {
				return err
			}
			body := event.ShiftEnded{Left: strings.Join(args, " ")}
			text := "shift of crew " + s.crew() + " ended"
			if body.Left != "" {
				text += "; for tomorrow: " + body.Left
			}
			return s.simply(c.Context(), draft{body: body, at: at}, text+s.said(at), s.unplaced())
		})
	}
	return c
}

// manyPeople is more than any one crew on a shell has. Common practice, no source.
const manyPeople = 60

func (s *site) crew() string {
	if s.device.Crew == "" {
		return "(none)"
	}
	return string(s.device.Crew)
}

// unplaced says which of the crew's batches of today are neither placed nor thrown away.
func (s *site) unplaced() string {
	var open []string
	for _, b := range s.fold.Batches() {
		if b.ID.Crew == s.device.Crew && b.ID.Day == s.today() && b.Left > 0.01 {
			open = append(open, s.shortBatch(b.ID)+" ("+s.units.Share(b.Left)+")")
		}
	}
	if len(open) == 0 {
		return ""
	}
	return "not placed in the record: batch " + strings.Join(open, ", ")
}
