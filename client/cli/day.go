package cli

import (
	"context"
	"time"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/internal/event"
	"hod/internal/report"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

func newDay(env *deviceEnv) *cobra.Command {
	var l looking
	c := env.command("day [DATE]", "The end-of-day summary, for those who were not there", "hod day", "hod day yesterday", "hod day 2026-07-18 --server", "hod day 7/18 --crew north", "hod day --all   # all of each list; without it, two printed pages")
	l.flags(c)
	crew, all := "", false
	c.Flags().StringVar(&crew, "crew", "", "only this crew's day")
	c.Flags().BoolVar(&all, "all", false, "all of each list, however long that is")
	c.Args = arguments(0, 1, "at most one date, like 2026-07-18")
	c.RunE = func(c *cobra.Command, args []string) error {
		date := ""
		of := event.Crew("")
		l.read = func(s *site) (err error) {
			if crew != "" {
				if of, err = s.knownCrew(crew); err != nil {
					return err
				}
			}
			date, err = s.date(args)
			return err
		}
		v, s, err := look(c.Context(), env, l,
			func(s *site) (view.Day, error) {
				v, err := view.DayOf(s.fold, s.now, s.in, date)
				return v.Of(s.fold, s.in, of), err
			},
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.Day(ctx, &hodv1.DayRequest{At: at, Date: date, Crew: string(of)})
				return r.GetDay(), err
			})
		if err != nil {
			return err
		}
		defer s.close()
		if all {
			return env.show("day", v, report.DayAll(v, s.page()))
		}
		return env.show("day", v, report.Day(v, s.page()))
	}
	return c
}

// date of a day that was asked for; today if none was.
func (s *site) date(args []string) (string, error) {
	if len(args) == 0 {
		return s.today(), nil
	}
	day, err := s.reader().dayOf(args[0])
	if err != nil {
		return "", usage("%q is not a date; one looks like %s or %s, or say today or yesterday", safe(args[0]), s.today(), s.reader().exampleDay())
	}
	date := day.Format(time.DateOnly)
	if date > s.today() { // dates of this form sort as they follow each other
		return "", usage("%s is still to come; today is %s. What is left to do then is in `hod forecast`", date, s.today())
	}
	return date, nil
}
