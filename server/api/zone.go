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

// Zone is one zone in full.
func (q queries) Zone(_ context.Context, r *hodv1.ZoneRequest) (*hodv1.ZoneResponse, error) {
	reply := &hodv1.ZoneResponse{Zone: &hodv1.Zone{}}
	return reply, answer(q, r.GetAt(), reply.Zone, func(s *fold.Site, a asked) (view.Zone, error) {
		v, ok := view.ZoneOf(s, a.now, a.in, event.Zone(r.GetZone()))
		if !ok {
			return v, status.Errorf(codes.NotFound, "no zone of that name is planned; %s",
				planned(s.Plan().ZoneNames()))
		}
		return v, nil
	})
}

func planned(zones []event.Zone) string {
	if len(zones) == 0 {
		return "the site has no plan yet"
	}
	says := "planned are "
	for i, z := range zones[:min(len(zones), 12)] {
		if i > 0 {
			says += ", "
		}
		says += string(z)
	}
	if len(zones) > 12 {
		says += ", …"
	}
	return says
}
