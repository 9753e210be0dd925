package planned

import (
	"slices"

	"hod/internal/event"
	"hod/internal/history"
)

// planned are those of a thing's plans that hold or held by the instant that the site is looked at; all where it is
// looked at now. Revisions that correct others are there though they came later, and are no plans of then.
func (s *Plans) planned(plans []*history.Record) []*history.Record {
	if s.AsOf.IsZero() {
		return plans
	}
	of := slices.DeleteFunc(slices.Clone(plans), func(r *history.Record) bool { return r.When.After(s.AsOf) })
	if len(of) > 0 {
		return of
	}
	return slices.DeleteFunc(slices.Clone(plans), func(r *history.Record) bool {
		b, mix := r.Now.(event.MixPlanned)
		return mix && b.Corrects > 0
	})
}
