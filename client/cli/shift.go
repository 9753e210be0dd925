package cli

import (
	"strings"
	"time"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
)

func newShift(env *Env) *cobra.Command {
	return env.group("shift", "Begin and end a crew's day", "hod shift start --people 4", newShiftStart(env), newShiftEnd(env))
}

func newShiftStart(env *Env) *cobra.Command {
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
			if begun := s.shiftOpen(); !begun.IsZero() {
				s.env.hint("note: crew %s's shift was begun already, %s, and not ended since; `hod undo` takes this one back", s.crew(), s.clock(begun))
			}
			if body.People > manyPeople {
				s.env.hint("note: %d people are many for one crew; if that was a slip, `hod undo` and write it again", body.People)
			}
			text := "shift of crew " + s.crew() + " begun"
			if body.People > 0 {
				text += " by " + count(body.People, "person", "people")
			}
			return s.simply(c.Context(), draft{body: body, at: at}, text+s.said(at), "")
		})
	}
	return c
}

func newShiftEnd(env *Env) *cobra.Command {
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

// shiftOpen is when the crew's shift of today began that has not ended; zero if there is none.
func (s *site) shiftOpen() time.Time {
	var begun time.Time
	for _, r := range s.fold.Records() {
		if r.Crew != s.device.Crew || r.State == fold.SetAside || r.When.In(s.in).Format(time.DateOnly) != s.today() {
			continue
		}
		switch r.Now.(type) {
		case event.ShiftStarted:
			begun = r.When
		case event.ShiftEnded:
			begun = time.Time{}
		}
	}
	return begun
}

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
