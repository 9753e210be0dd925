package fold

import (
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/history"
)

// mixingCounts is how long a batch that was begun counts as being in the mixer where nobody says more of it. A choice
// of this program.
const mixingCounts = time.Hour

// Begun is a batch that is in the mixer.
type Begun struct {
	event.BatchBegun
	Record *history.Record
}

// Begun are the batches in the mixer at an instant: begun, neither mixed nor discarded, and not so long ago that they
// were forgotten. By crew and number.
func (s *Site) Begun(now time.Time) []Begun {
	s.Settle()
	var all []Begun
	for _, r := range sorted(s.begun) {
		b, is := r.Now.(event.BatchBegun)
		if !is || r.State == history.SetAside || r.When.After(now) || now.Sub(r.When) > mixingCounts {
			continue
		}
		if st := s.ByBatch[b.Batch]; st != nil && (len(st.Mixed) > 0 || len(st.Discards) > 0) {
			continue
		}
		if was, kept := s.Kept(b.Batch); kept && was.Made {
			continue
		}
		b.Ready = onSite(r, b.Ready)
		all = slices.DeleteFunc(all, func(o Begun) bool { return o.Batch == b.Batch })
		all = append(all, Begun{b, r})
	}
	return all
}

func onSite(r *history.Record, t time.Time) time.Time {
	if t.IsZero() {
		return t
	}
	return r.OnSite(t)
}

// Taken is a proposal that a crew took.
type Taken struct {
	event.ProposalTaken
	Record *history.Record
	// Before is who took the same before, and holds it; nil: nobody.
	Before *Taken
}

// Taken are the proposals that hold at an instant, in the order in which they were taken: each crew's last, until it or
// another crew places what it is, or until it expires by itself.
func (s *Site) Taken(now time.Time) []Taken {
	s.Settle()
	var all []Taken
	for _, r := range sorted(s.taken) {
		b, is := r.Now.(event.ProposalTaken)
		if !is || r.State == history.SetAside || r.When.After(now) {
			continue
		}
		b.Until, b.CountedUntil = onSite(r, b.Until), onSite(r, b.CountedUntil)
		all = slices.DeleteFunc(all, func(o Taken) bool { return o.Crew == b.Crew })
		all = append(all, Taken{ProposalTaken: b, Record: r})
	}
	all = slices.DeleteFunc(all, func(k Taken) bool { return !k.Until.After(now) || s.over(k, now) })
	for i := range all {
		for k := range i {
			if all[k].Coat == all[i].Coat && all[k].Nth == all[i].Nth && all[k].Before == nil {
				all[i].Before = &all[k]
			}
		}
	}
	return all
}

// over reports whether a proposal has ended before its time: its crew began to place since, or others placed what it
// was.
func (s *Site) over(k Taken, now time.Time) bool {
	there, began := 0, false
	s.EachStep(k.Record.When, now, func(crew event.Crew, coat event.Coat) {
		began = began || crew == k.Crew
		if coat == k.Coat {
			there++
		}
	})
	return began || there >= k.Nth
}

// Proposals are all that were ever taken, in the order in which they were.
func (s *Site) Proposals() []Taken {
	s.Settle()
	var all []Taken
	for _, r := range sorted(s.taken) {
		if b, is := r.Now.(event.ProposalTaken); is && r.State != history.SetAside {
			b.Until, b.CountedUntil = onSite(r, b.Until), onSite(r, b.CountedUntil)
			all = append(all, Taken{ProposalTaken: b, Record: r})
		}
	}
	return all
}

// Ordered is the plan that the foreman made a day's order.
type Ordered struct {
	event.DayOrdered
	Record *history.Record
}

// OrderOf a day, 2006-01-02, as it is known at an instant: of several the one that happened last; nil where there is
// none.
func (s *Site) OrderOf(day string, now time.Time) *Ordered {
	s.Settle()
	var last *Ordered
	for _, r := range sorted(s.ordered) {
		if b, is := r.Now.(event.DayOrdered); is && r.State != history.SetAside && b.Day == day && !r.When.After(now) {
			b.Start, b.Bays = onSite(r, b.Start), slices.Clone(b.Bays) // the event keeps its own
			for i, k := range b.Bays {
				b.Bays[i].BeginBy = onSite(r, k.BeginBy)
			}
			last = &Ordered{b, r}
		}
	}
	return last
}

// FrontsEnded are the records of fronts that were ended on purpose by an instant, in the order in which they were.
func (s *Site) FrontsEnded(now time.Time) []*history.Record {
	s.compute()
	return slices.DeleteFunc(sorted(s.fronts), func(r *history.Record) bool {
		_, ended := r.Now.(event.FrontEnded)
		return !ended || r.State == history.SetAside || r.When.After(now)
	})
}
