package api

import (
	"context"
	"crypto/sha256"
	"crypto/tls"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	"hod/internal/auth"
	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
)

// Pages says where the site's pages are read. What opens them is a link that a foreman's device signs by itself, or a
// short one that the server makes for it.
func (q queries) Pages(ctx context.Context, r *hodv1.PagesRequest) (*hodv1.PagesResponse, error) {
	c := q.api.config
	if c.Pages == "" {
		return nil, status.Error(codes.NotFound, "this server shows no pages")
	}
	reply := &hodv1.PagesResponse{Address: c.Pages}
	if r.GetShortUntil() != nil {
		path, err := q.shortPath(ctx, r.GetShortUntil().AsTime())
		if err != nil {
			return nil, err
		}
		reply.ShortPath = path
	}
	if c.PagesKnown {
		return reply, nil
	}
	if shown, err := c.TLS.GetCertificate(&tls.ClientHelloInfo{}); err == nil && len(shown.Certificate) > 0 {
		sum := sha256.Sum256(shown.Certificate[0])
		reply.CertificateSha256 = sum[:]
	}
	if len(c.Authority) > 0 {
		sum := sha256.Sum256(c.Authority)
		reply.AuthoritySha256 = sum[:]
	}
	return reply, nil
}

// shortPath is that of a short link for the device that asks.
func (q queries) shortPath(ctx context.Context, until time.Time) (string, error) {
	h := q.api.config.Host
	m, err := q.api.caller(ctx, hodv1.QueryService_Pages_FullMethodName)
	switch left := until.Sub(h.Now()); {
	case err != nil:
		return "", err
	case m.Role != event.Foreman:
		return "", status.Error(codes.PermissionDenied, "the foreman makes links to the pages")
	case left <= 0 || left > auth.LinkMost+skew:
		return "", status.Error(codes.InvalidArgument, "a link holds from 1 min to 31 days")
	}
	return auth.ShortPath(auth.NewShortLink(h.ShortLinkKey(), h.Site(), string(m.Device), m.Key, until)), nil
}
