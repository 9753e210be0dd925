package fold

import (
	"maps"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
	"hod/internal/packed"
)

// packsAfter is how long before the newest reading what is packed was written: an answer for an instant a little
// earlier than now still finds who was heard by then.
const packsAfter = 2 * time.Hour

// Pack gives what is packed and all readings that may be, as the record stands; nil where there are none, or where the
// site is looked at as of an instant.
func (s *Site) Pack() *packed.Readings {
	if !s.AsOf.IsZero() {
		return nil
	}
	s.compute()
	if s.Lost() != nil {
		return nil
	}
	b := packing{s: s, Packing: packed.NewPacking(s.PlanMark())}
	b.newest = b.newestOf()
	if s.Packed != nil && !b.TakeOver(s.Packed) {
		return nil
	}
	for _, st := range s.ByZone {
		for _, r := range st.Readings {
			if b.may(r) {
				b.put(r)
			}
		}
	}
	return b.Done(s.AbsentNames())
}

// packing is a Packed as it is made of a site's records.
type packing struct {
	s *Site
	*packed.Packing
	newest map[event.Device]*history.Record // by when they were written
}

// newestOf is the newest event of each device, of those whose clock was right as far as is known: what a flag tells of
// another device's clock names all its events.
func (b *packing) newestOf() map[event.Device]*history.Record {
	all, wrong := map[event.Device]*history.Record{}, map[event.Device]bool{}
	for _, r := range b.s.Arrived() {
		wrong[r.Device] = wrong[r.Device] || history.OffRight(r.Event)
		if best := all[r.Device]; best == nil || history.ByLogged(best, r) < 0 {
			all[r.Device] = r
		}
	}
	maps.DeleteFunc(all, func(d event.Device, _ *history.Record) bool { return wrong[d] })
	return all
}

// may says whether nothing sets a reading apart.
func (b *packing) may(r *history.Record) bool {
	s := b.s
	newest := b.newest[r.Device]
	switch {
	case !s.Untouched(r) || r.Ahead():
		return false
	case !countable(r.When) || slices.ContainsFunc(r.Now.(event.CureReadings).Samples,
		func(k event.Reading) bool { return !countable(k.At) }):
		return false
	case newest == nil || newest.Logged().Sub(r.Logged()) < packsAfter:
		return false
	}
	if s.IsSound(r) {
		return true
	}
	if len(s.DoubtsOf(r.Now, r.When)) > 0 {
		return false
	}
	s.MarkSound(r)
	return true
}

// countable says whether an instant can be told in nanoseconds since 1970, whatever a clock is off by.
func countable(t time.Time) bool { return t.Year() > 1700 && t.Year() < 2250 }

func (b *packing) put(r *history.Record) {
	of := r.Now.(event.CureReadings)
	for _, k := range of.Samples {
		b.Add(of.Coat, of.Probe, r.Name, r.OnSite(k.At), r.When, k.Temperature)
	}
	b.Whole(r.Name, r.Crew, r.Logged())
}
