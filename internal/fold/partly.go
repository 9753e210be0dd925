package fold

import (
	"slices"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
	"hod/internal/placed"
)

// asideOfFetched is AsideOf where nothing is to be fetched for it but some batches: what is left out stands. False
// where more is.
func (s *Site) asideOfFetched(device event.Device) (n int, told bool) {
	s.ComputeFetched()
	if s.Deferred == nil {
		return 0, false
	}
	s.judgeStock() // by the plan alone
	var ended []event.Zone
	for _, r := range s.WrittenBy(device) {
		if b, is := r.Now.(event.FrontEnded); is { // whose it is hangs on who placed there
			ended = append(ended, b.Coat.Zone)
		}
	}
	if s.ComputeOf(ended); s.Deferred == nil {
		return 0, false
	}
	for _, r := range s.WrittenBy(device) {
		if r.Now == nil {
			if r.Aside != nil {
				n++
			}
			continue
		}
		if s.kindOf(r.Now).strength { // judged with its batch
			return 0, false
		}
		aside, byPlan := s.asideByPlan(r.Now)
		if byPlan && aside || !byPlan && r.Aside != nil {
			n++
		}
	}
	return n, true
}

// asideByPlan says whether an event of a zone cannot stand by the plan. False twice for an event of another kind.
func (s *Site) asideByPlan(body event.Body) (aside, is bool) {
	if _, placement := body.(event.Placement); placement {
		return false, false
	}
	if b, tended := body.(event.SurfaceTended); tended {
		return s.Current.Zones[b.Zone] == nil, true
	}
	var coat event.Coat
	switch b := body.(type) {
	case event.JointTreated:
		coat = b.Coat
	case event.CoatFinished:
		coat = b.Coat
	case event.ProgressStated:
		coat = b.Coat
	case event.CureReadings:
		coat = b.Coat
	default:
		return false, false
	}
	_, why := s.Current.Coat(coat)
	return why != nil, true
}

// findingsNear are the findings that are about an event just written, worked out of what it concerns; false where that
// is not known without the rest of the record.
//
// It is known of the last event of a device whose clock was right: findings about the clock name others of its events.
// And of kinds that no finding about a ledger, a shift or a placement can name.
func (s *Site) findingsNear(r *history.Record) ([]finding.Finding, bool) {
	if s.Deferred == nil || r.Now == nil || history.OffRight(r.Event) || !r.StandsFor.IsZero() || !s.IsLast(r) ||
		r.State != history.Holds && r.State != history.SetAside {
		return nil, false
	}
	var all []finding.Finding
	switch b := r.Now.(type) {
	case event.Noted:
	case event.BatchMixed:
		all = s.findingsOf(b.Batch)
	case event.BatchTested:
		all = s.findingsOf(b.Batch)
	case event.SurfaceTended:
		if s.Current.Zones[b.Zone] == nil {
			return nil, false
		}
		s.ComputeAbout([]event.Zone{b.Zone})
		in := func(z event.Zone) bool { return z == b.Zone }
		all = slices.Concat(s.findingsIn(in), s.JudgeOverfullIn(in), s.JudgeClosedThinIn(in))
	default:
		return nil, false
	}
	if s.Deferred == nil {
		return nil, false
	}
	all = append(all, s.JudgeRecord(r)...)
	s.GiveReasons(all)
	sortFindings(all)
	return all, true
}

// findingsOf a batch.
func (s *Site) findingsOf(id event.Batch) []finding.Finding {
	b, ok := s.Batch(id)
	if !ok {
		return nil
	}
	return slices.Clone(b.Findings)
}

// findingsIn are those of some zones and along their edges.
func (s *Site) findingsIn(in func(event.Zone) bool) []finding.Finding {
	var all []finding.Finding
	for _, name := range s.Current.ZoneNames() {
		if st := s.ByZone[name]; st != nil && st.Is != nil && in(name) {
			all = append(all, s.Judged(name, st.Is)...)
		}
	}
	for _, e := range s.Current.Edges {
		if !in(e.A) && !in(e.B) {
			continue
		}
		s.EachPair(e, func(a, b *placed.CoatIs) {
			if k, ok := s.EdgeContact(e, a, b); ok {
				if f, cold := s.JudgeContact(k); cold {
					all = append(all, f)
				} else if f, unsaid := s.JudgeUnsaid(k, a, b); unsaid {
					all = append(all, f)
				}
			}
		})
	}
	return all
}
