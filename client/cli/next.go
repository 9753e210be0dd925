package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view/advice"
	hodv1 "hod/proto/hod/v1"
)

// nextBatch says where a crew's next batch goes.
type nextBatch struct {
	session.ViewFlags
	crew      string
	plan, all bool
	take      bool
	record    bool
}

func newNext(env *session.Env) *cobra.Command {
	var n nextBatch
	c := env.NewCommand("next", "Where the next batch goes, and what that risks",
		"hod next", "hod next --take   # the others hear of it at the next contact",
		"hod next --crew south --plan   # and the order that it has in mind", "hod next --all --server")
	n.Register(c)
	f := c.Flags()
	f.StringVar(&n.crew, "crew", "", "the crew that asks; this device's own where it is left out")
	f.BoolVar(&n.plan, "plan", false, "show the order of batches that the advice has in mind")
	f.BoolVar(&n.all, "all", false, "for each crew that works, the one that is free first before the others")
	f.BoolVar(&n.take, "take", false,
		"take the proposal: the others are sent elsewhere until you place, or until it expires by itself")
	f.BoolVar(&n.record, "record", false, "what chances the proposals stated that were taken, and what came")
	c.MarkFlagsMutuallyExclusive("crew", "all")
	c.RunE = func(c *cobra.Command, _ []string) error { return n.run(c.Context(), env) }
	return c
}

func (n nextBatch) run(ctx context.Context, env *session.Env) error {
	switch {
	case n.record && (n.take || n.all || n.crew != "" || n.plan || n.Server):
		return terminal.Usagef(
			"--record is of all proposals that this device knows of; leave out the other flags but --at")
	case n.record:
		return n.compared(ctx, env)
	case n.take && n.all:
		return terminal.Usagef("--take is for one crew, --all for each; leave one of them out")
	case n.take && (n.Server || n.At != ""):
		return terminal.Usagef("--take writes on this device, for now; leave out --server and --at")
	case n.take:
		return session.Run(ctx, env, func(s *session.Session) error { return n.taken(ctx, s) })
	}
	if n.all {
		return n.ofAll(ctx, env)
	}
	return n.ofOne(ctx, env)
}

// ofAll shows where the next batch of each crew goes.
func (n nextBatch) ofAll(ctx context.Context, env *session.Env) error {
	v, s, err := session.View(ctx, env, n.ViewFlags,
		func(s *session.Session) (advice.NextAll, error) {
			return advice.NextOfAll(s.Fold, s.Now, s.Location), nil
		},
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
	var missing [][]string
	for _, one := range v.Crews {
		missing = append(missing, one.Missing)
	}
	return terminal.Incomplete(missing...)
}

// ofOne shows where the next batch of one crew goes.
func (n nextBatch) ofOne(ctx context.Context, env *session.Env) error {
	var crew event.Crew
	n.Read = func(s *session.Session) error {
		var err error
		crew, err = n.asks(s)
		return err
	}
	v, s, err := session.View(ctx, env, n.ViewFlags,
		func(s *session.Session) (advice.Next, error) {
			return advice.NextOf(s.Fold, s.Now, s.Location, crew), nil
		},
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
	return terminal.Incomplete(v.Missing)
}

// asks is the crew that is asked for.
func (n nextBatch) asks(s *session.Session) (event.Crew, error) {
	switch {
	case n.crew != "":
		return s.KnownCrew(n.crew)
	case s.Device.Crew != "":
		return s.Device.Crew, nil
	}
	return "", terminal.Usagef(
		"this device belongs to no crew; say whose batch it is, --crew north, or ask for all, --all")
}

// compared shows what proposals stated and what came.
func (n nextBatch) compared(ctx context.Context, env *session.Env) error {
	v, s, err := session.View(ctx, env, n.ViewFlags, func(s *session.Session) (advice.NextRecord, error) {
		return advice.NextRecordOf(s.Fold, s.Now), nil
	}, nil)
	if err != nil {
		return err
	}
	defer s.Close()
	return env.Show("next_record", v, report.NextRecord(v, s.Page()))
}

// taken asks, and writes down that the crew takes what is proposed.
func (n nextBatch) taken(ctx context.Context, s *session.Session) error {
	crew, err := n.asks(s)
	if err != nil {
		return err
	}
	v := advice.NextOf(s.Fold, s.Now, s.Location, crew)
	body, ok := advice.ProposalOf(v, s.Now)
	if !ok {
		if err := s.Env.Show("next", v, report.Next(v, n.plan, s.Page())); err != nil {
			return err
		}
		return &terminal.Error{Kind: terminal.Refused}
	}
	if t := v.Taken; t != nil && t.Before == "" && t.Zone == v.Place.Zone && t.Face == v.Place.Face &&
		t.Coat == v.Place.Coat && t.Nth == v.Place.Nth {
		return terminal.Refusedf("batch %d of crew %s to %s: taken already; held until %s; nothing was written",
			v.Batch, crew, body.Coat, s.FormatTime(t.Until))
	}
	if !s.Env.JSON {
		if err := s.Env.Show("next", v, report.Next(v, n.plan, s.Page())); err != nil {
			return err
		}
	}
	return s.KeepAndTell(ctx, session.Draft{Body: body, Typed: true},
		fmt.Sprintf("batch %d of crew %s goes to %s; held until %s", v.Batch, crew, body.Coat,
			s.FormatTime(body.Until)),
		"placing ends it, and it expires by itself")
}
