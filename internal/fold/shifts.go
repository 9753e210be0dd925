package fold

import (
	"fmt"
	"time"

	"hod/internal/event"
	"hod/internal/finding"
	"hod/internal/history"
)

// judgeShifts finds a shift that began while the crew's shift of that day was open: one of the two was meant as
// something else, or the first one's end was not written.
func (s *Site) judgeShifts() []finding.Finding {
	var all []finding.Finding
	open := map[event.Crew]*history.Record{}
	for _, r := range s.Shifts() {
		if _, ends := r.Now.(event.ShiftEnded); ends {
			delete(open, r.Crew)
			continue
		}
		if was := open[r.Crew]; was != nil && r.When.Sub(was.When) < LongShift {
			all = append(all, finding.Finding{
				Code: finding.SecondShift, Key: r.Name.String(), Subject: "crew " + string(r.Crew), Since: r.When,
				Events: []event.Name{was.Name, r.Name},
				Text: fmt.Sprintf(
					"crew %s began a shift while the one begun before, %s, had not ended: take one back with `hod undo`, or write when the first ended", r.Crew, was.Name),
				Basis: finding.Basis{
					Evidence: []finding.Fact{{Name: "first begun", At: was.When}, {Name: "begun again", At: r.When}},
				},
			})
			continue
		}
		open[r.Crew] = r
	}
	return all
}

// LongShift is longer than any shift: one that nobody ended by then was forgotten. Common practice, no source.
const LongShift = 16 * time.Hour

// OpenShift is the crew's shift that began and has not ended at an instant; nil if there is none.
func (s *Site) OpenShift(crew event.Crew, now time.Time) *history.Record {
	var open *history.Record
	for _, r := range s.Shifts() {
		if r.Crew != crew || r.When.After(now) || r.State == history.SetAside {
			continue
		}
		if _, ends := r.Now.(event.ShiftEnded); ends {
			open = nil
		} else if open == nil || r.When.Sub(open.When) >= LongShift {
			open = r
		}
	}
	return open
}
