package api

import (
	"context"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view/daily"
	hodv1 "hod/proto/hod/v1"
)

// Day is the end-of-day summary.
func (q queries) Day(_ context.Context, r *hodv1.DayRequest) (*hodv1.DayResponse, error) {
	reply := &hodv1.DayResponse{Day: &hodv1.Day{}}
	return reply, answer(q, r.GetAt(), reply.Day, func(s *fold.Site, a asked) (daily.Day, error) {
		if date := r.GetDate(); date != "" {
			day, err := time.Parse(time.DateOnly, date)
			if err != nil || day.Before(firstInstant) || !day.Before(lastInstant) {
				return daily.Day{}, status.Error(codes.InvalidArgument,
					"that is not a date from 1970 to 2199; one looks like 2026-07-18")
			}
		}
		v, err := daily.DayOf(s, a.now, a.in, r.GetDate())
		return v.Of(s, a.in, event.Crew(r.GetCrew())), err
	})
}
