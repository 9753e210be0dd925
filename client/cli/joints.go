package cli

import (
	"context"
	"slices"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// joints are all places where later material meets, or is to meet, earlier.
type joints struct {
	session.ViewFlags
	check, old bool
}

func newJoints(env *session.Env) *cobra.Command {
	var j joints
	c := env.NewCommand("joints", "Every joint: open ones by when they turn, made ones by how late they were met",
		"hod joints", "hod joints --old",
		"hod joints --check   # exit code 10: something is closing, 11: something turned cold today and was not treated")
	j.Register(c)
	c.Flags().BoolVar(&j.check, "check", false,
		"print nothing; answer by the exit code whether an open joint is closing or cold")
	c.Flags().BoolVar(&j.old, "old", false,
		"only open edges that have been cold since before today, to be treated before placing there")
	c.RunE = func(c *cobra.Command, _ []string) error { return j.run(c.Context(), env) }
	return c
}

func (j joints) run(ctx context.Context, env *session.Env) error {
	v, s, err := session.View(ctx, env, j.ViewFlags,
		func(s *session.Session) (view.Joints, error) { return view.JointsOf(s.Fold, s.Now, s.Location), nil },
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.Joints(ctx, &hodv1.JointsRequest{At: at})
			return r.GetJoints(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	if j.check {
		s.OnClose = nil // it prints nothing
		return alarm(v)
	}
	if j.old {
		v.Joints = slices.DeleteFunc(v.Joints, func(k view.Joint) bool { return !k.Old })
		return env.Show("joints", v, report.OldJoints(v, s.Page()))
	}
	return env.Show("joints", v, report.Joints(v, s.Page()))
}

// alarm is the worst state of an open joint that presses, as an exit code for scripts: the same that the board shows.
func alarm(v view.Joints) error {
	worst := error(nil)
	for _, k := range v.Joints {
		switch {
		case !k.Presses():
		case k.State == "cold":
			return &terminal.Error{Kind: terminal.Cold}
		case k.State == "closing":
			worst = &terminal.Error{Kind: terminal.Closing}
		}
	}
	return worst
}
