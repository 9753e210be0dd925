package fold

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
)

// Findings are all that the record shows and a person should see, whatever the instant; by time, then key. The caller
// must not change them.
func (s *Site) Findings() []Finding {
	s.compute()
	if s.found.findings == nil || s.found.counted != len(s.Arrived()) {
		s.found.findings, s.found.counted = slices.Clip(s.findings(func(event.Zone) bool { return true })),
			len(s.Arrived())
	}
	return s.found.findings
}

// FindingsAbout are those of the Findings that an event may have brought about or that are called by it, and some
// others, in the same order. What is judged of zones that it was not placed in is left alone, which is most of the
// work.
func (s *Site) FindingsAbout(name event.Name) []Finding {
	r, known := s.Find(name)
	if !known {
		return nil
	}
	s.compute()
	if s.found.findings != nil && s.found.counted == len(s.Arrived()) {
		return s.found.findings
	}
	var in []event.Zone
	for _, of := range []*Record{r, r.root, s.first(r)} {
		if of != nil {
			in = append(in, event.ZonesOf(of.Body)...)
			in = append(in, event.ZonesOf(of.Now)...)
		}
	}
	return s.findings(func(z event.Zone) bool { return slices.Contains(in, z) })
}

// findings of all the site, but of what lies in zones and along their edges those of some zones only.
func (s *Site) findings(in func(event.Zone) bool) []Finding {
	all := []Finding{}
	for _, b := range s.Batches() {
		all = append(all, b.Findings...)
	}
	for _, name := range s.plan.ZoneNames() {
		if st := s.zones[name]; st != nil && st.is != nil && in(name) {
			all = append(all, s.judged(name, st.is)...)
		}
	}
	for _, e := range s.plan.Edges {
		if !in(e.A) && !in(e.B) {
			continue
		}
		s.eachPair(e, func(a, b *CoatIs) {
			if k, ok := s.edgeContact(e, a, b); ok {
				if f, cold := s.judgeContact(k); cold {
					all = append(all, f)
				} else if f, unsaid := s.judgeUnsaid(k, a, b); unsaid {
					all = append(all, f)
				}
			}
		})
	}
	all = append(all, s.judgeRecords()...)
	all = append(all, s.judgeLedgers()...)
	all = append(all, s.judgeOverfull()...)
	all = append(all, s.judgeClosedThin()...)
	all = append(all, s.judgeShifts()...)
	all = append(all, s.passedOver(all)...)
	s.giveReasons(all)
	slices.SortStableFunc(all, func(a, b Finding) int {
		if c := a.Since.Compare(b.Since); c != 0 {
			return c
		}
		if a.Code+a.Key < b.Code+b.Key {
			return -1
		}
		return 1
	})
	return all
}

// judgeLedgers finds materials of which more was used than ever came.
func (s *Site) judgeLedgers() []Finding {
	var all []Finding
	for _, m := range s.Materials() {
		if !s.Stocked(m) {
			continue
		}
		l, err := s.Ledger(m)
		if err != nil {
			continue
		}
		if b := l.Latest(); b.Short > 0 {
			var since time.Time
			if shorts := l.Shorts(); len(shorts) > 0 {
				since = shorts[0].At
			}
			all = append(all, Finding{
				Code: LedgerShort, Key: string(m), Subject: string(m), Since: since,
				Text: fmt.Sprintf("the record has %s less %s than was used: something was not written; count it",
					s.plan.System.Mass(b.Short), m),
				Evidence: []Fact{FactOf("short by", b.Short, unit.System.Mass, s.plan.System)},
			})
		}
	}
	return all
}
