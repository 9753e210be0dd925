package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/client/terminal"
	"hod/internal/report"
	"hod/internal/view/advice"
	"hod/proto/hod/v1"
)

// tomorrow shows plans of the next day with work, and makes one of them its order.
type tomorrow struct {
	session.ViewFlags
	choose int
	plan   bool
}

func newTomorrow(env *session.Env) *cobra.Command {
	var t tomorrow
	c := env.NewCommand("tomorrow", "Plans of the next day with work, to choose from", "hod tomorrow",
		"hod tomorrow --plan   # and who places what when",
		"hod tomorrow --choose 2   # the foreman makes it the day's order")
	t.Register(c)
	c.Flags().IntVar(&t.choose, "choose", 0,
		"make the plan of that number the day's order, shown to all crews (foreman)")
	c.Flags().BoolVar(&t.plan, "plan", false,
		"show who places what when, as expected, by the first plan or the chosen one")
	c.RunE = func(c *cobra.Command, _ []string) error { return t.run(c, env) }
	return c
}

func (t tomorrow) run(c *cobra.Command, env *session.Env) error {
	if c.Flags().Changed("choose") {
		if t.Server || t.At != "" {
			return terminal.Usagef("--choose writes on this device, for now; leave out --server and --at")
		}
		return session.Run(c.Context(), env, func(s *session.Session) error { return t.order(c.Context(), s) })
	}
	v, s, err := session.View(c.Context(), env, t.ViewFlags,
		func(s *session.Session) (advice.DayPlans, error) {
			return advice.DayPlansOf(s.Fold, s.Now, s.Location), nil
		},
		func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
			r, err := q.DayPlans(ctx, &hodv1.DayPlansRequest{At: at})
			return r.GetDayPlans(), err
		})
	if err != nil {
		return err
	}
	defer s.Close()
	if err := env.Show("day_plans", v, report.DayPlans(v, t.plan, s.Page())); err != nil {
		return err
	}
	if len(v.Missing) > 0 {
		return &terminal.Error{Kind: terminal.Refused}
	}
	return nil
}

// order makes one plan the day's order.
func (t tomorrow) order(ctx context.Context, s *session.Session) error {
	v := advice.DayPlansOf(s.Fold, s.Now, s.Location)
	if len(v.Plans) == 0 {
		return terminal.Refusedf("there is no plan of %s to choose: `hod tomorrow` says what is missing", v.Date)
	}
	if t.choose < 1 || t.choose > len(v.Plans) {
		return terminal.Usagef("--choose %d: the plans are numbered from 1 to %d; `hod tomorrow` shows them", t.choose,
			len(v.Plans))
	}
	p := v.Plans[t.choose-1]
	return s.KeepAndTell(ctx, session.Draft{Body: v.Body(p), Typed: true},
		fmt.Sprintf("plan %d is the order of %s: from %s, %d batches", t.choose, v.Date, s.FormatTime(p.Start),
			p.Batches),
		"all crews see it in hod tomorrow from their next contact on, and on the board of that day; the day's report says what came of it")
}
