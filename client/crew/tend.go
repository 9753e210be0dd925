package crew

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
)

// tend is a surface covered, uncovered or wetted.
type tend struct {
	what  event.Tending
	words []string // zones, then with what
	face  string
	when  session.MomentFlags
}

// NewCover makes hod cover.
func NewCover(env *session.Env) *cobra.Command {
	return newTend(env, event.Covered, "cover ZONE… [WITH…]", "Write down that a surface was covered",
		"hod cover A3 wet burlap", "hod cover A3 A4 plastic --face outer --at 16:10")
}

// NewUncover makes hod uncover.
func NewUncover(env *session.Env) *cobra.Command {
	return newTend(env, event.Uncovered, "uncover ZONE…", "Write down that a cover was taken off", "hod uncover A3",
		"hod uncover A3,A4")
}

// NewWet makes hod wet.
func NewWet(env *session.Env) *cobra.Command {
	return newTend(env, event.Wetted, "wet ZONE… [WITH…]", "Write down that a surface was wetted", "hod wet A3 A4",
		"hod wet A3 fog nozzle --at -20m")
}

func newTend(env *session.Env, what event.Tending, use, short string, examples ...string) *cobra.Command {
	t := tend{what: what}
	c := env.NewCommand(use, short, examples...)
	c.Args = terminal.MinimumArgs(1, "a zone")
	c.Flags().StringVar(&t.face, "face", "", "outer or inner (default: both)")
	t.when.Register(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		t.words = args
		return session.Run(c.Context(), env, func(s *session.Session) error { return t.run(c.Context(), s) })
	}
	return c
}

func (t tend) run(ctx context.Context, s *session.Session) error {
	zones, with, err := s.FindZones(t.words)
	if err != nil {
		return err
	}
	face, err := event.ParseFace(t.face)
	if err != nil {
		return terminal.InFlag("face", err)
	}
	at, _, err := t.when.Read(s)
	if err != nil {
		return err
	}
	drafts := make([]session.Draft, len(zones))
	for i, zone := range zones {
		drafts[i] = session.Draft{
			Body: event.SurfaceTended{Zone: zone, Tending: t.what, With: with, Face: face},
			At:   at,
		}
	}
	all, err := s.KeepAll(ctx, drafts)
	if err != nil {
		return err
	}
	for i, zone := range zones {
		text := string(zone)
		if face != event.AnyFace {
			text += " " + face.String()
		}
		text += " " + t.what.String()
		if with != "" {
			text += " with " + with
		}
		all[i].Text = text + s.AtTime(at)
	}
	all[len(all)-1].Next = stillOpen(s, zones, t.what)
	return s.TellAll(all)
}

// stillOpen says which other zones have material in them and are not covered.
func stillOpen(s *session.Session, but []event.Zone, what event.Tending) string {
	if what != event.Covered {
		return ""
	}
	open := slices.DeleteFunc(s.Fold.Bare(s.Now), func(z event.Zone) bool { return slices.Contains(but, z) })
	if len(open) == 0 {
		return ""
	}
	return fmt.Sprintf("not covered in the record: %s", terminal.JoinNames(open))
}
