package fold

import (
	"fmt"
	"slices"

	"hod/internal/event"
)

// dispute finds corrections or plans that replace the same: all of them, the event that they are of, and what a foreman
// types to settle it. Events names what they are of, where it is a correction, and then each of the rivals.
func (s *Site) dispute(r *Record) (Finding, bool) {
	of := r
	if r.root != nil {
		of = r.root
	}
	f := Finding{
		Code: Dispute, Grave: true, Key: of.Name.String(), Subject: of.Name.String(), Since: r.At(), Events: []event.Name{of.Name},
		Text: fmt.Sprintf("%s (%s) was corrected or planned in two ways; the one written later is used until a foreman settles it", of.Name, event.KindOf(of.Body)),
	}
	slot := slotOf(of.Body)
	if slot != "" && r.root == nil && len(r.Via) == 0 {
		f.Key, f.Subject, f.Text = slot, slot, fmt.Sprintf("%s was planned in two ways; the one written later is used until a foreman settles it", slot)
		f.Events = nil
		plans := slices.Clone(s.slots[slot].plans)
		slices.SortFunc(plans, func(a, b *Record) int { return event.CompareNames(a.Name, b.Name) })
		for _, o := range plans {
			if o.State == Disputed {
				f.rival(o)
			}
		}
		return f, true
	}
	for _, o := range s.byName() {
		if o.root == of && o.State == Disputed {
			f.rival(o)
		}
	}
	return f, true
}

func (f *Finding) rival(r *Record) {
	f.Events = append(f.Events, r.Name)
	f.Do = append(f.Do, "hod settle "+r.Name.String())
}
