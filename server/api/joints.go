package api

import (
	"context"

	"hod/internal/fold"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// Joints is all contacts, open and made.
func (q queries) Joints(_ context.Context, r *hodv1.JointsRequest) (*hodv1.JointsResponse, error) {
	reply := &hodv1.JointsResponse{Joints: &hodv1.Joints{}}
	return reply, answer(q, r.GetAt(), reply.Joints, func(s *fold.Site, a asked) (view.Joints, error) {
		return view.JointsOf(s, a.now, a.in), nil
	})
}
