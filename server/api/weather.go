package api

import (
	"context"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/internal/fold"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// Weather is the conditions as last read; NotFound if nobody has read any.
func (q queries) Weather(_ context.Context, r *hodv1.WeatherRequest) (*hodv1.WeatherResponse, error) {
	reply := &hodv1.WeatherResponse{Weather: &hodv1.Conditions{}}
	return reply, answer(q, r.GetAt(), reply.Weather, func(s *fold.Site, a asked) (view.Conditions, error) {
		v, ok := view.WeatherOf(s, a.now, a.in)
		if !ok {
			return v, status.Error(codes.NotFound, "no weather was written down by then; `hod weather` takes a reading")
		}
		return v, nil
	})
}
