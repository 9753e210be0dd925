package api

import (
	"context"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view/advice"
	hodv1 "hod/proto/hod/v1"
)

// Next is where a crew's next batch goes.
func (q queries) Next(_ context.Context, r *hodv1.NextRequest) (*hodv1.NextResponse, error) {
	reply := &hodv1.NextResponse{Next: &hodv1.Next{}}
	return reply, answerAfter(q, r.GetAt(), reply.Next, func(s *fold.Site, a asked) (func() advice.Next, error) {
		crew := event.Crew(r.GetCrew())
		_, planned := s.Plan().Crews[crew]
		if _, heard := s.Heard(a.now)[crew]; crew == "" || !planned && !heard {
			return nil, status.Error(codes.NotFound, "no crew of that name is planned or wrote anything")
		}
		if r.GetBrief() && !advice.TurnsSoon(s, a.now) {
			return func() advice.Next { return advice.Next{} }, nil
		}
		return advice.AskNext(s, a.now, a.in, crew).One, nil
	})
}

// NextAll is where the next batch of each crew that works goes.
func (q queries) NextAll(_ context.Context, r *hodv1.NextAllRequest) (*hodv1.NextAllResponse, error) {
	reply := &hodv1.NextAllResponse{NextAll: &hodv1.NextAll{}}
	return reply, answerAfter(q, r.GetAt(), reply.NextAll, func(s *fold.Site, a asked) (func() advice.NextAll, error) {
		return advice.AskNext(s, a.now, a.in, "").All, nil
	})
}
