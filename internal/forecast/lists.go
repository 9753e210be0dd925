package forecast

import "slices"

// crewsMost is how many crews can be told apart as those that may place a coat.
const crewsMost = 64

// lists say who places which coat next.
type lists struct {
	may      []uint64 // of each unfinished coat, the crews that may place it
	together bool     // crews place the same coat at once
	said     string
}

// recentDays is how many days with work a crew may stay away before it is no longer reckoned with.
const recentDays = 4

// listsOf the unfinished coats: by the plan, or as the record shows the crews to work.
func listsOf(j *Job, unfinished []int) lists {
	l := lists{may: make([]uint64, len(unfinished))}
	here := j.present()
	l.together = j.together()
	own := map[string]uint64{}
	silent := false
	for _, c := range unfinished {
		silent = silent || len(j.Coats[c].Crews) == 0
	}
	switch {
	case !silent:
		l.said = "which crew places what is as planned"
	case len(j.Crews) < 2:
	case l.together:
		l.said = "the plan does not say which crew places what; by the record they place the same coats together"
	case j.skipped():
		own = j.ownZones()
		l.said = "the plan does not say which crew places what; by the record each has zones of its own"
	default:
		l.said = "the plan does not say which crew places what; by the record each takes the next coat in turn"
	}
	for u, i := range unfinished {
		c := &j.Coats[i]
		may := bits64(c.Crews)
		if may == 0 {
			may = own[c.Zone]
		}
		if may&here == 0 {
			may = here
		} else {
			may &= here
		}
		l.may[u] = may
	}
	return l
}

func bits64(of []int) uint64 {
	set := uint64(0)
	for _, k := range of {
		if k < crewsMost {
			set |= 1 << k
		}
	}
	return set
}

// present are the crews to be reckoned with: all that worked lately; on a site that has hardly begun, all.
func (j *Job) present() uint64 {
	var days []int
	for _, c := range j.Crews {
		for _, s := range c.Starts {
			days = append(days, s.At.Day())
		}
	}
	slices.Sort(days)
	days = slices.Compact(days)
	here, all := uint64(0), uint64(0)
	for k, c := range j.Crews[:min(len(j.Crews), crewsMost)] {
		all |= 1 << k
		switch {
		case len(c.Starts) == 0 && len(days) <= 2, len(days) <= recentDays && len(c.Starts) > 0:
			here |= 1 << k
		case len(c.Starts) > 0 && c.Starts[len(c.Starts)-1].At.Day() >= days[len(days)-recentDays]:
			here |= 1 << k
		}
	}
	if here == 0 {
		return all
	}
	return here
}

// together tells whether most coats were placed by more than one crew.
func (j *Job) together() bool {
	begun, several := 0, 0
	for _, c := range j.Coats {
		if c.State == Untouched {
			continue
		}
		begun++
		if len(c.By) > 1 {
			several++
		}
	}
	return len(j.Crews) > 1 && 2*several > begun
}

// outOfTurn is how long, minutes, a coat may be begun before one that is planned ahead of it by crews that take the
// next one in turn: the first batch of the one may still be mixed when that of the other is placed.
const outOfTurn = 60

// skipped tells whether a coat was passed over: work went on behind it in the order of the plan, now or at any time.
func (j *Job) skipped() bool {
	untouched, latest := false, Wall(0) // of the coats ahead
	for _, c := range j.Coats {
		switch {
		case c.State == Untouched:
			untouched = true
		case untouched, c.Begun+outOfTurn < latest:
			return true
		default:
			latest = max(latest, c.Begun)
		}
	}
	return false
}

// ownZones of the crews: a zone keeps the crew that placed there last; one that nobody has placed in goes to the crew
// of the zone ahead of it in the order of the plan.
func (j *Job) ownZones() map[string]uint64 {
	own := map[string]uint64{}
	ended := map[string]Wall{}
	for _, c := range j.Coats {
		if len(c.By) > 0 && (own[c.Zone] == 0 || c.Ended > ended[c.Zone]) {
			own[c.Zone], ended[c.Zone] = bits64(c.By[len(c.By)-1:]), c.Ended
		}
	}
	before := uint64(0)
	for _, c := range j.Coats {
		if own[c.Zone] == 0 {
			own[c.Zone] = before
		}
		before = own[c.Zone]
	}
	return own
}
