package enrol

import (
	"hod/internal/event"
	"hod/server/fault"
)

// Exclude excludes the events of a revoked device from what counts, from seq from on; from 0 ends the exclusion. It
// returns how many of the events that the log holds are excluded now; they stay in it. The Error is of kind NotFound
// where no such device is enrolled, of kind Conflict where it is not revoked or this is so already, of kind Invalid
// where it wrote no event with that seq, and of kind Offline while the stream was not read to its end.
func (r *Register) Exclude(d event.Device, from uint64, why string) (uint64, error) {
	r.joining.Lock()
	defer r.joining.Unlock()
	m, ok := r.Member(d)
	switch {
	case !ok:
		return 0, fault.New(fault.NotFound, nil, "no device %s is enrolled here", fault.Quote(d))
	case !m.Revoked:
		return 0, fault.New(fault.Conflict, nil, "device %s may still write; revoke it first, `hodd revoke %s`", d, d)
	case !r.isWhole():
		return 0, fault.NotYet(r.is.Site)
	case from == 0 && m.ExcludedFrom == 0:
		return 0, fault.New(fault.Conflict, nil, "all that device %s wrote counts already", d)
	case m.ExcludedFrom == from:
		return 0, fault.New(fault.Conflict, nil, "what device %s wrote does not count from its event %d on already", d,
			from)
	}
	last := uint64(0)
	for _, head := range r.is.Log.Heads() {
		if head.Device == d {
			last = head.Seq
		}
	}
	if from > last {
		return 0, fault.New(fault.Invalid, nil, "device %s wrote %d events; none of them is number %d or later", d,
			last, from)
	}
	b := event.DeviceExcluded{Device: d, FromSeq: from, Why: why}
	if _, err := event.Write(event.Event{
		Name: event.Name{Device: r.is.Root, Seq: 1}, HappenedAt: r.is.Now(),
		LoggedAt: r.is.Now(), Body: b,
	}); err != nil {
		return 0, fault.OfEvent(err)
	}
	if _, err := r.is.Log.Append(b); err != nil {
		return 0, err
	}
	r.is.Says.Info().Str("device", string(d)).Uint64("from", from).Msg("excluded")
	if from == 0 {
		return 0, nil
	}
	return last - from + 1, nil
}
