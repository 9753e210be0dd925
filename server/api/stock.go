package api

import (
	"context"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// Stock is what is on hand.
func (q queries) Stock(_ context.Context, r *hodv1.StockRequest) (*hodv1.StockResponse, error) {
	reply := &hodv1.StockResponse{Stock: &hodv1.Stock{}}
	return reply, answer(q, r.GetAt(), reply.Stock, func(s *fold.Site, a asked) (view.Stock, error) {
		if r.GetMaterial() == "" {
			return view.StockOf(s, a.now, a.in), nil
		}
		v, ok := view.StockOfMaterial(s, a.now, a.in, event.Material(r.GetMaterial()))
		if !ok {
			return v, status.Error(codes.NotFound, "no material of that name is in the record")
		}
		return v, nil
	})
}
