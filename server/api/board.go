package api

import (
	"context"

	"hod/internal/fold"
	"hod/internal/view/daily"
	hodv1 "hod/proto/hod/v1"
)

// Board is what is about to go wrong, and how far the shell is.
func (q queries) Board(_ context.Context, r *hodv1.BoardRequest) (*hodv1.BoardResponse, error) {
	reply := &hodv1.BoardResponse{Board: &hodv1.Board{}}
	return reply, answer(q, r.GetAt(), reply.Board, func(s *fold.Site, a asked) (daily.Board, error) {
		board := daily.BoardOf(s, a.now, a.in)
		if q.api.config.Notice != nil {
			board.ServerNotice = q.api.config.Notice()
		}
		return board, nil
	})
}
