package api

import (
	"context"
	"crypto/sha256"
	"crypto/tls"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	hodv1 "hod/proto/hod/v1"
)

// Pages says where the site's pages are read. What opens them is a link that a foreman's device signs by itself.
func (q queries) Pages(context.Context, *hodv1.PagesRequest) (*hodv1.PagesResponse, error) {
	c := q.api.config
	if c.Pages == "" {
		return nil, status.Error(codes.NotFound, "this server shows no pages")
	}
	reply := &hodv1.PagesResponse{Address: c.Pages}
	if c.PagesKnown {
		return reply, nil
	}
	if shown, err := c.TLS.GetCertificate(&tls.ClientHelloInfo{}); err == nil && len(shown.Certificate) > 0 {
		sum := sha256.Sum256(shown.Certificate[0])
		reply.CertificateSha256 = sum[:]
	}
	return reply, nil
}
