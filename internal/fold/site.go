package fold

import (
	"hod/internal/event"
	"hod/internal/trade/stock"
)

// Site is what a site's events say.
type Site struct {
	ID string
	Judge
	stock struct {
		of      map[event.Material]*[]*Record
		stale   bool
		byPlan  *Plan
		worked  int // of the batches, when the ledgers were kept
		ledgers map[event.Material]stock.Ledger
	}
	found struct { // of all the site, as it was known by some events
		findings []Finding
		counted  int
	}
	answers map[string]*[]*Record
	shifts  []*Record
	methods []*Record
	begun   []*Record // batches
	taken   []*Record // proposals
	ordered []*Record // days
	fronts  []*Record // ended on purpose
}

// New is a site without events. Events of the root device, the site's own, stand without enrolment; it enrols the
// others.
func New(id string, root event.Device) *Site { return newSite(id, root, nil) }

func newSite(id string, root event.Device, excluded map[event.Device]uint64) *Site {
	s := &Site{ID: id, answers: map[string]*[]*Record{}}
	s.Zones = NewZones(NewMixing(NewPlans(NewLog(root, excluded, index{s}))))
	s.stock.of = map[event.Material]*[]*Record{}
	return s
}

// recount brings the site to the events that count, now that others are excluded than before. It is folded anew: that
// is as rare as an operator's order, and no state of any entity can then rest on what does not count.
func (s *Site) recount(excluded map[event.Device]uint64) {
	if s.packed.reaches(excluded) {
		s.unpack()
	}
	anew := newSite(s.ID, s.Root(), excluded)
	anew.until = s.until
	for _, e := range s.HandOver(&anew.Log) {
		anew.Add(e)
	}
	*s = *anew
	s.Resume(index{s})
}

// Record of that name, if it is known.
func (s *Site) Record(n event.Name) (*Record, bool) {
	r, ok := s.Find(n)
	if ok {
		s.computeWhat(r)
	}
	return r, ok
}

// ByHash is the record that an event's hash means, if it is known: the event's own, or the one that was written again
// for it after a fork.
func (s *Site) ByHash(h event.Hash) (*Record, bool) {
	r, ok := s.FindHash(h)
	if ok {
		s.computeWhat(r)
	}
	return r, ok
}

// computeWhat brings up to date what says whether a record stands: the plan, its batch, its zone.
func (s *Site) computeWhat(r *Record) {
	s.computePlan()
	is := s.kindOf(r.Now)
	if is.ledgers || is.strength {
		s.compute()
		return
	}
	if is.batch != (event.Batch{}) {
		s.Batch(is.batch)
	}
	for _, z := range is.zones {
		if z != "" {
			s.computeTheZone(z)
		}
	}
}

// Records are all events in order of device and seq, each as it is read now. The caller must not change the slice.
func (s *Site) Records() []*Record {
	s.unpack()
	s.compute()
	return s.Loose()
}
