package view

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"slices"
	"time"

	"hod/internal/event"
	"hod/internal/fold"
	"hod/internal/forecast"
	"hod/internal/mix"
)

// job is what the record says to the forecast, with what its numbers stand for.
type job struct {
	forecast.Job
	site   *fold.Site
	now    time.Time
	in     *time.Location
	coats  []fold.CoatIs // of Job.Coats
	crews  []event.Crew  // of Job.Crews
	mixes  []*fold.Mix   // of Job.Mixes, as the plan has them now; nil where it has them no more
	wrong  []string      // what had to be left out
	volume float64       // m³ that the plan still asks for
}

// lookAhead is how many days are laid out to find the day on which it is done.
const lookAhead = 730

// jobOf the site at an instant.
func jobOf(s *fold.Site, now time.Time, in *time.Location) *job {
	p := s.Plan()
	j := &job{site: s, now: now, in: in}
	j.Now, j.Loss = forecast.WallOf(now.In(in)), float64(p.Loss)
	var of func(*fold.Mix) int
	j.Mixes, of = s.Mortars()
	j.mixes = make([]*fold.Mix, len(j.Mixes))
	for _, name := range p.MixNames() {
		if i := of(p.Mixes[name]); i >= 0 {
			j.mixes[i] = p.Mixes[name]
		}
	}
	j.gatherCrews(of)
	j.gatherCoats(of)
	j.calendar()
	return j
}

func (j *job) wall(t time.Time) forecast.Wall {
	if t.IsZero() {
		return 0
	}
	return forecast.WallOf(t.In(j.in))
}

func (j *job) crew(name event.Crew) int { return slices.Index(j.crews, name) }

// gatherCrews with their batches: those that the plan has, and all that mixed.
func (j *job) gatherCrews(of func(*fold.Mix) int) {
	all := map[event.Crew][]*fold.Batch{}
	for name := range j.site.Plan().Crews {
		all[name] = nil
	}
	for _, b := range j.site.Batches() {
		all[b.ID.Crew] = append(all[b.ID.Crew], b)
	}
	j.crews = slices.Sorted(maps.Keys(all))
	for _, name := range j.crews {
		c := forecast.Crew{Name: string(name)}
		for _, b := range all[name] {
			s := forecast.Start{At: j.wall(b.From), Ready: j.wall(b.Ready), Wasted: b.Discarded > 0.99}
			if b.From.IsZero() || b.Ready.Before(b.From) {
				s.At = s.Ready
			}
			for _, p := range b.Parts {
				s.Placed = max(s.Placed, j.wall(p.To))
			}
			c.Starts = append(c.Starts, s)
			if m := of(b.Mix); m >= 0 && b.Left > 0.01 && j.now.Sub(b.Ready) < transit {
				left := step(float64(b.Left))
				at := slices.IndexFunc(c.Transit, func(t forecast.Transit) bool { return t.Mix == m })
				if at < 0 {
					at, c.Transit = len(c.Transit), append(c.Transit, forecast.Transit{Mix: m})
				}
				scale := float64(b.Design / b.Mix.Figures.Yield)
				c.Transit[at].Batches += left * scale
				c.Transit[at].Squares += left * scale * left * scale
			}
		}
		slices.SortStableFunc(c.Starts, func(a, b forecast.Start) int { return cmp.Compare(a.At, b.At) })
		j.Crews = append(j.Crews, c)
	}
}

// transit is how long a batch may be on its way.
const transit = 4 * time.Hour

// step rounds to a billionth, so that two machines that differ in the last bit of a sum forecast the same.
func step(x float64) float64 { return math.Round(x*1e9) / 1e9 }

// gatherCoats in the order in which they are placed: one pass over all zones before the next, as the zones are ordered.
func (j *job) gatherCoats(of func(*fold.Mix) int) {
	p := j.site.Plan()
	last := map[event.Crew]*fold.Placed{}
	for _, name := range p.ZoneNames() {
		z, _ := j.site.Zone(name)
		for _, c := range z.Coats {
			j.coats = append(j.coats, c)
			for _, k := range c.Placed {
				if l := last[k.Batch.ID.Crew]; l == nil || k.To.After(l.To) || k.To.Equal(l.To) && event.CompareNames(k.Record.Name, l.Record.Name) > 0 {
					last[k.Batch.ID.Crew] = k
				}
			}
		}
	}
	slices.SortStableFunc(j.coats, func(a, b fold.CoatIs) int {
		x, y := a.CoatPlanned.Coat, b.CoatPlanned.Coat
		return cmp.Or(cmp.Compare(x.Number, y.Number), cmp.Compare(x.Face, y.Face))
	})
	j.coats = slices.DeleteFunc(j.coats, func(c fold.CoatIs) bool {
		m := p.Mixes[c.Mix]
		if m == nil || of(m) < 0 {
			j.wrong = append(j.wrong, fmt.Sprintf("%s is left out: its mix %s has no figures", c.CoatPlanned.Coat, c.Mix))
			return true
		}
		return c.Needed <= 0
	})
	for _, c := range j.coats {
		k := j.coat(c, of)
		for crew, l := range last {
			if n := len(c.Placed); n > 0 && slices.Contains(c.Placed, l) {
				k.On = append(k.On, j.crew(crew))
			}
		}
		slices.Sort(k.On)
		if k.State == forecast.Open && (len(k.On) == 0 || j.isCovered(c)) {
			k.State, k.On = forecast.Finished, nil
		}
		if k.State != forecast.Finished {
			j.volume += float64(c.Left())
		}
		j.Coats = append(j.Coats, k)
	}
}

