package cli

import (
	"context"

	"github.com/spf13/cobra"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/types/known/timestamppb"

	"hod/client/session"
	"hod/internal/report"
	"hod/internal/view/ahead"
	hodv1 "hod/proto/hod/v1"
)

func newForecast(env *session.Env) *cobra.Command {
	var l session.ViewFlags
	c := env.NewCommand("forecast", "What is left: batches, materials, days, and whether tomorrow's stock suffices",
		"hod forecast", "hod forecast --json")
	l.Register(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := session.View(c.Context(), env, l,
			func(s *session.Session) (ahead.Forecast, error) {
				return ahead.ForecastOf(s.Fold, s.Now, s.Location), nil
			},
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.Forecast(ctx, &hodv1.ForecastRequest{At: at})
				return r.GetForecast(), err
			})
		if err != nil {
			return err
		}
		defer s.Close()
		return env.Show("forecast", v, report.Forecast(v, s.Page()))
	}
	return c
}
