package fold

import (
	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/judge"
	"hod/internal/mixed"
	"hod/internal/placed"
	"hod/internal/planned"
	"hod/internal/trade/stock"
)

// Site is what a site's events say.
type Site struct {
	ID string
	judge.Judge
	stock struct {
		of      map[event.Material]*[]*history.Record
		stale   bool
		byPlan  *planned.Plan
		worked  int // of the batches, when the ledgers were kept
		ledgers map[event.Material]stock.Ledger
	}
	found struct { // of all the site, as it was known by some events
		findings []finding.Finding
		counted  int
	}
	answers map[string]*[]*history.Record
	shifts  []*history.Record
	methods []*history.Record
	begun   []*history.Record // batches
	taken   []*history.Record // proposals
	ordered []*history.Record // days
	fronts  []*history.Record // ended on purpose
}

// New is a site without events. Events of the root device, the site's own, stand without enrolment; it enrols the
// others.
func New(id string, root event.Device) *Site { return newSite(id, root, nil) }

func newSite(id string, root event.Device, excluded map[event.Device]uint64) *Site {
	s := &Site{ID: id, answers: map[string]*[]*history.Record{}}
	s.Zones = placed.NewZones(mixed.NewMixing(planned.NewPlans(history.NewLog(root, excluded, index{s}))))
	s.stock.of = map[event.Material]*[]*history.Record{}
	return s
}

// recount brings the site to the events that count, now that others are excluded than before. It is folded anew: that
// is as rare as an operator's order, and no state of any entity can then rest on what does not count.
func (s *Site) recount(excluded map[event.Device]uint64) {
	s.LoadExcluded(excluded)
	if s.Packed.Reaches(excluded) {
		s.Unpack()
	}
	anew := newSite(s.ID, s.Root(), excluded)
	anew.AsOf = s.AsOf
	for _, e := range s.HandOver(&anew.Log) {
		anew.Add(e)
	}
	*s = *anew
	s.Resume(index{s})
}

// Record of that name, if it is known.
func (s *Site) Record(n event.Name) (*history.Record, bool) {
	r, ok := s.Find(n)
	if ok {
		s.computeWhat(r)
	}
	return r, ok
}

// ByHash is the record that an event's hash means, if it is known: the event's own, or the one that was written again
// for it after a fork.
func (s *Site) ByHash(h event.Hash) (*history.Record, bool) {
	r, ok := s.FindHash(h)
	if ok {
		s.computeWhat(r)
	}
	return r, ok
}

// computeWhat brings up to date what says whether a record stands: the plan, its batch, its zone.
func (s *Site) computeWhat(r *history.Record) {
	s.ComputePlan()
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
			s.ComputeTheZone(z)
		}
	}
}

// Records are all events in order of device and seq, each as it is read now. The caller must not change the slice.
func (s *Site) Records() []*history.Record {
	s.LoadAll()
	s.Unpack()
	s.compute()
	return s.Loose()
}
