package cli

import (
	"context"

	"github.com/spf13/cobra"

	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view"
)

// nextBatch says where a crew's next batch goes.
type nextBatch struct {
	looking
	crew      string
	plan, all bool
}

func newNext(env *Env) *cobra.Command {
	var n nextBatch
	c := env.command("next", "Where the next batch goes, and what that risks",
		"hod next", "hod next --crew south --plan   # and the order that it has in mind", "hod next --all")
	f := c.Flags()
	f.StringVar(&n.at, "at", "", "as it stood then by what is known now: 13:40, -20m, \"yesterday 16:10\"")
	f.StringVar(&n.crew, "crew", "", "the crew that asks; this device's own where it is left out")
	f.BoolVar(&n.plan, "plan", false, "show the order of batches that the advice has in mind")
	f.BoolVar(&n.all, "all", false, "for each crew that works, the one that is free first before the others")
	c.MarkFlagsMutuallyExclusive("crew", "all")
	c.RunE = func(c *cobra.Command, _ []string) error { return n.run(c.Context(), env) }
	return c
}

func (n nextBatch) run(ctx context.Context, env *Env) error {
	if n.all {
		v, s, err := look(ctx, env, n.looking, func(s *site) (view.NextAll, error) { return view.NextOfAll(s.fold, s.now, s.in), nil }, nil)
		if err != nil {
			return err
		}
		defer s.close()
		if err := env.show("next_all", v, report.NextAll(v, n.plan, s.page())); err != nil {
			return err
		}
		for _, one := range v.Crews {
			if len(one.Missing) > 0 {
				return &Error{Kind: Refused}
			}
		}
		return nil
	}
	v, s, err := look(ctx, env, n.looking, n.own, nil)
	if err != nil {
		return err
	}
	defer s.close()
	if err := env.show("next", v, report.Next(v, n.plan, s.page())); err != nil {
		return err
	}
	if len(v.Missing) > 0 {
		return &Error{Kind: Refused} // what is missing is said already
	}
	return nil
}

func (n nextBatch) own(s *site) (view.Next, error) {
	crew, err := n.asks(s)
	if err != nil {
		return view.Next{}, err
	}
	return view.NextOf(s.fold, s.now, s.in, crew), nil
}

// asks is the crew that is asked for.
func (n nextBatch) asks(s *site) (event.Crew, error) {
	switch {
	case n.crew != "":
		return s.knownCrew(n.crew)
	case s.device.Crew != "":
		return s.device.Crew, nil
	}
	return "", usage("this device belongs to no crew; say whose batch it is, --crew north, or ask for all, --all")
}
