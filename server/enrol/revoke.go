package enrol

import (
	"hod/internal/event"
	"hod/server/fault"
)

// Revoke ends what a device may write: of its events, those that the record holds now stand.
func (r *Register) Revoke(d event.Device, why string) error {
	r.joining.Lock() // one change of who may write at a time: two who revoke at once are not both told that they did
	defer r.joining.Unlock()
	return r.revoke(d, why)
}

// revoke is Revoke for who holds joining.
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
	if _, err := r.is.Log.Record(event.DeviceRevoked{Device: d, LastSeq: last, Why: why}); err != nil {
		return err
	}
	r.is.Says.Info().Str("device", string(d)).Uint64("last", last).Msg("revoked")
	return nil
}
