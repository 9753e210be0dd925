package api

import (
	"context"

	"hod/internal/fold"
	"hod/internal/view/daily"
	hodv1 "hod/proto/hod/v1"
)

// Flags is what a person should see.
func (q queries) Flags(_ context.Context, r *hodv1.FlagsRequest) (*hodv1.FlagsResponse, error) {
	reply := &hodv1.FlagsResponse{Flags: &hodv1.Flags{}}
	return reply, answer(q, r.GetAt(), reply.Flags, func(s *fold.Site, a asked) (daily.Flags, error) {
		return daily.FlagsOf(s, a.now, a.in, r.GetAll()), nil
	})
}
