package cli

import (
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
)

func newNote(env *deviceEnv) *cobra.Command {
	var zone string
	var when moment
	c := env.command("note WORDS…", "Write down something worth remembering", `hod note "mesh lifted at the north foot" --zone A3`)
	c.Args = atLeast(1, "the words to write down")
	c.Flags().StringVar(&zone, "zone", "", "the zone that it is about")
	when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return env.with(c.Context(), func(s *site) error {
			body := event.Noted{Text: strings.Join(args, " ")}
			text := "note: " + body.Text
			if zone != "" {
				z, err := s.findZone(zone)
				if err != nil {
					return err
				}
				body.Zone, text = z, "note on "+string(z)+": "+body.Text
			}
			at, _, err := when.read(s)
			if err != nil {
				return err
			}
			return s.simply(c.Context(), draft{body: body, at: at}, text+s.said(at), "")
		})
	}
	return c
}
