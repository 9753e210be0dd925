package remote

import (
	"context"
	"crypto/ed25519"
	"fmt"
	"time"

	"hod/client/journal"
	"hod/internal/auth"
	"hod/internal/event"
	hodv1 "hod/proto/hod/v1"
)

// ReplaceKey has the site's server enrol a device's next key and end its present one. It returns the device's new name
// and the last of its events under the old one that stands. Errors carry a gRPC status; asking again is harmless.
func ReplaceKey(ctx context.Context, d journal.Device, next ed25519.PrivateKey, now func() time.Time) (event.Device,
	uint64, error,
) {
	conn, err := Dial(d, now)
	if err != nil {
		return "", 0, err
	}
	defer conn.Close()
	public, _ := next.Public().(ed25519.PublicKey)
	said := auth.NewKey(d.Site, string(d.Name), public)
	reply, err := hodv1.NewEnrolServiceClient(conn).ReplaceKey(ctx, &hodv1.ReplaceKeyRequest{
		Device: string(d.Name), PublicKey: public, Proof: ed25519.Sign(next, said), OldProof: ed25519.Sign(d.Key, said),
	})
	if err != nil {
		return "", 0, err
	}
	name := event.Device(reply.GetDevice())
	if err := event.CheckDevice(name); err != nil {
		return "", 0, fmt.Errorf("the server's answer is not whole: %w", err)
	}
	return name, reply.GetLastSeq(), nil
}
