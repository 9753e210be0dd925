package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/fold"
)

// treat is a joint made ready for material, or mended after.
type treat struct {
	zone, along, method string
	coat                coatWords
	when                moment
}

func newTreat(env *Env) *cobra.Command {
	var t treat
	c := env.command("treat ZONE METHOD…", "Write down how a joint was treated",
		`hod treat A3 "chipped, wetted, slurried" --along B3`, "hod treat A3 bonding slurry")
	c.Long = "Without --along it is the joint inside the coat, or on the coat below."
	c.Args = atLeast(2, "a zone and what was done")
	f := c.Flags()
	f.StringVar(&t.along, "along", "", "the zone across the edge")
	t.coat.flags(f)
	t.when.flags(f)
	c.RunE = func(c *cobra.Command, args []string) error {
		t.zone, t.method = args[0], strings.Join(args[1:], " ")
		return env.with(c.Context(), func(s *site) error { return t.run(c.Context(), s) })
	}
	return c
}

func (t treat) run(ctx context.Context, s *site) error {
	zone, err := s.findZone(t.zone)
	if err != nil {
		return err
	}
	body := event.JointTreated{Method: t.method}
	if body.Coat, err = s.placedCoat(zone, t.coat); err != nil {
		return err
	}
	where := "in " + body.Coat.String()
	if t.along != "" {
		if body.OtherZone, err = s.findZone(t.along); err != nil {
			return err
		}
		if !s.neighbours(zone, body.OtherZone) {
			return notFound("zones %s and %s share no edge in the plan; %s shares one with %s", zone, body.OtherZone, zone, s.neighboursOf(zone))
		}
		where = fmt.Sprintf("of %s along %s", body.Coat, body.OtherZone)
	}
	at, _, err := t.when.read(s)
	if err != nil {
		return err
	}
	cold := s.coldJoints()
	k, err := s.keep(ctx, draft{body: body, at: at})
	if err != nil {
		return err
	}
	k.Text = fmt.Sprintf("joint %s treated: %s%s", where, t.method, s.said(at))
	if n := cold - s.coldJoints(); n > 0 {
		k.Next = fmt.Sprintf("%s now shows that it was treated; its history stays", count(n, "cold joint", "cold joints"))
	}
	s.warned(&k)
	return s.tellKept(k, k)
}

// coldJoints counts those that nothing was done about.
func (s *site) coldJoints() int {
	n := 0
	for _, f := range s.fold.Findings() {
		if (f.Code == fold.ColdJoint || f.Code == fold.UntreatedCoat) && f.Settled == "" {
			n++
		}
	}
	return n
}

func (s *site) neighbours(a, b event.Zone) bool {
	for _, e := range s.plan.Zones[a].Edges {
		if e.Other(a) == b {
			return true
		}
	}
	return false
}

func (s *site) neighboursOf(z event.Zone) string {
	var all []event.Zone
	for _, e := range s.plan.Zones[z].Edges {
		all = append(all, e.Other(z))
	}
	if len(all) == 0 {
		return "none"
	}
	return join(all)
}

// count is a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
