package api

import (
	"context"

	"hod/internal/fold"
	"hod/internal/view/drawing"
	hodv1 "hod/proto/hod/v1"
)

// coatAsked is the coat that a question names; nil where it names none.
func coatAsked(c *hodv1.MapCoat) *drawing.MapCoat {
	if c == nil {
		return nil
	}
	return &drawing.MapCoat{Face: c.GetFace(), Coat: c.GetCoat()}
}

// Overview is what the foreman's page shows.
func (q queries) Overview(_ context.Context, r *hodv1.OverviewRequest) (*hodv1.OverviewResponse, error) {
	reply := &hodv1.OverviewResponse{Overview: &hodv1.Overview{}}
	return reply, answer(q, r.GetAt(), reply.Overview, func(s *fold.Site, a asked) (drawing.Overview, error) {
		return drawing.OverviewOf(s, a.now, a.in, coatAsked(r.GetCoat()), r.GetAllCoats()), nil
	})
}

// Map is the shell laid flat.
func (q queries) Map(_ context.Context, r *hodv1.MapRequest) (*hodv1.MapResponse, error) {
	reply := &hodv1.MapResponse{Map: &hodv1.Map{}}
	return reply, answer(q, r.GetAt(), reply.Map, func(s *fold.Site, a asked) (drawing.Map, error) {
		return drawing.MapOf(s, a.now, a.in, coatAsked(r.GetCoat()), r.GetAllCoats()), nil
	})
}

// Charts are figures over the days.
func (q queries) Charts(_ context.Context, r *hodv1.ChartsRequest) (*hodv1.ChartsResponse, error) {
	reply := &hodv1.ChartsResponse{Charts: &hodv1.Charts{}}
	return reply, answer(q, r.GetAt(), reply.Charts, func(s *fold.Site, a asked) (drawing.Charts, error) {
		return drawing.ChartsOf(s, a.now, a.in), nil
	})
}
