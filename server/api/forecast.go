package api

import (
	"context"

	"hod/internal/fold"
	"hod/internal/view/ahead"
	hodv1 "hod/proto/hod/v1"
)

// Forecast is what is left, as a distribution.
func (q queries) Forecast(_ context.Context, r *hodv1.ForecastRequest) (*hodv1.ForecastResponse, error) {
	reply := &hodv1.ForecastResponse{Forecast: &hodv1.Forecast{}}
	return reply, answer(q, r.GetAt(), reply.Forecast, func(s *fold.Site, a asked) (ahead.Forecast, error) {
		return ahead.ForecastOf(s, a.now, a.in), nil
	})
}
