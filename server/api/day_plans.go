package api

import (
	"context"

	"hod/internal/fold"
	"hod/internal/view/advice"
	hodv1 "hod/proto/hod/v1"
)

// DayPlans are plans of the next day with work, to choose from.
func (q queries) DayPlans(_ context.Context, r *hodv1.DayPlansRequest) (*hodv1.DayPlansResponse, error) {
	reply := &hodv1.DayPlansResponse{DayPlans: &hodv1.DayPlans{}}
	return reply, answerAfter(q, r.GetAt(), reply.DayPlans, func(s *fold.Site, a asked) (func() advice.DayPlans,
		error,
	) {
		return advice.AskDay(s, a.now, a.in).Answer, nil
	})
}
