package cli

import (
	"context"
	"fmt"
	"slices"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
)

// tend is a surface covered, uncovered or wetted.
type tend struct {
	what  event.Tending
	words []string // zones, then with what
	face  string
	when  moment
}

func newCover(env *deviceEnv) *cobra.Command {
	return newTend(env, event.Covered, "cover ZONE… [WITH…]", "Write down that a surface was covered", "hod cover A3 wet burlap", "hod cover A3 A4 plastic --face outer --at 16:10")
}

func newUncover(env *deviceEnv) *cobra.Command {
	return newTend(env, event.Uncovered, "uncover ZONE…", "Write down that a cover was taken off", "hod uncover A3", "hod uncover A3,A4")
}

func newWet(env *deviceEnv) *cobra.Command {
	return newTend(env, event.Wetted, "wet ZONE… [WITH…]", "Write down that a surface was wetted", "hod wet A3 A4", "hod wet A3 fog nozzle --at -20m")
}

func newTend(env *deviceEnv, what event.Tending, use, short string, examples ...string) *cobra.Command {
	t := tend{what: what}
	c := env.command(use, short, examples...)
	c.Args = atLeast(1, "a zone")
	c.Flags().StringVar(&t.face, "face", "", "outer or inner (default: both)")
	t.when.flags(c.Flags())
	c.RunE = func(c *cobra.Command, args []string) error {
		t.words = args
		return env.with(c.Context(), func(s *site) error { return t.run(c.Context(), s) })
	}
	return c
}

func (t tend) run(ctx context.Context, s *site) error {
	zones, with, err := s.findZones(t.words)
	if err != nil {
		return err
	}
	face, err := event.ParseFace(t.face)
	if err != nil {
		return flagged("face", err)
	}
	at, _, err := t.when.read(s)
	if err != nil {
		return err
	}
	drafts := make([]draft, len(zones))
	for i, zone := range zones {
		drafts[i] = draft{body: event.SurfaceTended{Zone: zone, Tending: t.what, With: with, Face: face}, at: at}
	}
	all, err := s.keepEach(ctx, drafts)
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
		all[i].Text = text + s.said(at)
	}
	all[len(all)-1].Next = s.stillOpen(zones, t.what)
	return s.tellEach(all)
}

// stillOpen says which other zones have material in them and are not covered.
func (s *site) stillOpen(but []event.Zone, what event.Tending) string {
	if what != event.Covered {
		return ""
	}
	var open []event.Zone
	for _, name := range s.plan.ZoneNames() {
		z, ok := s.fold.Zone(name)
		if slices.Contains(but, name) || !ok || !placedIn(z) || s.covered(z) {
			continue
		}
		open = append(open, name)
	}
	if len(open) == 0 {
		return ""
	}
	return fmt.Sprintf("not covered in the record: %s", join(open))
}

func placedIn(z fold.ZoneIs) bool {
	for _, c := range z.Coats {
		if len(c.Placed) > 0 {
			return true
		}
	}
	return false
}

// covered says that every face of a zone on which something was placed lies covered now.
func (s *site) covered(z fold.ZoneIs) bool {
	for _, c := range z.Coats {
		if len(c.Placed) > 0 && !z.Covered(c.CoatPlanned.Coat.Face, s.now) {
			return false
		}
	}
	return true
}
