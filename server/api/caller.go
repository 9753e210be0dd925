package api

import (
	"context"
	"crypto/ed25519"
	"encoding/hex"
	"strconv"
	"strings"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/metadata"
	"google.golang.org/grpc/status"

	"hod/internal/auth"
	"hod/internal/event"
	"hod/internal/unit"
	hodv1 "hod/proto/hod/v1"
	"hod/server/enrol"
)

// skew is how far a caller's clock may be from the server's.
const skew = 5 * time.Minute

// admit lets a call through: one that asks for the log must be signed by an enrolled device, whose name it returns;
// none for the others.
func (a *API) admit(ctx context.Context, method string) (event.Device, error) {
	if !strings.HasPrefix(method, "/"+hodv1.QueryService_ServiceDesc.ServiceName+"/") {
		return "", nil
	}
	m, err := a.caller(ctx, method)
	return m.Device, err
}

// caller says which device signed the call.
func (a *API) caller(ctx context.Context, method string) (enrol.Member, error) {
	sent, _ := metadata.FromIncomingContext(ctx)
	device, at, proof := only(sent, auth.DeviceHeader), only(sent, auth.TimeHeader), only(sent, auth.ProofHeader)
	if device == "" || at == "" || proof == "" {
		return enrol.Member{}, deny("the call is not signed by a device of this site; join first, `hod join CODE`")
	}
	h := a.config.Host
	m, ok := h.Member(event.Device(device))
	signature, err := hex.DecodeString(proof)
	if !ok || err != nil || !ed25519.Verify(m.Key, auth.Call(h.Site(), device, method, at), signature) {
		return enrol.Member{},
			deny(
				"the call is not signed by a device of this site; if the device joined another site, use its own folder (--dir)")
	}
	ms, err := strconv.ParseInt(at, 10, 64)
	if err != nil {
		return enrol.Member{}, deny("the time of the call cannot be read")
	}
	if said, now := time.UnixMilli(ms), h.Now(); said.Sub(now).Abs() > skew {
		return enrol.Member{}, deny(strangeTime(said, now, a.config.Built))
	}
	return m, standing(m)
}

// strangeTime is said to a device that takes the server's clock for another than it is: a device signs by the server's
// clock as it knew it at its last contact. built is when this program was: a clock that says less is wrong.
func strangeTime(said, now, built time.Time) string {
	const form = "2006-01-02 15:04:05 MST"
	if now.Before(built) {
		return "the server's clock is wrong: it says " + now.UTC().Format(form) +
			", which is before its program was built. Nothing is wrong on this device; whoever runs the server sets its clock"
	}
	off, where := said.Sub(now), "ahead of"
	if off < 0 {
		off, where = -off, "behind"
	}
	return "this device takes it to be " + said.UTC().Format(form) + ", " + unit.Duration(off.Round(time.Minute)) +
		" " + where + " the server's clock, which says " + now.UTC().Format(form) +
		": one of the two was set since their last contact. `hod sync` tells this device the server's time; then ask again. If that is the wrong one, whoever runs the server sets its clock"
}

// standing returns why a device whose key is right may not ask all the same.
func standing(m enrol.Member) error {
	switch {
	case m.Revoked:
		return status.Errorf(codes.PermissionDenied, "device %s was revoked; ask the foreman", m.Device)
	case m.Role == event.Probe:
		return status.Errorf(codes.PermissionDenied, "device %s is a probe: it gives readings and asks nothing",
			m.Device)
	}
	return nil
}

func deny(says string) error { return status.Error(codes.Unauthenticated, says) }

// only is a header that came once.
func only(sent metadata.MD, name string) string {
	if values := sent.Get(name); len(values) == 1 && len(values[0]) <= 256 {
		return values[0]
	}
	return ""
}
