package cli

import (
	"context"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// joints are all places where later material meets, or is to meet, earlier.
type joints struct {
	looking
	check bool
}

func newJoints(env *Env) *cobra.Command {
	var j joints
	c := env.command("joints", "Every joint: open ones by when they turn, made ones by how late they were met",
		"hod joints", "hod joints --check   # exit code 10: something is closing, 11: something is cold")
	j.flags(c)
	c.Flags().BoolVar(&j.check, "check", false, "print nothing; answer by the exit code whether an open joint is closing or cold")
	c.RunE = func(c *cobra.Command, _ []string) error { return j.run(c.Context(), env) }
	return c
}

func (j joints) run(ctx context.Context, env *Env) error {
	v, s, err := look(ctx, env, j.looking,
		func(s *site) (view.Joints, error) { return view.JointsOf(s.fold, s.now), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Joints(ctx, &hodv1.JointsRequest{At: at})
			return r.GetJoints(), err
		})
	if err != nil {
		return err
	}
	defer s.close()
	if j.check {
		return alarm(v)
	}
	return env.show("joints", v, report.Joints(v, s.page()))
}

// alarm is the worst state of an open joint, as an exit code for scripts.
func alarm(v view.Joints) error {
	worst := error(nil)
	for _, k := range v.Joints {
		switch {
		case k.Made:
		case k.State == "cold":
			return &Error{Kind: Cold}
		case k.State == "closing":
			worst = &Error{Kind: Closing}
		}
	}
	return worst
}
