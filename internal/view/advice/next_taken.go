package advice

import (
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/trade/next"
	"hod/internal/view"
)

// gatherTaken are the proposals that hold, and the last that each crew took this day.
func (j *nextJob) gatherTaken() {
	j.taken = j.site.Taken(j.asOf) // to the second: what was taken in this minute holds
	today := view.StartOfDay(j.now.In(j.in))
	for _, k := range j.site.Proposals() {
		if k.Record.When.Before(today) || k.Record.When.After(j.asOf) {
			continue
		}
		j.last = slices.DeleteFunc(j.last, func(o fold.Taken) bool { return o.Crew == k.Crew })
		j.last = append(j.last, k)
	}
}

// gatherTests of set of the day: each says how much of the stated set its batch had used up, at the temperature of its
// place, when it was found to have set.
func (j *nextJob) gatherTests() {
	ratios := view.SetRatios(j.site, j.now, j.in)
	j.tests = len(ratios)
	j.factor, j.spreads = next.UsualSpreads.Learned(ratios)
}

// set of a cell's mortar as it is reckoned with, in ms.
func (j *nextJob) set(c fold.Cell) int64 {
	return max(1, int64(math.Round(float64(c.Set().Initial.Milliseconds())*float64(j.factor)/1_000_000)))
}

// tellTaken says which proposals hold.
func (j *nextJob) tellTaken(v *Next) {
	for _, k := range j.taken {
		if one := takenOf(k); one.Crew == v.Crew {
			v.Taken = &one
		} else {
			v.Others = append(v.Others, one)
		}
	}
}

func takenOf(k fold.Taken) NextTaken {
	one := NextTaken{
		Crew: string(k.Crew), Zone: string(k.Coat.Zone), Face: view.FaceName(k.Coat.Face), Coat: int32(k.Coat.Number),
		Nth: int32(k.Nth), At: k.Record.When.UTC(), Until: k.Until.UTC(),
	}
	if k.Before != nil {
		one.Before = string(k.Before.Crew)
	}
	return one
}

// TakenOf the site: the proposals that were taken and hold at an instant, in the order in which they were taken.
func TakenOf(s *fold.Site, now time.Time) []NextTaken {
	var all []NextTaken
	for _, k := range s.Taken(now) {
		all = append(all, takenOf(k))
	}
	return all
}

// reserved is the job with what the other crews took by a proposal that holds, and have not placed yet, so that a crew
// is not sent there too. Of two that took the same the earlier holds it.
func (j *nextJob) reserved(asks int) *next.Job {
	job := j.Job
	job.Cells, job.Crews = slices.Clone(j.Cells), slices.Clone(j.Crews)
	for _, k := range j.taken {
		if k.Before != nil || string(k.Crew) == j.crews[asks].Crew {
			continue
		}
		cell := j.cellOf(k.Coat, k.Nth)
		if cell < 0 || job.Cells[cell].Placed {
			continue
		}
		from, pace := 0, 100
		who := slices.IndexFunc(job.Crews, func(c next.Crew) bool { return c.Name == string(k.Crew) })
		if who >= 0 {
			from, pace = max(0, job.Crews[who].Free), job.Crews[who].Pace
		}
		c := &job.Cells[cell]
		c.Placed, c.From, c.To = true, from, from+(c.Minutes*pace+99)/100
		if who >= 0 {
			job.Crews[who].Free = c.To
		}
	}
	if !slices.ContainsFunc(job.Cells, func(c next.Cell) bool { return !c.Placed }) {
		return &j.Job // all that is left is taken: the proposals may yet expire
	}
	return &job
}

// cellOf is a batch to come of a coat; −1 where it takes no such batch any more.
func (j *nextJob) cellOf(coat event.Coat, nth int) int {
	return slices.IndexFunc(j.cells.All, func(c fold.Cell) bool {
		return c.Placed == nil && c.Coat == coat &&
			c.Nth == nth
	})
}

// lastOrder is the order that the crew was advised last, as far as the record holds it: where it took a proposal, that
// and what was to follow, of which each coat takes its next batch. Oldest says that it was to go on beside the front
// that turns first; a proposal that holds stands before that.
func (j *nextJob) lastOrder(crew event.Crew) (order []int, oldest bool) {
	i := slices.IndexFunc(j.last, func(k fold.Taken) bool { return k.Crew == crew })
	if i < 0 {
		return nil, false
	}
	coats, oldest := j.last[i].Following, j.last[i].OldestFirst
	if slices.ContainsFunc(j.taken, func(k fold.Taken) bool { return k.Crew == crew && k.Before == nil }) {
		coats, oldest = append([]event.Coat{j.last[i].Coat}, coats...), false
	}
	taken := map[event.Coat]int{}
	for _, coat := range coats {
		if cell := j.cellOf(coat, taken[coat]+1); cell >= 0 {
			order = append(order, cell)
			taken[coat]++
		}
	}
	return order, oldest
}

// heldFor is for how many batch times a proposal that was taken holds.
const heldFor = 2

// ProposalOf is what a crew writes down that takes a proposal: it holds for two batch times, or until the batch is
// expected to be placed, if that is later. False where nothing is proposed.
func ProposalOf(v Next, now time.Time) (event.ProposalTaken, bool) {
	i := slices.IndexFunc(v.Plan, func(t NextTake) bool { return t.Crew == v.Crew })
	if v.Place == nil || i < 0 {
		return event.ProposalTaken{}, false
	}
	coat := func(zone, of string, number int32) event.Coat {
		is, _ := event.ParseFace(of)
		return event.Coat{Zone: event.Zone(zone), Face: is, Number: int(number)}
	}
	b := event.ProposalTaken{
		Crew: event.Crew(v.Crew), Coat: coat(v.Place.Zone, v.Place.Face, v.Place.Coat),
		Nth: int(v.Place.Nth),
	}
	for _, z := range v.Place.Along {
		b.Along = append(b.Along, event.Zone(z))
	}
	pace := int32(usualPace)
	for _, c := range v.Basis.Crews {
		if c.Crew == v.Crew {
			pace = c.PaceMin
		}
	}
	b.Until = now.Add(heldFor * time.Duration(pace) * time.Minute).Truncate(time.Minute)
	if placed := v.Plan[i].To; placed.After(b.Until) {
		b.Until = placed
	}
	b.OldestFirst = v.OldestFirst
	if v.Risk != nil {
		b.Trials, b.Cold = int(v.Risk.Trials), int(v.Risk.Cold)
	}
	if v.Basis.Until != nil {
		b.CountedUntil = *v.Basis.Until
	}
	for k, t := range v.Plan {
		if k != i && len(b.Following) < mostFollowing {
			b.Following = append(b.Following, coat(t.Zone, t.Face, t.Coat))
		}
	}
	return b, true
}

const mostFollowing = 60
