package mixed

import (
	"fmt"
	"time"

	"hod/internal/history"
	"hod/internal/unit"
)

// What cannot have happened in the order in which the record has it is set aside. The limits are wide enough for
// watches that differ and for people who round; common practice, no source.
const (
	// mixingTakes is how long before a batch was ready its mixing may have begun, where the record does not say when it
	// did.
	mixingTakes = 15 * time.Minute
	// longestWait is how long after water contact a batch may be placed at most, unless four times its initial set is
	// longer: what is later than that is another day's batch, named by a slip.
	longestWait = 12 * time.Hour
)

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
func (b *Batch) misplaced(r *history.Record, from time.Time) *history.Aside {
	may := history.Slack(b.Mixed, r)
	if early := b.begun().Sub(from); early > may {
		return &history.Aside{
			Code: history.PlacedBeforeMixed,
			Why: fmt.Sprintf(
				"batch %s was placed %s before its mixing began (%s): one of the two times is wrong, or another batch is meant",
				b.ID, unit.Duration(early.Round(time.Minute)), b.Mixed.Name),
		}
	}
	if age, most := from.Sub(b.Water), max(longestWait, 4*b.Mix.Set.Initial); age > most+may {
		return &history.Aside{
			Code: history.PlacedAnotherDay,
			Why: fmt.Sprintf(
				"batch %s would have been placed %s after its water; no batch waits over %s: a batch of another day is meant, or the time is wrong",
				b.ID, unit.Duration(age.Round(time.Minute)), unit.Duration(most)),
		}
	}
	return nil
}
