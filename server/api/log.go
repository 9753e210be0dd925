package api

import (
	"context"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/internal/fold"
	"hod/internal/view"
	hodv1 "hod/proto/hod/v1"
)

// Entries of one answer.
const (
	usualEntries = 100
	mostEntries  = 2000 // of which each may hold event.MaxText bytes; the rest is asked for by --since
)

// Log is the log in words.
func (q queries) Log(_ context.Context, r *hodv1.LogRequest) (*hodv1.LogResponse, error) {
	most := int(r.GetMost())
	switch {
	case most < 0 || most > mostEntries:
		return nil, status.Errorf(codes.InvalidArgument, "one answer has 1 to %d entries, not %d", mostEntries, most)
	case most == 0:
		most = usualEntries
	}
	wanted := view.LogQuery{
		Zone: r.GetZone(), Crew: r.GetCrew(), Kind: r.GetKind(), SetAside: r.GetSetAside(), Most: most,
		Person: r.GetPerson(), Batch: r.GetBatch(), Events: r.GetEvents(),
	}
	if since := r.GetSince(); since != nil {
		from, err := instant(since, q.api.config.Host.Now())
		if err != nil {
			return nil, err
		}
		wanted.Since = from
	}
	reply := &hodv1.LogResponse{Log: &hodv1.Log{}}
	return reply, answer(q, r.GetAt(), reply.Log, func(s *fold.Site, a asked) (view.Log, error) {
		return view.LogOf(s, a.now, a.in, wanted), nil
	})
}
