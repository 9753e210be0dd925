package enrol

import (
	"hod/internal/event"
	"hod/server/fault"
)

// Exclude has what a revoked device wrote not count, from one of its events on; from 0, all of it counts again. It
// returns how many of the events known do not count now.
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
	if _, err := r.is.Log.Record(b); err != nil {
		return 0, err
	}
	r.is.Says.Info().Str("device", string(d)).Uint64("from", from).Msg("excluded")
	if from == 0 {
		return 0, nil
	}
	return last - from + 1, nil
}
