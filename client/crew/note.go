package crew

import (
	"strings"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
)

// NewNote makes hod note.
func NewNote(env *session.Env) *cobra.Command {
	var zone string
	var when session.MomentFlags
	c := env.NewCommand("note WORDS…", "Write down something worth remembering",
		`hod note "mesh lifted at the north foot" --zone A3`)
	c.Args = terminal.MinimumArgs(1, "the words to write down")
	c.Flags().StringVar(&zone, "zone", "", "the zone that it is about")
	when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		return session.Run(c.Context(), env, func(s *session.Session) error {
			body := event.Noted{Text: strings.Join(args, " ")}
			text := "note: " + body.Text
			if zone != "" {
				z, err := s.FindZone(zone)
				if err != nil {
					return err
				}
				body.Zone, text = z, "note on "+string(z)+": "+body.Text
			}
			at, _, err := when.Read(s)
			if err != nil {
				return err
			}
			return s.KeepAndTell(c.Context(), session.Draft{Body: body, At: at}, text+s.AtTime(at), "")
		})
	}
	return c
}
