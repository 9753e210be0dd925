package cli

import (
	"context"
	"fmt"
	"slices"
	"strconv"

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
	number int
	choose string
	plan   bool
}

func newTomorrow(env *session.Env) *cobra.Command {
	var t tomorrow
	c := env.NewCommand("tomorrow [NUMBER]", "Plans of the next day with work, to choose from", "hod tomorrow",
		"hod tomorrow 2   # with plan 2 in full",
		"hod tomorrow --plan   # and who places what when",
		"hod tomorrow --choose 2   # the foreman makes it the day's order")
	t.Register(c)
	c.Flags().StringVar(&t.choose, "choose", "",
		"make a plan that was shown the day's order, for all crews to see (foreman); by its number or its key")
	c.Flags().BoolVar(&t.plan, "plan", false,
		"show who places what when, as expected, by the plan that is shown in full")
	c.Args = terminal.RangeArgs(0, 1, "at most the number of a plan")
	c.RunE = func(c *cobra.Command, args []string) error {
		if len(args) > 0 {
			n, err := strconv.Atoi(args[0])
			if err != nil || n < 1 {
				return terminal.Usagef("%s: the number of a plan, as in `hod tomorrow 2`", terminal.Safe(args[0]))
			}
			t.number = n
		}
		return t.run(c, env)
	}
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
	if n := len(v.Plans); n > 0 && t.number > n {
		return terminal.NotFoundf("there is no plan %d of %s: they are numbered from 1 to %d", t.number, v.Date, n)
	}
	if err := env.Show("day_plans", v, report.DayPlans(v, t.number, t.plan, s.Page())); err != nil {
		return err
	}
	if t.At == "" && len(v.Plans) > 0 {
		if err := keepShown(env, v); err != nil {
			env.Hintf(
				"note: which plans were shown cannot be kept on this device; choose by the key, not the number: %v",
				err)
		}
	}
	return terminal.Incomplete(v.Missing)
}

// order makes one plan the day's order.
func (t tomorrow) order(ctx context.Context, s *session.Session) error {
	v := advice.DayPlansOf(s.Fold, s.Now, s.Location)
	if len(v.Plans) == 0 {
		return terminal.Refusedf("there is no plan of %s to choose: `hod tomorrow` says what is missing", v.Date)
	}
	p, err := t.chosen(s.Env, v)
	if err != nil {
		return err
	}
	for _, n := range p.Needs {
		if n.ShortKg != nil {
			s.Env.Hintf("note: %s", report.ShortOfPlan(n, s.Page(), v.Units))
		}
	}
	said := fmt.Sprintf("plan %d (%s) is the order of %s: from %s, %d batches", p.Number, p.Key, v.Date,
		s.FormatTime(p.Start), p.Batches)
	return s.KeepAndTell(ctx, session.Draft{Body: v.Body(p), Typed: true}, said,
		"all crews see it in hod tomorrow and on the board from their next contact on; the day's report says what came of it")
}

// chosen is the plan that is meant: that of a key, or the one that this device showed under a number. A plan that the
// record has changed since is refused: whoever chose it has not seen what it is now.
func (t tomorrow) chosen(env *session.Env, v advice.DayPlans) (advice.DayPlan, error) {
	key, as := t.choose, ""
	if n, err := strconv.Atoi(t.choose); err == nil {
		shown := plansShown(env)
		switch {
		case shown.Date != v.Date:
			return advice.DayPlan{},
				terminal.Refusedf("this device has shown no plans of %s yet: look at them first, `hod tomorrow`",
					v.Date)
		case n < 1 || n > len(shown.Keys):
			return advice.DayPlan{},
				terminal.Usagef("--choose %d: the plans are numbered from 1 to %d; `hod tomorrow` shows them", n,
					len(shown.Keys))
		}
		key, as = shown.Keys[n-1], fmt.Sprintf("plan %d, as it was shown (%s), ", n, shown.Keys[n-1])
	}
	i := slices.IndexFunc(v.Plans, func(p advice.DayPlan) bool { return p.Key == key })
	if i >= 0 {
		return v.Plans[i], nil
	}
	if as == "" {
		as = fmt.Sprintf("plan %s ", terminal.Safe(key))
	}
	return advice.DayPlan{}, terminal.Refusedf("%sis not among the plans of %s: what is known has changed since, "+
		"and they with it; look again, `hod tomorrow`. Nothing was written", as, v.Date)
}
