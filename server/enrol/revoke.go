package enrol

import (
	"hod/internal/event"
	"hod/server/fault"
)

// Revoke revokes a device: the events that the log holds of it now stand, later ones do not count. The Error is of kind
// NotFound where no such device is enrolled, of kind Conflict where it is revoked already, and of kind Offline while
// the stream was not read to its end.
func (r *Register) Revoke(d event.Device, why string) error {
	r.joining.Lock() // one change of who may write at a time: two who revoke at once are not both told that they did
	defer r.joining.Unlock()
	return r.revoke(d, why)
}

// revoke does what Revoke says. The caller holds joining.
func (r *Register) revoke(d event.Device, why string) error {
	m, ok := r.Member(d)
	switch {
	case !ok:
		return fault.New(fault.NotFound, nil, "no device %s is enrolled here", fault.Quote(d))
	case m.Revoked:
		return fault.New(fault.Conflict, nil, "device %s is revoked already", d)
	case !r.isWhole():
		return fault.NotYet(r.is.Site)
	}
	var last uint64
	for _, head := range r.is.Log.Heads() {
		if head.Device == d {
			last = head.Seq
		}
	}
	if _, err := r.is.Log.Append(event.DeviceRevoked{Device: d, LastSeq: last, Why: why}); err != nil {
		return err
	}
	r.is.Says.Info().Str("device", string(d)).Uint64("last", last).Msg("revoked")
	return nil
}
