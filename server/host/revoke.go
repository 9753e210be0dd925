package host

import (
	"hod/internal/event"
)

// Revoke ends what a device may write: of its events, those that the record holds now stand.
func (h *Host) Revoke(d event.Device, why string) error {
	h.joining.Lock() // one change of who may write at a time: two who revoke at once are not both told that they did
	defer h.joining.Unlock()
	m, ok := h.Member(d)
	switch {
	case !ok:
		return fail(NotFound, nil, "no device %s is enrolled here", plain(d))
	case m.Revoked:
		return fail(Conflict, nil, "device %s is revoked already", d)
	case !h.isWhole():
		return notYet(h.id.site)
	}
	h.mu.Lock()
	var last uint64
	for _, head := range h.heads {
		if head.Device == d {
			last = head.Seq
		}
	}
	h.mu.Unlock()
	if _, err := h.write(event.DeviceRevoked{Device: d, LastSeq: last, Why: why}); err != nil {
		return err
	}
	h.log.Info().Str("device", string(d)).Uint64("last", last).Msg("revoked")
	return nil
}
