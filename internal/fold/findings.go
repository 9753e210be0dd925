package fold

import (
	"fmt"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/unit"
)

// Findings are all that the record shows and a person should see, whatever the instant; by time, then key. The caller
// must not change them.
func (s *Site) Findings() []finding.Finding {
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
func (s *Site) FindingsAbout(name event.Name) []finding.Finding {
	r, known := s.Record(name)
	if !known {
		return nil
	}
	if near, told := s.findingsNear(r); told {
		return near
	}
	s.compute()
	if s.found.findings != nil && s.found.counted == len(s.Arrived()) {
		return s.found.findings
	}
	var in []event.Zone
	for _, of := range []*history.Record{r, r.Root, s.First(r)} {
		if of != nil {
			in = append(in, event.ZonesOf(of.Body)...)
			in = append(in, event.ZonesOf(of.Now)...)
		}
	}
	return s.findings(func(z event.Zone) bool { return slices.Contains(in, z) })
}

// findings of all the site, but of what lies in zones and along their edges those of some zones only.
func (s *Site) findings(in func(event.Zone) bool) []finding.Finding {
	all := []finding.Finding{}
	for _, b := range s.Batches() {
		all = append(all, b.Findings...)
	}
	all = append(all, s.findingsIn(in)...)
	all = append(all, s.JudgeRecords()...)
	all = append(all, s.judgeLedgers()...)
	all = append(all, s.JudgeOverfull()...)
	all = append(all, s.JudgeClosedThin()...)
	all = append(all, s.judgeShifts()...)
	all = append(all, s.PassedOver(all)...)
	s.GiveReasons(all)
	sortFindings(all)
	return all
}

// sortFindings puts findings in order of time, then key.
func sortFindings(all []finding.Finding) {
	slices.SortStableFunc(all, func(a, b finding.Finding) int {
		if c := a.Since.Compare(b.Since); c != 0 {
			return c
		}
		if a.Code+a.Key < b.Code+b.Key {
			return -1
		}
		return 1
	})
}

// judgeLedgers finds materials of which more was used than ever came.
func (s *Site) judgeLedgers() []finding.Finding {
	var all []finding.Finding
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
			all = append(all, finding.Finding{
				Code: finding.LedgerShort, Key: string(m), Subject: string(m), Since: since,
				Text: fmt.Sprintf("the record has %s less %s than was used: something was not written; count it",
					s.Current.System.Mass(b.Short), m),
				Basis: finding.Basis{
					Evidence: []finding.Fact{finding.FactOf("short by", b.Short, unit.System.Mass, s.Current.System)},
				},
			})
		}
	}
	return all
}
