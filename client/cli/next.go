package cli

import (
	"context"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view"
	"hod/proto/hod/v1"
)

// nextBatch says where a crew's next batch goes.
type nextBatch struct {
	session.ViewFlags
	crew      string
	plan, all bool
}

func newNext(env *session.Env) *cobra.Command {
	var n nextBatch
	c := env.NewCommand("next", "Where the next batch goes, and what that risks",
		"hod next", "hod next --crew south --plan   # and the order that it has in mind", "hod next --all --server")
	n.Register(c)
	f := c.Flags()
	f.StringVar(&n.crew, "crew", "", "the crew that asks; this device's own where it is left out")
	f.BoolVar(&n.plan, "plan", false, "show the order of batches that the advice has in mind")
	f.BoolVar(&n.all, "all", false, "for each crew that works, the one that is free first before the others")
	c.MarkFlagsMutuallyExclusive("crew", "all")
	c.RunE = func(c *cobra.Command, _ []string) error { return n.run(c.Context(), env) }
	return c
}

func (n nextBatch) run(ctx context.Context, env *session.Env) error {
	if n.all {
		v, s, err := session.View(ctx, env, n.ViewFlags,
			func(s *session.Session) (view.NextAll, error) { return view.NextOfAll(s.Fold, s.Now, s.Location), nil },
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.NextAll(ctx, &hodv1.NextAllRequest{At: at})
				return r.GetNextAll(), err
			})
		if err != nil {
			return err
		}
		defer s.Close()
		if err := env.Show("next_all", v, report.NextAll(v, n.plan, s.Page())); err != nil {
			return err
		}
		for _, one := range v.Crews {
			if len(one.Missing) > 0 {
				return &terminal.Error{Kind: terminal.Refused}
			}
		}
		return nil
	}
	var crew event.Crew
	n.Read = func(s *session.Session) error {
		var err error
		crew, err = n.asks(s)
		return err
	}
	v, s, err := session.View(ctx, env, n.ViewFlags,
		func(s *session.Session) (view.Next, error) { return view.NextOf(s.Fold, s.Now, s.Location, crew), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Next(ctx, &hodv1.NextRequest{At: at, Crew: string(crew)})
			return r.GetNext(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	if err := env.Show("next", v, report.Next(v, n.plan, s.Page())); err != nil {
		return err
	}
	if len(v.Missing) > 0 {
		return &terminal.Error{Kind: terminal.Refused} // what is missing is said already
	}
	return nil
}

// asks is the crew that is asked for.
func (n nextBatch) asks(s *session.Session) (event.Crew, error) {
	switch {
	case n.crew != "":
		return s.KnownCrew(n.crew)
	case s.Device.Crew != "":
		return s.Device.Crew, nil
	}
	return "", terminal.Usagef("this device belongs to no crew; say whose batch it is, --crew north, or ask for all, --all")
}
