package admin

import (
	"context"
	"fmt"
	"net"
	"path/filepath"
	"strings"

	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/status"

	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
	"hod/server/fault"
	"hod/server/host"
)

// Client gives orders to the server that runs on a data folder.
type Client struct {
	dir  string
	conn *grpc.ClientConn
}

// Dial finds the server of a data folder. It does not wait for it: an order does, until its context ends.
func Dial(dir string) (*Client, error) {
	dir, err := filepath.Abs(dir)
	if err != nil {
		return nil, fault.OfFile(dir, err)
	}
	conn, err := grpc.NewClient("passthrough:///hodd",
		grpc.WithTransportCredentials(insecure.NewCredentials()), // the socket's folder says who may use it
		grpc.WithContextDialer(func(ctx context.Context, _ string) (net.Conn, error) {
			return (&net.Dialer{}).DialContext(ctx, "unix", socketOf(dir))
		}),
		grpc.WithDefaultCallOptions(grpc.MaxCallRecvMsgSize(64<<20)))
	if err != nil {
		return nil, fmt.Errorf("find the server of %s: %w", dir, err)
	}
	return &Client{dir, conn}, nil
}

// Close ends the connection.
func (c *Client) Close() error { return c.conn.Close() }

// Revoke has the server revoke a device. The Error is of kind Offline if no server runs on the folder.
func (c *Client) Revoke(ctx context.Context, d event.Device, why string) error {
	_, err := hodv1.NewAdminServiceClient(c.conn).Revoke(ctx, &hodv1.RevokeRequest{
		Device: strings.ToValidUTF8(string(d), "�"), Why: strings.ToValidUTF8(why, "�"),
	})
	return c.fromStatus(err, "revoke "+fault.Quote(d))
}

// Exclude has the server exclude what a device wrote from an event on; 0 has it count again. It returns how many events
// do not count now. Errors as of Revoke.
func (c *Client) Exclude(ctx context.Context, d event.Device, from uint64, why string) (uint64, error) {
	r, err := hodv1.NewAdminServiceClient(c.conn).Exclude(ctx, &hodv1.ExcludeRequest{
		Device: strings.ToValidUTF8(string(d), "�"), FromSeq: from, Why: strings.ToValidUTF8(why, "�"),
	})
	return r.GetEvents(), c.fromStatus(err, "exclude what "+fault.Quote(d)+" wrote")
}

// CheckStream has the server read its whole stream again. Errors as of Revoke.
func (c *Client) CheckStream(ctx context.Context) (host.StreamChecked, error) {
	r, err := hodv1.NewAdminServiceClient(c.conn).CheckStream(ctx, &hodv1.CheckStreamRequest{})
	return host.StreamChecked{
		Messages: int(r.GetMessages()), Events: int(r.GetEvents()), Faults: r.GetFaults(), Notes: r.GetNotes(),
	}, c.fromStatus(err, "check the stream")
}

func (c *Client) fromStatus(err error, order string) error {
	if err == nil {
		return nil
	}
	s, _ := status.FromError(err)
	switch s.Code() {
	case codes.Unavailable:
		return fault.New(fault.Offline, err, "no hodd runs on the data folder %s; start it, then try again", c.dir)
	case codes.DeadlineExceeded, codes.Canceled:
		return fault.New(fault.Offline, err, "hodd took the order to %s but has not answered; see its log", order)
	}
	for kind, code := range byKind {
		if code == s.Code() {
			return fault.New(kind, err, "%s", s.Message())
		}
	}
	return fault.New(fault.Internal, err, "%s", s.Message())
}
