package admin

import (
	"context"

	hodv1 "hod/proto/hod/v1"
	"hod/server/space"
)

// SpaceOrder is what to do about the space of a server; the zero value: nothing, only say how it is.
type SpaceOrder struct {
	Stream, Archive int64 // quotas from now on, bytes; 0: as before
	Compact         bool  // make the stream anew
}

// Space is how full a server is.
type Space struct {
	Quotas       space.Quotas `json:"quotas"`
	Used         space.Used   `json:"used"`
	State        string       `json:"state"` // fine, near or full
	Why          []string     `json:"why,omitempty"`
	StreamBefore *int64       `json:"stream_bytes_before,omitempty"` // where the stream was made anew
}

func (s Space) proto() *hodv1.SpaceResponse {
	r := &hodv1.SpaceResponse{
		StreamBytes: s.Used.Stream, StreamQuota: s.Quotas.Stream, ArchiveBytes: s.Used.Archive,
		ArchiveQuota: s.Quotas.Archive,
		ReserveBytes: s.Quotas.Reserve, State: s.State, Why: s.Why, StreamBytesBefore: s.StreamBefore,
		MessagesBehind: s.Used.Behind,
	}
	if s.Used.Free >= 0 {
		r.FreeBytes = &s.Used.Free
	}
	return r
}

func spaceOf(r *hodv1.SpaceResponse) Space {
	s := Space{
		Quotas: space.Quotas{Stream: r.GetStreamQuota(), Archive: r.GetArchiveQuota(), Reserve: r.GetReserveBytes()},
		Used: space.Used{
			Stream: r.GetStreamBytes(), Archive: r.GetArchiveBytes(), Free: -1, Behind: r.GetMessagesBehind(),
		},
		State: r.GetState(), Why: r.GetWhy(), StreamBefore: r.StreamBytesBefore,
	}
	if r.FreeBytes != nil {
		s.Used.Free = r.GetFreeBytes()
	}
	return s
}

// Space has the server say how full it is, after it did what was ordered. Errors as of Revoke.
func (c *Client) Space(ctx context.Context, o SpaceOrder) (Space, error) {
	q := &hodv1.SpaceRequest{Compact: o.Compact}
	if o.Stream > 0 {
		q.StreamQuota = &o.Stream
	}
	if o.Archive > 0 {
		q.ArchiveQuota = &o.Archive
	}
	r, err := hodv1.NewAdminServiceClient(c.conn).Space(ctx, q)
	if err != nil {
		return Space{}, c.fromStatus(err, "say or change how much space there is")
	}
	return spaceOf(r), nil
}
