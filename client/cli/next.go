package cli

import (
	"context"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// nextBatch says where a crew's next batch goes.
type nextBatch struct {
	looking
	crew      string
	plan, all bool
}

func newNext(env *deviceEnv) *cobra.Command {
	var n nextBatch
	c := env.command("next", "Where the next batch goes, and what that risks",
		"hod next", "hod next --crew south --plan   # and the order that it has in mind", "hod next --all --server")
	n.flags(c)
	f := c.Flags()
	f.StringVar(&n.crew, "crew", "", "the crew that asks; this device's own where it is left out")
	f.BoolVar(&n.plan, "plan", false, "show the order of batches that the advice has in mind")
	f.BoolVar(&n.all, "all", false, "for each crew that works, the one that is free first before the others")
	c.MarkFlagsMutuallyExclusive("crew", "all")
	c.RunE = func(c *cobra.Command, _ []string) error { return n.run(c.Context(), env) }
	return c
}

func (n nextBatch) run(ctx context.Context, env *deviceEnv) error {
	if n.all {
		v, s, err := look(ctx, env, n.looking,
			func(s *site) (view.NextAll, error) { return view.NextOfAll(s.fold, s.now, s.in), nil },
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.NextAll(ctx, &hodv1.NextAllRequest{At: at})
				return r.GetNextAll(), err
			})
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
	var crew event.Crew
	n.read = func(s *site) error {
		var err error
		crew, err = n.asks(s)
		return err
	}
	v, s, err := look(ctx, env, n.looking,
		func(s *site) (view.Next, error) { return view.NextOf(s.fold, s.now, s.in, crew), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Next(ctx, &hodv1.NextRequest{At: at, Crew: string(crew)})
			return r.GetNext(), err
		})
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
