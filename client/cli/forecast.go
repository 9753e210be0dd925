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

func newForecast(env *deviceEnv) *cobra.Command {
	var l looking
	c := env.command("forecast", "What is left: batches, materials, days, and whether tomorrow's stock suffices", "hod forecast", "hod forecast --json")
	l.flags(c)
	c.RunE = func(c *cobra.Command, _ []string) error {
		v, s, err := look(c.Context(), env, l,
			func(s *site) (view.Forecast, error) { return view.ForecastOf(s.fold, s.now, s.in), nil },
			func(ctx context.Context, q hodv1.QueryServiceClient, at *timestamppb.Timestamp) (proto.Message, error) {
				r, err := q.Forecast(ctx, &hodv1.ForecastRequest{At: at})
				return r.GetForecast(), err
			})
		if err != nil {
			return err
		}
		defer s.close()
		return env.show("forecast", v, report.Forecast(v, s.page()))
	}
	return c
}
