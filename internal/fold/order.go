package fold

import (
	"fmt"
	"time"

	"hod/internal/event"
	"hod/internal/unit"
)

// What cannot have happened in the order in which the record has it is set aside. The limits are wide enough for
// watches that differ and for people who round; common practice, no source.
const (
	// clockSlack is by how much two times may stand the wrong way round that people typed, or that clocks made of which
	// a contact has measured how far they are off, or that one device made.
	clockSlack = 10 * time.Minute
	// unmeasuredSlack is the same where a clock made one of the times that no contact has measured yet.
	unmeasuredSlack = 2 * time.Hour
	// mixingTakes is how long before a batch was ready its mixing may have begun, where the record does not say when it
	// did.
	mixingTakes = 15 * time.Minute
	// longestWait is how long after water contact a batch may be placed at most, unless four times its initial set is
	// longer: what is later than that is another day's batch, named by a slip.
	longestWait = 12 * time.Hour
	// dayCounted is by how much specimens may be younger than their age says, up to half of it: "7 days" counts days of
	// the calendar, so that it is wider than the 6 h that ASTM C39 allows at 7 days (from memory).
	dayCounted = 24 * time.Hour
)

// slack is by how much the times of two records may stand the wrong way round.
func slack(a, b *Record) time.Duration {
	sure := func(r *Record) bool { return r.clock.Typed || r.clock.Offset != nil }
	if sure(a) && sure(b) || a.clock.Device == b.clock.Device {
		return clockSlack
	}
	return unmeasuredSlack
}

// begun is when mixing began at the latest, as far as the record says.
func (b *Batch) begun() time.Time {
	switch {
	case !b.From.IsZero() && (!b.WaterKnown || b.From.Before(b.Water)):
		return b.From
	case b.WaterKnown:
		return b.Water
	}
	return b.Ready.Add(-mixingTakes)
}

// misplaced says why a batch cannot have been placed from an instant on; nil if it can.
func (b *Batch) misplaced(r *Record, from time.Time) *Aside {
	may := slack(b.Mixed, r)
	if early := b.begun().Sub(from); early > may {
		return &Aside{PlacedBeforeMixed,
			fmt.Sprintf(
				"batch %s was placed %s before its mixing began (%s): one of the two times is wrong, or another batch is meant",
				b.ID, unit.Duration(early.Round(time.Minute)), b.Mixed.Name)}
	}
	if age, most := from.Sub(b.Water), max(longestWait, 4*b.Mix.Set.Initial); age > most+may {
		return &Aside{PlacedAnotherDay,
			fmt.Sprintf(
				"batch %s would have been placed %s after its water; no batch waits over %s: a batch of another day is meant, or the time is wrong",
				b.ID, unit.Duration(age.Round(time.Minute)), unit.Duration(most))}
	}
	return nil
}

// judgeBreaks sets aside breaks of specimens that say an age which their batch has not reached.
func (s *Zones) judgeBreaks() {
	for _, list := range s.breaks.of {
		for _, r := range *list {
			if aside := s.tooYoung(r, r.Now.(event.SpecimensBroken)); aside != nil {
				r.lacks(aside)
			} else {
				r.stands()
			}
		}
	}
}

func (s *Zones) tooYoung(r *Record, b event.SpecimensBroken) *Aside {
	if b.Batch == nil {
		return nil
	}
	st := s.batches[*b.Batch]
	if st == nil || st.is == nil || st.is.Mixed == nil {
		return nil
	}
	is := r.When.Sub(st.is.Water)
	if is+max(min(dayCounted, b.Age/2), slack(st.is.Mixed, r)) >= b.Age {
		return nil
	}
	old := unit.Duration(max(0, is).Round(time.Hour))
	if is < time.Hour {
		old = "not an hour"
	}
	return &Aside{BreakBeforeAge,
		fmt.Sprintf(
			"specimens of batch %s cannot be %s old: the batch was %s old when they were broken; the age, the batch or the time of the break is wrong",
			*b.Batch, unit.Duration(b.Age), old)}
}
