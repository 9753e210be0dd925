package api

import (
	"context"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/peer"
	"google.golang.org/grpc/status"

	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
	"hod/server/enrol"
)

// ready is how long a device that joins waits for a server that is still reading its stream.
const ready = 10 * time.Second

type enrolments struct {
	hodv1.UnimplementedEnrolServiceServer
	api *API
}

// Enrol takes up an invitation.
func (e enrolments) Enrol(ctx context.Context, q *hodv1.EnrolRequest) (*hodv1.EnrolResponse, error) {
	if !e.api.joining.Allow(remoteOf(ctx)) {
		return nil, status.Error(codes.ResourceExhausted,
			"too many devices try to join from this address at once; try again in a moment")
	}
	ctx, cancel := context.WithTimeout(ctx, ready)
	defer cancel()
	h := e.api.config.Host
	m, err := h.Enrol(ctx, enrol.Applicant{
		Secret: q.GetSecret(), Key: q.GetPublicKey(), Proof: q.GetProof(), Crew: event.Crew(q.GetCrew()),
		Label:  q.GetLabel(),
		Device: event.Device(q.GetDevice()), Site: q.GetSite(), Role: q.GetRole(), Enrolment: q.GetEnrolment(),
	})
	if err != nil {
		return nil, err
	}
	root, key := h.Root()
	return &hodv1.EnrolResponse{
		Site: h.Site(), Device: string(m.Device), Crew: string(m.Crew), Role: m.Role.String(),
		Bus: e.api.config.Bus, RootDevice: string(root), RootKey: key,
	}, nil
}

// remoteOf is the address that a call comes from, host:port; empty where it does not come over a network.
func remoteOf(ctx context.Context) string {
	if p, ok := peer.FromContext(ctx); ok && p.Addr != nil {
		return p.Addr.String()
	}
	return ""
}

// ReplaceKey lets a device go on with another key. Whoever still uses the old one is put out.
func (e enrolments) ReplaceKey(ctx context.Context, q *hodv1.ReplaceKeyRequest) (*hodv1.ReplaceKeyResponse, error) {
	if !e.api.joining.Allow(remoteOf(ctx)) {
		return nil, status.Error(codes.ResourceExhausted,
			"too many devices join or change keys from this address at once; try again in a moment")
	}
	ctx, cancel := context.WithTimeout(ctx, ready)
	defer cancel()
	was := event.Device(q.GetDevice())
	m, last, err := e.api.config.Host.ReplaceKey(ctx, enrol.Replacement{
		Device: was, Key: q.GetPublicKey(),
		Proof: q.GetProof(), OldProof: q.GetOldProof(),
	})
	if err != nil {
		return nil, err
	}
	if e.api.config.Ended != nil {
		e.api.config.Ended(was)
	}
	return &hodv1.ReplaceKeyResponse{Device: string(m.Device), LastSeq: last}, nil
}