// isCovered tells whether its surface was covered after its last placement.
func (j *job) isCovered(c fold.CoatIs) bool {
	z, _ := j.site.Zone(c.CoatPlanned.Coat.Zone)
	for _, t := range z.Tended {
		if t.What == event.Covered && t.Face == c.CoatPlanned.Coat.Face && !t.At.Before(c.Last) {
			return true
		}
	}
	return false
}

func (j *job) coat(c fold.CoatIs, of func(*fold.Mix) int) forecast.Coat {
	id := c.CoatPlanned.Coat
	k := forecast.Coat{
		Name: id.String(), Zone: string(id.Zone), Mix: of(j.site.Plan().Mixes[c.Mix]),
		Design: step(float64(c.Needed) / (1 + j.Loss)), Ended: j.wall(c.Last),
	}
	gauges := 0.0
	for i, p := range c.Placed {
		if i == 0 {
			k.State, k.Begun = forecast.Open, j.wall(p.From)
		}
		if by := j.crew(p.Batch.ID.Crew); by >= 0 {
			k.By = append(slices.DeleteFunc(k.By, func(x int) bool { return x == by }), by)
		}
		for _, g := range p.Gauges {
			k.Gauges++
			gauges += float64(g.SI / c.Thickness.SI)
		}
		if m := of(p.Batch.Mix); p.Basis == "estimated" && m >= 0 {
			at := slices.IndexFunc(k.Taken, func(t forecast.Taken) bool { return t.Mix == m })
			if at < 0 {
				at, k.Taken = len(k.Taken), append(k.Taken, forecast.Taken{Mix: m})
			}
			k.Taken[at].Design += float64(p.Batch.Design) * float64(p.Share)
			k.Taken[at].Shares += float64(p.Share)
			k.Taken[at].Squares += float64(p.Share) * float64(p.Share)
		} else {
			k.Weighed += float64(p.Volume)
		}
	}
	if k.Gauges > 0 {
		k.Gauge = step(gauges / float64(k.Gauges))
	}
	for i := range k.Taken {
		t := &k.Taken[i]
		t.Design, t.Shares, t.Squares = step(t.Design), step(t.Shares), step(t.Squares)
	}
	k.Weighed = step(k.Weighed)
	return k
}

// calendar of the site: every day its working hours; weekdays on which nobody was seen to work are taken as free.
func (j *job) calendar() {
	p := j.site.Plan()
	today := j.Now.Day()
	first := today
	worked := map[int]bool{}
	for _, c := range j.Crews {
		for _, s := range c.Starts {
			worked[s.At.Day()] = true
			first = min(first, s.At.Day())
		}
	}
	var seen, at [7]int
	for d := first; d < today; d++ {
		w := forecast.WallDay(d).Weekday()
		seen[w]++
		if worked[d] {
			at[w]++
		}
	}
	day := func(d int) forecast.Workday {
		w := forecast.WallDay(d).Weekday()
		k := forecast.Workday{Day: d, From: p.WorkFrom.Minutes(), To: p.WorkTo.Minutes(), Chance: 1, Group: int(w)}
		weekend := w == time.Sunday || w == time.Saturday
		switch {
		case at[w] > 0:
		case weekend && seen[w] > 0 || seen[w] > 1:
			k.Chance = 0
		case w == time.Sunday:
			k.Chance = 0.5
		}
		return k
	}
	for d := first; d < today; d++ {
		j.Calendar.Worked = append(j.Calendar.Worked, day(d))
	}
	for d := range lookAhead {
		j.Calendar.Days = append(j.Calendar.Days, day(today+d))
	}
	_, told := j.site.Weather()
	for _, k := range told {
		if k.At.Before(j.now.Add(-time.Hour)) {
			continue
		}
		if ok, _ := workable(p, k); !ok {
			from := j.wall(k.At)
			j.Calendar.Unfit = append(j.Calendar.Unfit, forecast.Span{From: from, To: from + 60})
		}
	}
}

// perBatch is what one batch of each mix takes of each material, water left out.
func (j *job) perBatch(material string) []float64 {
	all := make([]float64, len(j.mixes))
	for i, m := range j.mixes {
		if m == nil {
			continue
		}
		for _, c := range m.Mix.Constituents {
			if c.Kind != mix.Water && c.Name == material {
				all[i] += float64(c.Mass)
			}
		}
	}
	return all
}
